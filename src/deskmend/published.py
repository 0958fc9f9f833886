"""The CSV tables that ship inside the package, and how far their numbers have been seen.

The first lines of a table begin with ``#`` and name its source and status. Code reads the numbers from there,
so that a table can be checked against its print without reading any Python.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources
from typing import Literal, get_args

__all__ = ["STATUSES", "Backing", "read_table", "table_header"]

Backing = Literal["published", "confirmed", "derived", "common practice", "memory", "judgement"]
"""How far a number is backed: printed and read there; seen in a second source; worked out from such; what
people in the trade do; written from memory; our own judgement."""

STATUSES: tuple[Backing, ...] = get_args(Backing)


def _lines(package: str, name: str) -> list[str]:
    return resources.files(package).joinpath("tables", name).read_text(encoding="utf-8").splitlines()


@cache
def read_table(package: str, name: str) -> tuple[dict[str, str], ...]:
    """Rows of the table ``tables/name`` of a package, as text by column name.

    >>> [row["decimals"] for row in read_table("deskmend", "currencies.csv") if row["code"] == "JPY"]
    ['0']
    """
    rows = [line for line in _lines(package, name) if not line.startswith("#")]
    return tuple(dict(row) for row in csv.DictReader(rows))


def table_header(package: str, name: str) -> tuple[str, ...]:
    """Comment lines of a table, without their ``#``: what it is, source and status."""
    return tuple(line.lstrip("# ") for line in _lines(package, name) if line.startswith("#"))
