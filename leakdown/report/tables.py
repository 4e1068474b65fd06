"""Tables of a page: several tests beside each other, a column a test, and the readings themselves."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import PurePath
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Analysis
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Recording
from leakdown.report.chart_data import spread
from leakdown.report.html import plain_table, text
from leakdown.words.facts import Fact, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.words.sizes import circuit_words, verdict_word
from leakdown.words.wrap import moment

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


def file_names(analyses: Sequence[Analysis]) -> list[str]:
    """The files' names, with their folders only where a name stands for two."""
    whole = [a.recording.source or f"test {k}" for k, a in enumerate(analyses, start=1)]
    short = [PurePath(name).name or name for name in whole]
    return [name if short.count(name) == 1 else full for name, full in zip(short, whole, strict=True)]


def beside(analyses: Sequence[Analysis], names: Sequence[str]) -> str:
    """A section with tables of up to four tests each, one column a test; names: the columns' heads."""
    return section([_table(part) for part in parted(list(zip(names, analyses, strict=True)))])


def _table(pairs: Sequence[tuple[str, Analysis]]) -> str:
    analyses = [a for _, a in pairs]
    groups = (
        ("Size", fact_rows(analyses, _sizes)),
        ("Reading", fact_rows(analyses, hold_facts)),
        ("Given and assumed", fact_rows(analyses, used_facts)),
        ("Conditions", fact_rows(analyses, _conditions)),
    )
    return table([_head(name, a) for name, a in pairs], groups)


def _head(name: str, analysis: Analysis) -> str:
    what = f"{circuit_words(analysis.circuit).capitalize()}, {analysis.direction}"
    return f'{text(name)}<span class="note">{text(what)}</span>{badge(analysis)}'


def badge(analysis: Analysis) -> str:
    """The verdict's word on its colour."""
    role = analysis.verdict.word if analysis.verdict else "undecided"
    return f'<span class="verdict-word {role}">{verdict_word(analysis)}</span>'


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


MOST_ROWS = 120
OPEN_UP_TO = 24


def readings_table(recording: Recording) -> str:
    """A <details> element, open when the table is short enough to be read."""
    n = recording.time_s.size
    marked = _marked_rows(recording)
    rows = np.union1d(spread(n, MOST_ROWS), np.array(sorted(marked), dtype=int)) if n else np.zeros(0, int)
    unit = recording.conditions.unit
    head = ["Time (s)", f"Gauge pressure ({unit})"]
    warm = recording.temperature_k
    head += ["Temperature (degC)"] if warm is not None else []
    head += ["Done"] if marked else []
    time, pressure = recording.time_s[rows], recording.pressure_pa[rows] / PRESSURE_PA[unit]
    t_places, p_places = _places(time, 2), _places(pressure, 4)
    body = []
    for i, t, p in zip(rows, time, pressure, strict=True):
        cells = [f"{t:.{t_places}f}", f"{p:.{p_places}f}"]
        if warm is not None:
            cells.append(f"{warm[i] - 273.15:.1f}" if np.isfinite(warm[i]) else "")
        if marked:
            cells.append("; ".join(marked.get(int(i), [])))
        body.append(cells)
    thinned = f", of which {len(rows)} are shown" if len(rows) < n else ""
    is_open = " open" if n <= OPEN_UP_TO else ""
    table = plain_table(head, body, css="readings")
    return (
        f"<details{is_open}><summary>Readings: {n}{thinned}</summary>"
        f'<div class="scroll">{table}</div></details>'
    )


def _places(values: NDArray[np.float64], most: int) -> int:
    """Decimal places that show every value as it was read; at most `most`."""
    for places in range(most):
        if np.abs(values - values.round(places)).max(initial=0.0) < 0.02 * 10.0**-places:
            return places
    return most


def _marked_rows(recording: Recording) -> dict[int, list[str]]:
    """Row of the first reading at or after each mark -> what was done."""
    rows: dict[int, list[str]] = {}
    for mark in recording.marks:
        if recording.time_s.size:
            at = min(int(np.searchsorted(recording.time_s, mark.time_s - 1e-9)), recording.time_s.size - 1)
            rows.setdefault(at, []).append(mark.text)
    return rows
