"""The page around a report: one self-contained HTML file that asks no network for anything."""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from importlib import resources
from string import Template

from leakdown.report.chart_data import Chart
from leakdown.report.figures import CONFIG, figure_json
from leakdown.report.interval_data import IntervalChart
from leakdown.report.interval_figure import height_px
from leakdown.report.picture import inline_svg
from leakdown.words.wrap import clean


@dataclass(frozen=True)
class Drawn:
    """A chart with its place in a page: `name` is its id there; `caption` is HTML; `low` is a flat plot."""

    name: str
    chart: Chart | IntervalChart
    alternative: str
    caption: str
    low: bool = False


def page(title: str, body: str, drawings: tuple[Drawn, ...], more_style: str = "") -> str:
    """The whole file. body: HTML that holds the figures; everything in it must be escaped already.

    more_style: CSS of the page's own, after that of all pages.
    """
    library, script = asset("plotly-basic.min.js"), asset("page.js")
    charts = ", ".join(
        f'{{"id": {json.dumps(d.name)}, "config": {json.dumps(CONFIG)}, "figure": {figure_json(d.chart)}}}'
        for d in drawings
    )
    return Template(asset("page.html")).substitute(
        policy=_policy(library, script),
        title=escape(clean(title)),
        style=asset("page.css") + more_style,
        body=body,
        charts=f"[{charts}]",
        library=library,
        script=script,
    )


def figure(drawn: Drawn) -> str:
    """A <figure>: the live chart for a screen, the still one for paper and wherever scripts do not run."""
    size = f'class="live {"low" if drawn.low else "tall"}"'
    if isinstance(drawn.chart, IntervalChart):
        size = f'class="live" style="height:{height_px(drawn.chart)}px"'
    return (
        f'<figure><div class="chart" role="img" aria-label="{escape(clean(drawn.alternative), quote=True)}">'
        f'<div {size} id="{escape(drawn.name, quote=True)}"></div>'
        f'<div class="still" aria-hidden="true">{inline_svg(drawn.chart, drawn.name)}</div></div>'
        f"<figcaption>{drawn.caption}</figcaption></figure>"
    )


def _policy(*scripts: str) -> str:
    """Content security policy: no network at all, no script but the two that stand in the file."""
    hashes = " ".join(f"'sha256-{_digest(script)}'" for script in scripts)
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )


@lru_cache(maxsize=4)
def _digest(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


@lru_cache(maxsize=8)
def asset(name: str) -> str:
    """A file that pages are made of, as text."""
    # read_text turns line ends into \n, as a browser does before it hashes a script
    return resources.files("leakdown.report").joinpath("assets", name).read_text("utf-8")
