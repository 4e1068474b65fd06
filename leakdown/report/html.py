"""A self-contained HTML page and its small pieces. Text that comes in is data and is escaped here, once."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Sequence
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
from leakdown.words.facts import Fact
from leakdown.words.wrap import clean

SYMBOLS = {
    "pass": '<path d="M5 17l8 8L27 8" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "fail": '<path d="M7 7l18 18M25 7L7 25" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "undecided": '<path d="M5 16h6M13 16h6M21 16h6" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "none": '<path d="M5 17l8 8L27 8" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "place": '<circle cx="16" cy="16" r="10.5" fill="none" stroke="#fff" stroke-width="4"/>'
    '<circle cx="16" cy="16" r="3.5" fill="#fff"/>',
    "smaller": '<path d="M16 5v20M7 17l9 9 9-9" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "larger": '<path d="M16 27V7M7 15l9-9 9 9" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "same": '<path d="M5 11h22M5 21h22" fill="none" stroke="#fff" stroke-width="4.5"/>',
}
_SOURCES = ("given", "measured", "inferred", "assumed")


def text(value: str) -> str:
    """User's text as HTML text, without control characters."""
    return escape(clean(value), quote=True)


def symbol(role: str) -> str:
    """The shape beside a verdict's or an answer's word, which tells them apart without colour."""
    return f'<svg viewBox="0 0 32 32" aria-hidden="true">{SYMBOLS[role]}</svg>'


def capital(sentence: str) -> str:
    """The sentence with a capital first letter, the rest as it is."""
    return sentence[:1].upper() + sentence[1:]


def items(sentences: Iterable[str], kind: str = "ul", css: str = "") -> str:
    """A list; "" when there is nothing to list."""
    body = "".join(f"<li>{text(s)}</li>" for s in sentences)
    attribute = f' class="{css}"' if css else ""
    return f"<{kind}{attribute}>{body}</{kind}>" if body else ""


def number_cards(facts: Sequence[Fact]) -> str:
    """Facts as a row of large figures."""
    cells = []
    for fact in facts:
        span = fact.span if not fact.span or fact.span.startswith("at most") else f"95 % sure: {fact.span}"
        lines = [f'<span class="value">{text(fact.value)}</span>']
        lines += [f'<span class="span">{text(span)}</span>'] if span else []
        lines += [f'<span class="note">{text(fact.note)}</span>'] if fact.note else []
        cells.append(f"<div><dt>{text(fact.what)}</dt><dd>{''.join(lines)}</dd></div>")
    return f'<dl class="numbers">{"".join(cells)}</dl>' if cells else ""


def fact_list(facts: Sequence[Fact]) -> str:
    """Facts as named sentences."""
    rows = []
    for fact in facts:
        qualified = ", ".join(part for part in (fact.span, fact.note) if part)
        value = f"{fact.value} ({qualified})" if qualified else fact.value
        rows.append(f"<dt>{text(fact.what)}</dt><dd>{text(value)}</dd>")
    return f'<dl class="judged">{"".join(rows)}</dl>' if rows else ""


def fact_table(facts: Sequence[Fact], head: tuple[str, str, str]) -> str:
    """Facts as a table of three columns; the last says where a value came from or what it means."""
    rows = []
    for fact in facts:
        value = f"{fact.value}, {fact.span}" if fact.span else fact.value
        note = text(fact.note)
        if fact.note in _SOURCES:
            note = f'<span class="source {fact.note}">{note}</span>'
        rows.append(f'<tr><th scope="row">{text(fact.what)}</th><td>{text(value)}</td><td>{note}</td></tr>')
    heads = "".join(f'<th scope="col">{text(h)}</th>' for h in head)
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table>" if rows else ""


def plain_table(head: Sequence[str], rows: Iterable[Sequence[str]], caption: str = "", css: str = "") -> str:
    """Rows of text."""
    heads = "".join(f'<th scope="col">{text(h)}</th>' for h in head)
    body = "".join("<tr>" + "".join(f"<td>{text(c)}</td>" for c in row) + "</tr>" for row in rows)
    title = f"<caption>{text(caption)}</caption>" if caption else ""
    attribute = f' class="{css}"' if css else ""
    return f"<table{attribute}>{title}<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"


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
