"""A column of time cells -> seconds. Elapsed times keep their own zero, clock times count from the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.quantities import time_unit_s
from leakdown.recording import Doubt
from leakdown.sheets.grid import shown
from leakdown.sheets.numbers import Written, number_value
from leakdown.sheets.sheet import Column
from leakdown.sheets.time_cells import Moment, ordinals
from leakdown.tuned import tuned

_T = tuned("sheets")
DAY_S = 86_400.0
_HALF_DAY_S = DAY_S / 2


@dataclass(frozen=True)
class Times:
    """seconds (n,) as read, not yet checked for order; what was understood, in words.

    counted: the zero is the first time of the column, so that it may move to the first reading.
    """

    seconds: NDArray[np.float64]
    remarks: tuple[str | Doubt, ...] = ()
    counted: bool = False


def seconds_of(column: Column, cells: Sequence[Moment | None]) -> Times:
    """Seconds of every cell of `column`, read as `cells`. Raises InputError at the first that is no time."""
    moments = [found for found in cells if found is not None]
    if len(moments) < len(cells):
        index = list(cells).index(None)
        raise column.refuse(
            index,
            f"column {column.heading.name!r}: cannot read {column.shown(index)} as a time",
            "Write seconds, m:ss, a clock time or a date and time.",
        )
    kinds: set[str] = {m.kind for m in moments}
    if "date" in kinds and "stamp" in kinds:  # a workbook shows midnight as the date alone
        moments = [m._replace(kind="stamp") if m.kind == "date" else m for m in moments]
    elif "date" in kinds:
        index = next(i for i, m in enumerate(moments) if m.kind == "date")
        raise column.refuse(
            index,
            f"{column.shown(index)} is a date without a time of day",
            "Give a column with the time of each reading.",
        )
    if kinds == {"bare"}:
        return _bare_seconds(column, [m.number for m in moments if m.number])
    if "stamp" in kinds:
        return _stamped(column, moments)
    if "twelve" in kinds:
        return _counted(column, _half_days(moments))
    return _parts(column, moments, kinds)


def _stamped(column: Column, moments: list[Moment]) -> Times:
    for index, found in enumerate(moments):
        if found.kind != "stamp" or found.zone != moments[0].zone:
            raise column.refuse(
                index, f"{column.shown(index)} is not written like the other times", "Write every time the same way."
            )
    seconds = np.array([m.seconds for m in moments])
    if not moments[0].zone:
        seconds += _days_s(column, [m.date or "" for m in moments])
    return Times(seconds - seconds[0], counted=True)


def _days_s(column: Column, dates: list[str]) -> NDArray[np.float64]:
    """Seconds of whole days from the first of `dates`. Raises InputError."""
    known = list(dict.fromkeys(dates))
    days = ordinals(known)
    if days is None:
        raise column.refuse(0, f"cannot read {dates[0]!r} as a date", "Write dates as 2024-05-31.")
    table = dict(zip(known, days, strict=True))
    return np.array([DAY_S * (table[date] - table[dates[0]]) for date in dates])


def _counted(column: Column, clock: list[float]) -> Times:
    """Clock times of day, from the first, with the dates beside them or over midnight without."""
    seconds = np.array(clock)
    if column.dates and all(column.dates):
        seconds = seconds + _days_s(column, [date or "" for date in column.dates])
    remarks: tuple[str, ...] = ()
    steps = np.diff(seconds, prepend=seconds[0])
    twelve = bool((seconds >= 3600).all() and (seconds < 13 * 3600).all() and not column.dates)
    past_noon = (steps < -0.9 * _HALF_DAY_S) & (steps > -_HALF_DAY_S)
    if twelve and past_noon.any():
        seconds = seconds + _HALF_DAY_S * np.cumsum(past_noon)
        remarks = ("the clock goes from 12 to 1: taken as a twelve-hour clock",)
    elif (steps < -_HALF_DAY_S).any():
        seconds = seconds + DAY_S * np.cumsum(steps < -_HALF_DAY_S)
        remarks = ("the clock passes midnight",)
    return Times(seconds - seconds[0], remarks, counted=True)


def _half_days(moments: list[Moment]) -> list[float]:
    """Seconds of day where some times carry am or pm: the others follow the one before them."""
    seconds: list[float] = []
    for found in moments:
        value = found.seconds * 60 if found.kind == "pair" else found.seconds
        if found.kind != "twelve" and seconds:
            halves = (value % _HALF_DAY_S, value % _HALF_DAY_S + _HALF_DAY_S)
            value = next((half for half in halves if half >= seconds[-1]), value)
        seconds.append(value)
    return seconds


def _bare_seconds(column: Column, numbers: list[Written]) -> Times:
    """Seconds of plain numbers: by the heading's unit, as epoch time, as parts of a day, or as seconds."""
    values = column.values(numbers, "time", lambda values: bool((np.diff(values) > 0).all()))
    if column.heading.clock and all(map(_two_decimals, numbers)) and (values < 24).all():
        return _counted(column, [_hours_dot_minutes(value) for value in values])
    if column.heading.layout == "m:s" and all(_two_decimals(n) or n.digits.isdigit() for n in numbers):
        return Times(np.array([_hours_dot_minutes(value) / 60.0 for value in values]))
    doubts = _dotted_minutes(column, numbers, values)
    found = plain_seconds(column, values)
    return replace(found, remarks=(*doubts, *found.remarks))


def plain_seconds(column: Column, values: NDArray[np.float64]) -> Times:
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


def _dotted_minutes(column: Column, numbers: list[Written], values: NDArray[np.float64]) -> list[Doubt]:
    """A doubt about "minutes" such as 0.00, 0.50, 2.00, which may be minutes and seconds, or none.

    Raises InputError where that is as likely: 0.30, 1.00, 1.30 run evenly, 0.30 and 0.45 are half and three
    quarters of a minute to whoever reads a watch.
    """
    parts = [_dotted_seconds(number) for number in numbers]
    if column.heading.time_s != 60.0 or None in parts or not any(parts):
        return []
    as_pairs = np.diff([60.0 * int(v) + (s or 0) for v, s in zip(values, parts, strict=True)])
    if (as_pairs <= 0).any():
        return []
    even, as_decimals = float(np.ptp(as_pairs)) < 1e-6, float(np.ptp(np.diff(values))) < 1e-6
    if as_decimals and not (even and values.size == 2):
        return []
    index = next(i for i, part in enumerate(parts) if part)
    two = any(_two_decimals(number) and part for number, part in zip(numbers, parts, strict=True))
    what = f"{column.shown(index)}: decimal minutes, or minutes and seconds?"
    remedy = (
        "Write minutes and seconds with a colon, as in 1:30, or seconds; or say it as in "
        '--columns "time (m:ss), pressure (psi)".'
    )
    if even or (two and any(part and part % 5 == 0 and part % 25 for part in parts)):
        raise column.refuse(index, what, remedy)
    return [Doubt("decimal-minutes", f"times in minutes, {what} Read as decimal minutes")]


def _dotted_seconds(number: Written) -> int | None:
    """30 of "1.30" or "1.3", 0 of "1"; None where the decimals can be no seconds."""
    whole, _, decimals = number.digits.replace(",", ".").partition(".")
    if number.exact is not None or not whole.isdigit() or len(decimals) > 2:
        return None
    seconds = int(decimals.ljust(2, "0")) if decimals else 0
    return seconds if seconds < 60 else None


def _epoch_unit(least: float, unit: float | None) -> float | None:
    """Seconds per unit of a computer's clock (seconds since 1970 after 1998, or finer), or None."""
    if unit not in (None, 1.0, 1e-3):
        return None
    for above, size in ((9e17, 1e-9), (9e14, 1e-6), (9e11, 1e-3)):
        if least > above:
            return size
    return 1.0 if least > 9e8 and unit != 1e-3 else None


def _unit_missing(column: Column, values: NDArray[np.float64]) -> Times:
    span = float(values.max() - values.min())
    fine = sum(len(f"{v:.15g}".partition(".")[2]) >= 6 for v in values) >= (values.size - 1) / 2
    if fine and 0 < span < 0.5 and ((values >= 0) & (values < 1)).all():
        if values[0] * DAY_S > 3600:
            return _counted(column, list(values * DAY_S))
        return Times(np.round(values * DAY_S, 3), ("times read as fractions of a day",))
    if fine and span < 2 and ((values > 20_000) & (values < 80_000)).all():
        seconds = np.round((values - values[0]) * DAY_S, 3)
        return Times(seconds, ("times read as days of a spreadsheet",), True)
    if values.size <= _T.few_times and span < _T.short_time_span:
        raise column.refuse(
            0,
            f"column {column.heading.name!r} has no time unit: seconds or minutes?",
            'Write the unit into the heading, as in "time (s)" or "time (min)".',
        )
    return Times(values, ("the times have no unit: taken as seconds",))


def _parts(column: Column, moments: list[Moment], kinds: set[str]) -> Times:
    """Cells such as 1:30, 0:01:30, 90 s, with a bare zero or bare numbers among cells with a unit."""
    values = _bare_among(column, moments, kinds)
    seconds, head = np.array(values), column.heading
    clock = [v * 60 if m.kind == "pair" else v for v, m in zip(values, moments, strict=True)]
    if head.clock or column.dates:
        return _counted(column, clock)
    whole_minutes = values[0] < 3600 <= values[-1] and all(value % 60 == 0 for value in values)
    if not column.grid.delimiter and kinds == {"triple"} and whole_minutes:
        return _spreadsheet_minutes(column, seconds)
    if head.elapsed or "elapsed" in kinds or "bare" in kinds:
        return Times(seconds)
    if kinds == {"triple"}:
        return Times(seconds) if values[0] < 3600 else _counted(column, values)
    if head.layout == "h:m" and kinds == {"pair"}:
        return Times(seconds * 60) if values[0] < 60 else _counted(column, clock)
    if head.layout == "m:s" or values[0] < 60:
        return Times(seconds)
    if kinds == {"pair", "triple"}:
        return Times(seconds) if (np.diff(seconds) > 0).all() else _counted(column, clock)
    return _undecided_pairs(column, values)


def _spreadsheet_minutes(column: Column, seconds: NDArray[np.float64]) -> Times:
    """Times of a workbook such as 0:30:00, 1:00:00: perhaps 0:30 was typed and meant minutes and seconds."""
    if column.heading.layout == "m:s":
        remark = "hours and minutes of the workbook read as minutes and seconds, by the heading"
        return Times(seconds / 60, (remark,))
    if column.heading.layout in ("h:m", "h:m:s"):
        return Times(seconds)
    last = len(column.lines) - 1
    raise column.refuse(
        last,
        f"{column.shown(last)}: hours and minutes, or minutes and seconds that the spreadsheet took for hours?",
        'Write "time (m:ss)" or "time (h:mm)" as the heading.',
    )


def _undecided_pairs(column: Column, values: list[float]) -> Times:
    """a:b without a word on which: minutes and seconds, or a clock. Refused where neither is clear."""
    step = float(np.median(np.diff(values))) if len(values) > 1 else 0.0
    if max(values) >= 24 * 60:
        return Times(np.array(values), ("times such as 24:30 read as minutes and seconds",))
    if step < _T.clock_step:
        return _counted(column, [value * 60 for value in values])
    if values[0] < _T.late_start_s:
        return Times(np.array(values), ("times read as minutes and seconds",))
    raise column.refuse(
        0,
        f"{column.shown(0)} could be a clock time or minutes and seconds",
        'Write "time (m:ss)" or "clock (h:mm)" as the heading.',
    )


def _bare_among(column: Column, moments: list[Moment], kinds: set[str]) -> list[float]:
    """Seconds of each time; bare numbers in the heading's unit or the only one of the cells."""
    size = column.heading.time_s
    if size is None and kinds == {"bare", "elapsed"}:
        texts = ("".join(c for c in shown(cell) if not (c.isdigit() or c in " .,")) for cell in column.cells)
        units = {unit for text in texts if (unit := time_unit_s(text)) is not None}
        size = units.pop() if len(units) == 1 else None
    values = []
    for index, found in enumerate(moments):
        value = found.seconds
        if found.number is not None:
            bare = number_value(found.number, ".") or 0.0
            if bare and (size is None or "pair" in kinds or "triple" in kinds):
                raise column.refuse(
                    index,
                    f"{column.shown(index)} has no time unit and others have",
                    "Write the unit behind every time.",
                )
            value = bare * (size or 0.0)
        values.append(value)
    return values
