"""Workbooks (XLSX, XLSB, XLS, ODS) -> one Grid per sheet."""

from __future__ import annotations

import datetime
import io
from typing import TYPE_CHECKING, Any

from leakdown.errors import InputError
from leakdown.sheets.grid import Cell, Grid, Row, told
from leakdown.sheets.workbook_size import MOST_CELLS, check_sizes

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook


def grids_of(data: bytes, source: str) -> list[tuple[str, Grid]]:
    """(sheet name, Grid) of every sheet with cells. Raises InputError for a damaged workbook."""
    from python_calamine import CalamineWorkbook  # loads only for workbooks

    try:
        check_sizes(data, source)
        with CalamineWorkbook.from_filelike(io.BytesIO(data)) as book:
            return [(name, grid) for name in book.sheet_names if (grid := _grid(book, name, source)).rows]
    except InputError:
        raise
    except Exception as error:  # the library raises many kinds for damaged files
        raise InputError(**told("no workbook", kind=type(error).__name__), where=source) from None


def _grid(book: CalamineWorkbook, name: str, source: str) -> Grid:
    sheet = book.get_sheet_by_name(name)
    if sheet.height * sheet.width > MOST_CELLS:
        raise InputError(**told("large sheet", name=name, rows=sheet.height, columns=sheet.width), where=source)
    first = sheet.start[0] + 1 if sheet.start else 1
    rows, comments = [], []
    for number, values in enumerate(sheet.to_python(), first):
        cells = [_cell(value) for value in values]
        filled = [cell for cell in cells if cell != ""]
        text = filled[0] if len(filled) == 1 else ""
        if isinstance(text, str) and text.startswith(("#", "//")) and len(text) > 1:
            comments.append((number, text.lstrip("#/ ")))
        elif filled:
            rows.append(Row(number, cells))
    return Grid(rows, comments, source)


def _cell(value: Any) -> Cell:
    """A cell as a number or as text; times and dates as ISO text."""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return float(value)
    if isinstance(value, datetime.timedelta):
        return _elapsed(value.total_seconds())
    if isinstance(value, datetime.datetime):
        # A time of day alone reaches us as a moment of the spreadsheet's day zero.
        if value.year < 1901:
            return _elapsed((value - datetime.datetime(value.year, value.month, value.day)).total_seconds())
        return value.isoformat(sep=" ")
    if isinstance(value, datetime.time):
        return _elapsed(value.hour * 3600 + value.minute * 60 + value.second + value.microsecond / 1e6)
    if isinstance(value, datetime.date):
        return value.isoformat()
    return str(value).strip()


def _elapsed(seconds: float) -> str:
    whole = round(seconds * 1000)
    sign, whole = ("-", -whole) if whole < 0 else ("", whole)
    hours, rest = divmod(whole, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    fraction = f".{rest % 1000:03d}" if rest % 1000 else ""
    return f"{sign}{hours}:{minutes:02d}:{rest // 1000:02d}{fraction}"
