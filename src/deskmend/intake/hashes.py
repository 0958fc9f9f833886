"""What something was made with: files and catalogs told apart by their bytes, and the version of deskmend."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

from deskmend.intake.catalog import Catalog

__all__ = ["catalog_digest", "file_digest", "running_version", "text_digest"]


def text_digest(text: str | bytes) -> str:
    """SHA-256 of a file's content."""
    return hashlib.sha256(text.encode("utf-8") if isinstance(text, str) else text).hexdigest()


def file_digest(path: str) -> str:
    """SHA-256 of a file; empty where there is none, as for a table made in Python."""
    return text_digest(Path(path).read_bytes()) if path and Path(path).is_file() else ""


def catalog_digest(catalog: Catalog) -> str:
    """SHA-256 over all files of a catalog's fixes, things, sources and signs, by name and content."""
    files = sorted(catalog.folder.glob("*.yaml")) + sorted((catalog.folder / "fixes").glob("*.yaml"))
    whole = hashlib.sha256()
    for file in files:
        whole.update(f"{file.name}\n{text_digest(file.read_bytes())}\n".encode())
    return whole.hexdigest()


def running_version() -> str:
    """Version of this process; read from the package, which is there before any of its parts."""
    return str(vars(sys.modules["deskmend"])["__version__"])
