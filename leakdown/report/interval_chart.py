"""Values with their 95 % intervals along one axis, as data: ratio, shares, what a repair has left."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from leakdown.circuits import Direction
from leakdown.quantities import significant
from leakdown.report.chart_data import Tone
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval
from leakdown.where.located import Change, Ratio, SectionShare
from leakdown.words.numbers import share_words, shares_words

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

    def ends(self, row: IntervalRow) -> tuple[float, float]:
        """Where on that axis a row's bar starts and ends: at the chart's edge where nothing bounds it."""
        start, end = self.span
        return start if row.low is None else self.at(row.low), end if row.high is None else self.at(row.high)

    def label_place(self, row: IntervalRow) -> tuple[float, Anchor]:
        """Where on that axis a row's label goes, over its bar, and which side of it stands there."""
        start, end = self.span
        low, high = self.ends(row)
        middle = 0.5 * (low + high) if row.value is None else self.at(row.value)
        share = (middle - start) / (end - start)
        if share < _EDGE:
            return min(low, start + 0.2 * (end - start)), "left"
        return (max(high, end - 0.2 * (end - start)), "right") if share > 1.0 - _EDGE else (middle, "center")


def told_rows(chart: IntervalChart) -> str:
    """What a chart of intervals shows, in words."""
    rows = [f"{row.heading}: {row.label}" if row.heading else row.label for row in chart.rows]
    axis = f"{chart.x_title}. " if chart.x_title else ""
    return f"{axis}{'; '.join(rows)}."


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


_T = tuned("report")
FIXED_HOLE: tuple[float, float] = (_T.fixed_hole_low, _T.fixed_hole_high)
"""The ratio that fixed holes show."""
_STEPS = (1.0, 2.0, 5.0)


def ratio_chart(ratio: Ratio | None) -> IntervalChart | None:
    """Vacuum over pressure on a log axis; None when there is no ratio or nothing bounds it."""
    if ratio is None:
        return None
    low = ratio.at_least if ratio.value is None and ratio.at_least is not None else ratio.low or None
    if ratio.value is None and low is None and ratio.high is None:
        return None
    row = IntervalRow(_ratio_words(ratio), "neutral", ratio.value, low, ratio.high)
    x_range = _around((0.28, 5.8), (low, ratio.value, ratio.high))
    wide = x_range[1] / x_range[0] > 60.0
    ticks = log_ticks(x_range, () if wide else FIXED_HOLE, decades=x_range[1] / x_range[0] > 2000.0)
    named, shade = tuple((t, f"{t:g}") for t in ticks), Shade(*FIXED_HOLE, "fixed hole")
    sides = ("\u2190 pressure leaks more", "vacuum leaks more \u2192")
    return IntervalChart("Vacuum over pressure", "", True, x_range, named, (row,), shade, sides)


def _ratio_words(ratio: Ratio) -> str:
    if ratio.value is not None:
        end = "no upper bound" if ratio.high is None else f"to {significant(ratio.high)}"
        return f"{significant(ratio.value)} times ({significant(ratio.low)} {end})"
    if ratio.at_least is not None:
        return f"at least {significant(ratio.at_least)} times (pressure was tight)"
    return f"at most {significant(ratio.high or 0.0)} times (vacuum was tight)"


def shares_chart(sections: Sequence[SectionShare]) -> IntervalChart | None:
    """Share of the whole circuit's leak through each section, both directions; None without sections.

    Sections that the tests cannot tell apart are one row. The largest comes first.
    """
    groups: dict[frozenset[str], tuple[str, tuple[tuple[Direction, Interval], ...]]] = {}
    for s in sections:
        names = (s.section, *s.with_)
        shown = s.shares if s.separable else s.together
        title = s.section if s.separable else f"{' + '.join(names)} (cannot be told apart)"
        groups.setdefault(frozenset(names), (title, shown))
    ordered = sorted(groups.values(), key=lambda g: -max((_middle(i) for _, i in g[1]), default=0.0))
    rows = [
        _share_row(direction, interval, title if k == 0 else "")
        for title, shares in ordered
        for k, (direction, interval) in enumerate(shares)
    ]
    if not rows:
        return None
    ticks = tuple((t, f"{t:g} %") for t in (0.0, 25.0, 50.0, 75.0, 100.0))
    return IntervalChart(
        "Share of the leak by section", "Share of the whole leak", False, (-2.0, 102.0), ticks, tuple(rows)
    )


def _middle(interval: Interval) -> float:
    return 0.5 * (interval.low + interval.high) if interval.value is None else interval.value


def _share_row(direction: Direction, share: Interval, heading: str) -> IntervalRow:
    low, high = 100.0 * share.low, 100.0 * share.high
    value = None if share.value is None else 100.0 * share.value
    return IntervalRow(f"{direction} {shares_words(share)}", direction, value, low, high, heading)


def change_chart(change: Change) -> IntervalChart | None:
    """Leak after over leak before on a log axis; None when nothing bounds it."""
    value, low, high = change.after_over_before
    if value is None and low <= 0.0 and high is None:
        return None
    x_range = _around((0.016, 2.6), (low or None, value, high))
    row = IntervalRow(_change_words(value, low, high), change.direction, value, low or None, high)
    ticks = log_ticks(x_range, (), decades=x_range[1] / x_range[0] > 250.0)
    named, shade = tuple((t, f"{100.0 * t:g} %") for t in ticks), Shade(1.0, 1.0, "as before")
    sides = ("\u2190 smaller", "larger \u2192")
    return IntervalChart("Leak after, of the leak before", "", True, x_range, named, (row,), shade, sides)


def _change_words(value: float | None, low: float, high: float | None) -> str:
    if value is not None:
        end = "with no upper bound" if high is None else f"to {share_words(high)}"
        return f"{share_words(value)} of before ({share_words(low)} {end})"
    if high is None:
        return f"at least {share_words(low)} of before"
    if low <= 0.0:
        return f"at most {share_words(high)} of before"
    return f"{share_words(low)} to {share_words(high)} of before"


def _around(least: tuple[float, float], values: Iterable[float | None]) -> tuple[float, float]:
    """The range that holds `least` and, with some room, every value above zero."""
    known = [v for v in values if v is not None and v > 0.0]
    return min([least[0], *(v / 1.5 for v in known)]), max([least[1], *(v * 1.5 for v in known)])


def log_ticks(x_range: tuple[float, float], more: tuple[float, ...], decades: bool) -> list[float]:
    """1, 2 and 5 of each power of ten within the range, or the powers alone; and `more`."""
    steps = _STEPS[:1] if decades else _STEPS
    regular = [step * 10.0**power for power in range(-6, 8) for step in steps]
    return sorted(t for t in {*regular, *more} if x_range[0] <= t <= x_range[1])
