"""Loading a table of applicants, under our names of columns or theirs: each row checked like a case file.

The columns are the keys of a case joined by dots, read off the case records, beside id, weight, group and
name: a key added to the case is a column here. An applicant has one place and at most two tasks; what needs
a list of groups (other seats, persons who share a seat or desk) has no place in a row.

Good rows become applicants, others are set aside with their reasons. Only texts are kept of a row, so that a
hundred thousand applicants fit into memory and travel to other processes; `ApplicantRow.case` makes the
records anew.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from functools import cache
from pathlib import Path
from types import MappingProxyType, UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from deskmend.errors import DefectError, Fault, FaultList, InputFaults, did_you_mean, option_fault
from deskmend.intake.case import CASE_FORMAT, Case, Devices, Means, Person, Place, Room, Task, Wishes
from deskmend.intake.case_file import read_case
from deskmend.intake.catalog import Catalog, misnamed
from deskmend.intake.prices import NEEDED_COLUMNS
from deskmend.intake.reading.fields import FieldKind
from deskmend.intake.reading.records import group_at, meanings
from deskmend.intake.reading.tables import TABLE_ENDINGS, TableForm, TableReader, TableRow
from deskmend.intake.reading.text_file import ALLOWED_ID, is_id, read_bounded_text, text_fault
from deskmend.intake.reading.yaml_tree import tree_of, tree_text

WEIGHT_PARTS = 1_000
"""A weight of one is this many parts: weights are whole numbers of them."""


@dataclass(frozen=True)
class Decided:
    """What people decided for somebody, whatever the search would do."""

    fixed: tuple[str, ...] = ()
    """Fixes that are given."""
    least: str = ""
    """Money that is given at least, and below, at most; as written [major units]."""
    most: str = ""
    never: tuple[str, ...] = ()
    """Fixes that are not given; they stand among the wishes of the case too."""
    reason: str = ""
    """Why, in the words of whoever decided."""
    by: str = ""
    """Who decided, and below, on which day, as 2026-11-03; empty where the table does not tell."""
    on: str = ""


@dataclass(frozen=True)
class ApplicantRow:
    """One person who asks for a share."""

    id: str
    """Name in the table."""
    line: int
    """Row of the table."""
    weight: int
    """How much the person counts [parts of `WEIGHT_PARTS`]."""
    group: str
    """Group the person belongs to; empty for none."""
    plain: Mapping[str, Any]
    """The case as mappings, lists and texts."""
    file: str
    name: str = ""
    """What the person is called in a letter; empty for none."""
    decided: Decided | None = None
    """What people decided for this person; None where they left it to the search."""

    @property
    def undecided(self) -> ApplicantRow:
        """The same person as if nobody had decided anything for them."""
        if self.decided is None or not self.decided.never:
            return replace(self, decided=None)
        wishes = self.plain["wishes"]
        never = wishes["never"][: -len(self.decided.never)]
        return replace(self, decided=None, plain={**self.plain, "wishes": {**wishes, "never": never}})

    def columns_of(self, keys: Iterable[str]) -> list[str]:
        """Columns of some values, named as they would be in a file of the case."""
        return [_column_of(key, self.plain) for key in keys]

    @property
    def case(self) -> Case:
        """The person's case, with one place and one or two tasks; made anew at each call."""
        case, faults = read_case(self.plain, self.file, self.line)
        if case is None:
            raise DefectError(f"a row that was read is refused now: {'; '.join(map(str, faults))}")
        return case


@dataclass(frozen=True)
class Rejected:
    """A row that is not taken, and why; its id as written, and its group where that is one."""

    line: int
    id: str
    faults: tuple[Fault, ...]
    group: str = ""


@dataclass(frozen=True)
class ApplicantTable:
    """The applicants of a table."""

    file: str
    """Path as the user gave it."""
    people: tuple[ApplicantRow, ...]
    """By id, so that the order of the rows makes no difference."""
    rejected: tuple[Rejected, ...] = ()
    """Rows set aside, by row."""
    aside: tuple[str, ...] = ()
    """Columns that are none of ours; nothing of them is kept."""


GIVEN = (
    "given.fixed",
    "given.never",
    "given.least",
    "given.most",
    "given.reason",
    "given.by",
    "given.on",
)
"""Columns of what people decided for somebody, why, who did, and when."""

OWN = ("id", "weight", "group", "name", *GIVEN)
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
    "desk.shared_with": "a list of groups",
    "task.place": "there is one place",
    "task2.place": "there is one place",
    "wishes.must": "the fund decides what is bought",
}

ALWAYS_NEEDED = ("person.stature", "desk.height", "task.hours", "task.main")
"""Needed keys whose groups every case has."""


@dataclass(frozen=True)
class ApplicantColumn:
    """A column that is a key of a case."""

    name: str
    """As in the header, ``seat.height``."""
    path: tuple[str | int, ...]
    """Where its value stands in a case."""
    is_list: bool
    """Whether its cell holds values separated by spaces."""
    meaning: str = ""
    """What it says, with its unit."""
    allowed: str = ""
    """What may stand in it."""
    is_measure: bool = False
    """Whether ``NAME.sd`` and ``NAME.from`` may say how sure it is."""


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
        meaning = meanings(record).get(key, "")
        kind = _kind((*field.metadata, field.annotation))
        allowed, is_measure = ("", False) if kind is None else (kind.allowed, kind.group is not None)
        is_list = _is_list(field.annotation)
        yield ApplicantColumn(f"{start}{key}", (*path, key), is_list, meaning, allowed, is_measure)


@cache
def spread_columns() -> Mapping[str, ApplicantColumn]:
    """Columns that say of a measure how sure it is and how it was come by, as ``person.stature.from``."""
    return MappingProxyType(
        {
            f"{name}.{key}": ApplicantColumn(f"{name}.{key}", (*column.path, key), is_list=False)
            for name, column in columns().items()
            if column.is_measure
            for key in ("sd", "from")
        }
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


def _kind(members: Iterable[Any]) -> FieldKind | None:
    """Return the first kind of field among some annotations."""
    for member in members:
        if isinstance(member, FieldKind):
            return member
        inner = (*getattr(member, "__metadata__", ()), *get_args(member))
        if inner and (found := _kind(inner)):
            return found
    return None


@cache
def _form() -> TableForm:
    return TableForm(
        "a table of applicants",
        (*OWN, *columns(), *spread_columns()),
        ("id", *ALWAYS_NEEDED),
        "id, weight, group, name, or a key of a case as person.stature or seat.height",
        max_bytes=100_000_000,
        max_rows=200_000,
        endings=TABLE_ENDINGS,
        starts=(OWNS,),
        elsewhere=lambda names, _: (
            "a price table goes to --prices" if set(NEEDED_COLUMNS) <= set(names) else ""
        ),
        without_rows="holds no applicants",
        short_rows=True,
        aside=True,
    )


MOST_COUNTED = 6
"""Largest bare number that counts pieces of a thing that is stacked; a larger one is a length [mm]."""

MAX_REASON = 300
"""Longest reason of a decision [characters]."""
HEAVIEST = 1_000
ALLOWED_WEIGHT = f"a number from 0.001 to {HEAVIEST}, at most three decimals"


class _RowReader:
    """Reads row after row against one header; a catalog shows which warning signs and fixes exist."""

    def __init__(
        self, file: str, header: Mapping[str, ApplicantColumn | None], catalog: Catalog | None
    ) -> None:
        self.file = file
        self.header = header
        self.catalog = catalog
        fixes = () if catalog is None else catalog.fixes
        self.stacked = {fix.size.pieces for fix in fixes if fix.size is not None and fix.size.pieces}

    def read(self, row: TableRow) -> ApplicantRow | Rejected:
        """Check one row; with any fault it is rejected with all of them."""
        if row.faults:
            return Rejected(row.line, "", tuple(row.faults))
        texts = {name: text for name in self.header if (text := row.value(name))}
        told = {fault.where for fault in row.faults}
        person, group = texts.get("id", ""), texts.get("group", "")
        if "id" not in told:
            row.id("id")
        weight = _weight(row, texts.get("weight", "1"))
        if group and not is_id(group):
            row.refuse("group", ALLOWED_ID)
        plain = self._plain(texts)
        decided = _decided(row, texts)
        if decided is not None and decided.never:
            wishes = plain.setdefault("wishes", {})
            wishes["never"] = [*wishes.get("never", ()), *decided.never]
        case, found = read_case(plain, self.file, row.line)
        # A cell refused above is empty for the case: what it then misses is no fault of its own.
        told = {fault.where for fault in row.faults}
        for fault in _in_columns(found, plain):
            if not any(where == fault.where or where.startswith(f"{fault.where}.") for where in told):
                row.faults.extend([fault])
        if case is not None:
            row.faults.extend(self._unknown(case, row.line))
            row.faults.extend(self._misnamed("given.fixed", decided.fixed if decided else (), case, row.line))
        if row.faults:
            faults = tuple(replace(fault, kind=fault.where) for fault in row.faults)
            return Rejected(row.line, row.written("id"), faults, group if is_id(group) else "")
        return ApplicantRow(person, row.line, weight, group, plain, self.file, texts.get("name", ""), decided)

    def _plain(self, texts: Mapping[str, str]) -> dict[str, Any]:
        """Nest the cells of a row as a case file would have them."""
        plain: dict[str, Any] = {"format": CASE_FORMAT, "places": [{"id": PLACE}], "tasks": []}
        for number, start in enumerate(TASKS):
            if number == 0 or any(name.startswith(f"{start}.") for name in texts):
                plain["tasks"].append({"id": start, "place": PLACE})
        for name, column in self.header.items():
            if column is None or name not in texts:
                continue
            if name in spread_columns():
                continue
            group_at(plain, column.path[:-1])[column.path[-1]] = self._value(texts[name], column)
        for name in self.header:
            if name in spread_columns() and name in texts:
                _say_how_sure(plain, spread_columns()[name].path, texts[name])
        return plain

    def _value(self, text: str, column: ApplicantColumn) -> str | list[str]:
        """Text of a cell, or its parts in a column of lists."""
        if not column.is_list or text == "unknown":
            return text
        parts = text.split()
        if not column.name.startswith(OWNS) or len(parts) > 1:
            return parts
        return parts if self._is_length(parts[0], column.name.removeprefix(OWNS)) else text

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
        yield from self._misnamed("wishes.never", case.wishes.never, case, line)

    def _misnamed(self, column: str, names: Iterable[str], case: Case, line: int) -> Iterator[Fault]:
        """Names of fixes that mean nothing here."""
        if self.catalog is None:
            return
        for name in names:
            told = misnamed(name, case, self.catalog)
            if told is not None:
                yield Fault(self.file, line, column, name, *told)


def _decided(row: TableRow, texts: Mapping[str, str]) -> Decided | None:
    """What people decided for somebody; a decision without its reason is a fault.

    Who decided and on which day may stay untold.
    """
    if not any(texts.get(name) for name in GIVEN):
        return None
    fixed, never = (tuple(texts.get(name, "").split()) for name in GIVEN[:2])
    least, most, reason, by = (texts.get(name, "") for name in GIVEN[2:6])
    if not (fixed or never or least or most):
        told = next(name for name in GIVEN[4:] if texts.get(name))
        row.refuse(told, "nothing where nothing is decided")
        return None
    if not reason:
        row.refuse("given.reason", "why it was decided so")
    elif note := text_fault(reason, MAX_REASON):
        row.refuse("given.reason", f"text of at most {MAX_REASON} characters", note=note)
    if by and (note := text_fault(by, MAX_REASON)):
        row.refuse("given.by", f"text of at most {MAX_REASON} characters", note=note)
    day = row.day("given.on")
    return Decided(fixed, least, most, never, reason, by, "" if day is None else day.isoformat())


def _say_how_sure(plain: dict[str, Any], path: Sequence[str | int], text: str) -> None:
    """Put a spread or origin beside its measure, which becomes a group of keys for it."""
    *groups, name, key = path
    node = group_at(plain, groups)
    if not isinstance(node.get(name), dict):
        node[name] = {} if node.get(name) is None else {"value": node[name]}
    node[name][key] = text


def _weight(row: TableRow, text: str) -> int:
    try:
        number = Decimal(text) if len(text) <= 12 and "e" not in text.lower() else Decimal(0)
    except InvalidOperation:
        number = Decimal(0)
    parts = number * WEIGHT_PARTS if number.is_finite() else Decimal(0)
    if not 0 < number <= HEAVIEST or parts != int(parts):
        row.refuse("weight", ALLOWED_WEIGHT)
        return WEIGHT_PARTS
    return int(parts)


def _in_columns(faults: Sequence[Fault], plain: Mapping[str, Any]) -> Iterator[Fault]:
    """Faults of a case, each named by its column."""
    for fault in faults:
        yield replace(fault, where=_column_of(fault.where, plain))


def _column_of(key: str, plain: Mapping[str, Any]) -> str:
    starts = [(f"places.{PLACE}.", ""), (f"places.{PLACE}", "")]
    starts += [(f"tasks.{task['id']}.", f"{TASKS[number]}.") for number, task in enumerate(plain["tasks"])]
    return next((to + key.removeprefix(start) for start, to in starts if key.startswith(start)), key)


def _header(reader: TableReader, catalog: Catalog | None) -> dict[str, ApplicantColumn | None]:
    """Columns as found, each with the key of a case it fills where it is one; faults of owned things."""
    known = {**columns(), **spread_columns()}
    found: dict[str, ApplicantColumn | None] = {}
    for name in reader.columns:
        if name in reader.aside:
            continue
        found[name] = known.get(name)
        if name.startswith(OWNS):
            item = name.removeprefix(OWNS)
            if not is_id(item) or (catalog is not None and item not in catalog.items):
                hint = "" if catalog is None else did_you_mean(item, catalog.items)
                allowed = "owns. and an item of the catalog"
                reader.faults.add(reader.line, "", name, allowed, hint, "unknown column")
            found[name] = ApplicantColumn(name, ("owns", item), is_list=True)
    return found


def row_as_case(
    path: str | Path, name: str, catalog: Catalog, renamed: Mapping[str, str] | None = None
) -> str:
    """Text of a case file that says what a row of a table says; `InputFaults` where the row is not good."""
    table, faults = read_applicants(path, catalog, renamed)
    if table is None:
        raise InputFaults(faults)
    found = next((row for row in table.people if row.id == name), None)
    if found is None:
        wrong = [fault for row in table.rejected if row.id == name for fault in row.faults]
        ids = [*(row.id for row in table.people), *(row.id for row in table.rejected)]
        allowed = "the id of a row in the table"
        raise InputFaults(wrong or [option_fault("--row", name, allowed, did_you_mean(name, ids))])
    return tree_text(tree_of(found.plain))


def load_applicants(
    path: str | Path,
    catalog: Catalog | None = None,
    skip_invalid: bool = False,
    currency: str | None = None,
) -> ApplicantTable:
    """Read a table of applicants.

    - `path`: CSV, XLSX or Parquet, told by the ending; notes may stand above the header of the first two, on
      lines that begin with ``#``.
    - `catalog`: shows which things, warning signs and fixes exist; not looked at if left out.
    - `skip_invalid`: set rows with faults aside instead of refusing the table.
    - `currency`: currency of the price table; a row that names another is at fault.

    Returns
    -------
    ApplicantTable
        Lengths, angles and times are read as in a case file.

    - raises `InputFaults`: the table has faults, or no row is left of it.
    """
    table, faults = read_applicants(path, catalog)
    if table is None:
        raise InputFaults(faults)
    return accepted(table if currency is None else in_currency(table, currency), skip_invalid)


def read_applicants(
    path: str | Path, catalog: Catalog | None = None, renamed: Mapping[str, str] | None = None
) -> tuple[ApplicantTable | None, list[Fault]]:
    """Read a table as far as it goes: good rows, and those with faults.

    `renamed` gives our names for some of the table's columns.  There is no table, and the faults say
    why, where it cannot be read as a whole.
    """
    reader = TableReader(path, _form(), renamed)
    rows = _RowReader(reader.file, _header(reader, catalog), catalog)
    found = [rows.read(row) for row in reader.rows()]
    if reader.faults:
        return None, list(reader.faults)
    taken, rejected = _without_repeats(found, reader.file)
    return ApplicantTable(reader.file, taken, rejected, reader.aside), []


def in_currency(table: ApplicantTable, currency: str) -> ApplicantTable:
    """Reject the rows that name another currency than the price table's."""
    taken, rejected = [], list(table.rejected)
    for one in table.people:
        written = one.plain.get("means", {}).get("currency")
        if written in (None, "unknown", currency):
            taken.append(one)
            continue
        allowed = f"{currency}, the currency of the price table"
        fault = Fault(table.file, one.line, "means.currency", written, allowed, kind="means.currency")
        rejected.append(Rejected(one.line, one.id, (fault,), one.group))
    return replace(table, people=tuple(taken), rejected=tuple(sorted(rejected, key=lambda one: one.line)))


def refused(table: ApplicantTable, skip_invalid: bool) -> FaultList:
    """Faults of rejected rows, unless they are to be set aside and others are left."""
    together = FaultList(table.file)
    if not skip_invalid or not table.people:
        for one in table.rejected:
            together.extend(one.faults)
    return together


def accepted(table: ApplicantTable, skip_invalid: bool) -> ApplicantTable:
    """Refuse a table with rejected rows, unless they are to be set aside and others are left.

    Raises `InputFaults` with the faults of all rejected rows.
    """
    refused(table, skip_invalid).raise_if_any()
    return table


def without_rows(table: ApplicantTable, faults: Sequence[Fault]) -> ApplicantTable:
    """The same table with the rows of these faults set aside.

    Raises `InputFaults` with them where one is of no row, or nobody would be left.
    """
    rows = {one.line: one for one in table.people}
    wrong: dict[int, list[Fault]] = {}
    for fault in faults:
        if fault.line not in rows:
            raise InputFaults(faults)
        wrong.setdefault(fault.line, []).append(fault)
    aside = [Rejected(line, rows[line].id, tuple(told), rows[line].group) for line, told in wrong.items()]
    left = replace(
        table,
        people=tuple(one for one in table.people if one.line not in wrong),
        rejected=tuple(sorted([*table.rejected, *aside], key=lambda one: one.line)),
    )
    return accepted(left, skip_invalid=True)


def _without_repeats(
    found: Sequence[ApplicantRow | Rejected], file: str
) -> tuple[tuple[ApplicantRow, ...], tuple[Rejected, ...]]:
    """Reject every row of an id that stands twice: which one is meant nobody knows."""
    times = Counter(one.id.casefold() for one in found if is_id(one.id))
    first: dict[str, ApplicantRow | Rejected] = {}
    taken: list[ApplicantRow] = []
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
        if isinstance(one, ApplicantRow) and not faults:
            taken.append(one)
        else:
            rejected.append(Rejected(one.line, one.id, tuple(faults), one.group))
    return tuple(sorted(taken, key=lambda one: one.id)), tuple(rejected)


_MOST_BYTES = 1_000_000
_ARROW = re.compile(r"\s*->\s*")
_BETWEEN = re.compile(r"\s*[,;\t:=]\s*")
ALLOWED = "THEIR NAME -> our.key, as Height of the desk -> desk.height"


def load_column_map(path: str | Path) -> Mapping[str, str]:
    """Read a map of columns: ``their name -> our.key``, or a comma, semicolon, tab or colon between the two.

    Where no arrow stands, ours is what stands behind the last separator. Lines that begin with ``#`` are
    notes. Raises `InputFaults` with every line that names no column of ours, or one that was named before.
    """
    faults = FaultList(str(path))
    text = read_bounded_text(path, _MOST_BYTES, faults)
    known = {*OWN, *columns(), *spread_columns()}
    found: dict[str, str] = {}
    used: dict[str, int] = {}
    for number, line in enumerate((text or "").splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        theirs, ours = _pair(line)
        good = ours in known or ours.startswith(OWNS)
        if not good and not found and (theirs.casefold(), ours.casefold()) in _HEADERS:
            continue
        if not theirs or not good:
            faults.add(number, "", line.strip(), ALLOWED, did_you_mean(ours, known))
        elif ours in used or theirs in found:
            before = f"first on line {used.get(ours, number)}"
            faults.add(number, "", line.strip(), "each column once", "", f"named twice, {before}")
        else:
            found[theirs] = ours
            used[ours] = number
    if not found and not faults:
        faults.add(None, "", None, ALLOWED, "", "names no columns")
    faults.raise_if_any()
    return found


_HEADERS = frozenset((("theirs", "ours"), ("their name", "our key"), ("their", "our"), ("column", "key")))


def _pair(line: str) -> tuple[str, str]:
    """Their name and ours, without the quotes around either."""
    parts = _ARROW.split(line)
    if len(parts) < 2:
        cut = list(_BETWEEN.finditer(line))
        parts = [line[: cut[-1].start()], line[cut[-1].end() :]] if cut else [line, ""]
    theirs, ours = (part.strip().strip("\"'").strip() for part in (parts[0], parts[-1]))
    return theirs, ours.rstrip(",;").strip("\"'")
