"""Values with their 95 % intervals along one axis, as data for `interval_figure` and `interval_picture`."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass
from typing import Literal

from leakdown.report.chart_data import Tone

_COLUMNS = 46  # of a heading: what a phone shows in one line
_MOST_LINES = 3
_EDGE = 0.36  # of the axis: nearer to an end, a label over the middle of a bar would leave the chart

Anchor = Literal["left", "center", "right"]


@dataclass(frozen=True)
class IntervalRow:
    """One value. low or high None: nothing bounds it on that side, and an arrow says so.

    value None: only the bounds are known. label: what is drawn, in words; heading: what this row and those
    after it are about.
    """

    label: str
    tone: Tone
    value: float | None
    low: float | None
    high: float | None
    heading: str = ""


@dataclass(frozen=True)
class Shade:
    """A part of the axis that means something by itself; a line where it starts and ends at one value."""

    start: float
    end: float
    label: str


@dataclass(frozen=True)
class IntervalChart:
    """Rows below each other on one axis in real units; `log` axes must lie above zero.

    sides: what it means to lie at the left and at the right end.
    """

    title: str
    x_title: str
    log: bool
    x_range: tuple[float, float]
    ticks: tuple[tuple[float, str], ...]
    rows: tuple[IntervalRow, ...]
    shade: Shade | None = None
    sides: tuple[str, str] = ("", "")

    def at(self, x: float) -> float:
        """Where a value lies on a linear axis, kept within what is drawn."""
        inside = min(max(x, self.x_range[0]), self.x_range[1])
        return math.log10(inside) if self.log else inside

    @property
    def span(self) -> tuple[float, float]:
        """Both ends of that linear axis."""
        return self.at(self.x_range[0]), self.at(self.x_range[1])

    def label_place(self, row: IntervalRow) -> tuple[float, Anchor]:
        """Where on that axis a row's label goes, over its bar, and which side of it stands there."""
        start, end = self.span
        low, high = (
            start if row.low is None else self.at(row.low),
            end if row.high is None else self.at(row.high),
        )
        middle = 0.5 * (low + high) if row.value is None else self.at(row.value)
        share = (middle - start) / (end - start)
        if share < _EDGE:
            return min(low, start + 0.2 * (end - start)), "left"
        return (max(high, end - 0.2 * (end - start)), "right") if share > 1.0 - _EDGE else (middle, "center")


@dataclass(frozen=True)
class Line:
    """A row with the heights of its parts, counted in lines of text downward from 0 (so negative)."""

    row: IntervalRow
    headings: tuple[tuple[float, str], ...]
    label_y: float
    bar_y: float


def lines_of(chart: IntervalChart) -> tuple[tuple[Line, ...], float]:
    """Every row in its place, and how many lines all take. The first line belongs to the shade's label."""
    y = -1.0 if chart.shade else -0.2
    lines: list[Line] = []
    for row in chart.rows:
        headings = []
        if row.heading:
            y -= 0.5 if lines else 0.0
            for text in _wrapped(row.heading):
                y -= 1.0
                headings.append((y + 0.5, text))
        lines.append(Line(row, tuple(headings), y - 0.5, y - 1.4))
        y -= 2.0
    return tuple(lines), 0.3 - y


def _wrapped(text: str) -> list[str]:
    lines = textwrap.wrap(text, _COLUMNS)
    return lines if len(lines) <= _MOST_LINES else [*lines[:_MOST_LINES], "..."]
