"""What `import leakdown` offers, gathered from its rooms; and how its results show themselves."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from leakdown.analysis import Analysis
from leakdown.errors import UsageError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.prepare.plan import Plan, plan
from leakdown.reading import read
from leakdown.recording import Conditions, Mark, Recording
from leakdown.rows import table
from leakdown.where.compare import compare
from leakdown.where.locate import locate
from leakdown.where.located import Change, Located

if TYPE_CHECKING:
    import plotly.graph_objects as go

__all__ = [
    "Analysis", "Change", "Conditions", "Located", "Mark", "Plan", "Recording", "Settings",
    "analyse", "compare", "figure", "locate", "plan", "read", "table",
]  # fmt: skip
_WIDTH = 88


def figure(result: Analysis | Located | Change) -> go.Figure:
    """The chart of a result, as on its page. Raises UsageError for what has none."""
    from leakdown.report.figures import chart_of
    from leakdown.report.figures import figure as drawn

    if not isinstance(result, Analysis | Located | Change):
        raise UsageError(f"{type(result).__name__} has no chart", remedy="Give a result of analyse, locate or compare.")
    chart = chart_of(result)
    if chart is None:
        raise UsageError("this result has nothing to draw", remedy="locate draws a ratio: give both directions.")
    return drawn(chart)


def _analysis_text(result: Any) -> str:
    from leakdown.words.terminal import summary

    return summary(result, _WIDTH)


def _analysis_html(result: Any) -> str:
    from leakdown.report.analysis_page import html_card

    return html_card(result)


def _lines(result: Any) -> str:
    from leakdown.words.located import change_lines, located_lines
    from leakdown.words.preparing import plan_lines
    from leakdown.words.terminal import plain
    from leakdown.words.wrap import wrapped

    kinds: dict[type, Callable[..., list[str]]] = {Located: located_lines, Change: change_lines, Plan: plan_lines}
    lines = kinds[type(result)]
    return "\n".join(lines(result, _WIDTH, wrapped, plain))


Analysis.show_with(_analysis_text, _analysis_html)
Located.show_with(_lines)
Change.show_with(_lines)
Plan.show_with(_lines)
