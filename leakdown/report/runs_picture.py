"""Runs of the engine in their order: how long, how they ended, fuel, and what was changed. PNG or SVG."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from leakdown.report.theme import GRID, INK, LIMIT, QUIET
from leakdown.runs.run import ENDED_WORDS, Ended, Run
from leakdown.words.wrap import clean

_MARKS: dict[Ended, str] = {"died": "x", "stopped": "^", "bogged": "v", "would-not-start": "s"}
_SETTINGS: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 11.5,
    "text.parse_math": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "runs",
}


def runs_picture(runs: Sequence[Run], changes: Sequence[str], kind: str) -> bytes:
    """The chart as a file's content ("png", "svg"). changes: what each was, the first before period 1."""
    with mpl.rc_context(_SETTINGS):
        figure = _figure(runs, changes)
        out = io.BytesIO()
        undated = {"png": {"Software": None}, "svg": {"Date": None, "Creator": None, "Format": None, "Type": None}}
        figure.savefig(out, format=kind, dpi=160, metadata=undated[kind])
    return out.getvalue()


def runs_svg(runs: Sequence[Run], changes: Sequence[str]) -> str:
    """The chart as an <svg> element to put into a page."""
    text = runs_picture(runs, changes, "svg").decode("utf-8")
    text = re.sub(r"<!--.*?-->", "", text[text.index("<svg") :], flags=re.DOTALL)
    return re.sub(r"\s*\n\s*", " ", text)


def _figure(runs: Sequence[Run], changes: Sequence[str]) -> Figure:
    figure = Figure(figsize=(8.0, 3.6), facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.09, 0.17, 0.895, 0.62))
    minutes = max(r.ran_s for r in runs) > 120.0
    top = max(max(r.ran_s for r in runs) / (60.0 if minutes else 1.0), 1e-3) * 1.18
    for k, run in enumerate(runs, start=1):
        length = run.ran_s / (60.0 if minutes else 1.0)
        axes.vlines(k, 0.0, length, color=QUIET, linewidth=5, alpha=0.5)
        axes.plot([k], [length], marker=_MARKS[run.ended], color=INK, markersize=9, markeredgewidth=2, clip_on=False)
        if run.fuel:
            axes.annotate(_cut(run.fuel, 9), (k, length), (0, 9), textcoords="offset points", ha="center", size=9)
    for period in sorted({r.period for r in runs if r.period}):
        at = next(k for k, r in enumerate(runs, start=1) if r.period >= period) - 0.5
        axes.axvline(at, color=LIMIT, linestyle="--", linewidth=1.4)
        said = clean(" ".join(changes[period - 1].split())) if period <= len(changes) else ""
        axes.text(at, top * 1.02, _cut(said, 34), color=LIMIT, size=9.5, ha="left" if at < len(runs) / 2 else "right")
    axes.set(
        xlim=(0.4, len(runs) + 0.6), ylim=(0.0, top), ylabel=f"Ran for ({'min' if minutes else 's'})", xlabel="Run"
    )
    axes.set_xticks(range(1, len(runs) + 1, 1 + len(runs) // 20))
    axes.grid(axis="y", color=GRID)
    axes.spines[["top", "right"]].set_visible(False)
    kinds = [e for e in _MARKS if any(r.ended == e for r in runs)]
    handles = [Line2D([], [], marker=_MARKS[e], color=INK, linestyle="", markeredgewidth=2) for e in kinds]
    labels = [f"{ENDED_WORDS[e]} (would have gone on)" if e == "stopped" else ENDED_WORDS[e] for e in kinds]
    labels[-1] += "; words: fuel at the start" if any(r.fuel for r in runs) else ""
    figure.legend(handles, labels, loc="upper left", bbox_to_anchor=(0.08, 1.0), ncols=4, frameon=False, fontsize=10)
    return figure


def _cut(text: str, most: int) -> str:
    plain = clean(text)
    return plain if len(plain) <= most else f"{plain[: most - 3]}..."
