"""Sheet -> Recording: times, pressures, temperatures, marks and conditions put together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import circuit
from leakdown.quantities import temperature_k
from leakdown.recording import Conditions, Mark, Recording
from leakdown.sheets.absolute import Readings, check_absolute
from leakdown.sheets.columns import has_values, seconds_column
from leakdown.sheets.grid import Grid, Row, shown
from leakdown.sheets.moments import moment
from leakdown.sheets.numbers import is_missing, is_no_reading, number_value, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble import loose_pairs
from leakdown.sheets.pressures import PressureColumn, Pressures, gauge_pressures
from leakdown.sheets.sheet import Sheet, barometer_of, direction_of, numbers_of, sheet_of
from leakdown.sheets.slips import MOST_READINGS, HandReadings, one_hold, slips
from leakdown.sheets.table import NoTable
from leakdown.sheets.times import TimeColumn, Times, seconds_of

LONGEST_S = 31 * 86_400.0
"""A test longer than a month is a slipped date."""


def recording_of(grid: Grid, options: ReadingOptions) -> Recording:
    """The Recording that a sheet holds. Raises InputError for whatever cannot be read with certainty."""
    sheet = sheet_of(grid, options)
    read = [sheet.rows.timed[i] for i in sheet.rows.read]
    if not read:
        raise NoTable(
            "there are no readings below the headings" if sheet.table.headings else "there are no readings",
            where=grid.source,
            remedy="Give a file with at least two readings.",
        )
    pressures = _pressures(sheet, read)
    times = _times(sheet)
    keep = _in_order(sheet, read, times.seconds[sheet.rows.read], pressures.gauge_pa)
    marks = _marks(sheet, times.seconds)
    repeated, single = len(read) - keep.size, keep
    keep, slipped = _as_written(sheet, read, times.seconds[sheet.rows.read], pressures, keep, marks)
    time_s = times.seconds[sheet.rows.read][keep]
    if keep.size < single.size:
        marks = tuple(mark for mark in marks if time_s[0] <= mark.time_s <= time_s[-1])
    remarks = [
        *slipped,
        *pressures.remarks,
        *times.remarks,
        *_counts(sheet, repeated),
        *sheet.said.remarks,
    ]
    temperature, more = _temperatures(sheet, [read[i] for i in keep])
    if keep.size == 1:
        raise grid.refuse(
            "one reading is no decay", read[0].line, "Give at least two readings at different times."
        )
    conditions = conditions_of(sheet, pressures)
    remarks = checked_absolute(sheet, pressures, time_s, pressures.gauge_pa[keep], conditions) + remarks
    return Recording(
        time_s,
        pressures.gauge_pa[keep],
        temperature,
        marks,
        conditions,
        grid.source,
        by_hand(time_s),
        tuple(remarks + more),
        sheet.rows.unreadable,
    )


def checked_absolute(
    sheet: Sheet,
    pressures: Pressures,
    time_s: NDArray[np.float64],
    gauge_pa: NDArray[np.float64],
    conditions: Conditions,
) -> list[str]:
    """Remarks on readings that may be absolute, where nobody said gauge or absolute. Raises InputError."""
    if pressures.said:
        return []
    readings = Readings(time_s, gauge_pa, by_hand(time_s), pressures.unit, sheet.grid.source)
    return check_absolute(readings, conditions)


def _pressures(sheet: Sheet, read: list[Row]) -> Pressures:
    return gauge_pressures(
        PressureColumn(
            sheet.cells(sheet.pressure, read),
            [row.line for row in read],
            sheet.heading(sheet.pressure),
            sheet.grid,
            sheet.options,
            sheet.said.unit,
            direction_of(sheet),
            barometer_of(sheet),
            numbers_of(sheet, sheet.pressure),
            sheet.said.absolute,
            next((r for r in sheet.said.remarks if "baro" in r.lower()), ""),
        )
    )


def _times(sheet: Sheet) -> Times:
    rows = sheet.rows.timed
    times = seconds_of(
        TimeColumn(
            sheet.cells(sheet.time, rows),
            sheet.rows.moments,
            [row.line for row in rows],
            sheet.heading(sheet.time),
            sheet.grid,
            sheet.options,
            _dates(sheet),
            numbers_of(sheet, sheet.time),
        )
    )
    seconds = seconds_column(sheet.table, sheet.time)
    if seconds is None:
        zero = times.seconds[sheet.rows.read[0]] if times.counted else 0.0
        return replace(times, seconds=times.seconds - zero)
    more = [number.value(".") or 0.0 if (number := written(row.cell(seconds))) else 0.0 for row in rows]
    return Times(
        times.seconds + np.array(more), (*times.remarks, "minutes and seconds in two columns were added")
    )


def _dates(sheet: Sheet) -> list[str | None] | None:
    """The date beside each time, carried down over blanks, or None without a column of dates."""
    for index in sheet.table.columns("date"):
        if index == sheet.time:
            continue
        dates: list[str | None] = []
        for row in sheet.rows.timed:
            found = moment(row.cell(index)) if row.cell(index) != "" else None
            date = found.date if found else None
            dates.append(date or (dates[-1] if dates else None))
        if dates and dates[0]:
            return dates
    return None


def _in_order(
    sheet: Sheet, read: list[Row], time_s: NDArray[np.float64], gauge_pa: NDArray[np.float64]
) -> NDArray[np.intp]:
    """Indices of the readings to keep. Raises InputError where time goes back or stands still."""
    steps = np.diff(time_s, prepend=-np.inf)
    for i in np.flatnonzero(steps <= 0):
        now, before = (shown(read[k].cell(sheet.time)) for k in (i, i - 1))
        if steps[i] < 0:
            raise sheet.grid.refuse(
                f"time goes back at row {read[i].line}: {now} after {before}",
                read[i].line,
                "Correct the time, or take the row out.",
            )
        if gauge_pa[i] != gauge_pa[i - 1]:
            one, two = (shown(read[k].cell(sheet.pressure)) for k in (i - 1, i))
            raise sheet.grid.refuse(
                f"time {now} stands twice, with different pressures ({one} and {two})",
                read[i].line,
                "Correct the time, or take one of the rows out.",
            )
    if time_s[-1] - time_s[0] > LONGEST_S:
        raise sheet.grid.refuse(
            f"the times span {(time_s[-1] - time_s[0]) / 86_400:.0f} days",
            read[-1].line,
            "Check the dates and the unit of time.",
        )
    return np.flatnonzero(steps > 0)


def _as_written(
    sheet: Sheet,
    read: list[Row],
    seconds: NDArray[np.float64],
    pressures: Pressures,
    keep: NDArray[np.intp],
    marks: tuple[Mark, ...],
) -> tuple[NDArray[np.intp], list[str]]:
    """Indices of the readings of one hold of a hand sheet, with remarks on slips. Raises InputError."""
    if keep.size < 3 or keep.size > MOST_READINGS or not by_hand(seconds[keep]):
        return keep, []
    rows = [read[i] for i in keep]
    readings = HandReadings(
        seconds[keep],
        pressures.gauge_pa[keep],
        [row.line for row in rows],
        [shown(row.cell(sheet.pressure)) for row in rows],
        sheet.grid,
    )
    if circuit(sheet.said.values.get("circuit")).needle:
        return keep, []  # a needle pops and is pumped up again: that is the test
    part, cut = one_hold(readings, marks)
    kept = HandReadings(
        readings.time_s[part],
        readings.gauge_pa[part],
        readings.lines[part],
        readings.texts[part],
        sheet.grid,
    )
    return keep[part], cut + slips(kept)


def _counts(sheet: Sheet, repeated: int) -> list[str]:
    """What was passed over, in words."""
    remarks = []
    if sheet.rows.missed:
        lines = ", ".join(map(str, sheet.rows.missed[:5])) + (", ..." if len(sheet.rows.missed) > 5 else "")
        remarks.append(f"{len(sheet.rows.missed)} missed readings left out (line {lines})")
    if sheet.rows.unreadable:
        remarks.append(
            f"{sheet.rows.unreadable} line{'s' * (sheet.rows.unreadable > 1)} without a reading left out"
        )
    if repeated:
        remarks.append(f"{repeated} repeated rows with the same time and pressure were dropped")
    texts = [" ".join(shown(c) for c in row.cells if c != "") for row in sheet.rows.passed]
    passed = [text[:60] for text in texts if not loose_pairs(text)]
    if passed:
        remarks.append(f"{len(passed)} lines passed over: " + "; ".join(passed[:4]))
    return remarks


def _temperatures(sheet: Sheet, read: list[Row]) -> tuple[NDArray[np.float64] | None, list[str]]:
    """Kelvin of every reading, NaN where not written, or None where the column cannot be used."""
    columns = [i for i in sheet.table.columns("temperature") if has_values(sheet.table, i)]
    if not columns:
        return None, []
    head = sheet.heading(columns[0])
    kelvin = np.full(len(read), np.nan)
    for i, row in enumerate(read):
        cell = row.cell(columns[0])
        if is_missing(cell) or is_no_reading(cell):
            continue
        number = written(cell)
        unit = number.rest or head.temperature if number else None
        if number and unit is None:
            return None, [f"column {head.name!r} has no temperature unit and was not used"]
        value = number_value(number, ".") if number else None
        known = None if value is None or unit is None else temperature_k(value, unit)
        if known is None:
            raise sheet.grid.refuse(
                f"column {head.name!r}: cannot read {shown(cell)!r} as a temperature",
                row.line,
                "Write a plain number, or leave the cell blank.",
            )
        kelvin[i] = known
    if ((kelvin < 213.15) | (kelvin > 573.15)).any():
        return None, [f"column {head.name!r} leaves -60..300 degC and was not used"]
    return (kelvin, []) if np.isfinite(kelvin).any() else (None, [])


def _marks(sheet: Sheet, seconds: NDArray[np.float64]) -> tuple[Mark, ...]:
    columns = sheet.table.columns("remark")
    width = len(sheet.table.headings) or max(sheet.time, sheet.pressure) + 1
    marks = []
    for row, time_s in zip(sheet.rows.timed, seconds, strict=True):
        cells = [row.cell(i) for i in columns] + row.cells[width:]
        text = ", ".join(
            shown(cell) for cell in cells if cell != "" and not is_missing(shown(cell)[:1].strip("-./?"))
        )
        if text:
            marks.append(Mark(float(time_s), text))
    return tuple(marks)


def conditions_of(sheet: Sheet, pressures: Pressures) -> Conditions:
    values: dict[str, Any] = {
        key: value for key, value in sheet.said.values.items() if key not in ("direction", "barometer_pa")
    }
    return Conditions(
        direction=pressures.direction,
        barometer_pa=barometer_of(sheet),
        unit=pressures.unit,
        extra=tuple(sheet.said.extra),
        **values,
    )


def by_hand(time_s: NDArray[np.float64]) -> bool:
    return bool(time_s.size < 60 or np.median(np.diff(time_s)) > 2.0)
