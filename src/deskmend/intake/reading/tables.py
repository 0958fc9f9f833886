"""One reader of the tables people fill in: from a CSV, XLSX or Parquet file to checked cells.

A `TableForm` says what one kind of table looks like. A `TableReader` bounds the file before it is read, finds
the header below the notes that may stand above it, tells all that is wrong with its columns in one fault, and
gives row after row. A `Row` reads a cell as what its column holds, and gathers the faults of its own cells.

Nothing is typed before a column asks for it: a number of a workbook becomes the text that would have been
written, and a cell that holds a formula is a fault, never a value.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
import warnings
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from pathlib import Path
from typing import IO, Any

from deskmend.errors import FaultList, Unreadable, did_you_mean, nearest
from deskmend.intake.reading.text_file import ALLOWED_ID, is_id, read_bounded_text, refuse_file, text_fault
from deskmend.measures import Minor, Range, parse_amount, parse_currency, parse_quantity

CASE_ENDINGS = (".yaml", ".yml")
TABLE_ENDINGS = (".csv", ".xlsx", ".parquet")

MAX_COLUMNS = 500

MAX_UNPACKED = 200_000_000
"""Most that a workbook or Parquet file may unpack to [bytes]."""

_MOST_OF = (("xl/worksheets/", MAX_UNPACKED), ("xl/sharedStrings.xml", 60_000_000))
_MOST_OF_OTHERS = 5_000_000
"""Most that one part of a workbook may unpack to, by what its name begins with: styles take a table of
numbers a few kilobytes [bytes]."""
_MOST_CELLS = 6_000_000
"""Most cells in one sheet, empty ones that are written down among them."""
_NOTE_ROWS = 1_000
"""Rows that may stand above a table."""

MAX_CELL = 1_000
"""Longest cell [characters]."""

_MAX_WORDS = 200
"""Longest cell of free text [characters]."""

_LISTED = 8
"""Most columns that one fault names besides the header itself."""

_LOOKED_UP = 100
"""Most unknown columns whose nearest spelling is looked for: a hostile header has a million."""

_NOTE = re.compile(r'[^\S\r\n]*"?#[^\r\n]*(?:\r\n?|\n|\Z)|[ \t,]*(?:\r\n?|\n|\Z)')
"""A line above the header: an empty row, or a note, which a table program may have quoted."""

_ROW = re.compile(rb"<(?:[A-Za-z0-9]+:)?row(?=[\s/>])(?:[^>]*?\sr=['\"](\d{1,20})['\"])?")
_CELL_STARTS = tuple(b"%cc%c" % pair for pair in ((a, b) for a in b"<:" for b in b" />"))

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)

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


@dataclass(frozen=True)
class TableForm:
    """What one kind of table looks like."""

    name: str
    """As ``a price table``."""
    columns: Collection[str]
    needed: Sequence[str]
    """Columns that may not be left out."""
    allowed: str
    """Which columns there are, in words."""
    max_bytes: int
    max_rows: int
    endings: Sequence[str] = (".csv",)
    """Endings of the files it is read from; with one alone, a file of any name is read as that."""
    starts: tuple[str, ...] = ()
    """What further columns begin with, as ``owns.``."""
    elsewhere: Callable[[Sequence[str], str], str] = lambda columns, file: ""
    """Says from columns and file name where a file belongs that is plainly another one; else nothing."""
    without_rows: str = ""
    """What is wrong with a table that has no row; nothing where empty."""
    short_rows: bool = False
    """Whether cells left out at the end of a row count as empty."""
    aside: bool = False
    """Whether columns that are plainly somebody's own are left aside instead of refused."""
    named_by: str = ""
    """Column whose id is told before the column of a fault, as ``cork_tile.price``."""


@dataclass(frozen=True)
class _Formula:
    """A cell that holds a formula: its text."""

    text: str


@dataclass(frozen=True)
class _Foreign:
    """A cell that holds what no column takes, as a date: what it is."""

    what: str


_Cell = str | _Formula | _Foreign
_Line = tuple[int, Sequence[_Cell]]
"""Line of a text file, row of a workbook or of a Parquet file, counted from 1; and its cells."""


class TableRow:
    """One row: its cells by column, and the faults found as they are read.

    A cell at fault gives what an empty one gives, so that the others still speak; whether the row can be used
    its `faults` say.
    """

    def __init__(self, file: str, line: int, cells: dict[str, _Cell], named_by: str = "") -> None:
        self.line = line
        self.faults = FaultList(file)
        self._cells = cells
        self._named_by = named_by

    def written(self, column: str) -> str:
        """Text of a cell, whatever it says."""
        cell = self._cells.get(column, "")
        return cell if isinstance(cell, str) else getattr(cell, "text", "")

    def refuse(self, column: str, allowed: str, hint: str = "", note: str = "") -> None:
        """Record a fault of a cell."""
        read = self.written(column) or None
        name = self.written(self._named_by)
        where = f"{name}.{column}" if column != self._named_by and is_id(name) else column
        self.faults.add(self.line, where, read, allowed, hint, note or ("" if read else "is empty"), column)

    def value(self, column: str) -> str:
        """Text of a cell that may hold anything but a formula."""
        cell = self._cells.get(column, "")
        if isinstance(cell, _Foreign):
            self.refuse(column, "a number or a word", note=f"holds {cell.what}")
        elif isinstance(cell, _Formula) or cell.startswith("="):
            self.refuse(column, "a value, not a formula", "put the value itself there", "holds a formula")
        elif len(cell) > MAX_CELL:
            self.refuse(column, f"at most {MAX_CELL} characters", note=f"has {len(cell)}")
        else:
            return cell
        return ""

    def id(self, column: str) -> str:
        """Id in a cell that may not be empty."""
        text = self.written(column)
        if not is_id(text):
            self.refuse(column, ALLOWED_ID)
        return text

    def whole(
        self, column: str, limits: Range, blank: int | None = None, *, needed: bool = False
    ) -> int | None:
        """Whole number within limits; `blank` where the cell is empty or at fault."""
        text = self.written(column)
        if not text and not needed:
            return blank
        try:
            number = parse_quantity(text, "count")
        except Unreadable:
            number = -1.0
        if number not in limits:
            self.refuse(column, str(limits))
            return blank
        return int(number)

    def currency(self, column: str) -> str | None:
        """Currency code in a cell that may not be empty."""
        try:
            return parse_currency(self.written(column))
        except Unreadable as error:
            self.refuse(column, error.allowed, error.hint)
            return None

    def money(self, column: str, currency: str | None, *, needed: bool = False) -> Minor | None:
        """Amount of money; None also where the currency it would be in is at fault."""
        text = self.written(column)
        if currency is None or not (text or needed):
            return None
        try:
            return parse_amount(text, currency)
        except Unreadable as error:
            self.refuse(column, error.allowed, error.hint)
            return None

    def words(self, column: str) -> str:
        """Free text that no table program would run."""
        text = self.written(column)
        if note := text_fault(text, _MAX_WORDS):
            self.refuse(column, f"text of at most {_MAX_WORDS} characters", note=note)
        elif text.startswith(("=", "+", "-", "@", "\t")):
            hint = "a table program would run it as a formula"
            self.refuse(column, "text that does not begin with =, +, - or @", hint)
        return text

    def day(self, column: str) -> datetime.date | None:
        """Day as ``2024-05-31``."""
        text = self.written(column)
        if not text:
            return None
        try:
            if _DAY.fullmatch(text):
                return datetime.date.fromisoformat(text)
        except ValueError:
            # As 2024-02-30: the fault below says what is allowed.
            pass
        self.refuse(column, "a day as 2024-05-31")
        return None


class TableReader:
    """One table being read: `columns` as the header has them, then its `rows`.

    Faults of the file and its header are in `faults` from the start, and no rows follow them. Those of a row
    are the row's own, and whoever takes it decides what becomes of them.
    """

    def __init__(self, path: str | Path, form: TableForm, renamed: Mapping[str, str] | None = None) -> None:
        self.renamed = renamed or {}
        self.file = str(path)
        self.form = form
        self.faults = FaultList(self.file)
        self.line = 0
        """Where the header stands."""
        self.columns: tuple[str, ...] = ()
        self.aside: tuple[str, ...] = ()
        """Columns that nobody here knows, left aside."""
        self._lines = self._opened(path)
        self._read_header()

    def _opened(self, path: str | Path) -> Iterator[_Line]:
        ending = Path(path).suffix.lower()
        endings = self.form.endings
        if len(endings) == 1 or ending == ".csv":
            return _csv_lines(path, self.form, self.faults)
        if ending not in endings:
            hint = did_you_mean(ending, endings)
            if ending in CASE_ENDINGS:
                hint = "one person's case is planned with deskmend plan"
            self.faults.add(None, "", self.file, f"a table whose name ends in {', '.join(endings)}", hint)
        elif not refuse_file(path, self.form.max_bytes, self.faults):
            if ending == ".xlsx":
                return _workbook_lines(path, self.form.max_rows, self.faults)
            return _parquet_lines(path, self.form.max_rows, self.faults)
        return iter(())

    def _read_header(self) -> None:
        header = next(self._lines, None)
        if self.faults:
            return
        if header is None:
            self.faults.add(None, "", None, "a header and at least one row below it", "", "is empty")
            return
        self.line, cells = header
        if len(cells) > MAX_COLUMNS:
            note = f"has {len(cells)} columns"
            self.faults.add(self.line, "", None, f"at most {MAX_COLUMNS} columns", "", note)
            return
        written = tuple(cell if isinstance(cell, str) else "" for cell in cells)
        self.columns = tuple(self.renamed.get(name, name) for name in written)
        self._refuse_columns()

    def _refuse_columns(self) -> None:
        """Record what is wrong with the columns: one fault for unknown and missing ones together.

        A wrong file has many wrong columns and one cause, so it is told once. A repeated column is a fault of
        its own.
        """
        names, form = self.columns, self.form
        have = set(names)
        unknown = [
            name or f"no name in column {number}"
            for number, name in enumerate(names, start=1)
            if name not in form.columns and not (form.starts and name.startswith(form.starts))
        ]
        if form.aside and len(unknown) < len(names):
            self.aside = tuple(dict.fromkeys(name for name in names if _is_their_own(name, form, unknown)))
            unknown = [name for name in unknown if name not in self.aside]
        missing = [name for name in form.needed if name not in have]
        for name, times in Counter(names).items():
            if name and times > 1 and name not in self.aside:
                self.faults.add(self.line, name, name, "each column once", "", "repeated column")
        if not unknown and not missing:
            return
        shown, header = list(dict.fromkeys(unknown)), ",".join(names)
        hint = form.elsewhere(names, self.file)
        if not hint:
            free = [name for name in form.columns if name not in have]
            hint = _spellings([name for name in shown if name in have], free)
        several = "s" if len(shown) > 1 else ""
        if len(unknown) == len(names):
            note = f"holds no column of {form.name}"
            self.faults.add(self.line, "", header, form.allowed, hint, note)
        elif missing:
            note = "missing columns" if len(missing) > 1 else "missing column"
            if shown:
                note += f"; unknown column{several} {_listed(shown)}"
            self.faults.add(self.line, ", ".join(missing), header, form.allowed, hint, note)
        else:
            self.faults.add(self.line, "", _listed(shown), form.allowed, hint, f"unknown column{several}")

    def rows(self) -> Iterator[TableRow]:
        """Rows with anything in them; one of another length comes with that fault and without cells.

        Reading ends where there are too many rows, or too many faults.
        """
        if self.faults:
            return
        count = 0
        for line, cells in self._lines:
            if not any(cells):
                continue
            count += 1
            if count > self.form.max_rows:
                allowed = f"at most {self.form.max_rows} rows"
                self.faults.add(line, "", None, allowed, "", "holds too many rows")
                return
            yield self._row(line, cells)
            if self.faults.full:
                return
        if not count and not self.faults and self.form.without_rows:
            allowed = "at least one row below the header"
            self.faults.add(None, "", None, allowed, "", self.form.without_rows)

    def _row(self, line: int, cells: Sequence[_Cell]) -> TableRow:
        width = len(self.columns)
        short = len(cells) < width
        if (short and not self.form.short_rows) or any(cells[width:]):
            row = TableRow(self.file, line, {})
            hint = "an empty cell keeps its comma" if short else "put quotes around text with commas"
            row.faults.add(line, "", None, f"{width} columns", hint, f"has {len(cells)}", "columns")
            return row
        by_column = dict(zip(self.columns, [*cells, *[""] * (width - len(cells))], strict=False))
        return TableRow(self.file, line, by_column, self.form.named_by)


_ALIKE = 0.8
"""How alike the name of a column must be to one of ours to be taken for a slip of it."""


def _is_their_own(name: str, form: TableForm, unknown: Sequence[str]) -> bool:
    """Whether a column is plainly none of ours: neither of our groups nor nearly one of our names."""
    if not name or name not in unknown:
        return False
    groups = {column.partition(".")[0] for column in form.columns if "." in column}
    if name.partition(".")[0].casefold() in groups and "." in name:
        return False
    return not get_close_matches(name.casefold(), form.columns, n=1, cutoff=_ALIKE)


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _LISTED
    return ", ".join(names[:_LISTED]) + (f" and {more} more" if more > 0 else "")


def _spellings(unknown: Sequence[str], free: Collection[str]) -> str:
    """Ask for the nearest columns that are not there yet."""
    found = [(near, name) for name in unknown[:_LOOKED_UP] if (near := nearest(name, free)) is not None]
    if not found:
        return ""
    if len(unknown) == 1:
        return f"did you mean {found[0][0]}?"
    return f"did you mean {_listed([f'{near} for {name}' for near, name in found])}?"


def _csv_lines(path: str | Path, form: TableForm, faults: FaultList) -> Iterator[_Line]:
    text = read_bounded_text(path, form.max_bytes, faults)
    if text is None:
        return
    start, above = 0, 0
    while (note := _NOTE.match(text, start)) is not None and note.end() > start:
        start, above = note.end(), above + 1
    between = _separator(text[start : start + 100_000])
    reader = csv.reader(io.StringIO(text[start:], newline=""), strict=True, delimiter=between)
    at = above + 1
    try:
        for cells in reader:
            yield at, [cell.strip() for cell in cells]
            at = above + reader.line_num + 1
    except csv.Error:
        hint = "a quotation mark is opened and not closed, or a cell is too long"
        allowed = "rows of cells separated by commas, semicolons or tabs"
        faults.add(at, "", None, allowed, hint, "is not readable as CSV")


def separator_of(text: str) -> str:
    """What separates the columns of a whole table, notes above its header passed over."""
    start = 0
    while (note := _NOTE.match(text, start)) is not None and note.end() > start:
        start = note.end()
    return _separator(text[start : start + 100_000])


def _separator(text: str) -> str:
    """What separates the columns: whichever of comma, semicolon and tab the header has most of.

    >>> _separator("id;name, first;group"), _separator('"a;b;c",d'), _separator("id")
    (';', ',', ',')
    """
    counts = Counter({",": 0, ";": 0, "\t": 0})
    quoted = False
    for character in text:
        if character == '"':
            quoted = not quoted
        elif not quoted and character in "\r\n":
            break
        elif not quoted and character in counts:
            counts[character] += 1
    return max(counts, key=lambda one: (counts[one], one == ","))


def _workbook_lines(path: str | Path, max_rows: int, faults: FaultList) -> Iterator[_Line]:
    from openpyxl import load_workbook

    # It warns of what it leaves aside, as drawings and rules for cells; nothing of that is read here.
    warnings.filterwarnings("ignore", category=UserWarning, module="openpyxl")
    try:
        with zipfile.ZipFile(path) as packed:
            if _too_large_to_open(packed, max_rows, faults):
                return
        book = load_workbook(path, read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        # A workbook may claim any size; what is read is bounded by what is there.
        sheet.reset_dimensions()
        started = False
        before: object = None
        for number, row in enumerate(sheet.iter_rows(max_col=MAX_COLUMNS + 1), start=1):
            # rows that are left out of the file come as one and the same empty row
            if row is before:
                continue
            before = row
            cells = [_workbook_cell(cell.value, cell.data_type) for cell in row]
            first = next((cell for cell in cells if cell), "")
            if not started and (first == "" or (isinstance(first, str) and first.startswith("#"))):
                continue
            if not started:
                while cells and cells[-1] == "":
                    cells.pop()
            started = True
            yield number, cells
        book.close()
    except _BROKEN as error:
        note = f"cannot be read: {type(error).__name__}"
        faults.add(None, "", None, "a workbook that can be opened", "", note)


def _too_large_to_open(packed: zipfile.ZipFile, max_rows: int, faults: FaultList) -> bool:
    """Whether a workbook holds more than a table may, told before a library builds it in memory."""
    if _unpacks_to_too_much((entry.file_size for entry in packed.infolist()), faults):
        return True
    for entry in packed.infolist():
        most = next((most for start, most in _MOST_OF if entry.filename.startswith(start)), _MOST_OF_OTHERS)
        if entry.filename.endswith((".xml", ".rels")) and entry.file_size > most:
            note = f"its part {entry.filename} unpacks to {entry.file_size // 1_000_000} MB"
            faults.add(None, "", None, f"at most {most // 1_000_000} MB in that part", "", note)
            return True
        if entry.filename.startswith("xl/worksheets/") and entry.filename.endswith(".xml"):
            with packed.open(entry) as part:
                if _refuse_sheet(part, max_rows, faults):
                    return True
    return False


def _refuse_sheet(part: IO[bytes], max_rows: int, faults: FaultList) -> bool:
    """Whether a sheet has a row too far down, too many rows or too many cells; read once, piece by piece."""
    furthest = max_rows + _NOTE_ROWS
    rows = cells = 0
    tail = b""
    while piece := part.read(1 << 20):
        # what a piece cuts in two is looked at with the next one
        end = piece.rfind(b">") + 1
        text, tail = (tail + piece[:end], piece[end:]) if end else (b"", tail + piece)
        if len(tail) > MAX_UNPACKED // 10:
            faults.add(None, "", None, "a workbook that can be opened", "", "holds a part without an end")
            return True
        cells += sum(text.count(start) for start in _CELL_STARTS)
        for found in _ROW.finditer(text):
            rows += 1
            number = int(found[1] or rows)
            if number > furthest or rows > furthest:
                note = "something stands in a row so far down; delete the empty rows"
                faults.add(number, "", None, f"at most {max_rows} rows", note, "holds too many rows")
                return True
        if cells > _MOST_CELLS:
            faults.add(None, "", None, f"at most {_MOST_CELLS} cells", "", "holds too many cells")
            return True
    return False


def _workbook_cell(value: Any, kind: str) -> _Cell:
    if kind == "f":
        return _Formula(str(getattr(value, "text", value)))
    return _Foreign(f"the error {value}") if kind == "e" else _cell(value)


def _cell(value: Any) -> _Cell:
    """Give the text that would have been written for a typed value."""
    if value is None or value != value:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, list):
        return " ".join(str(part) for part in map(_cell, value))
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        return _Foreign("a date or time")
    return _Foreign(f"of type {type(value).__name__}")


def _parquet_lines(path: str | Path, max_rows: int, faults: FaultList) -> Iterator[_Line]:
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
            # Told before anything is unpacked: the file says how much there is.
            for count, most, what in (
                (about.num_columns, MAX_COLUMNS, "columns"),
                (about.num_rows, max_rows, "rows"),
            ):
                if count > most:
                    faults.add(None, "", None, f"at most {most} {what}", "", f"has {count} {what}")
                    return
            groups = (about.row_group(number).total_byte_size for number in range(about.num_row_groups))
            if _unpacks_to_too_much(groups, faults):
                return
            yield 1, list(table.schema_arrow.names)
            number = 1
            for batch in table.iter_batches(batch_size=10_000):
                whole = [column.to_pylist() for column in batch.columns]
                for row in zip(*whole, strict=True):
                    number += 1
                    yield number, [_cell(value) for value in row]
    except (ArrowException, *_BROKEN) as error:
        note = f"cannot be read: {type(error).__name__}"
        faults.add(None, "", None, "a Parquet file that can be read", "", note)


def _unpacks_to_too_much(sizes: Iterable[int], faults: FaultList) -> bool:
    if sum(sizes) <= MAX_UNPACKED:
        return False
    faults.add(None, "", None, f"at most {MAX_UNPACKED // 1_000_000} MB", "", "unpacks to too much")
    return True
