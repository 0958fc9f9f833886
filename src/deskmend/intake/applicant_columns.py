"""The columns of an applicant table: the keys of a case joined by dots, beside id, weight and group.

The list is read off the case records, so a key added there is a column here. An applicant has one place and
at most two tasks; what needs a list of groups (other seats, persons who share a seat) has no place in a row.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType, UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from deskmend.intake.case import Devices, Means, Person, Place, Room, Task, Wishes
from deskmend.intake.fields import FieldKind

__all__ = ["OWN", "OWNS", "PLACE", "TASKS", "ApplicantColumn", "columns"]

OWN = ("id", "weight", "group")
"""Columns that are no key of a case."""

OWNS = "owns."
"""What the columns of owned things begin with; the id of an item follows."""

PLACE = "place"
"""Id of an applicant's one place."""

TASKS = ("task", "task2")
"""What the columns of the tasks begin with, and the ids of tasks that are given none."""

_NOT_IN_A_ROW = {
    "id": "the place has no name of its own",
    "other_seats": "a list of groups",
    "seat.shared_with": "a list of groups",
    "task.place": "there is one place",
    "task2.place": "there is one place",
    "wishes.must": "the fund decides what is bought",
}


@dataclass(frozen=True)
class ApplicantColumn:
    """One column.

    Attributes
    ----------
    name : str
        As in the header, ``seat.height``.
    path : tuple of str or int
        Where its value stands in a case.
    is_list : bool
        Whether its cell holds values separated by spaces.
    needed : bool
        Whether the record it belongs to cannot do without it.
    meaning : str
        What it says, with its unit.
    allowed : str
        What may stand in it.
    """

    name: str
    path: tuple[str | int, ...]
    is_list: bool
    needed: bool
    meaning: str
    allowed: str = ""


@cache
def columns() -> Mapping[str, ApplicantColumn]:
    """Every column that is a key of a case, by name, in the order of the case file; owned things apart."""
    found: dict[str, ApplicantColumn] = {}
    for start, path, record in (
        ("person.", ("person",), Person),
        ("", ("places", 0), Place),
        ("devices.", ("devices",), Devices),
        ("task.", ("tasks", 0), Task),
        ("task2.", ("tasks", 1), Task),
        ("means.", ("means",), Means),
        ("wishes.", ("wishes",), Wishes),
        ("room.", ("room",), Room),
    ):
        for column in _columns(start, path, record):
            if column.name not in _NOT_IN_A_ROW:
                found[column.name] = column
    return MappingProxyType(found)


def _columns(start: str, path: tuple[str | int, ...], record: type[BaseModel]) -> Iterator[ApplicantColumn]:
    for key, field in record.model_fields.items():
        group = _group_of(field)
        if group is not None:
            yield from _columns(f"{start}{key}.", (*path, key), group)
            continue
        meaning = (field.description or "").strip()
        yield ApplicantColumn(
            f"{start}{key}",
            (*path, key),
            _is_list(field.annotation),
            field.is_required(),
            meaning,
            _allowed((*field.metadata, field.annotation)),
        )


def _group_of(field: FieldInfo) -> type[BaseModel] | None:
    """Record that a key opens; None where it holds a value or a list."""
    is_choice = get_origin(field.annotation) in (Union, UnionType)
    for member in get_args(field.annotation) if is_choice else (field.annotation,):
        if isinstance(member, type) and issubclass(member, BaseModel):
            return member
    return None


def _is_list(annotation: Any) -> bool:
    return get_origin(annotation) is tuple or any(_is_list(member) for member in get_args(annotation))


def _allowed(members: Iterable[Any]) -> str:
    """What the first kind of field among some annotations takes."""
    for member in members:
        if isinstance(member, FieldKind):
            return member.allowed
        inner = (*getattr(member, "__metadata__", ()), *get_args(member))
        if inner and (found := _allowed(inner)):
            return found
    return ""
