"""Reading the CSV tables that ship inside the package.

A table is a CSV file whose first lines start with ``#`` and name its source
and status. Code reads the numbers from there, so that a table can be checked
against its print without reading any Python.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources

__all__ = ["read_table", "table_header"]


def _lines(package: str, name: str) -> list[str]:
    return resources.files(package).joinpath("tables", name).read_text(encoding="utf-8").splitlines()


@cache
def read_table(package: str, name: str) -> tuple[dict[str, str], ...]:
    """Rows of the table ``tables/name`` of a package, as text by column name.

    Parameters
    ----------
    package : str
        Dotted name of the package that holds the ``tables`` folder.
    name : str
        File name, with its ``.csv`` ending.

    Returns
    -------
    tuple of dict
        One dictionary a row; every value is the text of the cell.
    """
    rows = [line for line in _lines(package, name) if not line.startswith("#")]
    return tuple(dict(row) for row in csv.DictReader(rows))


def table_header(package: str, name: str) -> tuple[str, ...]:
    """Comment lines of a table, without their ``#``: what it is, source and status."""
    return tuple(line.lstrip("# ") for line in _lines(package, name) if line.startswith("#"))
