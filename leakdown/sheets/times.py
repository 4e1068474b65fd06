"""A column of time cells -> seconds. Elapsed times keep their own zero, clock times count from the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.quantities import time_unit_s
from leakdown.sheets.grid import Cell, Grid, shown
from leakdown.sheets.headings import Heading
from leakdown.sheets.moments import Moment, ordinals
from leakdown.sheets.numbers import Written, decimal_mark, is_ambiguous, number_value
from leakdown.sheets.options import ReadingOptions

DAY_S = 86_400.0


@dataclass(frozen=True)
class TimeColumn:
    """The time cells of the rows in use, with the lines they stand on and the dates beside them."""

    cells: Sequence[Cell] | NDArray[np.float64]
    moments: Sequence[Moment | None]
    lines: Sequence[int]
    heading: Heading
    grid: Grid
    options: ReadingOptions
    dates: Sequence[str | None] | None = None
    others: Sequence[Written] = ()

    def refuse(self, index: int, what: str, remedy: str = "") -> Exception:
        """An InputError at the `index`-th of these cells."""
        return self.grid.refuse(what, self.lines[index], remedy)


@dataclass(frozen=True)
class Times:
    """seconds (n,) as read, not yet checked for order; what was understood, in words.

    counted: the zero is the first time of the column, so that it may move to the first reading.
    """

    seconds: NDArray[np.float64]
    remarks: tuple[str, ...] = ()
    counted: bool = False


def stamped(column: TimeColumn, moments: list[Moment]) -> Times:
    for index, found in enumerate(moments):
        if found.kind != "stamp" or found.zone != moments[0].zone:
            raise column.refuse(
                index,
                f"{shown(column.cells[index])!r} is not written like the other times",
                "Write every time the same way.",
            )
    seconds = np.array([m.seconds for m in moments])
    if not moments[0].zone:
        seconds += DAY_S * _days(column, [m.date or "" for m in moments])
    return Times(seconds - seconds[0], counted=True)


def _days(column: TimeColumn, dates: list[str]) -> NDArray[np.float64]:
    known = {date: None for date in dates}
    days = ordinals(list(known))
    if days is None:
        raise column.refuse(0, f"cannot read {dates[0]!r} as a date", "Write dates as 2024-05-31.")
    table = dict(zip(known, days, strict=True))
    numbers = np.array([float(table[date]) for date in dates])
    return numbers - numbers[0]


def counted(column: TimeColumn, clock: list[float]) -> Times:
    """Clock times of day, from the first, with the dates beside them or over midnight without."""
    seconds = np.array(clock)
    if column.dates and all(column.dates):
        seconds = seconds + DAY_S * _days(column, [date or "" for date in column.dates])
    remarks: tuple[str, ...] = ()
    steps = np.diff(seconds, prepend=seconds[0])
    half = DAY_S / 2
    twelve = bool((seconds >= 3600).all() and (seconds < 13 * 3600).all() and not column.dates)
    if twelve and ((steps < -0.9 * half) & (steps > -half)).any():
        seconds = seconds + half * np.cumsum((steps < -0.9 * half) & (steps > -half))
        remarks = ("the clock goes from 12 to 1: taken as a twelve-hour clock",)
    elif (steps < -half).any():
        seconds = seconds + DAY_S * np.cumsum(steps < -half)
        remarks = ("the clock passes midnight",)
    return Times(seconds - seconds[0], remarks, counted=True)


def half_days(moments: list[Moment]) -> list[float]:
    """Seconds of day where some times carry am or pm: the others follow the one before them."""
    seconds: list[float] = []
    for found in moments:
        value = found.seconds * 60 if found.kind == "pair" else found.seconds
        if found.kind != "twelve" and seconds:
            value = next(
                (v for v in (value % (DAY_S / 2), value % (DAY_S / 2) + DAY_S / 2) if v >= seconds[-1]), value
            )
        seconds.append(value)
    return seconds


_ASK_UNIT = 'Write the unit into the heading, as in "time (s)" or "time (min)".'


def bare_seconds(column: TimeColumn, numbers: list[Written]) -> Times:
    """Seconds of plain numbers: by the heading's unit, as epoch time, as parts of a day, or as seconds."""
    mark = decimal_mark(numbers, list(column.others), lambda values: bool((np.diff(values) > 0).all()))
    if mark is None:
        index = next((i for i, number in enumerate(numbers) if is_ambiguous(number)), 0)
        raise column.refuse(
            index,
            f"time {shown(column.cells[index])!r}: decimal comma or thousands?",
            "Write times without thousands separators.",
        )
    values = np.array([value for n in numbers if (value := number_value(n, mark)) is not None])
    if values.size != len(numbers):
        index = next(i for i, n in enumerate(numbers) if number_value(n, mark) is None)
        raise column.refuse(
            index, f"cannot read {shown(column.cells[index])!r} as a time", "Write a plain number."
        )
    if column.heading.clock and all(_two_decimals(n) for n in numbers) and (values < 24).all():
        return counted(column, [_hours_dot_minutes(value) for value in values])
    _check_dotted_minutes(column, numbers, values)
    return plain_seconds(column, values)


def plain_seconds(column: TimeColumn, values: NDArray[np.float64]) -> Times:
    """The same for a column that was already read as numbers (n,)."""
    unit = time_unit_s(column.options.time_unit) if column.options.time_unit else column.heading.time_s
    epoch = _epoch_unit(float(values.min()), unit)
    if epoch:
        return Times((values - values[0]) * epoch, ("times read as a computer's clock",), True)
    if unit is not None:
        return Times(values * unit)
    return _unit_missing(column, values)


def _two_decimals(number: Written) -> bool:
    whole, _, decimals = number.digits.replace(",", ".").partition(".")
    return number.exact is None and whole.isdigit() and len(decimals) == 2 and int(decimals) < 60


def _hours_dot_minutes(value: float) -> float:
    """Seconds of day of 14.05, which in some countries is five past two; of m.ss, sixty times too many."""
    hours = int(value)
    return hours * 3600.0 + round((value - hours) * 100) * 60.0


def _check_dotted_minutes(column: TimeColumn, numbers: list[Written], values: NDArray[np.float64]) -> None:
    """Refuse 0.00, 0.30, 1.00, 1.30 "minutes": even steps as minutes and seconds, uneven as decimals."""
    if column.heading.time_s != 60.0 or len(numbers) < 3 or not all(_two_decimals(n) for n in numbers):
        return
    dotted = np.diff([_hours_dot_minutes(value) for value in values])
    if np.ptp(dotted) < 1e-6 and np.ptp(np.diff(values)) > 1e-6:
        raise column.refuse(
            1,
            f"{shown(column.cells[1])!r}: decimal minutes, or minutes and seconds?",
            "Write minutes and seconds with a colon, as in 1:30.",
        )


def _epoch_unit(least: float, unit: float | None) -> float | None:
    if unit not in (None, 1.0, 1e-3):
        return None
    if least > 9e17:
        return 1e-9
    if least > 9e14:
        return 1e-6
    if least > 9e11:
        return 1e-3
    return 1.0 if least > 9e8 and unit != 1e-3 else None


def _unit_missing(column: TimeColumn, values: NDArray[np.float64]) -> Times:
    span = float(values.max() - values.min())
    fine = sum(len(f"{v:.15g}".partition(".")[2]) >= 6 for v in values) >= (values.size - 1) / 2
    if fine and 0 < span < 0.5 and ((values >= 0) & (values < 1)).all():
        return (
            counted(column, list(values * DAY_S))
            if values[0] * DAY_S > 3600
            else Times(np.round(values * DAY_S, 3), ("times read as fractions of a day",))
        )
    if fine and span < 2 and ((values > 20_000) & (values < 80_000)).all():
        return Times(
            np.round((values - values[0]) * DAY_S, 3), ("times read as days of a spreadsheet",), True
        )
    if values.size <= 30 and span < 20:
        raise column.refuse(
            0, f"column {column.heading.name!r} has no time unit: seconds or minutes?", _ASK_UNIT
        )
    return Times(values, ("the times have no unit: taken as seconds",))


__all__ = ["TimeColumn", "Times", "seconds_of"]


def seconds_of(column: TimeColumn) -> Times:
    """Seconds of every cell. Raises InputError at the first cell that is no time."""
    moments: list[Moment] = []
    for index, found in enumerate(column.moments):
        if found is None:
            cell = shown(column.cells[index])
            raise column.refuse(
                index,
                f"column {column.heading.name!r}: cannot read {cell!r} as a time",
                "Write seconds, m:ss, a clock time or a date and time.",
            )
        moments.append(found)
    kinds: set[str] = {m.kind for m in moments}
    if "date" in kinds and "stamp" in kinds:  # a workbook shows midnight as the date alone
        moments = [m._replace(kind="stamp") if m.kind == "date" else m for m in moments]
    elif "date" in kinds:
        index = next(i for i, m in enumerate(moments) if m.kind == "date")
        raise column.refuse(
            index,
            f"{shown(column.cells[index])!r} is a date without a time of day",
            "Give a column with the time of each reading.",
        )
    if kinds == {"bare"}:
        return bare_seconds(column, [m.number for m in moments if m.number])
    if "stamp" in kinds:
        return stamped(column, moments)
    if "twelve" in kinds:
        return counted(column, half_days(moments))
    return _parts(column, moments, kinds)


def _parts(column: TimeColumn, moments: list[Moment], kinds: set[str]) -> Times:
    """Cells such as 1:30, 0:01:30, 90 s, with a bare zero or bare numbers among cells with a unit."""
    values = _bare_among(column, moments, kinds)
    minutes = np.array(values)
    if column.heading.clock or column.dates:
        return counted(column, _as_clock(values, moments))
    if not column.grid.delimiter and kinds == {"triple"} and _whole_minutes(values):
        return _spreadsheet_minutes(column, minutes)
    if column.heading.elapsed or "elapsed" in kinds or "bare" in kinds:
        return Times(minutes)
    layout = column.heading.layout
    if kinds == {"triple"}:
        return Times(minutes) if values[0] < 3600 else counted(column, values)
    if layout in ("h:m", "h:m:s") and kinds == {"pair"} and layout == "h:m":
        return _hours(column, values)
    if layout == "m:s" or values[0] < 60:
        return Times(minutes)
    if kinds == {"pair", "triple"}:
        return Times(minutes) if (np.diff(minutes) > 0).all() else counted(column, _as_clock(values, moments))
    return _undecided_pairs(column, values)


def _whole_minutes(values: list[float]) -> bool:
    return values[0] < 3600 <= values[-1] and all(value % 60 == 0 for value in values)


def _spreadsheet_minutes(column: TimeColumn, seconds: NDArray[np.float64]) -> Times:
    """Times of a workbook such as 0:30:00, 1:00:00: perhaps 0:30 was typed and meant minutes and seconds."""
    if column.heading.layout == "m:s":
        return Times(
            seconds / 60, ("hours and minutes of the workbook read as minutes and seconds, by the heading",)
        )
    if column.heading.layout in ("h:m", "h:m:s"):
        return Times(seconds)
    raise column.refuse(
        len(column.lines) - 1,
        f"{shown(column.cells[-1])!r}: hours and minutes, or minutes and "
        "seconds that the spreadsheet took for hours?",
        'Write "time (m:ss)" or "time (h:mm)" as the heading.',
    )


def _as_clock(values: list[float], moments: list[Moment]) -> list[float]:
    return [v * 60 if m.kind == "pair" else v for v, m in zip(values, moments, strict=True)]


def _hours(column: TimeColumn, values: list[float]) -> Times:
    hours = np.array(values) * 60
    return Times(hours) if hours[0] < 3600 else counted(column, list(hours))


def _undecided_pairs(column: TimeColumn, values: list[float]) -> Times:
    """a:b without a word on which: minutes and seconds, or a clock. Refused where neither is clear."""
    step = float(np.median(np.diff(values))) if len(values) > 1 else 0.0
    if max(values) >= 24 * 60:
        return Times(np.array(values), ("times such as 24:30 read as minutes and seconds",))
    if step < 15:
        return counted(column, [value * 60 for value in values])
    if values[0] < 5 * 60:
        return Times(np.array(values), ("times read as minutes and seconds",))
    raise column.refuse(
        0,
        f"{shown(column.cells[0])!r} could be a clock time or minutes and seconds",
        'Write "time (m:ss)" or "clock (h:mm)" as the heading.',
    )


def _bare_among(column: TimeColumn, moments: list[Moment], kinds: set[str]) -> list[float]:
    size = column.heading.time_s
    if size is None and kinds == {"bare", "elapsed"}:
        units = {unit for cell in column.cells if (unit := _unit_of(cell)) is not None}
        size = units.pop() if len(units) == 1 else None
    values = []
    for index, found in enumerate(moments):
        value = found.seconds
        if found.number is not None:
            bare = number_value(found.number, ".") or 0.0
            if bare and (size is None or "pair" in kinds or "triple" in kinds):
                raise column.refuse(
                    index,
                    f"{shown(column.cells[index])!r} has no time unit and others have",
                    "Write the unit behind every time.",
                )
            value = bare * (size or 0.0)
        values.append(value)
    return values


def _unit_of(cell: Cell) -> float | None:
    return time_unit_s("".join(c for c in shown(cell) if not (c.isdigit() or c in " .,")))
