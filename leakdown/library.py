"""The library: what `import leakdown` offers, gathered from its rooms. Nothing of it loads before it is used."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from leakdown.analysis import Analysis
from leakdown.errors import UsageError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.prepare.plan import plan
from leakdown.reading import read
from leakdown.recording import Conditions, Mark, Recording
from leakdown.table import table
from leakdown.where.compare import compare
from leakdown.where.locate import locate
from leakdown.where.located import Change, Located

if TYPE_CHECKING:
    import plotly.graph_objects as go

__all__ = [
    "Analysis",
    "Change",
    "Conditions",
    "Located",
    "Mark",
    "Recording",
    "Settings",
    "analyse",
    "compare",
    "figure",
    "locate",
    "plan",
    "read",
    "table",
]


def figure(result: Analysis | Located | Change) -> go.Figure:
    """The chart of a result, to look at or to go on with. Raises UsageError for what has none."""
    from leakdown.report.figures import figure as drawn

    return drawn(result)
