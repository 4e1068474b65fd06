"""Chart -> where its labels go: free of points, lines and each other, with a leader where that is away.

Each renderer asks with its own ground, because a label takes more of a small chart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdown.report.chart_data import Array, Chart, LimitLine, Series, apart

_COLUMNS, _ROWS = 45, 31  # of places that are tried
_MOST_POINTS = 500  # of one series that are minded
_CLEAR = 4.0  # between a label and what it must not touch
_BESIDE = 9.0  # from a test's last point to its name
_MARK = 5.0  # half of a limit's mark
_ALONG = np.linspace(0.0, 1.0, 16)  # of a leader
_RASTER = 1.0  # size of a cell in which what is taken is counted
_OTHER = 1000.0  # points that another label counts as


_Box = tuple[Array, Array]  # middle and half of a label, on the ground


@dataclass(frozen=True)
class Ground:
    """Size of a plot, and of one letter and one line of its labels, all in one unit of paper or screen.

    least: the width that a label's place has at least, where the same one may be drawn smaller.
    """

    width: float
    height: float
    letter: float
    line: float
    least: float = 0.0


@dataclass(frozen=True)
class Placed:
    """A label's middle in chart units, what it belongs to, and whether a line must lead there."""

    text: str
    x: float
    y: float
    of_x: float
    of_y: float
    leader: bool


@dataclass(frozen=True)
class _Frame:
    """Chart units <-> the ground's."""

    chart: Chart
    ground: Ground

    def on_ground(self, x: Array, y: Array) -> Array:
        (left, right), (low, high) = self.chart.x_range, self.chart.y_range
        across = (np.asarray(x, dtype=float) - left) / (right - left) * self.ground.width
        return np.column_stack([across, (np.asarray(y, dtype=float) - low) / (high - low) * self.ground.height])

    def in_chart(self, at: Array) -> tuple[float, float]:
        (left, right), (low, high) = self.chart.x_range, self.chart.y_range
        across, up = float(at[0]) / self.ground.width, float(at[1]) / self.ground.height
        return left + across * (right - left), low + up * (high - low)

    def half(self, text: str) -> Array:
        """Half of a label's width and height."""
        return 0.5 * np.array([max(self.ground.letter * len(text), self.ground.least), self.ground.line])


@dataclass(frozen=True)
class Labels:
    """Where every label of a chart goes: `limits` and named `ends` in their order, `zero` the words of that line."""

    limits: tuple[Placed, ...]
    ends: tuple[Placed, ...]
    zero: tuple[float, float]


def placed_labels(chart: Chart, limit: Ground, end: Ground, zero: Ground) -> Labels:
    """All labels, each kind with the ground as it sees it. What is placed first is minded by what follows."""
    boxes: list[_Box] = []
    return Labels(_limits(chart, limit, boxes), _ends(chart, end, boxes), _zero(chart, zero, boxes))


def _limits(chart: Chart, ground: Ground, boxes: list[_Box]) -> tuple[Placed, ...]:
    """The label of each limit, by its mark or where its line leaves the chart."""
    frame = _Frame(chart, ground)
    taken = np.vstack([_points(chart, frame), *(_line_points(line, frame) for line in chart.limits)])
    placed = []
    for line in chart.limits:
        of = _end_of(line, chart)
        at, half = frame.on_ground(np.array([of[0]]), np.array([of[1]]))[0], frame.half(line.label)
        middle = _free(at, half, taken, boxes, ground)
        boxes.append((middle, half))
        led = float(np.max(np.abs(middle - at) - half)) > 1.2 * ground.line
        boxes += _leader_boxes(middle, at) if led else []
        placed.append(Placed(line.label, *frame.in_chart(middle), *of, led))
    return tuple(placed)


def _ends(chart: Chart, ground: Ground, boxes: list[_Box]) -> tuple[Placed, ...]:
    """The name of each test at its last point; those that would lie on something make room for the others."""
    frame = _Frame(chart, ground)
    lines = [_line_points(line, frame) for line in chart.limits]
    spread = apart(chart.series, chart.y_range, 1.1 * ground.line / ground.height)
    named = [s for s in spread if s.end_label and s.x.size]
    ends = [frame.on_ground(s.x[-1:], np.array([s.label_y]))[0] for s in named]
    halves = [frame.half(s.end_label) for s in named]
    middles = [at + np.array([half[0] + _BESIDE, 0.0]) for at, half in zip(ends, halves, strict=True)]
    taken = [np.vstack([_points(chart, frame, but=s.tone), *lines]) for s in named]
    moved = []
    for k, middle in enumerate(middles):
        beyond = middle[0] + halves[k][0] > ground.width + _BESIDE
        moved.append(bool(beyond or _hits(middle[None, :], halves[k], taken[k], boxes)[0]))
        if not moved[k]:
            boxes.append((middle, halves[k]))
    everything = np.vstack([_points(chart, frame), *lines])
    ends = [frame.on_ground(s.x[-1:], s.y[-1:])[0] for s in named]  # where a leader goes
    for k in (k for k, away in enumerate(moved) if away):
        middles[k] = _free(ends[k], halves[k], everything, boxes, ground)
        boxes += [(middles[k], halves[k]), *_leader_boxes(middles[k], ends[k])]
    return tuple(
        Placed(s.end_label, *frame.in_chart(middle), float(s.x[-1]), float(s.y[-1]), away)
        for s, middle, away in zip(named, middles, moved, strict=True)
    )


def _zero(chart: Chart, ground: Ground, boxes: list[_Box]) -> tuple[float, float]:
    """Where the words of the zero line go: along it, clear of readings, as far right as may be."""
    frame = _Frame(chart, ground)
    half, taken = frame.half(chart.zero_label), _points(chart, frame, zero=False)
    up = 1.0 if chart.y_range[1] < -chart.y_range[0] else -1.0
    zero = frame.on_ground(np.zeros(1), np.zeros(1))[0, 1]
    across = np.linspace(ground.width - half[0] - _CLEAR, half[0] + _CLEAR, _COLUMNS)
    rows = [zero + side * up * (half[1] + away) for side in (1.0, -1.0) for away in (1.0, 6.0)]
    tried = np.array([(x, y) for y in rows for x in across if half[1] <= y <= ground.height - half[1]])
    if not tried.size:
        return frame.in_chart(np.array([across[0], zero]))
    return frame.in_chart(tried[int(np.argmin(_hits(tried, half, taken, boxes)))])


def _end_of(line: LimitLine, chart: Chart) -> tuple[float, float]:
    """The mark, or where its line leaves the chart."""
    last = chart.x_range[1] - 0.02 * (chart.x_range[1] - chart.x_range[0])
    x = min(line.x[1], last)
    return x, float(np.interp(x, line.x, line.y))


def _points(chart: Chart, frame: _Frame, zero: bool = True, but: str = "") -> Array:
    """All that a label would hide or be struck through by, on the ground; `but`: not this test's own."""
    parts = [_series_points(s, frame) for s in chart.series if s.role != "band" and s.x.size and s.tone != but]
    low, high = chart.y_range
    heights = np.linspace(low, high, 60)
    parts += [frame.on_ground(np.full(60, note.x), heights) for note in chart.notes]
    if zero:
        along = np.linspace(*chart.x_range, 120)
        parts.append(frame.on_ground(along, np.zeros(120)))
    return np.vstack(parts) if parts else np.zeros((0, 2))


def _series_points(series: Series, frame: _Frame) -> Array:
    x, y = series.x, series.y
    if series.role == "fit":
        along = np.linspace(x[0], x[-1], 300)
        return frame.on_ground(along, np.interp(along, x, y))
    step = -(-x.size // _MOST_POINTS)
    return frame.on_ground(x[::step], y[::step])


def _line_points(line: LimitLine, frame: _Frame) -> Array:
    share = np.linspace(0.0, 1.0, 80)
    x, y = (ends[0] + share * (ends[1] - ends[0]) for ends in (line.x, line.y))
    along = frame.on_ground(x, y)
    return np.vstack([along, along[-1] + _MARK * np.array([(1, 0), (-1, 0), (0, 1), (0, -1)])])


def _free(at: Array, half: Array, taken: Array, boxes: Sequence[_Box], ground: Ground) -> Array:
    """The nearest place for a label that touches nothing; where there is none, where it touches least."""
    size = np.array([ground.width, ground.height])
    low, high = half + _CLEAR, np.maximum(size - half - _CLEAR, half + _CLEAR)
    grid = np.meshgrid(np.linspace(low[0], high[0], _COLUMNS), np.linspace(low[1], high[1], _ROWS))
    tried = np.column_stack([axis.ravel() for axis in grid])
    away = np.hypot(*np.maximum(np.abs(tried - at) - half, 0.0).T)
    hits = _hits(tried, half, taken, boxes) + _crossed(tried, at, boxes)
    best: Array = tried[np.lexsort((away, hits))[0]]
    return best


def _crossed(tried: Array, at: Array, boxes: Sequence[_Box]) -> Array:
    """How much a line from each place to what is named would strike through other labels."""
    along = tried[:, None, :] + _ALONG[None, :, None] * (at - tried)[:, None, :]
    crossed: Array = np.zeros(len(tried))
    for middle, other in boxes:
        inside = np.all(np.abs(along - middle) < other, axis=2)
        crossed += _OTHER * np.any(inside, axis=1)
    return crossed


def _leader_boxes(middle: Array, at: Array) -> list[_Box]:
    """A line to what is named, as places that other labels keep off."""
    return [(middle + share * (at - middle), np.zeros(2)) for share in _ALONG]


def _hits(tried: Array, half: Array, taken: Array, boxes: Sequence[_Box] = ()) -> Array:
    """How many points lie under a label at each place (n, 2); another label counts as very many.

    Counted on a raster, whose sums over the corners give every place at once.
    """
    low, high = (tried - half - _CLEAR) / _RASTER, (tried + half + _CLEAR) / _RASTER
    origin = np.floor(low.min(axis=0)) - 1.0
    cells = (np.ceil(high.max(axis=0)) - origin).astype(int) + 2
    at = np.floor(taken[np.isfinite(taken).all(axis=1)] / _RASTER - origin).astype(int)
    at = at[((at >= 0) & (at < cells)).all(axis=1)]
    counts = np.bincount(at[:, 0] * cells[1] + at[:, 1], minlength=int(cells[0] * cells[1])).reshape(cells)
    sums = np.zeros(cells + 1)
    sums[1:, 1:] = counts.cumsum(axis=0).cumsum(axis=1)
    (left, down), (right, up) = np.floor(low - origin).astype(int).T, np.ceil(high - origin).astype(int).T
    hits: Array = sums[right, up] - sums[left, up] - sums[right, down] + sums[left, down]
    for middle, other in boxes:
        hits = hits + _OTHER * (np.abs(tried - middle) < half + other).all(axis=1)
    return hits
