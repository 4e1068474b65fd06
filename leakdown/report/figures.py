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
from leakdown.report.decay_figure import decay_figure
from leakdown.report.interval_chart import IntervalChart, change_chart, ratio_chart, shares_chart
from leakdown.report.interval_figure import interval_figure
from leakdown.report.located_chart import located_chart
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
