"""A column of time cells -> seconds. Elapsed times keep their own zero, clock times count from the first."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from leakdown.quantities import time_unit_s
from leakdown.readers.bare_times import bare_seconds
from leakdown.readers.clocks import TimeColumn, Times, counted, half_days, stamped
from leakdown.readers.grid import Cell, shown
from leakdown.readers.moments import Moment
from leakdown.readers.numbers import number_value

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
