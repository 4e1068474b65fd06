"""A chart's marks on axes of matplotlib; `picture` makes the figure around them."""

from __future__ import annotations

from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from leakdown.report.chart_data import Array, Chart, Series, note_rows
from leakdown.report.interval_chart import IntervalChart, Line, lines_of
from leakdown.report.placing import Ground, Placed, placed_labels
from leakdown.report.theme import GRID, INK, LIMIT, LOOKS, QUIET, SHADE, SHADE_STRONG, reading_grey
from leakdown.words.wrap import clean

_LIMIT_PT, _ZERO_PT = 10.0, 9.0
_END_SHARE = 0.95  # of the size of all other words: the name of a test at the end of its curve
_ROLE_WORDS = {"fit": "fitted decay", "readings": "readings", "band": "95 % band"}


def plot_decay(axes: Axes, chart: Chart) -> None:
    """Everything that stands inside the axes, which must have their place in the figure already."""
    _frame(axes, chart)
    _spans(axes, chart)
    for series in chart.series:
        _draw(axes, series)
    placed = placed_labels(chart, *(_ground(axes, size) for size in (_LIMIT_PT, _end_pt(), _ZERO_PT)))
    if chart.zero_label:
        _write(axes, chart.zero_label, placed.zero, ha="center", va="center", size=_ZERO_PT, color=QUIET)
    _ends(axes, chart, placed.ends)
    _limits(axes, chart, placed.limits)
    _notes(axes, chart)


def _frame(axes: Axes, chart: Chart) -> None:
    axes.set_xlim(*chart.x_range)
    axes.set_ylim(*chart.y_range)
    axes.set_xlabel(chart.x_words)
    axes.set_ylabel(_in_height(axes, chart.y_title))
    axes.grid(True, color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    for axis, step in zip((axes.xaxis, axes.yaxis), chart.steps, strict=True):
        axis.set_major_locator(MultipleLocator(step))
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.axhline(0.0, color=QUIET, linewidth=1.2, zorder=1.5)


def _in_height(axes: Axes, title: str) -> str:
    """The title of the upright axis, its unit on a line of its own where the plot is too low for both."""
    height_pt = 72.0 * axes.bbox.height / axes.figure.dpi
    needs_pt = 0.62 * float(axes.yaxis.label.get_fontsize()) * len(title)
    return title.replace(" (", "\n(", 1) if needs_pt > height_pt else title


def _write(
    axes: Axes,
    text: str,
    at: tuple[float, float],
    shift_pt: tuple[float, float] = (0, 0),
    x_is: str = "data",
    y_is: str = "data",
    **look: Any,
) -> None:
    """Text at a place of the chart, shifted by points of paper."""
    axes.annotate(clean(text), at, xycoords=(x_is, y_is), xytext=shift_pt, textcoords="offset points", **look)


def _spans(axes: Axes, chart: Chart) -> None:
    for span in chart.spans:
        if not span.strong and span.name == "other":
            continue
        shade = SHADE_STRONG if span.strong else SHADE
        axes.axvspan(span.start, span.end, color=shade, linewidth=0, zorder=0)
        axes.axvline(span.end, color="white", linewidth=1.5, zorder=0.5)
        middle = (0.5 * (span.start + span.end), 1.0)
        look = {"color": INK, "weight": "bold"} if span.strong else {"color": QUIET}
        _write(axes, span.label, middle, (0, 3), "data", "axes fraction", ha="center", va="bottom", size=9.5, **look)


def _draw(axes: Axes, series: Series) -> None:
    look = LOOKS[series.tone]
    shown: dict[str, Any] = {"label": series.label}
    if series.role == "band" and series.y_low is not None and series.y_high is not None:
        shown |= {"facecolor": look.band, "edgecolor": look.colour, "linewidth": 0.5, "zorder": 2}
        if series.dense:  # over the many readings, which would cover it
            shown |= {"alpha": 0.8, "zorder": 3.5}
        axes.fill_between(series.x, series.y_low, series.y_high, **shown)
    elif series.role == "fit":
        shown |= {"color": look.colour, "linestyle": "-" if look.dash == "solid" else (0, (6, 2))}
        axes.plot(series.x, series.y, linewidth=1.3 if series.dense else 2.2, zorder=4, **shown)
    elif series.role == "readings":
        axes.plot(series.x, series.y, linestyle="none", zorder=3, **_marker(series), **shown)
        if series.y_low is not None and series.y_high is not None:
            x, y = _bars(series.x, series.y_low, series.y_high)
            axes.plot(x, y, color=reading_grey(series.tone), linewidth=0.8, zorder=2.8)


def _bars(x: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Upright lines as one that is lifted between them, which takes a third of the bytes."""
    lifted = np.full(x.size, np.nan)
    return np.stack([x, x, lifted], axis=1).ravel(), np.stack([low, high, lifted], axis=1).ravel()


def _marker(series: Series) -> dict[str, Any]:
    """How a reading is drawn: one of a few large, or one of many small."""
    look, shape = LOOKS[series.tone], "s" if LOOKS[series.tone].marker.startswith("square") else "o"
    hollow = look.marker.endswith("open")
    if series.dense:
        grey = reading_grey(series.tone)
        return {"marker": shape, "markersize": 3.4, "markerfacecolor": grey, "markeredgecolor": grey}
    return {
        "marker": shape,
        "markersize": 6.0,
        "markerfacecolor": "white" if hollow else look.colour,
        "markeredgecolor": look.colour,
        "markeredgewidth": 1.2,
    }


def _limits(axes: Axes, chart: Chart, labels: tuple[Placed, ...]) -> None:
    for line in chart.limits:
        axes.plot(line.x, line.y, color=LIMIT, linewidth=1.4, linestyle=(0, (2, 2)), zorder=5)
        axes.plot(line.x[1:], line.y[1:], color=LIMIT, marker="D", markersize=7, zorder=6, linestyle="none")
    for placed in labels:
        _led(axes, placed, size=_LIMIT_PT, color=LIMIT)


def _ends(axes: Axes, chart: Chart, ends: tuple[Placed, ...]) -> None:
    """The name of each test at its last point."""
    named = (s for s in chart.series if s.end_label and s.x.size)
    for series, placed in zip(named, ends, strict=True):
        look: dict[str, Any] = {"weight": "bold", "color": LOOKS[series.tone].colour, "size": _end_pt(), "va": "center"}
        if placed.leader:
            _led(axes, placed, **look)
        else:
            _write(axes, series.end_label, (placed.of_x, placed.y), (9, 0), **look)


def _end_pt() -> float:
    return _END_SHARE * float(mpl.rcParams["font.size"])


def _led(axes: Axes, placed: Placed, **look: Any) -> None:
    """A label away from what it is of, with a line to it."""
    line = {"arrowstyle": "-", "color": look["color"], "linewidth": 0.9, "shrinkA": 1.0, "shrinkB": 5.0}
    look |= {"ha": "center", "va": "center", "zorder": 7, "arrowprops": line if placed.leader else None}
    at, text_at = (placed.of_x, placed.of_y), (placed.x, placed.y)
    axes.annotate(clean(placed.text), at, xycoords="data", xytext=text_at, textcoords="data", **look)


def _ground(axes: Axes, size_pt: float) -> Ground:
    """The plot as labels of a size see it, in points."""
    box = axes.get_window_extent()
    per_pt = axes.figure.dpi / 72.0
    return Ground(box.width / per_pt, box.height / per_pt, 0.6 * size_pt, 1.3 * size_pt)


def _notes(axes: Axes, chart: Chart) -> None:
    ring = {"boxstyle": "circle,pad=0.25", "facecolor": "white", "edgecolor": INK, "linewidth": 1.0}
    look: dict[str, Any] = {"ha": "center", "va": "center", "size": 9.5, "weight": "bold", "zorder": 8}
    for note, row in zip(chart.notes, note_rows(chart), strict=True):
        axes.axvline(note.x, color=INK, linewidth=1.0, linestyle=(0, (1, 2)), zorder=2.5)
        _write(axes, str(note.number), (note.x, 0.96), (0, -19 * row), "data", "axes fraction", bbox=ring, **look)


def legend(figure: Figure, axes: Axes, chart: Chart, corner: tuple[float, float], columns: int) -> None:
    """Rows under the plot; with several tests one entry for each kind of mark."""
    handles, labels = axes.get_legend_handles_labels()
    entries = dict(zip(labels, handles, strict=True))
    if any(s.end_label for s in chart.series):
        kinds = {s.role: s.label for s in reversed(chart.series)}
        entries = {_ROLE_WORDS[role]: entries[label] for role, label in kinds.items() if label in entries}
    if entries:
        look: dict[str, Any] = {"ncols": columns, "frameon": False, "fontsize": 9.5, "bbox_to_anchor": corner}
        figure.legend(entries.values(), [clean(name) for name in entries], loc="lower left", **look)


def plot_intervals(axes: Axes, chart: IntervalChart) -> None:
    """Rows, shade, axis. The axes' height should be `_LINE_IN` times the chart's lines."""
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
    for x, anchor, text in zip((0.0, 1.0), ("left", "right"), chart.sides, strict=True):
        _write(axes, text, (x, 0.0), (0, -30), "axes fraction", "axes fraction", ha=anchor, size=10.5)
    _shade(axes, chart)
    for line in lines:
        _line(axes, chart, line)


def _shade(axes: Axes, chart: IntervalChart) -> None:
    shade = chart.shade
    if shade is None:
        return
    start, end = chart.at(shade.start), chart.at(shade.end)
    if start == end:
        axes.plot([start, start], [-lines_of(chart)[1], -1.0], color=QUIET, linewidth=1.3, zorder=1)
    else:
        axes.axvspan(start, end, color=SHADE_STRONG, linewidth=0, zorder=0)
    middle, words = 0.5 * (start + end), clean(shade.label)
    axes.text(middle, -0.5, words, ha="center", va="center", size=9.5, color=QUIET)


def _line(axes: Axes, chart: IntervalChart, line: Line) -> None:
    row, y, look = line.row, line.bar_y, LOOKS[line.row.tone]
    low, high = chart.ends(row)
    across = axes.get_yaxis_transform()
    for at, text in line.headings:
        axes.text(0.0, at, clean(text), transform=across, va="center", size=10.5, weight="bold", color=INK)
    place, anchor = chart.label_place(row)
    bold: dict[str, Any] = {"va": "center", "weight": "bold", "size": 10, "color": look.colour}
    axes.text(place, line.label_y, clean(row.label), ha=anchor, **bold)
    axes.plot([low, high], [y, y], color=look.band, linewidth=6.5, solid_capstyle="butt", zorder=3)
    for bound, arrow, x in ((row.low, "<", low), (row.high, ">", high)):
        marker, size = ("|", 11.0) if bound is not None else (arrow, 8.5)
        cap: dict[str, Any] = {"marker": marker, "markersize": size, "markeredgewidth": 1.6}
        axes.plot([x], [y], color=look.colour, clip_on=False, zorder=4, **cap)
    if row.value is not None:
        marker = "s" if look.marker.startswith("square") else "o"
        axes.plot([chart.at(row.value)], [y], color=look.colour, marker=marker, markersize=6, zorder=5)
