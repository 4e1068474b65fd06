"""Bare numbers of a time column -> seconds: units, epoch times, days of a spreadsheet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from leakdown.quantities import time_unit_s
from leakdown.readers.clocks import DAY_S, TimeColumn, Times, counted
from leakdown.readers.grid import shown
from leakdown.readers.numbers import Written, decimal_mark, is_ambiguous, number_value

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
