"""Several tests beside each other in numbers: size, readings, what was given and what assumed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import PurePath

from leakdown.estimate.result import Analysis
from leakdown.report.facts import Fact, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.report.html import text
from leakdown.report.moment import moment
from leakdown.report.words import circuit_words, verdict_word

_ACROSS = 4  # tests in one table: as many as A4 paper takes
_MARKED = ("assumed", "inferred", "measured")


def file_names(analyses: Sequence[Analysis]) -> list[str]:
    """The files' names, with their folders only where a name stands for two."""
    whole = [a.recording.source or f"test {k}" for k, a in enumerate(analyses, start=1)]
    short = [PurePath(name).name or name for name in whole]
    return [name if short.count(name) == 1 else full for name, full in zip(short, whole, strict=True)]


def beside(analyses: Sequence[Analysis], names: Sequence[str]) -> str:
    """A section with tables of up to four tests each, one column a test; names: the columns' heads."""
    pairs = list(zip(names, analyses, strict=True))
    count = math.ceil(len(pairs) / _ACROSS)
    size = math.ceil(len(pairs) / max(count, 1))
    tables = "".join(_table(pairs[i : i + size]) for i in range(0, len(pairs), size))
    note = "<p>Ranges in brackets hold the true value 95 times in 100. What was not given is marked.</p>"
    return f"<section><h2>The tests in numbers</h2>{note}{tables}</section>"


def _table(pairs: Sequence[tuple[str, Analysis]]) -> str:
    analyses = [a for _, a in pairs]
    heads = "".join(f'<th scope="col">{_head(name, a)}</th>' for name, a in pairs)
    groups = (
        ("Size", _rows(analyses, _sizes)),
        ("Reading", _rows(analyses, hold_facts)),
        ("Given and assumed", _rows(analyses, used_facts)),
        ("Conditions", _rows(analyses, _conditions)),
    )
    body = "".join(_group(title, rows, len(pairs)) for title, rows in groups if rows)
    head = f"<thead><tr><td></td>{heads}</tr></thead>"
    return f'<div class="scroll"><table class="beside n{len(pairs)}">{head}{body}</table></div>'


def _head(name: str, analysis: Analysis) -> str:
    what = f"{circuit_words(analysis.circuit).capitalize()}, {analysis.direction}"
    return f'{text(name)}<span class="note">{text(what)}</span>{badge(analysis)}'


def badge(analysis: Analysis) -> str:
    """The verdict's word on its colour."""
    role = analysis.verdict.word if analysis.verdict else "undecided"
    return f'<span class="verdict-word {role}">{verdict_word(analysis)}</span>'


def _group(title: str, rows: dict[str, list[str]], columns: int) -> str:
    head = f'<tr><th class="group" scope="rowgroup" colspan="{columns + 1}">{title}</th></tr>'
    lines = (
        f'<tr><th scope="row">{text(what)}</th>{"".join(f"<td>{cell}</td>" for cell in cells)}</tr>'
        for what, cells in rows.items()
    )
    return f"<tbody>{head}{''.join(lines)}</tbody>"


def _rows(
    analyses: Sequence[Analysis], facts_of: Callable[[Analysis], tuple[Fact, ...]]
) -> dict[str, list[str]]:
    """What -> a cell a test, empty where a test has no such fact."""
    rows: dict[str, list[str]] = {}
    for column, analysis in enumerate(analyses):
        for fact in facts_of(analysis):
            cells = rows.setdefault(fact.what, [""] * len(analyses))
            cells[column] = "<br>".join(part for part in (cells[column], _cell(fact)) if part)
    return rows


def _cell(fact: Fact) -> str:
    span = f' <span class="span">({text(fact.span)})</span>' if fact.span else ""
    if fact.note in _MARKED:
        return f'{text(fact.value)}{span} <span class="source {fact.note}">{fact.note}</span>'
    note = f' <span class="note">{text(fact.note)}</span>' if fact.note and fact.note != "given" else ""
    return f"{text(fact.value)}{span}{note}"


def _sizes(analysis: Analysis) -> tuple[Fact, ...]:
    return (*size_facts(analysis), *judgement_facts(analysis))


def _conditions(analysis: Analysis) -> tuple[Fact, ...]:
    c, verdict = analysis.recording.conditions, analysis.verdict
    practice = verdict is not None and verdict.limit.source == "practice"
    rows = (
        Fact("Limit", verdict.limit.text if verdict else "none", "", "common practice" if practice else ""),
        Fact("In this test", ", ".join(c.includes)),
        Fact("Blanked off", ", ".join(c.blocked)),
        Fact("Gauge", c.gauge or ""),
        Fact("Started", moment(c.started or "")),
        Fact("Note", c.note or ""),
        Fact("How it was read", " ".join(analysis.recording.remarks)),
    )
    return tuple(fact for fact in rows if fact.value)
