"""Sheet -> Recording: times, pressures, temperatures, marks and conditions put together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import circuit
from leakdown.quantities import temperature_k
from leakdown.recording import Conditions, Doubt, Mark, Recording
from leakdown.sheets.absolute_unsaid import Readings, check_absolute
from leakdown.sheets.before_watch import BeforeWatch, conditions_of, of_lines, of_rows, steps_in, with_watch
from leakdown.sheets.columns import has_values, seconds_column
from leakdown.sheets.grid import Grid, Row, shown, told
from leakdown.sheets.numbers import is_missing, is_no_reading, number_value, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble import loose_pairs
from leakdown.sheets.preamble_values import zero_levels_pa, zero_said
from leakdown.sheets.pressures import Pressures, gauge_pressures
from leakdown.sheets.sheet import Sheet, sheet_of
from leakdown.sheets.slips import HandReadings, holds_s, one_hold, picked_hold, slips
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
        name = "nothing below headings" if sheet.table.headings else "no readings"
        raise NoTable(**told(name), where=grid.source)
    pressures = gauge_pressures(sheet.column(sheet.pressure, [*(row for _, row in sheet.rows.steps), *read]), sheet)
    pressures, steps = _steps_apart(pressures, sheet)
    sheet, pressures, times, before = _from_the_watch(sheet, pressures, _times(sheet), steps)
    read = [sheet.rows.timed[i] for i in sheet.rows.read]
    lines = [row.line for row in read]
    part, picked, options = picked_test(times.seconds[sheet.rows.read], lines, grid, options)
    sheet, pressures, times = _of_test(sheet, pressures, times, part)
    read, lines = read[part], lines[part]
    time_s, gauge_pa = times.seconds[sheet.rows.read], pressures.gauge_pa

    def as_written(i: int) -> tuple[str, str, int]:
        return shown(read[i].cell(sheet.time)), shown(read[i].cell(sheet.pressure)), read[i].line

    keep = in_order(time_s, gauge_pa, as_written, grid)
    _check_span(time_s, read, grid)
    repeated = len(read) - keep.size
    marks = _marks(sheet, times.seconds)
    for mark in marks:
        if (level := zero_said(mark.text)) is not None:
            late = mark.time_s > 0.5 * (time_s[0] + time_s[-1])
            sheet.said.zero.setdefault("zero_after_pa" if late else "zero_pa", level)
    by_hand = is_by_hand(time_s[keep])
    texts = [shown(read[i].cell(sheet.pressure)) for i in keep]
    hand = HandReadings(time_s[keep], gauge_pa[keep], [lines[i] for i in keep], texts, grid)
    part, slipped, holds = _one_hold(hand, sheet, by_hand, marks, options.test)
    keep = keep[part]
    time_s, gauge_pa = time_s[keep], gauge_pa[keep]
    if keep.size < len(read) - repeated:
        marks = tuple(mark for mark in marks if time_s[0] <= mark.time_s <= time_s[-1])
    temperature, more = _temperatures(sheet, [read[i] for i in keep])
    before = before.over(
        of_lines([*sheet.said.steps, *(step for m in marks for step in steps_in(m.text))], *_scale(pressures, sheet))
    )
    before, wanting = with_watch(time_s, gauge_pa, before, pressures.unit)
    if wanting:
        time_s, gauge_pa, temperature = _with_first(time_s, gauge_pa, temperature, before.watch_pa or 0.0)
    if time_s.size == 1:
        raise grid.refuse("one reading", read[0].line)
    said = [*picked, *slipped, *pressures.remarks, *times.remarks, *_counts(sheet, repeated)]
    found = Recording(time_s, gauge_pa, temperature, marks, unreadable=sheet.rows.unreadable, holds=holds)
    return finished(found, sheet, pressures, said, more, before)


def _steps_apart(pressures: Pressures, sheet: Sheet) -> tuple[Pressures, BeforeWatch]:
    """The pressures of the timed rows alone, and what the rows with a step in place of a time say."""
    names = [name for name, _ in sheet.rows.steps]
    levels = dict(reversed(list(zip(names, np.abs(pressures.gauge_pa).tolist(), strict=False))))
    found = BeforeWatch(levels.get("shut"), levels.get("watch"), topped_up=True if "topped_up" in names else None)
    return replace(pressures, gauge_pa=pressures.gauge_pa[len(names) :]), found


def _from_the_watch(
    sheet: Sheet, pressures: Pressures, times: Times, steps: BeforeWatch
) -> tuple[Sheet, Pressures, Times, BeforeWatch]:
    """A hand sheet without the rows before its watch was started, its times from there; and what they say."""
    rows = sheet.rows
    time_s = times.seconds[rows.read]
    needle = circuit(sheet.said.values.get("circuit")).needle
    if needle or time_s.size > _T.most_by_hand or not is_by_hand(time_s):
        return sheet, pressures, times, steps
    read = [rows.timed[i] for i in rows.read]
    remarks = [_remark(sheet, row) for row in read]
    before = of_rows(time_s, pressures.gauge_pa, remarks, [row.line for row in read])
    if before.rows:
        sheet, pressures, times = _of_test(sheet, pressures, times, slice(before.rows, len(read)))
        times = replace(times, seconds=times.seconds - before.at_s)
    return sheet, pressures, times, before.over(steps)


def _scale(pressures: Pressures, sheet: Sheet) -> tuple[str, float]:
    """The readings' unit, and the air's pressure where they are absolute."""
    return pressures.unit, (sheet.barometer_pa or 0.0) if pressures.absolute else 0.0


def _with_first(
    time_s: NDArray[np.float64], gauge_pa: NDArray[np.float64], kelvin: NDArray[np.float64] | None, size_pa: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64] | None]:
    """The readings with the one of the watch's start before them, at 0 s."""
    first = np.copysign(size_pa, gauge_pa[0])
    temperature = None if kelvin is None else np.concatenate(([np.nan], kelvin))
    return np.concatenate(([0.0], time_s)), np.concatenate(([first], gauge_pa)), temperature


def picked_test(
    time_s: NDArray[np.float64], lines: Sequence[int], grid: Grid, options: ReadingOptions
) -> tuple[slice, list[Doubt], ReadingOptions]:
    """The rows of the test that `options.test` picks, where the times of several start again; a doubt that
    says so; and the options with what is left to pick. Raises InputError where nobody picked.
    """
    starts = _restarts(time_s)
    if len(starts) == 1:
        return slice(None), [], options
    again, count = lines[starts[1]], len(starts)
    which = f"a second test starts at line {again}" + (f" (of {count} in this file)" if count > 2 else "")
    if options.test is None or options.test > count:
        unknown = "" if options.test is None else f"--test {options.test}: {count} tests; "
        raise grid.refuse("second test", again, which=unknown + which, choices=_choices(count))
    ends = [*starts[1:], int(time_s.size)]
    part = slice(starts[options.test - 1], ends[options.test - 1])
    read = f"lines {lines[part.start]} to {lines[part.stop - 1]}"
    return (part, [Doubt("second-test", f"{which}: read test {options.test} ({read})")], replace(options, test=None))


def _choices(count: int) -> str:
    names = [f"--test {k}" for k in range(1, count + 1)]
    return f"{', '.join(names[:-1])} or {names[-1]}" if count < 5 else f"--test 1 to --test {count}"


def _restarts(time_s: NDArray[np.float64]) -> list[int]:
    """Indices at which the times begin anew, each with two readings at least; [0] for one test."""
    starts = [0]
    for i in (int(k) + 1 for k in np.flatnonzero(np.diff(time_s) < 0)):
        start = starts[-1]
        if i - start < 2 or i + 1 >= time_s.size:
            return [0]
        first, second = time_s[start], time_s[start + 1]
        if time_s[i] > first + _T.restart_share * (second - first) or time_s[i + 1] < time_s[i]:
            return [0]
        starts.append(i)
    return starts


def _of_test(sheet: Sheet, pressures: Pressures, times: Times, part: slice) -> tuple[Sheet, Pressures, Times]:
    """Sheet, pressures and times with the rows of one test, whose readings are `part`."""
    rows = sheet.rows
    if part == slice(None):
        return sheet, pressures, times
    first = rows.read[part.start] if part.start else 0
    end = rows.read[part.stop] if part.stop < len(rows.read) else len(rows.timed)
    kept = replace(
        rows, timed=rows.timed[first:end], moments=rows.moments[first:end], read=[i - first for i in rows.read[part]]
    )
    pressures = replace(pressures, gauge_pa=pressures.gauge_pa[part])
    return replace(sheet, rows=kept), pressures, replace(times, seconds=times.seconds[first:end])


def finished(
    found: Recording,
    sheet: Sheet,
    pressures: Pressures,
    remarks: Sequence[str | Doubt],
    more: Sequence[str] = (),
    before: BeforeWatch | None = None,
) -> Recording:
    """`found` with its conditions, source and remarks. Raises InputError for absolute pressures unsaid."""
    by_hand = is_by_hand(found.time_s)
    before = before or of_lines(sheet.said.steps, *_scale(pressures, sheet))
    start, steps = conditions_of(before, float(found.time_s[0]), float(found.pressure_pa[0]), pressures.unit)
    conditions = replace(_conditions(sheet, pressures), **start)  # type: ignore[arg-type]
    absolute: list[Doubt] = []
    if not pressures.reference_said:
        readings = Readings(
            found.time_s, found.pressure_pa, by_hand, pressures.unit, sheet.grid.source, pressures.turned
        )
        absolute = check_absolute(readings, conditions)
    said = [*absolute, *remarks, *steps, *sheet.said.remarks, *more]
    return replace(found, conditions=conditions, source=sheet.grid.source, by_hand=by_hand).with_said(said)


def _conditions(sheet: Sheet, pressures: Pressures) -> Conditions:
    highest = float(np.abs(pressures.gauge_pa).max())
    levels = zero_levels_pa(sheet.said, pressures.unit, pressures.turned, highest, sheet.options.zero_pa)
    found = {"direction": pressures.direction, "barometer_pa": sheet.barometer_pa}
    said: dict[str, Any] = {**sheet.said.values, **levels, **found}
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
            raise grid.refuse("time back", line, line=line, now=now, before=before)
        if gauge_pa[i] != gauge_pa[i - 1]:
            raise grid.refuse("time twice", line, now=now, one=one, two=two)
    return np.flatnonzero(steps > 0)


def _check_span(time_s: NDArray[np.float64], read: list[Row], grid: Grid) -> None:
    span_s = time_s[-1] - time_s[0]
    if span_s > _T.longest_s:
        raise grid.refuse("too long", read[-1].line, days=span_s / 86_400)


def _one_hold(
    readings: HandReadings, sheet: Sheet, by_hand: bool, marks: tuple[Mark, ...], test: int | None
) -> tuple[slice, list[str | Doubt], tuple[tuple[float, float], ...]]:
    """The readings of one hold of a hand sheet, remarks, and the unmarked holds in it. Raises InputError."""
    count = readings.time_s.size
    needle = circuit(sheet.said.values.get("circuit")).needle
    # a needle is pumped up again: that is the test
    if not 3 <= count <= _T.most_by_hand or not by_hand or needle:
        if test not in (None, 1):
            raise sheet.grid.refuse("one test", test=test)
        return slice(None), [], ()
    if test is not None:
        part, said = picked_hold(readings, marks, test)
        return part, [*said, *slips(readings.part(part))], ()
    part, cut = one_hold(readings, marks)
    kept = readings.part(part)
    return part, [*cut, *slips(kept)], holds_s(kept)


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
            raise sheet.grid.refuse("no temperature", row.line, name=head.name, cell=shown(cell))
        kelvin[i] = known
    if not can_be_temperatures(kelvin):
        return None, [f"column {head.name!r} leaves -60..300 degC and was not used"]
    return (kelvin, []) if np.isfinite(kelvin).any() else (None, [])


def can_be_temperatures(kelvin: NDArray[np.float64]) -> bool:
    """Whether every temperature that was written is one that `parse_temperature` takes, -60..300 degC."""
    return not ((kelvin < 213.15) | (kelvin > 573.15)).any()


def _marks(sheet: Sheet, seconds: NDArray[np.float64]) -> tuple[Mark, ...]:
    rows = ((row, _remark(sheet, row)) for row in sheet.rows.timed)
    marks = (Mark(float(at_s), remark) for (_, remark), at_s in zip(rows, seconds, strict=True) if remark)
    return tuple(marks)


def _remark(sheet: Sheet, row: Row) -> str:
    """What stands beside a reading, or ""."""
    columns = sheet.table.columns("remark")
    width = len(sheet.table.headings) or max(sheet.time, sheet.pressure) + 1
    cells = map(shown, [row.cell(i) for i in columns] + row.cells[width:])
    return ", ".join(text for text in cells if text and not is_missing(text[:1].strip("-./?")))
