"""Chart -> PNG, PDF or SVG; needs no browser and no display."""

from __future__ import annotations

import io
import re
import textwrap
from html import escape
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from leakdown.disk import write_output
from leakdown.errors import UsageError
from leakdown.report.chart_data import Chart, in_short, in_words
from leakdown.report.interval_chart import IntervalChart, lines_of, told_rows
from leakdown.report.plotted import legend, plot_decay, plot_intervals
from leakdown.report.theme import INK, QUIET
from leakdown.words.wrap import clean

_RUN = re.compile(r'<use [^>]*?( style="[^"]*")/>(?:<use [^>]*?\1/>)+')
_KINDS = (".png", ".pdf", ".svg")
_WIDTH_IN = 8.0
_SHEET_IN, _LOWER = 7.32, 0.5  # in a page: as wide as the text of A4, so that 9 pt are 9 pt, and lower
_PHONE_IN, _TALLER = 3.75, 1.2  # and as wide as the text of a phone, where 9 pt are as large
_LINE_IN, _BELOW_IN = 0.21, 0.62  # of a chart of intervals: a line of it, and what is under its axis
_SUBTITLE = 88  # letters of a line under the heading
_SETTINGS: dict[Any, Any] = {
    "font.family": "DejaVu Sans",  # comes with matplotlib: the same on every machine
    "font.size": 11.5,
    "text.parse_math": False,  # a mark with two dollar signs is text, not a formula
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "svg.fonttype": "none",  # words that can be found, read aloud and changed
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
        said = told_rows(chart) if isinstance(chart, IntervalChart) else in_words(chart)
        title, said = clean(chart.title), clean(said)
        about: dict[str, dict[str, str | None]] = {
            "png": {"Software": None, "Title": title, "Description": said},
            "pdf": {"CreationDate": None, "Title": title, "Subject": said},
            "svg": {"Date": None, "Creator": None, "Format": None, "Type": None},
        }
        figure.savefig(out, format=kind, dpi=160, metadata=about[kind])
    return _entitled(out.getvalue(), title, said) if kind == "svg" else out.getvalue()


def _entitled(svg: bytes, title: str, said: str) -> bytes:
    """The drawing with its title and description as elements, for whoever does not see it."""
    head, start, rest = svg.decode("utf-8").partition("<svg ")
    tag, end, rest = rest.partition(">")
    named = f'role="img" aria-labelledby="title desc" {tag}{end}'
    words = f'<title id="title">{escape(title)}</title><desc id="desc">{escape(said)}</desc>'
    return f"{head}{start}{named}{words}{rest}".encode()


def inline_svg(chart: Chart | IntervalChart, salt: str, phone: bool = False) -> str:
    """The chart without its heading, as an <svg> element to put into a page.

    salt: keeps the ids of several drawings in one page apart. phone: decays as wide as a phone, so that words stay
    as large.
    """
    with mpl.rc_context(_SETTINGS | {"svg.hashsalt": salt, "font.size": 9.5}):
        if isinstance(chart, IntervalChart):
            figure = _strip_figure(chart)
        else:
            figure = _figure(in_short(chart) if phone else chart, headed=False, phone=phone)
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


def _figure(chart: Chart, headed: bool, strip: IntervalChart | None = None, phone: bool = False) -> Figure:
    key = [line for n in chart.notes for line in _key_lines(n.number, n.text)] if headed else []
    width_in = _WIDTH_IN if headed else _PHONE_IN if phone else _SHEET_IN
    plot_in = width_in * chart.height_ratio * (1.0 if headed else _TALLER if phone else _LOWER)
    said = [row for line in chart.subtitle for row in _rows_of(line)]
    top_in = (0.55 + 0.22 * len(said) if headed else 0.08) + (0.27 if chart.spans else 0.08)
    strip_in = _strip_in(strip) if strip else 0.0
    under_in = 0.9 if headed else 1.2 if phone else 0.76 if _has_legend(chart) else 0.45
    bottom_in = strip_in + under_in + 0.2 * len(key) + (0.1 if key else 0.0)
    height_in = plot_in + top_in + bottom_in
    figure = Figure(figsize=(width_in, height_in), facecolor="white")
    FigureCanvasAgg(figure)
    left, right = 0.19 if phone else 0.118, 0.985
    axes = figure.add_axes((left, bottom_in / height_in, right - left, 1.0 - (top_in + bottom_in) / height_in))
    plot_decay(axes, chart)
    if headed or _has_legend(chart):
        legend(figure, axes, chart, (left, (bottom_in - under_in) / height_in), 1 if phone else 4)
    if headed:
        figure.text(left, 1.0 - 0.30 / height_in, clean(chart.title), size=16, weight="bold", va="center")
        for row, line in enumerate(said):
            figure.text(left, 1.0 - (0.58 + 0.22 * row) / height_in, line, size=10.5, va="center")
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
    plot_intervals(figure.add_axes((left, _BELOW_IN / height_in, 0.985 - left, plot_in / height_in)), strip)
    top_in = _BELOW_IN + plot_in + 0.12
    figure.text(left, top_in / height_in, clean(strip.title), size=11.5, weight="bold", va="center")


def _strip_figure(strip: IntervalChart, headed: bool = False) -> Figure:
    """Intervals alone; without the heading for a page that has the title beside."""
    plot_in = _LINE_IN * lines_of(strip)[1]
    height_in = plot_in + _BELOW_IN + (0.55 if headed else 0.05)
    figure = Figure(figsize=(_WIDTH_IN, height_in), facecolor="white")
    FigureCanvasAgg(figure)
    plot_intervals(figure.add_axes((0.02, _BELOW_IN / height_in, 0.95, plot_in / height_in)), strip)
    if headed:
        figure.text(0.02, 1.0 - 0.30 / height_in, clean(strip.title), size=16, weight="bold", va="center")
    return figure


def _key_lines(number: int, text: str) -> list[str]:
    lines = textwrap.wrap(clean(text), 105)[:2] or [""]
    return [f"{number}   {lines[0]}", *(f"     {line}" for line in lines[1:])]


def _rows_of(line: str) -> list[str]:
    return textwrap.wrap(clean(line), _SUBTITLE, subsequent_indent="   ")[:2]
