"""What was read, told apart by its bytes: the same hash, the same catalog or table."""

from __future__ import annotations

import hashlib
from pathlib import Path

from deskmend.intake.catalog import Catalog

__all__ = ["hash_of_catalog", "hash_of_file"]


def hash_of_file(path: str | Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal digits; empty where there is no file."""
    return hashlib.sha256(Path(path).read_bytes()).hexdigest() if path else ""


def hash_of_catalog(catalog: Catalog) -> str:
    """SHA-256 of the files that a catalog is read from, with their names; its price tables are left out."""
    files = sorted([*catalog.folder.glob("*.yaml"), *(catalog.folder / "fixes").glob("*.yaml")])
    told = "".join(f"{file.relative_to(catalog.folder).as_posix()} {hash_of_file(file)}\n" for file in files)
    return hashlib.sha256(told.encode()).hexdigest()
