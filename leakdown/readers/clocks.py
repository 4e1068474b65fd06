"""Clock times and dates -> seconds from the first reading, over noon and midnight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.readers.grid import Cell, Grid, shown
from leakdown.readers.headings import Heading
from leakdown.readers.moments import Moment, ordinals
from leakdown.readers.numbers import Written
from leakdown.readers.options import ReadingOptions

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
