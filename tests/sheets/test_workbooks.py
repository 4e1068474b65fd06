"""Workbooks: numbers, texts and the ways in which a spreadsheet stores times."""

from __future__ import annotations

import datetime as dt
import io
import struct
import subprocess
import sys
import zipfile
from typing import Any

import numpy as np
import pytest

from leakdown.errors import InputError
from leakdown.recording import Mark, Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions

openpyxl = pytest.importorskip("openpyxl")


def _book(**sheets: list[list[Any]]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _read(data: bytes, **options: Any) -> Recording:
    return read_bytes(data, "sheet.xlsx", ReadingOptions(**options))


@pytest.mark.parametrize(
    "times",
    [
        [0, 30, 60],
        ["0", "30", "60"],
        [0.0, 30.0, 60.0],
        ["0 s", "30 s", "1 min"],
        ["0:00", "0:30", "1:00"],
        [dt.time(0, 0, 0), dt.time(0, 0, 30), dt.time(0, 1, 0)],
        [dt.time(14, 5, 0), dt.time(14, 5, 30), dt.time(14, 6, 0)],
        [dt.timedelta(0), dt.timedelta(seconds=30), dt.timedelta(seconds=60)],
        [dt.datetime(2024, 5, 1, 23, 59, 30), dt.datetime(2024, 5, 2), dt.datetime(2024, 5, 2, 0, 0, 30)],
        [0, 30 / 86400, 60 / 86400],
        [45413.5, 45413.5 + 30 / 86400, 45413.5 + 60 / 86400],
        ["14:05:00", "14:05:30", "14:06:00"],
        ["2024-05-01 14:05:00", "2024-05-01 14:05:30", "2024-05-01 14:06:00"],
    ],
    ids=lambda times: repr(times[1])[:40],
)
def test_times_however_stored(times: list[Any]) -> None:
    rows = [["Time", "Pressure (kPa)"], *([t, p] for t, p in zip(times, [30, 29.5, 28], strict=True))]
    recording = _read(_book(Sheet1=rows))
    np.testing.assert_allclose(recording.time_s, [0, 30, 60], atol=2e-3)
    np.testing.assert_allclose(recording.pressure_pa, [30e3, 29.5e3, 28e3])


def test_preamble_title_units_missed_and_remarks() -> None:
    rows = [
        ["Leak sheet"],
        [],
        ["Barometer", 1006, "mbar"],
        ["Volume (cc)", 250],
        [],
        ["Time", "Gauge", "Remarks"],
        ["min", "mbar abs", None],
        [0, 1506, "valve shut"],
        [1, None, "phone"],
        [2, 1479, None],
        [],
        ["Average", 1490],
    ]
    recording = _read(_book(Sheet1=rows))
    assert recording.time_s.tolist() == [0, 120]
    np.testing.assert_allclose(recording.pressure_pa, [50e3, 47.3e3])
    assert recording.marks == (Mark(0.0, "valve shut"), Mark(60.0, "phone"))
    assert recording.conditions.volume_m3 == pytest.approx(250e-6)
    assert recording.conditions.unit == "mbar"


def test_numbers_stored_as_text_with_decimal_comma() -> None:
    recording = _read(_book(A=[["t (s)", "p (bar)"], ["0", "1,301"], ["30", "1,25"], ["60,5", "1,2"]]))
    np.testing.assert_allclose(recording.time_s, [0, 30, 60.5])
    np.testing.assert_allclose(recording.pressure_pa, [130.1e3, 125e3, 120e3])


def test_a_number_is_never_taken_for_thousands() -> None:
    recording = _read(_book(A=[["t (s)", "p (kPa)"], [0, 1.301], [30.5, 1.25], [60, 1.2]]))
    np.testing.assert_allclose(recording.pressure_pa, [1301, 1250, 1200])


def test_the_table_may_stand_anywhere() -> None:
    rows = [[], [], [None, None, "t (s)", "p (kPa)"], [None, None, 0, 30], [None, None, 30, 29]]
    assert _read(_book(A=rows)).pressure_pa.tolist() == [30e3, 29e3]


def test_date_and_time_in_two_columns() -> None:
    rows = [
        ["Date", "Time", "kPa"],
        [dt.date(2024, 5, 1), dt.time(23, 59, 30), 30],
        [dt.date(2024, 5, 2), dt.time(0, 0, 0), 29],
    ]
    assert _read(_book(A=rows)).time_s.tolist() == [0, 30]


def test_the_sheet_that_has_readings_is_taken() -> None:
    table = [["t (s)", "p (kPa)"], [0, 30], [30, 29]]
    data = _book(Cover=[["Customer", "J. Doe"], ["Saw", "red"]], Empty=[], Data=table, Notes=[["cold"]])
    assert _read(data).pressure_pa.tolist() == [30e3, 29e3]


def test_two_sheets_with_readings_are_refused_by_name() -> None:
    data = _book(Before=[["t (s)", "p (kPa)"], [0, 30], [30, 29]], After=[["t (s)", "p (kPa)"], [0, 31], [30, 31]])
    with pytest.raises(InputError, match="'Before', 'After'"):
        _read(data)
    assert _read(data, sheet="after").pressure_pa.tolist() == [31e3, 31e3]


def test_refusals_name_the_row_of_the_sheet() -> None:
    rows = [["Leak sheet"], [], ["t (s)", "p (kPa)"], [0, 30], [30, "2B"], [60, 28]]
    with pytest.raises(InputError, match="2B") as caught:
        _read(_book(A=rows))
    assert caught.value.where == "sheet.xlsx:5"


@pytest.mark.parametrize("rows", [[], [["nothing here"]]])
def test_a_workbook_without_readings(rows: list[list[Any]]) -> None:
    with pytest.raises(InputError, match="no "):
        _read(_book(A=rows))


def test_minutes_typed_where_the_spreadsheet_took_hours() -> None:
    rows = [["Time", "p (kPa)"], *([dt.time(i // 2, 30 * (i % 2)), 30 - i] for i in range(6))]
    with pytest.raises(InputError, match="minutes"):
        _read(_book(A=rows))
    rows[0][0] = "Time (m:ss)"
    assert _read(_book(A=rows)).time_s.tolist() == [0, 30, 60, 90, 120, 150]


def _record(kind: int, data: bytes = b"") -> bytes:
    """One record of an XLSB: type and length in seven bits a byte (MS-XLSB 2.1.4)."""

    def sevens(number: int) -> bytes:
        low, rest = number & 0x7F, number >> 7
        return bytes([low | 0x80]) + sevens(rest) if rest else bytes([low])

    return sevens(kind) + sevens(len(data)) + data


def _wide(text: str) -> bytes:
    return struct.pack("<I", len(text)) + text.encode("utf-16-le")


def _packed(**members: str | bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as book:
        for name, data in members.items():
            book.writestr(name, data)
    return stream.getvalue()


Cells = dict[tuple[int, int], float | str]


def _xlsb(cells: Cells) -> bytes:
    """The least workbook of binary records that a reader takes."""
    sheets = _record(156, struct.pack("<II", 0, 1) + _wide("rId1") + _wide("S"))
    rows, columns = zip(*cells, strict=True)
    size = struct.pack("<IIII", min(rows), max(rows), min(columns), max(columns))
    sheet = _record(129) + _record(148, size) + _record(145)
    for row in sorted(set(rows)):
        sheet += _record(0, struct.pack("<I", row) + bytes(21))
        for (at, column), value in sorted(cells.items()):
            if at == row:
                text = isinstance(value, str)
                data = _wide(value) if isinstance(value, str) else struct.pack("<d", value)
                sheet += _record(6 if text else 5, struct.pack("<II", column, 0) + data)
    types, relations = "package/2006/content-types", "package/2006/relationships"
    schemas = "http://schemas.openxmlformats.org"
    link = f'<Relationship Id="rId1" Type="{schemas}/officeDocument/2006/relationships/worksheet" '
    return _packed(**{
        "[Content_Types].xml": f'<Types xmlns="{schemas}/{types}"></Types>',
        "xl/workbook.bin": _record(131) + _record(143) + sheets + _record(144) + _record(132),
        "xl/_rels/workbook.bin.rels": f'<Relationships xmlns="{schemas}/{relations}">{link}'
        'Target="worksheets/sheet1.bin"/></Relationships>',
        "xl/worksheets/sheet1.bin": sheet + _record(146) + _record(130),
    })  # fmt: skip


def _ods(cells: Cells) -> bytes:
    """A spreadsheet in the OpenDocument form, empty rows and cells counted as its writers do."""
    rows, at = "", 0
    for row in sorted({row for row, _ in cells}):
        if row > at:
            rows += f'<table:table-row table:number-rows-repeated="{row - at}"><table:table-cell/></table:table-row>'
        line, next_ = "", 0
        for (r, column), value in sorted(cells.items()):
            if r == row:
                gap = column - next_
                line += f'<table:table-cell table:number-columns-repeated="{gap}"/>' if gap else ""
                kind = "string" if isinstance(value, str) else f'float" office:value="{value}'
                line += f'<table:table-cell office:value-type="{kind}"><text:p>{value}</text:p></table:table-cell>'
                next_ = column + 1
        rows, at = f"{rows}<table:table-row>{line}</table:table-row>", row + 1
    names = " ".join(f'xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text"))
    manifest = '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
    body = f'<office:body><office:spreadsheet><table:table table:name="S">{rows}</table:table></office:spreadsheet>'
    return _packed(**{
        "mimetype": "application/vnd.oasis.opendocument.spreadsheet",
        "META-INF/manifest.xml": manifest,
        "content.xml": f"<office:document-content {names}>{body}</office:body></office:document-content>",
    })  # fmt: skip


SMALL: Cells = {(0, 0): "time (s)", (0, 1): "pressure (kPa)"} | {
    (k + 1, column): value for k in range(8) for column, value in enumerate((10.0 * k, 45.0 - 0.1 * k))
}


@pytest.mark.parametrize("written", [_xlsb, _ods])
def test_other_workbooks_are_read(written: Any) -> None:
    recording = _read(written(SMALL))
    np.testing.assert_allclose(recording.pressure_pa, 45e3 - 100.0 * np.arange(8))


@pytest.mark.parametrize("written", [_xlsb, _ods])
@pytest.mark.parametrize("far", [(999_999, 16_383), (999_999, 25), (2_000, 16_383)])
def test_a_far_cell_is_refused_before_anything_is_reserved(written: Any, far: tuple[int, int]) -> None:
    """Read in a process that has 1 GB: a range of 1 000 000 x 16 384 cells would end it."""
    data = written(SMALL | {far: 1.0})
    assert len(data) < 5_000
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_AS, (1 << 31, 1 << 31))\n"
        "from leakdown.errors import InputError\nfrom leakdown.sheets.file import read_bytes\n"
        "try: read_bytes(sys.stdin.buffer.read(), 'far')\nexcept InputError as error: print(error)"
    )
    run = subprocess.run([sys.executable, "-c", code], input=data, capture_output=True, timeout=60, check=True)
    assert b"A lone cell far away" in run.stdout and f"{far[0] + 1} rows".encode() in run.stdout


def test_a_comment_above_readings_without_headings_in_a_workbook() -> None:
    for comment in ("# time (s)  p (kPa)", "# time_s p_kPa"):
        recording = _read(_book(A=[[comment], [0, 30], [30, 29.5], [60, 28]]))
        assert recording.time_s.tolist() == [0.0, 30.0, 60.0]
        assert np.allclose(recording.pressure_pa, [30e3, 29.5e3, 28e3])
    with pytest.raises(InputError):
        _read(_book(A=[["# of last week"], [0, 30], [30, 29.5], [60, 28]]))
