"""Labels at the ends of several lines, moved apart where they would lie on each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from leakdown.report.chart_data import Series

_LINE = 0.07  # height of a label over that of the plot


def apart(series: Sequence[Series], y_range: tuple[float, float]) -> tuple[Series, ...]:
    """The series with their end labels at least a line apart, in the order of their ends."""
    gap = _LINE * (y_range[1] - y_range[0])
    labelled = sorted(
        (i for i, s in enumerate(series) if s.end_label and s.y.size), key=lambda i: float(series[i].y[-1])
    )
    groups: list[list[int]] = []
    for i in labelled:  # labels that touch form a group, centred on the mean of its ends
        groups.append([i])
        while len(groups) > 1 and _bottom(groups[-1], series, gap) < _top(groups[-2], series, gap) + gap:
            last = groups.pop()
            groups[-1] += last
    placed = list(series)
    for group in groups:
        for k, i in enumerate(group):
            if len(group) > 1:
                placed[i] = replace(series[i], end_label_y=_bottom(group, series, gap) + k * gap)
    return tuple(placed)


def _middle(group: Sequence[int], series: Sequence[Series]) -> float:
    return sum(float(series[i].y[-1]) for i in group) / len(group)


def _bottom(group: Sequence[int], series: Sequence[Series], gap: float) -> float:
    return _middle(group, series) - 0.5 * (len(group) - 1) * gap


def _top(group: Sequence[int], series: Sequence[Series], gap: float) -> float:
    return _middle(group, series) + 0.5 * (len(group) - 1) * gap
