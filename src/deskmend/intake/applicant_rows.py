"""One row of a table of applicants after the other, checked like a case file each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Any

from deskmend.errors import Fault, FaultList, did_you_mean
from deskmend.intake.applicant_cells import MAX_CELL, Cell, Cells, FormulaCell, UnreadableCell
from deskmend.intake.applicant_columns import OWN, OWNS, PLACE, TASKS, ApplicantColumn, columns
from deskmend.intake.applicant_records import WEIGHT_PARTS, Applicant, Rejected
from deskmend.intake.case import CASE_FORMAT, Case
from deskmend.intake.case_file import read_case
from deskmend.intake.catalog import Catalog
from deskmend.intake.ids import ALLOWED_ID, is_id
from deskmend.intake.prices import NEEDED_COLUMNS
from deskmend.intake.table_header import refuse_header
from deskmend.intake.wish_names import misnamed

__all__ = ["RowReader", "TableColumn", "header_of"]

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
