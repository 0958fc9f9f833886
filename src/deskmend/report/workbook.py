"""All tables of a shared fund as sheets of one workbook: the same cells, the same bytes every time."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Mapping
from decimal import Decimal

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

__all__ = ["workbook_of"]

_NUMBERS = frozenset(
    "packs pack units unit_price cost fund row strain_before strain_free strain_after".split()
)
"""Columns whose cells are numbers, so that a table program adds them up."""
_NUMBER = re.compile(r"-?[0-9]{1,15}(\.[0-9]{1,9})?")
_WIDEST = 60
_LONG_AGO = (1980, 1, 1, 0, 0, 0)
_STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


def workbook_of(tables: Mapping[str, str]) -> bytes:
    """A workbook with a sheet for each table, which are CSV texts by name."""
    book = Workbook(write_only=True)
    for name, text in tables.items():
        rows = list(csv.reader(io.StringIO(text)))
        sheet = book.create_sheet(name[:31])
        header = rows[0]
        for number in range(len(header)):
            longest = max(len(row[number]) for row in rows[:200])
            sheet.column_dimensions[get_column_letter(number + 1)].width = min(_WIDEST, longest + 2)
        sheet.freeze_panes = "A2"
        cells = [WriteOnlyCell(sheet, value=column) for column in header]
        for cell in cells:
            cell.font = Font(bold=True)
        sheet.append(cells)
        for row in rows[1:]:
            sheet.append([_cell(sheet, column, text) for column, text in zip(header, row, strict=True)])
    out = io.BytesIO()
    book.save(out)
    return _without_time(out.getvalue())


def _cell(sheet: object, column: str, text: str) -> object:
    if column in _NUMBERS and _NUMBER.fullmatch(text):
        return Decimal(text)
    cell = WriteOnlyCell(sheet, value=text)  # type: ignore[arg-type]
    cell.data_type = "s"  # text that begins like a formula stays text
    return cell


def _without_time(book: bytes) -> bytes:
    """The same workbook without the time at which it was written."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(out, "w") as new:
        for entry in old.infolist():
            content = old.read(entry.filename)
            if entry.filename == "docProps/core.xml":
                content = _STAMP.sub(rb"\g<1>1980-01-01T00:00:00Z", content)
            still = zipfile.ZipInfo(entry.filename, _LONG_AGO)
            still.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(still, content)
    return out.getvalue()
