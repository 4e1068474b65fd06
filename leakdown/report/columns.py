"""Tests beside each other in tables, a column a test: what the pages of several tests and of a job share."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TypeVar

from leakdown.analysis import Analysis
from leakdown.report.html import text
from leakdown.words.facts import Fact

Item = TypeVar("Item")
Rows = dict[str, list[str]]
"""What -> a cell (HTML) a test."""

_ACROSS = 4  # tests in one table: as many as A4 paper takes
_MARKED = ("assumed", "inferred", "measured")


def parted(items: Sequence[Item]) -> list[Sequence[Item]]:
    """As few parts of at most one table's width as will do, filled alike."""
    size = math.ceil(len(items) / max(math.ceil(len(items) / _ACROSS), 1))
    return [items[i : i + size] for i in range(0, len(items), size)]


def section(tables: Sequence[str]) -> str:
    """The tables under their heading."""
    note = "<p>Ranges in brackets hold the true value 95 times in 100. What was not given is marked.</p>"
    return f"<section><h2>The tests in numbers</h2>{note}{''.join(tables)}</section>"


def table(heads: Sequence[str], groups: Sequence[tuple[str, Rows]]) -> str:
    """One table: a column under each head (HTML), a body for each titled group that has rows."""
    columns = "".join(f'<th scope="col">{head}</th>' for head in heads)
    body = "".join(_group(title, rows, len(heads)) for title, rows in groups if rows)
    head = f"<thead><tr><td></td>{columns}</tr></thead>"
    return f'<div class="scroll"><table class="beside n{len(heads)}">{head}{body}</table></div>'


def fact_rows(analyses: Sequence[Analysis | None], facts_of: Callable[[Analysis], tuple[Fact, ...]]) -> Rows:
    """Rows of facts; empty cells where a test has no such fact, or no analysis."""
    rows: Rows = {}
    for column, analysis in enumerate(analyses):
        for fact in facts_of(analysis) if analysis else ():
            cells = rows.setdefault(fact.what, [""] * len(analyses))
            cells[column] = "<br>".join(part for part in (cells[column], _cell(fact)) if part)
    return rows


def _group(title: str, rows: Rows, columns: int) -> str:
    head = f'<tr><th class="group" scope="rowgroup" colspan="{columns + 1}">{title}</th></tr>'
    lines = (
        f'<tr><th scope="row">{text(what)}</th>{"".join(f"<td>{cell}</td>" for cell in cells)}</tr>'
        for what, cells in rows.items()
    )
    return f"<tbody>{head}{''.join(lines)}</tbody>"


def _cell(fact: Fact) -> str:
    span = f' <span class="span">({text(fact.span)})</span>' if fact.span else ""
    if fact.note in _MARKED:
        return f'{text(fact.value)}{span} <span class="source {fact.note}">{fact.note}</span>'
    note = f' <span class="note">{text(fact.note)}</span>' if fact.note and fact.note != "given" else ""
    return f"{text(fact.value)}{span}{note}"
