"""Any chart -> its figure: as JSON inside a page, or as an object of plotly for a notebook.

The only importer of plotly, and of it only for a notebook: a page carries the library as a file.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from leakdown.analysis import Analysis
from leakdown.judge.judged import FittedTest
from leakdown.report.chart_data import Chart
from leakdown.report.decay_chart import change_decay, decay_chart
from leakdown.report.decay_figure import canvas, decay_figure, inert, label
from leakdown.report.interval_chart import IntervalChart, Line, change_chart, lines_of, ratio_chart, shares_chart
from leakdown.report.located_chart import located_chart
from leakdown.report.theme import GRID, LOOKS, QUIET, SHADE_STRONG
from leakdown.where.located import Change, Located

CONFIG = {
    "displaylogo": False,
    "showSendToCloud": False,  # a customer's data stay in the page
    "responsive": True,
    "displayModeBar": "hover",
    "modeBarButtonsToRemove": ["select2d", "lasso2d", "autoScale2d"],
}


Result = Analysis | Located | Change


def chart_of(result: Result, tests: Sequence[FittedTest] = ()) -> Chart | IntervalChart | None:
    """The chart of a result: its decays where the tests it was found from are given or are in it.

    Without tests, what locating or comparing found, as intervals; None where nothing bounds that.
    """
    if isinstance(result, Analysis):
        return decay_chart(result)
    if isinstance(result, Located):
        return located_chart(result, tests) if tests else shares_chart(result.sections) or ratio_chart(result.ratio)
    return change_decay(*(h.analysis for h in tests)) if tests else change_chart(result)


def figure(chart: Chart | IntervalChart) -> Any:
    """The chart as a plotly.graph_objects.Figure, drawn as in a page."""
    import plotly.graph_objects as go

    parts = _parts(chart)
    return go.Figure(data=parts["data"], layout=parts["layout"] | {"template": "none"})


def figure_json(chart: Chart | IntervalChart) -> str:
    """`{"data": ..., "layout": ...}` as JSON text that is safe inside a <script> element."""
    text = json.dumps(_parts(chart), default=_packed, separators=(",", ":"))
    return text.replace("<", "\\u003c")  # json writes the rest of it in ASCII


def _parts(chart: Chart | IntervalChart) -> dict[str, Any]:
    return interval_figure(chart) if isinstance(chart, IntervalChart) else decay_figure(chart)


def _packed(values: Any) -> dict[str, str]:
    """An array as the script of a page unpacks it: its bytes, little end first."""
    array = np.asarray(values, dtype="<f4")
    return {"dtype": "f4", "bdata": base64.b64encode(array.tobytes()).decode("ascii")}


LINE_PX = 20
_BELOW_PX = 62


def height_px(chart: IntervalChart) -> int:
    """How tall the figure has to be for its rows."""
    return round(LINE_PX * lines_of(chart)[1]) + _BELOW_PX


def interval_figure(chart: IntervalChart) -> dict[str, Any]:
    """`{"data": ..., "layout": ...}`; every text of the user's is inert."""
    lines, height = lines_of(chart)
    axis = {"fixedrange": True, "zeroline": False, "linecolor": QUIET}
    ticks: dict[str, Any] = {"ticks": "outside", "tickcolor": QUIET, "gridcolor": GRID}
    ticks |= {"tickvals": [chart.at(t) for t, _ in chart.ticks], "ticktext": [text for _, text in chart.ticks]}
    labels = [*_shade_label(chart), *_sides(chart), *(a for line in lines for a in _texts(chart, line))]
    layout = canvas(
        margin={"l": 12, "r": 16, "t": 4, "b": _BELOW_PX - 4, "autoexpand": False},
        xaxis=axis | ticks | {"range": list(chart.span), "title": {"text": chart.x_title, "standoff": 6}},
        yaxis=axis | {"range": [-height, 0], "visible": False},
        showlegend=False,
        dragmode=False,
        shapes=_shade_shapes(chart),
        annotations=labels,
    )
    return {"data": [trace for line in lines for trace in _traces(chart, line)], "layout": layout}


def _shade_shapes(chart: IntervalChart) -> list[dict[str, Any]]:
    if chart.shade is None:
        return []
    start, end = chart.at(chart.shade.start), chart.at(chart.shade.end)
    shape = {"yref": "paper", "y0": 0, "y1": 1, "x0": start, "x1": end, "layer": "below"}
    if start == end:  # from under its label, which stands in the first line
        shape |= {"yref": "y", "y0": -lines_of(chart)[1], "y1": -1.0}
        return [shape | {"type": "line", "line": {"color": QUIET, "width": 1.5}}]
    return [shape | {"type": "rect", "fillcolor": SHADE_STRONG, "line": {"width": 0}}]


def _shade_label(chart: IntervalChart) -> list[dict[str, Any]]:
    if chart.shade is None:
        return []
    middle = 0.5 * (chart.at(chart.shade.start) + chart.at(chart.shade.end))
    ground = {"bgcolor": "white"} if chart.shade.start == chart.shade.end else {}
    return [label(inert(chart.shade.label), middle, -0.5, 12.5, QUIET, **ground)]


def _sides(chart: IntervalChart) -> list[dict[str, Any]]:
    ends = (("left", 0, chart.sides[0]), ("right", 1, chart.sides[1]))
    below: dict[str, Any] = {"xref": "paper", "yref": "paper", "yanchor": "top", "yshift": -26}
    return [label(text, x, 0, xanchor=anchor, **below) for anchor, x, text in ends if text]


def _texts(chart: IntervalChart, line: Line) -> list[dict[str, Any]]:
    left: dict[str, Any] = {"xref": "paper", "xanchor": "left"}
    headings = [label(f"<b>{inert(text)}</b>", 0, y, 14, **left) for y, text in line.headings]
    (x, anchor), colour = chart.label_place(line.row), LOOKS[line.row.tone].colour
    return [*headings, label(f"<b>{inert(line.row.label)}</b>", x, line.label_y, colour=colour, xanchor=anchor)]


def _traces(chart: IntervalChart, line: Line) -> list[dict[str, Any]]:
    row, y, look = line.row, line.bar_y, LOOKS[line.row.tone]
    low, high = chart.ends(row)
    hover: dict[str, Any] = {"hovertemplate": f"{inert(row.label)}<extra></extra>", "type": "scatter"}
    bar = hover | {"x": [low, high], "y": [y, y], "mode": "lines", "line": {"color": look.band, "width": 9}}
    ends = [
        ("line-ns-open" if bound is not None else arrow, at)
        for bound, arrow, at in ((row.low, "triangle-left", low), (row.high, "triangle-right", high))
    ]
    cap = {"size": 16, "color": look.colour, "line": {"width": 2, "color": look.colour}}
    caps = hover | {"x": [at for _, at in ends], "y": [y, y], "mode": "markers", "cliponaxis": False}
    caps["marker"] = cap | {"symbol": [symbol for symbol, _ in ends]}
    traces = [bar, caps]
    if row.value is not None:
        dot = {"symbol": look.marker, "size": 9, "color": look.colour}
        traces.append(hover | {"x": [chart.at(row.value)], "y": [y], "mode": "markers", "marker": dot})
    return traces
