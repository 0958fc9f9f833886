"""Telling what kind a file is from what it holds."""

from __future__ import annotations

import os

from deskmend.errors import Fault, FaultList, did_you_mean

__all__ = ["APPLICANTS", "CASE", "CATALOG", "PRICES", "kind_of", "unknown_kind"]

APPLICANTS = "applicants"
CASE = "case"
CATALOG = "catalog"
PRICES = "prices"
UNKNOWN = "unknown"

ALLOWED = "a case file, a catalog folder, a price table or a table of applicants"
CATALOG_FORMATS = ("deskmend-fixes/1", "deskmend-items/1", "deskmend-sources/1", "deskmend-signs/1")
HEAD = 64_000
"""Longest line looked at to tell a table from a case [characters]."""


def kind_of(file: str) -> str:
    """Kind of a file.

    Parameters
    ----------
    file : str
        Path as the user gave it.

    Returns
    -------
    str
        ``case``, ``catalog``, ``prices``, ``applicants`` or ``unknown``. A file that cannot be read, or whose
        format is misspelt, is taken for what its name says, so that its faults are told by the loader of that
        kind.
    """
    if os.path.isdir(file):
        return CATALOG
    if file.lower().endswith((".xlsx", ".parquet")):
        return APPLICANTS
    header = _header(file)
    if file.lower().endswith(".csv") and "item" not in header:
        if "id" in header or any(name.startswith(("person.", "seat.", "desk.")) for name in header):
            return APPLICANTS
    if file.lower().endswith(".csv") or _is_price_header(header):
        return PRICES
    return UNKNOWN if _format_of(file) in CATALOG_FORMATS else CASE


def _is_price_header(columns: list[str]) -> bool:
    from deskmend.intake.prices import NEEDED_COLUMNS

    return all(column in columns for column in NEEDED_COLUMNS)


def _header(file: str) -> list[str]:
    """Columns that the first line names which is no note; none where the file cannot be read."""
    if not os.path.isfile(file):
        return []
    try:
        with open(file, encoding="utf-8-sig", errors="replace") as stream:
            for line in stream:
                if len(line) > HEAD:
                    return []
                if line.strip(" \t\r\n,") and not line.lstrip('" \t').startswith("#"):
                    return [column.strip().strip('"') for column in line.split(",")]
    except (OSError, ValueError):
        return []
    return []


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
