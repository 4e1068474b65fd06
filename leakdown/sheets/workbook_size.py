"""How large a sheet of a workbook is, before it is read: its range is reserved whole, however few cells it has.

One far cell among a few reaches that, so the cells' own places are looked at, in the stream, in each format:
XLSX by its references ("XFD1048576") and stated size, XLSB by its records (MS-XLSB 2.1.4: type, length, data),
ODS by counting rows and cells (OpenDocument 1.2, 9.1: one may stand for many). An XLS ends at 65536 x 256.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
from collections.abc import Callable, Iterator
from functools import reduce
from typing import IO

from leakdown.errors import InputError
from leakdown.sheets.grid import told

MOST_CELLS = 20_000_000
_MOST_BYTES = 2_000_000_000
_CHUNK = 1 << 20
# As a reader takes it, not as the standard has it: letters of any case and number, either kind of quote.
_PLACE = re.compile(rb"""(?:\br\s*=\s*["']|<dimension\s[^>]{0,40}?[A-Za-z]\d+:)\s*([A-Za-z]{1,9})(\d{1,12})\s*["']""")
_TAG = re.compile(rb"<table:(table|table-row|table-cell|covered-table-cell)(?=[\s/>])([^>]*)>")
_REPEATED = re.compile(rb'number-(?:rows|columns)-repeated="(\d{1,9})"')
_ROW, _CELLS, _SIZE = 0, range(1, 12), 148  # BrtRowHdr; BrtCellBlank to BrtFmlaError; BrtWsDim

_Spot = tuple[int, int]
"""(row, column) of a cell."""
_Finder = Callable[[IO[bytes]], Iterator[_Spot | None]]
"""The places of a member's cells as they come; None where a sheet begins."""


def check_sizes(data: bytes, source: str) -> None:
    """Refuse a workbook with a sheet too large to be held. Raises InputError; other errors where it is damaged."""
    if not data.startswith(b"PK"):
        return
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        for member in book.infolist():
            spots_of = next((f for name, f in _FORMATS.items() if re.fullmatch(name, member.filename, re.I)), None)
            if spots_of is None:
                continue
            for rows, columns in _spans(book, member, spots_of):
                if rows * columns > MOST_CELLS or member.file_size > _MOST_BYTES:
                    raise InputError(**told("far cell", rows=rows, columns=columns), where=source)


def _spans(book: zipfile.ZipFile, member: zipfile.ZipInfo, spots_of: _Finder) -> Iterator[tuple[int, int]]:
    """Rows and columns that the cells of each sheet in a member span, as they grow."""
    yield 0, 0  # a member without cells may be too large too
    with book.open(member) as stream:
        first = last = None
        for spot in spots_of(stream):
            if spot is None:  # a new sheet
                first = last = None
                continue
            first = spot if first is None else (min(first[0], spot[0]), min(first[1], spot[1]))
            grown = spot if last is None else (max(last[0], spot[0]), max(last[1], spot[1]))
            if grown != last:
                last = grown
                yield last[0] - first[0] + 1, last[1] - first[1] + 1


def _chunks(stream: IO[bytes], end: re.Pattern[bytes], keep: int) -> Iterator[bytes]:
    """A stream in pieces that end where `end` matches last, so that none is cut; at most `keep` bytes wait."""
    before = b""
    while chunk := stream.read(_CHUNK):
        text = before + chunk
        cut = max((m.end() for m in end.finditer(text, max(len(text) - keep, 0))), default=len(text))
        before = text[cut:]
        yield text[:cut]
    yield before


def _spots_xlsx(stream: IO[bytes]) -> Iterator[_Spot | None]:
    for text in _chunks(stream, re.compile(rb">"), 1 << 16):
        places = {(int(row), _column(letters)) for letters, row in _PLACE.findall(text)}
        if places:
            rows, columns = zip(*places, strict=True)
            yield min(rows), min(columns)
            yield max(rows), max(columns)


def _column(letters: bytes) -> int:
    return reduce(lambda number, letter: 26 * number + letter - 64, letters.upper(), 0)


def _spots_xlsb(stream: IO[bytes]) -> Iterator[_Spot | None]:
    row = 0
    while (kind := _number(stream, 2)) is not None:
        data = stream.read(_number(stream, 4) or 0)
        if kind == _ROW and len(data) >= 4:
            row = struct.unpack_from("<I", data)[0]
        elif kind in _CELLS and len(data) >= 4:
            yield row, struct.unpack_from("<I", data)[0]
        elif kind == _SIZE and len(data) >= 16:
            first_row, last_row, first, last = struct.unpack_from("<IIII", data)
            yield first_row, first
            yield last_row, last


def _number(stream: IO[bytes], most: int) -> int | None:
    """A number of seven bits a byte, the lowest first, as types and lengths are written; None at the end."""
    value = 0
    for k in range(most):
        byte = stream.read(1)
        if not byte:
            return None
        value |= (byte[0] & 0x7F) << (7 * k)
        if byte[0] < 0x80:
            break
    return value


def _spots_ods(stream: IO[bytes]) -> Iterator[_Spot | None]:
    row = column = 0
    rows = 1
    for text in _chunks(stream, re.compile(rb">"), _CHUNK):
        for tag, attributes in _TAG.findall(text):
            found = _REPEATED.search(attributes)
            times = int(found[1]) if found else 1
            if tag == b"table":
                yield None
                row, column, rows = 0, 0, 1
            elif tag == b"table-row":
                row, column, rows = row + rows, 0, times
            else:
                if b"office:" in attributes or not attributes.endswith(b"/"):
                    yield row, column
                    yield row + rows - 1, column + times - 1
                column += times


_FORMATS: dict[str, _Finder] = {
    r"/?xl/worksheets/[^/]+\.xml": _spots_xlsx,
    r"/?xl/worksheets/[^/]+\.bin": _spots_xlsb,
    r"/?content\.xml": _spots_ods,
}
