"""IntervalChart -> drawn on a given set of axes, for paper."""

from __future__ import annotations

from typing import Any

from leakdown.report.interval_chart import IntervalChart, Line, lines_of
from leakdown.report.theme import GRID, INK, LOOKS, QUIET, SHADE_STRONG
from leakdown.words.wrap import clean

LINE_IN = 0.21
BELOW_IN = 0.62


def draw_intervals(axes: Any, chart: IntervalChart) -> None:
    """Rows, shade, axis. The axes' height should be `LINE_IN` times the chart's lines."""
    lines, height = lines_of(chart)
    axes.set_xlim(*chart.span)
    axes.set_ylim(-height, 0.0)
    axes.set_yticks([])
    axes.set_xticks([chart.at(t) for t, _ in chart.ticks], [text for _, text in chart.ticks])
    axes.set_xlabel(chart.x_title)
    axes.grid(True, axis="x", color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    below = {"xycoords": "axes fraction", "xytext": (0, -30), "textcoords": "offset points", "size": 10.5}
    for x, anchor, text in zip((0.0, 1.0), ("left", "right"), chart.sides, strict=True):
        axes.annotate(text, (x, 0.0), ha=anchor, **below)
    _shade(axes, chart)
    for line in lines:
        _line(axes, chart, line)


def _shade(axes: Any, chart: IntervalChart) -> None:
    shade = chart.shade
    if shade is None:
        return
    start, end = chart.at(shade.start), chart.at(shade.end)
    if start == end:
        axes.axvline(start, color=QUIET, linewidth=1.3, zorder=1)
    else:
        axes.axvspan(start, end, color=SHADE_STRONG, linewidth=0, zorder=0)
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0} if start == end else None
    middle, words = 0.5 * (start + end), clean(shade.label)
    axes.text(middle, -0.5, words, ha="center", va="center", size=9.5, color=QUIET, bbox=box)


def _line(axes: Any, chart: IntervalChart, line: Line) -> None:
    row, y, look = line.row, line.bar_y, LOOKS[line.row.tone]
    low, high = chart.ends(row)
    across = axes.get_yaxis_transform()
    for at, text in line.headings:
        axes.text(0.0, at, clean(text), transform=across, va="center", size=10.5, weight="bold", color=INK)
    place, anchor = chart.label_place(row)
    bold = {"va": "center", "weight": "bold", "size": 10, "color": look.colour}
    axes.text(place, line.label_y, clean(row.label), ha=anchor, **bold)
    axes.plot([low, high], [y, y], color=look.band, linewidth=6.5, solid_capstyle="butt", zorder=3)
    for bound, arrow, x in ((row.low, "<", low), (row.high, ">", high)):
        marker, size = ("|", 11.0) if bound is not None else (arrow, 8.5)
        cap = {"marker": marker, "markersize": size, "markeredgewidth": 1.6, "color": look.colour}
        axes.plot([x], [y], clip_on=False, zorder=4, **cap)
    if row.value is not None:
        marker = "s" if look.marker.startswith("square") else "o"
        axes.plot([chart.at(row.value)], [y], color=look.colour, marker=marker, markersize=6, zorder=5)
