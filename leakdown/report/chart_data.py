"""What a chart shows, as data. Two files draw it (`figures` for the page, `picture` for paper)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Analysis
from leakdown.quantities import PRESSURE_PA, significant
from leakdown.words.signs import signs
from leakdown.words.wrap import capital

Array = NDArray[np.float64]
Role = Literal["readings", "fit", "band"]
Tone = Literal["pressure", "vacuum", "pressure-earlier", "vacuum-earlier", "neutral"]


@dataclass(frozen=True)
class Series:
    """One set of points in chart units. `y_low`, `y_high`: a band's edges, or the bars of readings that are averages.

    `end_label` is written at the last point, so that a reader needs no legend, or at the height
    `end_label_y` where it would lie on another one. `dense`: many small dots, or the thin line and the band over them.
    """

    role: Role
    tone: Tone
    label: str
    x: Array
    y: Array
    y_low: Array | None = None
    y_high: Array | None = None
    end_label: str = ""
    dense: bool = False
    end_label_y: float | None = None

    @property
    def label_y(self) -> float:
        """The height of the end label."""
        return float(self.y[-1]) if self.end_label_y is None else self.end_label_y


@dataclass(frozen=True)
class Span:
    """A part of the test, shaded; `label` is empty where it would not fit. `strong`: the hold itself."""

    name: str
    start: float
    end: float
    label: str
    strong: bool


@dataclass(frozen=True)
class Note:
    """Something done at a moment. `number` is drawn, `text` (as written) stands in the key."""

    x: float
    number: int
    text: str


@dataclass(frozen=True)
class LimitLine:
    """From where the limit starts to count, to the level the pressure must still have at the end.

    short: the label where there is little room.
    """

    x: tuple[float, float]
    y: tuple[float, float]
    label: str
    short: str = ""


@dataclass(frozen=True)
class Chart:
    """A chart with both axes in the user's own units. `x_range`, `y_range` hold everything drawn.

    subtitle: one line per test. height_ratio: height of the plot over its width. cut: what lies beyond the axis.
    """

    title: str
    subtitle: tuple[str, ...]
    x_title: str
    y_title: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    series: tuple[Series, ...]
    spans: tuple[Span, ...] = ()
    notes: tuple[Note, ...] = ()
    limits: tuple[LimitLine, ...] = ()
    zero_label: str = ""
    height_ratio: float = 0.46
    cut: str = ""

    @property
    def x_words(self) -> str:
        """What stands under the axis."""
        return f"{self.x_title}; {self.cut}" if self.cut else self.x_title

    @property
    def steps(self) -> tuple[float, float]:
        """Between the marks of both axes: round, and the same on page and paper."""
        (left, right), (low, high) = self.x_range, self.y_range
        return round_step(right - left, 8), round_step(high - low, 6 if self.height_ratio < 0.3 else 7)


def in_words(chart: Chart) -> str:
    """What a chart of decays shows, in words for whoever cannot see it."""
    x_unit, y_unit = (unit_of(title) for title in (chart.x_title, chart.y_title))
    parts = [f"{chart.y_title} over {chart.x_words[0].lower()}{chart.x_words[1:]}."]
    for series in (s for s in chart.series if s.role == "fit" and s.x.size):
        name = f"{capital(series.end_label)}: fitted" if series.end_label else "Fitted"
        corners = zip(series.x[[0, -1]].tolist(), series.y[[0, -1]].tolist(), strict=True)
        start, end = (f"{significant(y)} {y_unit} at {significant(x)} {x_unit}" for x, y in corners)
        parts.append(f"{name} from {start} to {end}.")
    if not any(s.role == "fit" for s in chart.series):
        parts += [
            f"{capital(s.label)} from {significant(float(s.y.min()))} to {significant(float(s.y.max()))} {y_unit}."
            for s in chart.series
            if s.role == "readings" and s.x.size
        ]
    for line in chart.limits:
        parts.append(f"{capital(line.label)}, at {significant(line.x[1])} {x_unit}.")
    if chart.notes:
        parts.append(f"Done during the test: {'; '.join(note.text for note in chart.notes)}.")
    return signs(" ".join(parts))


def in_short(chart: Chart) -> Chart:
    """The chart with the short words of its limits."""
    return replace(chart, limits=tuple(replace(line, label=line.short or line.label) for line in chart.limits))


def spread_words(chart: Chart) -> str:
    """How far the points of a chart lie from zero, in words; "" without any."""
    points = [s for s in chart.series if s.role == "readings" and s.y.size]
    if not points:
        return ""
    y, unit = np.concatenate([s.y for s in points]), unit_of(chart.y_title)
    rms = significant(float(np.sqrt(np.mean(np.square(y)))), 2)
    ends = f"{significant(float(y.min()), 2)} to {significant(float(y.max()), 2)} {unit}"
    return signs(f"{capital(points[0].label)}: {ends}, root mean square {rms} {unit}.")


def unit_of(title: str) -> str:
    """The unit that an axis names in brackets."""
    return title.rpartition("(")[2].rstrip(")")


_RING = 0.035  # width of a mark's number over that of the plot


def note_rows(chart: Chart) -> tuple[int, ...]:
    """The row, from the top, in which each mark's number stands: the next one where it would touch the last."""
    near, rows = _RING * (chart.x_range[1] - chart.x_range[0]), [0] * min(len(chart.notes), 1)
    for before, note in zip(chart.notes, chart.notes[1:], strict=False):
        rows.append((rows[-1] + 1) % 3 if note.x - before.x < near else 0)
    return tuple(rows)


MOST_POINTS = 1200


class Axes:
    """Chart units of one chart: the user's pressure unit, seconds or minutes, each test's time origin."""

    def __init__(self, analyses: Sequence[Analysis]) -> None:
        self.unit = analyses[0].recording.conditions.show_unit
        self.alone = len(analyses) == 1
        self.most_points = MOST_POINTS if self.alone else max(60, MOST_POINTS // (2 * len(analyses)))
        ends = [float(a.recording.time_s[-1] if self.alone else a.hold.end_s - a.hold.closed_s) for a in analyses]
        self.minutes = max(ends) > 900.0
        self.direction = {a.direction for a in analyses}

    def origin_s(self, analysis: Analysis) -> float:
        """Alone, a test keeps its own clock; together, all start when the valve was shut."""
        return 0.0 if self.alone else analysis.hold.closed_s

    def x(self, time_s: Array | float, analysis: Analysis) -> Array:
        return (np.asarray(time_s, dtype=float) - self.origin_s(analysis)) / (60.0 if self.minutes else 1.0)

    def y(self, pressure_pa: Array | float) -> Array:
        return np.asarray(pressure_pa, dtype=float) / PRESSURE_PA[self.unit]

    @property
    def x_title(self) -> str:
        unit = "min" if self.minutes else "s"
        return f"Time ({unit})" if self.alone else f"Time since the valve was shut ({unit})"

    @property
    def y_title(self) -> str:
        return signs(f"Gauge pressure ({self.unit})")


_LINE = 0.07  # height of a label over that of the plot


def apart(series: Sequence[Series], y_range: tuple[float, float], line: float = _LINE) -> tuple[Series, ...]:
    """The series with their end labels at least a line apart, in the order of their ends.

    line: its height over that of the plot.
    """
    gap = line * (y_range[1] - y_range[0])
    ends = {i: float(s.y[-1]) for i, s in enumerate(series) if s.end_label and s.y.size}

    def lowest(group: Sequence[int]) -> float:
        """Where the lowest label of a group goes, which is centred on the mean of its ends."""
        return sum(ends[i] for i in group) / len(group) - 0.5 * (len(group) - 1) * gap

    groups: list[list[int]] = []
    for i in sorted(ends, key=lambda i: ends[i]):  # labels that touch form a group
        groups.append([i])
        while len(groups) > 1 and lowest(groups[-1]) < lowest(groups[-2]) + len(groups[-2]) * gap:
            last = groups.pop()
            groups[-1] += last
    placed = list(series)
    for group in groups:
        for k, i in enumerate(group if len(group) > 1 else ()):
            placed[i] = replace(series[i], end_label_y=lowest(group) + k * gap)
    return tuple(placed)


def thinned(x: Array, y: Array, most: int) -> NDArray[np.intp]:
    """Indices of at most `most` points: lowest and highest of each equal-count bucket, first and last kept.

    x, y: (n,) with n >= 1; only y decides. `most` >= 4.
    """
    n = x.size
    if n <= most:
        return np.arange(n)
    edges = np.linspace(0, n, (most - 2) // 2 + 1).astype(int)
    keep = {0, n - 1}
    for start, end in zip(edges[:-1], edges[1:], strict=True):
        part = y[start:end]
        keep.update((start + int(part.argmin()), start + int(part.argmax())))
    return np.array(sorted(keep))


def round_step(span: float, most: int) -> float:
    """The smallest 1, 2 or 5 times a power of ten that parts `span` into at most `most` steps. span > 0."""
    least = span / most
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= least * (1.0 - 1e-9))


def spread(n: int, most: int) -> NDArray[np.intp]:
    """Indices of at most `most` of `n` rows, evenly spread, first and last kept."""
    if n <= most:
        return np.arange(n)
    return np.unique(np.linspace(0, n - 1, most).round().astype(int))
