"""Large logger files of plain numbers: columns found in the head, numbers read by pandas.

Whatever is not plain (text among the numbers, several units, remarks, a refusal) is left to the careful
reader, which then reads the whole file cell by cell and names the line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import InputError
from leakdown.quantities import temperature_k
from leakdown.recording import Recording
from leakdown.sheets.assemble import by_hand, checked_absolute, conditions_of
from leakdown.sheets.big import plain_columns
from leakdown.sheets.columns import has_values, seconds_column
from leakdown.sheets.grid import grid_of
from leakdown.sheets.numbers import Written, decimal_mark, is_plain, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.pressures import PressureColumn, plain_gauge_pressures
from leakdown.sheets.sheet import Sheet, barometer_of, direction_of, sheet_of
from leakdown.sheets.times import TimeColumn, plain_seconds

_HEAD_CHARACTERS = 40_000


def big_recording(text: str, source: str, options: ReadingOptions) -> Recording | None:
    """The Recording in a large text of plain numbers, or None when it needs the careful reader."""
    try:
        sheet = sheet_of(grid_of(text[: text.rfind("\n", 0, _HEAD_CHARACTERS) + 1], source), options)
        wanted = _wanted(sheet)
        columns = _columns(text, sheet, wanted) if wanted else None
        return _recording(sheet, columns) if columns else None
    except InputError:
        return None


def _wanted(sheet: Sheet) -> list[int] | None:
    """Time, pressure and temperature columns when the head holds nothing but plain numbers in them."""
    table, rows = sheet.table, sheet.rows
    if rows.passed or rows.missed or rows.unreadable or not rows.timed or not table.headings:
        return None
    if (
        seconds_column(table, sheet.time) is not None
        or table.columns("remark")
        or table.columns("barometer")
        or sheet.heading(sheet.time).clock
    ):
        return None
    wanted = [
        sheet.time,
        sheet.pressure,
        *[i for i in table.columns("temperature") if has_values(table, i)][:1],
    ]
    cells = [row.cell(i) for row in rows.timed for i in wanted]
    return wanted if all(isinstance(cell, str) and is_plain(cell) for cell in cells) else None


def _columns(text: str, sheet: Sheet, wanted: list[int]) -> list[NDArray[np.float64]] | None:
    rows = sheet.rows.timed
    numbers = [n for row in rows for i in wanted if (n := written(row.cell(i))) is not None]
    mark = decimal_mark(numbers, [], lambda values: True, point=sheet.grid.delimiter == ",")
    if mark is None or not all(_never_grouped(number) for number in numbers):
        return None
    start = 0
    for _ in range(rows[0].line - 1):
        start = text.find("\n", start) + 1
    return plain_columns(text[start:], sheet.grid.delimiter, mark, len(rows[0].cells), wanted)


def _never_grouped(number: Written) -> bool:
    return not ("," in number.digits and "." in number.digits)


def _recording(sheet: Sheet, columns: list[NDArray[np.float64]]) -> Recording | None:
    times, values = columns[:2]
    grid, head = sheet.grid, sheet.heading(sheet.time)
    lines = range(1, times.size + 1)
    pressures = plain_gauge_pressures(
        PressureColumn(
            values,
            lines,
            sheet.heading(sheet.pressure),
            grid,
            sheet.options,
            sheet.said.unit,
            direction_of(sheet),
            barometer_of(sheet),
            said_absolute=sheet.said.absolute,
        ),
        values,
    )
    seconds = plain_seconds(TimeColumn(times, [], lines, head, grid, sheet.options), times)
    if not (np.diff(seconds.seconds) > 0).all():
        return None
    temperature, remarks = None, [*pressures.remarks, *seconds.remarks, *sheet.said.remarks]
    if len(columns) > 2:
        unit = next((h.temperature for h in sheet.table.headings if h.role == "temperature"), None)
        steps = [temperature_k(value, unit) for value in (0.0, 1.0)] if unit else [None]
        if steps[0] is None or steps[1] is None:
            return None
        temperature = steps[0] + (steps[1] - steps[0]) * columns[2]
        if not ((temperature > 213.15) & (temperature < 573.15)).all():
            return None
    conditions = conditions_of(sheet, pressures)
    remarks = [
        *checked_absolute(sheet, pressures, seconds.seconds, pressures.gauge_pa, conditions),
        *remarks,
    ]
    return Recording(
        seconds.seconds,
        pressures.gauge_pa,
        temperature,
        (),
        conditions,
        grid.source,
        by_hand(seconds.seconds),
        tuple(remarks),
    )
