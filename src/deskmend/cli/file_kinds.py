"""Telling what kind a file is from what it holds."""

from __future__ import annotations

import os

from deskmend.errors import Fault, FaultList, did_you_mean

__all__ = ["CASE", "CATALOG", "PRICES", "kind_of", "unknown_kind"]

CASE = "case"
CATALOG = "catalog"
PRICES = "prices"
UNKNOWN = "unknown"

ALLOWED = "a case file, a catalog folder or a price table"
CATALOG_FORMATS = ("deskmend-fixes/1", "deskmend-items/1", "deskmend-sources/1", "deskmend-signs/1")
HEAD = 64_000
"""How much of a file is looked at to tell a table from a case [bytes]."""


def kind_of(file: str) -> str:
    """Kind of a file.

    Parameters
    ----------
    file : str
        Path as the user gave it.

    Returns
    -------
    str
        ``case``, ``catalog``, ``prices`` or ``unknown``. A file that cannot be read, or whose format is
        misspelt, is taken for what its name says, so that its faults are told by the loader of that kind.
    """
    if os.path.isdir(file):
        return CATALOG
    if file.lower().endswith(".csv") or _has_price_header(file):
        return PRICES
    return UNKNOWN if _format_of(file) in CATALOG_FORMATS else CASE


def _has_price_header(file: str) -> bool:
    """Whether the first line that is no comment names the columns of a price table."""
    from deskmend.intake.prices import NEEDED_COLUMNS

    if not os.path.isfile(file):
        return False
    try:
        with open(file, encoding="utf-8-sig", errors="replace") as stream:
            lines = stream.read(HEAD).splitlines()
    except (OSError, ValueError):
        return False
    header = next((line for line in lines if line.strip() and not line.startswith("#")), "")
    columns = [column.strip().strip('"') for column in header.split(",")]
    return all(column in columns for column in NEEDED_COLUMNS)


def _format_of(file: str) -> str | None:
    from deskmend.intake.tree import to_plain
    from deskmend.intake.yaml_tree import read_tree

    tree, _ = read_tree(file)
    plain = None if tree is None else to_plain(tree.root)
    written = plain.get("format") if isinstance(plain, dict) else None
    return written if isinstance(written, str) else None


def unknown_kind(file: str) -> list[Fault]:
    """Faults of a file that is one part of a catalog: only the whole folder can be checked."""
    faults = FaultList(file)
    written = _format_of(file)
    hint = "check the catalog's folder: its files name each other" if written else did_you_mean(file, ())
    faults.add(None, "format", written, ALLOWED, hint)
    return list(faults)
