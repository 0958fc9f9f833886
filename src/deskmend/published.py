"""Reading the CSV tables that ship inside the package.

A table is a CSV file whose first lines start with ``#`` and name its source
and status. Code reads the numbers from there, so that a table can be checked
against its print without reading any Python.

Citations: where a number comes from and how far that has been seen.

Every table, limit and effect carries the key of a source and a status. The registry itself is data that
people edit; its loader builds `Source` records and hands them to a `Registry`.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Literal, get_args

__all__ = ["STATUSES", "Registry", "Source", "Status", "UnknownSource", "read_table", "table_header"]

Status = Literal["published", "confirmed", "derived", "common practice", "memory", "judgement"]
"""How far a number is backed: printed and read there; seen in a second source; worked out from such; what
people in the trade do; written from memory; our own judgement."""

STATUSES: tuple[Status, ...] = get_args(Status)


@dataclass(frozen=True)
class Source:
    """One published or unpublished origin of numbers.

    Attributes
    ----------
    key : str
        Short name used where the source is cited.
    title : str
        Author, year and title as one line.
    place : str
        Publisher, journal, DOI or standard number; may be empty.
    status : Status
        How far it has been seen.
    """

    key: str
    title: str
    place: str
    status: Status


class UnknownSource(KeyError):
    """A cited key that the registry does not hold.

    Parameters
    ----------
    key : str
        The key cited.
    """

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__(f"no source is registered under {key!r}")


class Registry:
    """All sources by key.

    Parameters
    ----------
    sources : iterable of Source
        Keys must differ.

    Raises
    ------
    ValueError
        Where keys repeat; the message lists them.
    """

    def __init__(self, sources: Iterable[Source]) -> None:
        by_key: dict[str, Source] = {}
        repeated = []
        for source in sources:
            if source.key in by_key:
                repeated.append(source.key)
            by_key[source.key] = source
        if repeated:
            raise ValueError(f"sources registered twice: {', '.join(sorted(set(repeated)))}")
        self._by_key: Mapping[str, Source] = MappingProxyType(by_key)

    def __getitem__(self, key: str) -> Source:
        """Return the source of that key, or raise `UnknownSource`."""
        try:
            return self._by_key[key]
        except KeyError:
            raise UnknownSource(key) from None

    def __contains__(self, key: object) -> bool:
        """Tell whether a key is registered."""
        return key in self._by_key

    def __iter__(self) -> Iterator[Source]:
        """Give the sources in the order they were registered."""
        return iter(self._by_key.values())

    def __len__(self) -> int:
        """Return the number of sources."""
        return len(self._by_key)

    def unused(self, cited: Iterable[str]) -> tuple[str, ...]:
        """Return the keys that nothing cites.

        Parameters
        ----------
        cited : iterable of str
            Every key cited anywhere.

        Returns
        -------
        tuple of str
            Registered keys not among them, in the order registered.
        """
        seen = set(cited)
        return tuple(key for key in self._by_key if key not in seen)


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
