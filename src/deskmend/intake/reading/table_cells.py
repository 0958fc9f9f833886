"""The cells of an applicant table as texts with their rows, from CSV, XLSX or Parquet.

Nothing is typed here: a number of a workbook becomes the text that would have been written, and a cell that
holds a formula is a fault, never a value. What a file can hold is bounded before it is read.

The header of a table that people fill in: all that is wrong with its columns in one fault.
"""

from __future__ import annotations

import csv
import datetime
import io
import warnings
import zipfile
import zlib
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from deskmend.errors import FaultList, did_you_mean, nearest
from deskmend.intake.reading.text_file import read_bounded_text, refuse_file

__all__ = [
    "ENDINGS",
    "MAX_BYTES",
    "MAX_CELL",
    "MAX_COLUMNS",
    "MAX_ROWS",
    "Cells",
    "FormulaCell",
    "UnreadableCell",
    "read_cells",
    "refuse_header",
]

NAMED = 8
"""Most columns that one fault names besides the header itself."""

LOOKED_UP = 100
"""Most unknown columns whose nearest spelling is looked for: a hostile header has a million."""


def refuse_header(
    names: Sequence[str],
    line: int,
    faults: FaultList,
    *,
    known: Collection[str],
    needed: Sequence[str],
    allowed: str,
    table: str,
    hint: str = "",
) -> None:
    """Record what is wrong with the columns of a table: one fault for unknown and missing ones together.

    A wrong file has many wrong columns and one cause, so it is told once. A repeated column is a fault of
    its own.

    Parameters
    ----------
    names : sequence of str
        The header as read.
    line : int
        Where it stands.
    faults : FaultList
        Where faults go.
    known : collection of str
        Columns that may stand there.
    needed : sequence of str
        Those that may not be left out.
    allowed : str
        What may stand there, in words.
    table : str
        What the table should be, as ``a price table``.
    hint : str
        Advice where the file is plainly another one; nearest spellings are told if left out.
    """
    have = set(names)
    unknown = [number for number, name in enumerate(names) if name not in known]
    missing = [name for name in needed if name not in have]
    for name, times in Counter(names).items():
        if name and times > 1:
            faults.add(line, name, name, "each column once", "", "repeated column")
    if not unknown and not missing:
        return
    shown = list(dict.fromkeys(names[number] or f"no name in column {number + 1}" for number in unknown))
    advice = hint or _spellings([name for name in shown if name in have], [n for n in known if n not in have])
    if len(unknown) == len(names):
        faults.add(line, "", ",".join(names), allowed, advice, f"holds no column of {table}")
    elif missing:
        note = "missing columns" if len(missing) > 1 else "missing column"
        if shown:
            note += f"; unknown {'columns' if len(shown) > 1 else 'column'} {_listed(shown)}"
        faults.add(line, ", ".join(missing), ",".join(names), allowed, advice, note)
    else:
        note = "unknown columns" if len(shown) > 1 else "unknown column"
        faults.add(line, "", _listed(shown), allowed, advice, note)


def _listed(names: Sequence[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _spellings(unknown: Sequence[str], free: Collection[str]) -> str:
    """Ask for the nearest columns that are not there yet."""
    found = [(near, name) for name in unknown[:LOOKED_UP] if (near := nearest(name, free)) is not None]
    if not found:
        return ""
    if len(unknown) == 1:
        return f"did you mean {found[0][0]}?"
    return f"did you mean {_listed([f'{near} for {name}' for near, name in found])}?"


MAX_BYTES = 100_000_000
"""Largest table read [bytes]."""

MAX_UNPACKED = 1_000_000_000
"""Most that a workbook or Parquet file may unpack to [bytes]."""

MAX_ROWS = 200_000
"""Most rows below the header."""

MAX_COLUMNS = 500
"""Most columns."""

MAX_CELL = 1_000
"""Longest cell [characters]."""

ENDINGS = (".csv", ".xlsx", ".parquet")
CASE_ENDINGS = (".yaml", ".yml")
"""Endings of the files that are read, in small letters."""

COMMENT = ("#", '"#')
"""What a line above the header begins with when it is a note; a table program may have quoted it."""


@dataclass(frozen=True)
class FormulaCell:
    """A cell that holds a formula [-]; its text."""

    text: str


@dataclass(frozen=True)
class UnreadableCell:
    """A cell that holds what no column takes, as a date; what it is."""

    what: str


_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    AttributeError,
    EOFError,
    LookupError,
    MemoryError,
    NotImplementedError,
    OSError,
    RecursionError,
    SyntaxError,
    TypeError,
    ValueError,
)
"""What the libraries raise on broken files: they let through whatever their innards do."""

Cell = str | FormulaCell | UnreadableCell


@dataclass(frozen=True)
class Cells:
    """One row.

    Attributes
    ----------
    line : int
        Line of a text file, row of a workbook, or row of a Parquet file, from 1.
    cells : sequence of Cell
        One a column; an empty text where nothing stands.
    """

    line: int
    cells: Sequence[Cell]


def read_cells(path: str | Path, faults: FaultList) -> tuple[Cells | None, Iterator[Cells]]:
    """Read the header and the rows of a table.

    Parameters
    ----------
    path : str or Path
        A file whose name ends in ``.csv``, ``.xlsx`` or ``.parquet``.
    faults : FaultList
        Where faults of the file go; also those met as rows are taken.

    Returns
    -------
    header : Cells or None
        None where a fault was recorded.
    rows : iterator of Cells
        Rows with anything in them.
    """
    ending = Path(path).suffix.lower()
    if ending not in ENDINGS:
        hint = did_you_mean(ending, ENDINGS)
        if ending in CASE_ENDINGS:
            hint = "one person's case is planned with deskmend plan"
        faults.add(None, "", str(path), f"a table whose name ends in {', '.join(ENDINGS)}", hint)
        return None, iter(())
    if ending == ".csv":
        rows = _csv_rows(path, faults)
    else:
        if refuse_file(path, MAX_BYTES, faults):
            return None, iter(())
        rows = _workbook_rows(path, faults) if ending == ".xlsx" else _parquet_rows(path, faults)
    header = next(rows, None)
    if header is None:
        if not faults:
            faults.add(None, "", None, "a header and at least one row below it", "", "is empty")
        return None, iter(())
    if len(header.cells) > MAX_COLUMNS:
        note = f"has {len(header.cells)} columns"
        faults.add(header.line, "", None, f"at most {MAX_COLUMNS} columns", "", note)
        return None, iter(())
    return header, _bounded(rows, len(header.cells), faults)


def _bounded(rows: Iterable[Cells], width: int, faults: FaultList) -> Iterator[Cells]:
    count = 0
    for row in rows:
        if not any(row.cells):
            continue
        count += 1
        if count > MAX_ROWS:
            faults.add(row.line, "", None, f"at most {MAX_ROWS} rows", "", "holds too many rows")
            return
        cells = row.cells
        if len(cells) > width and not any(cells[width:]):
            cells = cells[:width]
        yield Cells(row.line, [*cells, *[""] * (width - len(cells))])


def _csv_rows(path: str | Path, faults: FaultList) -> Iterator[Cells]:
    text = read_bounded_text(path, MAX_BYTES, faults)
    if text is None:
        return
    above, start = 0, 0
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end + 1
        line = text[start:end]
        if not line.lstrip().startswith(COMMENT) and line.strip(" \t\r\n,"):
            break
        above, start = above + 1, end
    if ";" in (line := text[start : text.find("\n", start)]) and "," not in line:
        faults.add(above + 1, "", line, "columns separated by commas", "", "the columns are not separated")
        return
    reader = csv.reader(io.StringIO(text[start:], newline=""), strict=True)
    at = above + 1
    try:
        for cells in reader:
            yield Cells(at, [cell.strip() for cell in cells])
            at = above + reader.line_num + 1
    except csv.Error:
        hint = "a quotation mark is opened and not closed, or a cell is too long"
        faults.add(at, "", None, "rows of cells separated by commas", hint, "is not readable as CSV")


def _workbook_rows(path: str | Path, faults: FaultList) -> Iterator[Cells]:
    from openpyxl import load_workbook

    # It warns of what it leaves aside, as drawings and rules for cells; nothing of that is read here.
    warnings.filterwarnings("ignore", category=UserWarning, module="openpyxl")
    try:
        with zipfile.ZipFile(path) as packed:
            unpacked = sum(entry.file_size for entry in packed.infolist())
        if unpacked > MAX_UNPACKED:
            faults.add(None, "", None, f"at most {MAX_UNPACKED // 1_000_000} MB", "", "unpacks to too much")
            return
        book = load_workbook(path, read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        # A workbook may claim any size; what is read is bounded by what is there.
        sheet.reset_dimensions()
        started = False
        for number, row in enumerate(sheet.iter_rows(max_col=MAX_COLUMNS + 1), start=1):
            cells = [_workbook_cell(cell.value, cell.data_type) for cell in row]
            first = next((cell for cell in cells if cell), "")
            if not started and (first == "" or (isinstance(first, str) and first.startswith("#"))):
                continue
            if not started:
                while cells and cells[-1] == "":
                    cells.pop()
            started = True
            yield Cells(number, cells)
        book.close()
    except _BROKEN as error:
        faults.add(None, "", None, "a workbook that can be opened", "", f"cannot be read: {_name(error)}")


def _name(error: Exception) -> str:
    return type(error).__name__


def _workbook_cell(value: Any, kind: str) -> Cell:
    if kind == "f":
        return FormulaCell(str(getattr(value, "text", value)))
    if kind == "e":
        return UnreadableCell(f"the error {value}")
    return _cell(value)


def _cell(value: Any) -> Cell:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if value != value:
            return ""
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, list):
        return " ".join(str(part) for part in map(_cell, value))
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        return UnreadableCell("a date or time")
    return UnreadableCell(f"of type {type(value).__name__}")


def _parquet_rows(path: str | Path, faults: FaultList) -> Iterator[Cells]:
    try:
        from pyarrow import ArrowException
        from pyarrow.parquet import ParquetFile
    except ImportError:
        hint = "pip install 'deskmend[tables]', or save the table as CSV or XLSX"
        faults.add(None, "", None, "the package pyarrow, which reads Parquet", hint, "pyarrow is missing")
        return
    try:
        with ParquetFile(path) as table:
            about = table.metadata
            groups = (about.row_group(number).total_byte_size for number in range(about.num_row_groups))
            if about.num_columns > MAX_COLUMNS:
                allowed, note = f"at most {MAX_COLUMNS} columns", f"has {about.num_columns} columns"
                faults.add(None, "", None, allowed, "", note)
                return
            if about.num_rows > MAX_ROWS:
                allowed, note = f"at most {MAX_ROWS} rows", f"has {about.num_rows} rows"
                faults.add(None, "", None, allowed, "", note)
                return
            if sum(groups) > MAX_UNPACKED:
                allowed = f"at most {MAX_UNPACKED // 1_000_000} MB"
                faults.add(None, "", None, allowed, "", "unpacks to too much")
                return
            names = list(table.schema_arrow.names)
            yield Cells(1, names)
            number = 1
            for batch in table.iter_batches(batch_size=10_000):
                whole = [column.to_pylist() for column in batch.columns]
                for row in zip(*whole, strict=True):
                    number += 1
                    yield Cells(number, [_cell(value) for value in row])
    except (ArrowException, *_BROKEN) as error:
        faults.add(None, "", None, "a Parquet file that can be read", "", f"cannot be read: {_name(error)}")
