"""Loading a table of applicants: one row a person, each checked like a case file of its own.

The records of a table of applicants: good rows as cases of their own, and rows set aside with reasons.

Only texts are kept of a row, so that a hundred thousand applicants fit into memory and travel to other
processes; `Applicant.case` makes the records anew.

The columns of an applicant table: the keys of a case joined by dots, beside id, weight and group.

The list is read off the case records, so a key added there is a column here. An applicant has one place and
at most two tasks; what needs a list of groups (other seats, persons who share a seat) has no place in a row.

One row of a table of applicants after the other, checked like a case file each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from functools import cache
from pathlib import Path
from types import MappingProxyType, UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from deskmend.errors import DefectError, Fault, FaultList, InputFaults, did_you_mean
from deskmend.intake.case import CASE_FORMAT, Case, Devices, Means, Person, Place, Room, Task, Wishes
from deskmend.intake.case_file import read_case
from deskmend.intake.catalog import Catalog, misnamed
from deskmend.intake.prices import NEEDED_COLUMNS
from deskmend.intake.reading.fields import FieldKind
from deskmend.intake.reading.ids import ALLOWED_ID, is_id
from deskmend.intake.reading.table_cells import (
    MAX_CELL,
    Cell,
    Cells,
    FormulaCell,
    UnreadableCell,
    read_cells,
    refuse_header,
)

__all__ = [
    "OWN",
    "OWNS",
    "PLACE",
    "TASKS",
    "WEIGHT_PARTS",
    "Applicant",
    "ApplicantColumn",
    "ApplicantTable",
    "Rejected",
    "RowReader",
    "TableColumn",
    "accepted",
    "columns",
    "header_of",
    "in_currency",
    "load_applicants",
    "read_applicants",
]

WEIGHT_PARTS = 1_000
"""A weight of one is this many parts: weights are whole numbers of them."""


@dataclass(frozen=True)
class Applicant:
    """One person who asks for a share.

    Attributes
    ----------
    id : str
        Name in the table.
    line : int
        Row of the table.
    weight : int
        How much the person counts [parts of `WEIGHT_PARTS`].
    group : str
        Group the person belongs to; empty for none.
    plain : mapping
        The case as mappings, lists and texts.
    file : str
        The table.
    """

    id: str
    line: int
    weight: int
    group: str
    plain: Mapping[str, Any]
    file: str

    @property
    def case(self) -> Case:
        """The person's case, with one place and one or two tasks; made anew at each call."""
        case, faults = read_case(self.plain, self.file, self.line)
        if case is None:
            raise DefectError(f"a row that was read is refused now: {'; '.join(map(str, faults))}")
        return case


@dataclass(frozen=True)
class Rejected:
    """A row that is not taken.

    Attributes
    ----------
    line : int
        Row of the table.
    id : str
        As written; empty where there is none.
    faults : tuple of Fault
        Why.
    """

    line: int
    id: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class ApplicantTable:
    """The applicants of a table.

    Attributes
    ----------
    file : str
        Path as the user gave it.
    people : tuple of Applicant
        By id, so that the order of the rows makes no difference.
    rejected : tuple of Rejected
        Rows set aside, by row.
    """

    file: str
    people: tuple[Applicant, ...]
    rejected: tuple[Rejected, ...] = ()


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


MOST_COUNTED = 6
"""Largest bare number that counts pieces of a thing that is stacked; a larger one is a length [mm]."""

HEAVIEST = 1_000
ALLOWED_WEIGHT = f"a number from 0.001 to {HEAVIEST}, at most three decimals"


@dataclass(frozen=True)
class TableColumn:
    """A column as found: its name, and the case key it fills where it is one."""

    name: str
    key: ApplicantColumn | None


def header_of(header: Cells, catalog: Catalog | None, faults: FaultList) -> list[TableColumn] | None:
    """Read the header of a table.

    Parameters
    ----------
    header : Cells
        The header.
    catalog : Catalog or None
        Shows which things can be owned.
    faults : FaultList
        Where faults go.

    Returns
    -------
    list of TableColumn or None
        None where a fault was recorded.
    """
    keys = columns()
    names = [cell if isinstance(cell, str) else "" for cell in header.cells]
    refuse_header(
        names,
        header.line,
        faults,
        known={*OWN, *keys, *(name for name in names if name.startswith(OWNS))},
        needed=("id", *(key.name for key in keys.values() if key.needed and key.name in _ALWAYS)),
        allowed="id, weight, group, or a key of a case as person.stature or seat.height",
        table="a table of applicants",
        hint="a price table goes to --prices" if set(NEEDED_COLUMNS) <= set(names) else "",
    )
    found: list[TableColumn] = []
    for name in names:
        if name in OWN or name in keys:
            found.append(TableColumn(name, keys.get(name)))
        elif name.startswith(OWNS):
            item = name.removeprefix(OWNS)
            if not is_id(item) or (catalog is not None and item not in catalog.items):
                hint = "" if catalog is None else did_you_mean(item, catalog.items)
                faults.add(header.line, "", name, "owns. and an item of the catalog", hint, "unknown column")
            found.append(TableColumn(name, ApplicantColumn(name, ("owns", item), True, False, "")))
    return None if faults else found


_ALWAYS = ("person.stature", "desk.height", "task.hours", "task.main")
"""Needed keys whose groups every case has."""


class RowReader:
    """Reads row after row against one header.

    Parameters
    ----------
    file : str
        Path of the table as the user gave it.
    header : sequence of TableColumn
        Its columns.
    catalog : Catalog or None
        Shows which warning signs and fixes exist.
    """

    def __init__(self, file: str, header: Sequence[TableColumn], catalog: Catalog | None) -> None:
        self.file = file
        self.header = header
        self.catalog = catalog
        fixes = () if catalog is None else catalog.fixes
        self.stacked = {fix.size.pieces for fix in fixes if fix.size is not None and fix.size.pieces}

    def read(self, row: Cells) -> Applicant | Rejected:
        """Check one row; with any fault it is rejected with all of them.

        Parameters
        ----------
        row : Cells
            As many cells as the header has, or the row is rejected.
        """
        faults = FaultList(self.file)
        if len(row.cells) != len(self.header):
            many = f"{len(self.header)} columns"
            hint = "put quotes around text with commas"
            faults.add(row.line, "", None, many, hint, f"has {len(row.cells)}", "columns")
            return Rejected(row.line, "", tuple(faults))
        texts = {
            column.name: text
            for column, cell in zip(self.header, row.cells, strict=True)
            if (text := self._text(row.line, column.name, cell, faults))
        }
        name = texts.get("id", "")
        written = next((cell for c, cell in zip(self.header, row.cells, strict=True) if c.name == "id"), "")
        if not is_id(name) and "id" not in (fault.where for fault in faults):
            faults.add(row.line, "id", name or None, ALLOWED_ID)
        weight = self._weight(row.line, texts.get("weight", "1"), faults)
        group = texts.get("group", "")
        if group and not is_id(group):
            faults.add(row.line, "group", group, ALLOWED_ID)
        plain = self._plain(texts)
        case, found = read_case(plain, self.file, row.line)
        names = _names(plain)
        told = [fault.where for fault in faults]
        faults.extend(
            fault
            for fault in _in_columns(found, names)
            if not any(where == fault.where or where.startswith(f"{fault.where}.") for where in told)
        )
        if case is not None:
            faults.extend(self._unknown(case, row.line))
        if faults:
            shown = written if isinstance(written, str) else getattr(written, "text", "")
            return Rejected(row.line, shown, tuple(replace(fault, kind=fault.where) for fault in faults))
        return Applicant(name, row.line, weight, group, plain, self.file)

    def _text(self, line: int, name: str, cell: Cell, faults: FaultList) -> str:
        if isinstance(cell, FormulaCell):
            hint = "put the value itself there"
            faults.add(line, name, cell.text, "a value, not a formula", hint, "holds a formula")
        elif isinstance(cell, UnreadableCell):
            faults.add(line, name, None, "a number or a word", "", f"holds {cell.what}")
        elif len(cell) > MAX_CELL:
            faults.add(line, name, cell, f"at most {MAX_CELL} characters", "", f"has {len(cell)}")
        elif cell.startswith("="):
            hint = "put the value itself there"
            faults.add(line, name, cell, "a value, not a formula", hint, "holds a formula")
        else:
            return cell
        return ""

    def _weight(self, line: int, text: str, faults: FaultList) -> int:
        try:
            number = Decimal(text) if len(text) <= 12 and "e" not in text.lower() else Decimal(0)
        except InvalidOperation:
            number = Decimal(0)
        parts = number * WEIGHT_PARTS if number.is_finite() else Decimal(0)
        if not 0 < number <= HEAVIEST or parts != int(parts):
            faults.add(line, "weight", text, ALLOWED_WEIGHT)
            return WEIGHT_PARTS
        return int(parts)

    def _plain(self, texts: Mapping[str, str]) -> dict[str, Any]:
        """Nest the cells of a row as a case file would have them."""
        plain: dict[str, Any] = {"format": CASE_FORMAT, "places": [{"id": PLACE}], "tasks": []}
        for number, start in enumerate(TASKS):
            if number == 0 or any(name.startswith(f"{start}.") for name in texts):
                plain["tasks"].append({"id": start, "place": PLACE})
        for column in self.header:
            if column.key is None or column.name not in texts:
                continue
            node: Any = plain
            for part in column.key.path[:-1]:
                node = node[part] if isinstance(part, int) else node.setdefault(part, {})
            node[column.key.path[-1]] = self._value(texts[column.name], column.name, column.key)
        return plain

    def _value(self, text: str, name: str, key: ApplicantColumn) -> str | list[str]:
        """Text of a cell, or its parts in a column of lists."""
        if not key.is_list or text == "unknown":
            return text
        parts = text.split()
        if not name.startswith(OWNS) or len(parts) > 1:
            return parts
        return parts if self._is_length(parts[0], name.removeprefix(OWNS)) else text

    def _is_length(self, text: str, item: str) -> bool:
        """Tell whether one number about an owned thing is the length of its one piece, not a count.

        It is where a unit stands behind it, and for things that are stacked above `MOST_COUNTED`: more pieces
        than that of a kind never count, and none is so thin.
        """
        if text[-1:].isalpha():
            return True
        return item in self.stacked and text.isdecimal() and int(text) > MOST_COUNTED

    def _unknown(self, case: Case, line: int) -> Iterator[Fault]:
        if self.catalog is None:
            return
        signs = [sign.id for sign in self.catalog.signs]
        for sign in case.person.warning_signs:
            if sign not in signs:
                hint = did_you_mean(sign, signs)
                yield Fault(self.file, line, "person.warning_signs", sign, "a sign of the catalog", hint)
        for wish in case.wishes.never:
            told = misnamed(wish, case, self.catalog)
            if told is not None:
                yield Fault(self.file, line, "wishes.never", wish, *told)


def _names(plain: Mapping[str, Any]) -> Callable[[str], str]:
    """Give the way from the name of a value in the case to its column."""
    starts = [(f"places.{PLACE}.", ""), (f"places.{PLACE}", "")]
    for number, task in enumerate(plain["tasks"]):
        starts.append((f"tasks.{task['id']}.", f"{TASKS[number]}."))

    def name(where: str) -> str:
        return next(
            (to + where.removeprefix(start) for start, to in starts if where.startswith(start)), where
        )

    return name


def _in_columns(faults: Sequence[Fault], name: Callable[[str], str]) -> Iterator[Fault]:
    for fault in faults:
        yield Fault(
            fault.file, fault.line, name(fault.where), fault.read, fault.allowed, fault.hint, fault.note
        )


def load_applicants(
    path: str | Path,
    catalog: Catalog | None = None,
    skip_invalid: bool = False,
    currency: str | None = None,
) -> ApplicantTable:
    """Read a table of applicants.

    Parameters
    ----------
    path : str or Path
        CSV, XLSX or Parquet, told by the ending; notes may stand above the header of the first two, on lines
        that begin with ``#``.
    catalog : Catalog, optional
        Shows which things, warning signs and fixes exist; not looked at if left out.
    skip_invalid : bool
        Set rows with faults aside instead of refusing the table.
    currency : str, optional
        Currency of the price table; a row that names another is at fault.

    Returns
    -------
    ApplicantTable
        Lengths, angles and times are read as in a case file.

    Raises
    ------
    InputFaults
        The table has faults, or no row is left of it.
    """
    table, faults = read_applicants(path, catalog)
    if table is None:
        raise InputFaults(faults)
    return accepted(table if currency is None else in_currency(table, currency), skip_invalid)


def read_applicants(
    path: str | Path, catalog: Catalog | None = None
) -> tuple[ApplicantTable | None, list[Fault]]:
    """Read a table as far as it goes.

    Parameters
    ----------
    path : str or Path
        CSV, XLSX or Parquet.
    catalog : Catalog, optional
        Shows which things, warning signs and fixes exist.

    Returns
    -------
    table : ApplicantTable or None
        Good rows, and those with faults; None where the table as a whole cannot be read.
    faults : list of Fault
        Why there is no table.
    """
    file = str(path)
    faults = FaultList(file)
    header, rows = read_cells(path, faults)
    known = None if header is None else header_of(header, catalog, faults)
    if faults or known is None:
        return None, list(faults)
    reader = RowReader(file, known, catalog)
    found = [reader.read(row) for row in rows]
    if faults:
        return None, list(faults)
    if not found:
        faults.add(None, "", None, "at least one row below the header", "", "holds no applicants")
        return None, list(faults)
    taken, rejected = _without_repeats(found, file)
    return ApplicantTable(file, taken, rejected), []


def in_currency(table: ApplicantTable, currency: str) -> ApplicantTable:
    """Reject the rows that name another currency.

    Parameters
    ----------
    table : ApplicantTable
        As read.
    currency : str
        Currency of the price table.
    """
    taken, rejected = [], list(table.rejected)
    for one in table.people:
        written = one.plain.get("means", {}).get("currency")
        if written in (None, "unknown", currency):
            taken.append(one)
            continue
        allowed = f"{currency}, the currency of the price table"
        fault = Fault(table.file, one.line, "means.currency", written, allowed, kind="means.currency")
        rejected.append(Rejected(one.line, one.id, (fault,)))
    return ApplicantTable(table.file, tuple(taken), tuple(sorted(rejected, key=lambda one: one.line)))


def accepted(table: ApplicantTable, skip_invalid: bool) -> ApplicantTable:
    """Refuse a table with rejected rows, unless they are to be set aside and others are left.

    Parameters
    ----------
    table : ApplicantTable
        As read.
    skip_invalid : bool
        Set rows with faults aside.

    Raises
    ------
    InputFaults
        The faults of all rejected rows.
    """
    if table.rejected and (not skip_invalid or not table.people):
        together = FaultList(table.file)
        for one in table.rejected:
            together.extend(one.faults)
        raise InputFaults(together)
    return table


def _without_repeats(
    found: Sequence[Applicant | Rejected], file: str
) -> tuple[tuple[Applicant, ...], tuple[Rejected, ...]]:
    """Reject every row of an id that stands twice: which one is meant nobody knows."""
    times = Counter(one.id.casefold() for one in found if is_id(one.id))
    first: dict[str, Applicant | Rejected] = {}
    taken: list[Applicant] = []
    rejected: list[Rejected] = []
    for one in found:
        key = one.id.casefold()
        faults = list(one.faults) if isinstance(one, Rejected) else []
        if times[key] > 1:
            other = first.setdefault(key, one)
            note = (
                f"the same id stands on {times[key]} rows"
                if other is one
                else f"the same id stands on row {other.line}"
            )
            allowed = "each id once, letter case aside"
            faults.append(Fault(file, one.line, "id", one.id, allowed, note=note, kind="id"))
        if isinstance(one, Applicant) and not faults:
            taken.append(one)
        else:
            rejected.append(Rejected(one.line, one.id, tuple(faults)))
    return tuple(sorted(taken, key=lambda one: one.id)), tuple(rejected)
