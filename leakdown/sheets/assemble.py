"""Sheet -> Recording: times, pressures, temperatures, marks and conditions put together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import circuit
from leakdown.quantities import temperature_k
from leakdown.recording import Conditions, Mark, Recording
from leakdown.sheets.absolute_unsaid import Readings, check_absolute
from leakdown.sheets.columns import has_values, seconds_column
from leakdown.sheets.grid import Grid, Row, shown
from leakdown.sheets.numbers import is_missing, is_no_reading, number_value, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble import loose_pairs
from leakdown.sheets.pressures import Pressures, gauge_pressures
from leakdown.sheets.sheet import Sheet, sheet_of
from leakdown.sheets.slips import HandReadings, one_hold, slips
from leakdown.sheets.table import NoTable
from leakdown.sheets.time_cells import moment
from leakdown.sheets.times import Times, seconds_of
from leakdown.tuned import tuned

_T = tuned("sheets")


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
    pressures = gauge_pressures(sheet.column(sheet.pressure, read), sheet)
    times = _times(sheet)
    time_s, gauge_pa = times.seconds[sheet.rows.read], pressures.gauge_pa

    def as_written(i: int) -> tuple[str, str, int]:
        return shown(read[i].cell(sheet.time)), shown(read[i].cell(sheet.pressure)), read[i].line

    keep = in_order(time_s, gauge_pa, as_written, grid)
    _check_span(time_s, read, grid)
    repeated = len(read) - keep.size
    marks = _marks(sheet, times.seconds)
    keep, slipped = _one_hold(sheet, [read[i] for i in keep], time_s, gauge_pa, keep, marks)
    time_s, gauge_pa = time_s[keep], gauge_pa[keep]
    if keep.size < len(read) - repeated:
        marks = tuple(mark for mark in marks if time_s[0] <= mark.time_s <= time_s[-1])
    temperature, more = _temperatures(sheet, [read[i] for i in keep])
    if keep.size == 1:
        raise grid.refuse("one reading is no decay", read[0].line, "Give at least two readings at different times.")
    remarks = [*slipped, *pressures.remarks, *times.remarks, *_counts(sheet, repeated), *sheet.said.remarks]
    found = Recording(time_s, gauge_pa, temperature, marks, unreadable=sheet.rows.unreadable)
    return finished(found, sheet, pressures, remarks + more)


def finished(found: Recording, sheet: Sheet, pressures: Pressures, remarks: list[str]) -> Recording:
    """`found` with its conditions, source and remarks. Raises InputError for absolute pressures unsaid."""
    by_hand = is_by_hand(found.time_s)
    conditions = _conditions(sheet, pressures)
    if not pressures.reference_said:
        readings = Readings(found.time_s, found.pressure_pa, by_hand, pressures.unit, sheet.grid.source)
        remarks = check_absolute(readings, conditions) + remarks
    return replace(found, conditions=conditions, source=sheet.grid.source, by_hand=by_hand, remarks=tuple(remarks))


def _conditions(sheet: Sheet, pressures: Pressures) -> Conditions:
    said: dict[str, Any] = {**sheet.said.values, "direction": pressures.direction, "barometer_pa": sheet.barometer_pa}
    return Conditions(unit=pressures.unit, extra=tuple(sheet.said.extra), **said)


def is_by_hand(time_s: NDArray[np.float64]) -> bool:
    """Whether times (n,) are so few or so far apart that a person wrote them down."""
    return bool(time_s.size < _T.log_readings or np.median(np.diff(time_s)) > _T.log_step_s)


def _times(sheet: Sheet) -> Times:
    rows = sheet.rows.timed
    column = replace(sheet.column(sheet.time, rows), dates=_dates(sheet))
    times = seconds_of(column, sheet.rows.moments)
    seconds = seconds_column(sheet.table, sheet.time)
    if seconds is None:
        zero = times.seconds[sheet.rows.read[0]] if times.counted else 0.0
        return replace(times, seconds=times.seconds - zero)
    more = [number.value(".") or 0.0 if (number := written(row.cell(seconds))) else 0.0 for row in rows]
    remark = "minutes and seconds in two columns were added"
    return Times(times.seconds + np.array(more), (*times.remarks, remark))


def _dates(sheet: Sheet) -> list[str | None]:
    """The date beside each time, carried down over blanks; empty without a column of dates."""
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
    return []


def in_order(
    time_s: NDArray[np.float64],
    gauge_pa: NDArray[np.float64],
    as_written: Callable[[int], tuple[str, str, int]],
    grid: Grid,
) -> NDArray[np.intp]:
    """Indices of the readings without repeated ones; `as_written` gives time, pressure and line of each.

    Raises InputError where time goes back or stands still.
    """
    steps = np.diff(time_s, prepend=-np.inf)
    for i in np.flatnonzero(steps <= 0):
        before, one, _ = as_written(int(i) - 1)
        now, two, line = as_written(int(i))
        if steps[i] < 0:
            what = f"time goes back at row {line}: {now} after {before}"
            raise grid.refuse(what, line, "Correct the time, or take the row out.")
        if gauge_pa[i] != gauge_pa[i - 1]:
            what = f"time {now} stands twice, with different pressures ({one} and {two})"
            raise grid.refuse(what, line, "Correct the time, or take one of the rows out.")
    return np.flatnonzero(steps > 0)


def _check_span(time_s: NDArray[np.float64], read: list[Row], grid: Grid) -> None:
    span_s = time_s[-1] - time_s[0]
    if span_s > _T.longest_s:
        what = f"the times span {span_s / 86_400:.0f} days"
        raise grid.refuse(what, read[-1].line, "Check the dates and the unit of time.")


def _one_hold(
    sheet: Sheet,
    rows: list[Row],
    time_s: NDArray[np.float64],
    gauge_pa: NDArray[np.float64],
    keep: NDArray[np.intp],
    marks: tuple[Mark, ...],
) -> tuple[NDArray[np.intp], list[str]]:
    """Indices of the readings of one hold of a hand sheet, with remarks on slips. Raises InputError."""
    time_s, gauge_pa = time_s[keep], gauge_pa[keep]
    if not 3 <= keep.size <= _T.most_by_hand or not is_by_hand(time_s):
        return keep, []
    if circuit(sheet.said.values.get("circuit")).needle:
        return keep, []  # a needle pops and is pumped up again: that is the test
    texts = [shown(row.cell(sheet.pressure)) for row in rows]
    readings = HandReadings(time_s, gauge_pa, [row.line for row in rows], texts, sheet.grid)
    part, cut = one_hold(readings, marks)
    return keep[part], cut + slips(readings.part(part))


def _counts(sheet: Sheet, repeated: int) -> list[str]:
    """What was passed over, in words."""
    rows, remarks = sheet.rows, []
    if rows.missed:
        lines = ", ".join(map(str, rows.missed[:5])) + (", ..." if len(rows.missed) > 5 else "")
        remarks.append(f"{len(rows.missed)} missed readings left out (line {lines})")
    remarks += unreadable_lines(rows.unreadable)
    if repeated:
        remarks.append(f"{repeated} repeated rows with the same time and pressure were dropped")
    passed = [row.text()[:60] for row in rows.passed if not loose_pairs(row.text())]
    if passed:
        remarks.append(f"{len(passed)} lines passed over: " + "; ".join(passed[:4]))
    return remarks


def unreadable_lines(count: int) -> list[str]:
    """A remark on `count` lines without a reading, or none."""
    return [f"{count} line{'s' * (count > 1)} without a reading left out"] if count else []


def _temperatures(sheet: Sheet, read: list[Row]) -> tuple[NDArray[np.float64] | None, list[str]]:
    """Kelvin of every reading, NaN where not written, or None where the column cannot be used."""
    columns = [i for i in sheet.table.columns("temperature") if has_values(sheet.table, i)]
    if not columns:
        return None, []
    head = sheet.table.heading(columns[0])
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
    if not can_be_temperatures(kelvin):
        return None, [f"column {head.name!r} leaves -60..300 degC and was not used"]
    return (kelvin, []) if np.isfinite(kelvin).any() else (None, [])


def can_be_temperatures(kelvin: NDArray[np.float64]) -> bool:
    """Whether every temperature that was written is one that `parse_temperature` takes, -60..300 degC."""
    return not ((kelvin < 213.15) | (kelvin > 573.15)).any()


def _marks(sheet: Sheet, seconds: NDArray[np.float64]) -> tuple[Mark, ...]:
    columns = sheet.table.columns("remark")
    width = len(sheet.table.headings) or max(sheet.time, sheet.pressure) + 1
    marks = []
    for row, time_s in zip(sheet.rows.timed, seconds, strict=True):
        cells = map(shown, [row.cell(i) for i in columns] + row.cells[width:])
        texts = [text for text in cells if text and not is_missing(text[:1].strip("-./?"))]
        if texts:
            marks.append(Mark(float(time_s), ", ".join(texts)))
    return tuple(marks)
