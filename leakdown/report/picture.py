"""Chart -> PNG, PDF or SVG. The only importer of matplotlib; needs no browser and no display."""

from __future__ import annotations

import io
import re
import textwrap
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from leakdown.disk import write_output
from leakdown.errors import UsageError
from leakdown.report.chart_data import Chart, Series
from leakdown.report.interval_chart import IntervalChart, Line, lines_of
from leakdown.report.theme import GRID, INK, LIMIT, LOOKS, QUIET, SHADE, SHADE_STRONG
from leakdown.words.wrap import clean

_RUN = re.compile(r'<use [^>]*?( style="[^"]*")/>(?:<use [^>]*?\1/>)+')
_KINDS = (".png", ".pdf", ".svg")
_WIDTH_IN = 8.0
_SHEET_IN, _LOWER = 7.32, 0.5  # in a page: as wide as the text of A4, so that 9 pt are 9 pt, and lower
_LINE_IN, _BELOW_IN = 0.21, 0.62  # of a chart of intervals: a line of it, and what is under its axis
_ROLE_WORDS = {"fit": "fitted decay", "readings": "readings", "band": "95 % band"}
_SETTINGS: dict[Any, Any] = {
    "font.family": "DejaVu Sans",  # comes with matplotlib: the same on every machine
    "font.size": 11.5,
    "text.parse_math": False,  # a mark with two dollar signs is text, not a formula
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "svg.fonttype": "path",
    "svg.hashsalt": "leakdown",
    "pdf.fonttype": 42,
}


def save(chart: Chart | IntervalChart, path: str | Path, strip: IntervalChart | None = None) -> None:
    """Write the chart; the kind follows from the name. Raises UsageError, OutputError.

    strip: drawn under a decay.
    """
    target = Path(path)
    if target.suffix.lower() not in _KINDS:
        raise UsageError(f"{target}: unknown kind of picture", remedy="Name it .png, .pdf or .svg.")
    write_output(target, picture(chart, target.suffix.lower()[1:], strip))


def picture(chart: Chart | IntervalChart, kind: str, strip: IntervalChart | None = None) -> bytes:
    """The chart as a file's content; `kind` is "png", "pdf" or "svg". The same chart gives the same bytes."""
    with mpl.rc_context(_SETTINGS):
        if isinstance(chart, IntervalChart):
            figure = _strip_figure(chart, headed=True)
        else:
            figure = _figure(chart, headed=True, strip=strip)
        out = io.BytesIO()
        undated = {"png": {"Software": None}, "pdf": {"CreationDate": None}, "svg": {"Date": None}}[kind]
        figure.savefig(out, format=kind, dpi=160, metadata=undated)
    return out.getvalue()


def inline_svg(chart: Chart | IntervalChart, salt: str) -> str:
    """The chart without its heading, as an <svg> element to put into a page.

    salt: keeps the ids of several drawings in one page apart.
    """
    with mpl.rc_context(_SETTINGS | {"svg.hashsalt": salt, "svg.fonttype": "none", "font.size": 9.5}):
        figure = _strip_figure(chart) if isinstance(chart, IntervalChart) else _figure(chart, headed=False)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = out.getvalue()
    return _compact(text[text.index("<svg") :].replace('id="', f'id="{salt}-', 1))


def _compact(svg: str) -> str:
    """The same picture in half of the bytes: hundreds of points share a style, and none needs six places."""
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)
    svg = re.sub(r"\s*\n\s*", " ", svg).replace("> <", "><").replace(" xlink:href=", " href=")
    svg = re.sub(r'(?<= (?:x|y|d)=")[^"]*', lambda found: re.sub(r"(\.\d)\d+", r"\1", found[0]), svg)
    return _RUN.sub(lambda run: f"<g{run[1]}>{run[0].replace(run[1], '')}</g>", svg)


def _figure(chart: Chart, headed: bool, strip: IntervalChart | None = None) -> Figure:
    key = [line for n in chart.notes for line in _key_lines(n.number, n.text)] if headed else []
    width_in = _WIDTH_IN if headed else _SHEET_IN
    plot_in = width_in * chart.height_ratio * (1.0 if headed else _LOWER)
    top_in = (0.55 + 0.22 * len(chart.subtitle) if headed else 0.08) + (0.27 if chart.spans else 0.08)
    strip_in = _strip_in(strip) if strip else 0.0
    under_in = 0.9 if headed else 0.76 if _has_legend(chart) else 0.45
    bottom_in = strip_in + under_in + 0.2 * len(key) + (0.1 if key else 0.0)
    height_in = plot_in + top_in + bottom_in
    figure = Figure(figsize=(width_in, height_in), facecolor="white")
    FigureCanvasAgg(figure)
    left, right = 0.105, 0.985
    axes = figure.add_axes((left, bottom_in / height_in, right - left, 1.0 - (top_in + bottom_in) / height_in))
    _frame(axes, chart)
    _spans(axes, chart)
    for series in chart.series:
        _draw(axes, series)
    _limits(axes, chart)
    _notes(axes, chart)
    if headed or _has_legend(chart):
        _legend(figure, axes, chart, (left, (bottom_in - under_in) / height_in))
    if headed:
        figure.text(left, 1.0 - 0.30 / height_in, clean(chart.title), size=16, weight="bold", va="center")
        for row, line in enumerate(chart.subtitle):
            figure.text(left, 1.0 - (0.58 + 0.22 * row) / height_in, _cut(line, 105), size=10.5, va="center")
    for row, line in enumerate(reversed(key)):
        figure.text(left, (strip_in + 0.12 + 0.2 * row) / height_in, line, size=9.5, va="baseline")
    if strip:
        _add_strip(figure, strip, left)
    return figure


def _has_legend(chart: Chart) -> bool:
    """A flat plot of a page has its key in the caption."""
    return chart.height_ratio >= 0.3


def _strip_in(strip: IntervalChart) -> float:
    """Height of a strip with its axis and title."""
    return _BELOW_IN + _LINE_IN * lines_of(strip)[1] + 0.35


def _add_strip(figure: Figure, strip: IntervalChart, left: float) -> None:
    height_in = figure.get_size_inches()[1]
    plot_in = _LINE_IN * lines_of(strip)[1]
    _intervals(figure.add_axes((left, _BELOW_IN / height_in, 0.985 - left, plot_in / height_in)), strip)
    top_in = _BELOW_IN + plot_in + 0.12
    figure.text(left, top_in / height_in, clean(strip.title), size=11.5, weight="bold", va="center")


def _strip_figure(strip: IntervalChart, headed: bool = False) -> Figure:
    """Intervals alone; without the heading for a page that has the title beside."""
    plot_in = _LINE_IN * lines_of(strip)[1]
    height_in = plot_in + _BELOW_IN + (0.55 if headed else 0.05)
    figure = Figure(figsize=(_WIDTH_IN, height_in), facecolor="white")
    FigureCanvasAgg(figure)
    _intervals(figure.add_axes((0.02, _BELOW_IN / height_in, 0.95, plot_in / height_in)), strip)
    if headed:
        figure.text(0.02, 1.0 - 0.30 / height_in, clean(strip.title), size=16, weight="bold", va="center")
    return figure


def _key_lines(number: int, text: str) -> list[str]:
    lines = textwrap.wrap(clean(text), 105)[:2] or [""]
    return [f"{number}   {lines[0]}", *(f"     {line}" for line in lines[1:])]


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3] + "..."


def _frame(axes: Axes, chart: Chart) -> None:
    axes.set_xlim(*chart.x_range)
    axes.set_ylim(*chart.y_range)
    axes.set_xlabel(chart.x_title)
    axes.set_ylabel(chart.y_title)
    axes.grid(True, color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    for axis, step in zip((axes.xaxis, axes.yaxis), chart.steps, strict=True):
        axis.set_major_locator(MultipleLocator(step))
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.axhline(0.0, color=QUIET, linewidth=1.2, zorder=1.5)
    if chart.zero_label:
        under = chart.y_range[1] >= -chart.y_range[0]  # away from the decay
        at, look = (1.0, 0.0), {"va": "top" if under else "bottom", "size": 9, "color": QUIET}
        _write(axes, chart.zero_label, at, (-3, -2 if under else 2), "axes fraction", "data", ha="right", **look)


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
        edges = (series.y_low, series.y_high)
        axes.fill_between(series.x, *edges, color=look.band, linewidth=0, zorder=2, **shown)
    elif series.role == "fit":
        style = "-" if look.dash == "solid" else (0, (6, 2))
        axes.plot(series.x, series.y, color=look.colour, linestyle=style, linewidth=2.2, zorder=4, **shown)
    elif series.role == "readings":
        axes.plot(series.x, series.y, linestyle="none", zorder=3, **_marker(series), **shown)
    if series.end_label and series.x.size:
        at = (float(series.x[-1]), series.label_y)
        _write(axes, series.end_label, at, (6, 0), va="center", weight="bold", color=look.colour, size=11)


def _marker(series: Series) -> dict[str, Any]:
    """How a reading is drawn: one of a few large, or one of many small."""
    look = LOOKS[series.tone]
    hollow = look.marker.endswith("open")
    return {
        "marker": "s" if look.marker.startswith("square") else "o",
        "markersize": 2.2 if series.dense else 6.0,
        "markerfacecolor": "white" if hollow else QUIET if series.dense else look.colour,
        "markeredgecolor": look.colour if hollow or not series.dense else QUIET,
        "markeredgewidth": 0.5 if series.dense else 1.2,
        "alpha": 0.75 if series.dense else 1.0,
    }


def _limits(axes: Axes, chart: Chart) -> None:
    box = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5}
    for line in chart.limits:
        axes.plot(line.x, line.y, color=LIMIT, linewidth=1.4, linestyle=(0, (2, 2)), zorder=5)
        axes.plot(line.x[1:], line.y[1:], color=LIMIT, marker="D", markersize=7, zorder=6, linestyle="none")
        left = line.x[1] > chart.x_range[0] + 0.3 * (chart.x_range[1] - chart.x_range[0])
        shift = (-8 if left else 8, 12 if (line.y[1] > 0) == line.label_away else -12)
        look: dict[str, Any] = {"ha": "right" if left else "left", "va": "center", "size": 10, "color": LIMIT}
        _write(axes, line.label, (line.x[1], line.label_y), shift, bbox=box, zorder=7, **look)


def _notes(axes: Axes, chart: Chart) -> None:
    ring = {"boxstyle": "circle,pad=0.25", "facecolor": "white", "edgecolor": INK, "linewidth": 1.0}
    look: dict[str, Any] = {"ha": "center", "va": "center", "size": 9.5, "weight": "bold", "zorder": 8}
    for note in chart.notes:
        axes.axvline(note.x, color=INK, linewidth=1.0, linestyle=(0, (1, 2)), zorder=2.5)
        _write(axes, str(note.number), (note.x, 0.96), (0, 0), "data", "axes fraction", bbox=ring, **look)


def _legend(figure: Figure, axes: Axes, chart: Chart, corner: tuple[float, float]) -> None:
    """One row under the plot; with several tests one entry for each kind of mark."""
    handles, labels = axes.get_legend_handles_labels()
    entries = dict(zip(labels, handles, strict=True))
    if any(s.end_label for s in chart.series):
        kinds = {s.role: s.label for s in reversed(chart.series)}
        entries = {_ROLE_WORDS[role]: entries[label] for role, label in kinds.items() if label in entries}
    if entries:
        look: dict[str, Any] = {"ncols": 4, "frameon": False, "fontsize": 9.5, "bbox_to_anchor": corner}
        figure.legend(entries.values(), [clean(name) for name in entries], loc="lower left", **look)


def _intervals(axes: Axes, chart: IntervalChart) -> None:
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
        axes.axvline(start, color=QUIET, linewidth=1.3, zorder=1)
    else:
        axes.axvspan(start, end, color=SHADE_STRONG, linewidth=0, zorder=0)
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0} if start == end else None
    middle, words = 0.5 * (start + end), clean(shade.label)
    axes.text(middle, -0.5, words, ha="center", va="center", size=9.5, color=QUIET, bbox=box)


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
