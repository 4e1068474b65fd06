"""Tables of a page as data: several tests beside each other, a column a test, and the readings themselves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Analysis
from leakdown.judge.limits import WHOSE
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Recording
from leakdown.report.chart_data import spread
from leakdown.words.facts import Fact, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.words.sizes import circuit_words, verdict_role, verdict_word
from leakdown.words.wrap import moment

Item = TypeVar("Item")
Rows = dict[str, list[tuple[Fact, ...]]]
"""What -> the facts of each test."""

_ACROSS = 4  # tests in one table: as many as A4 paper takes


@dataclass(frozen=True)
class Head:
    """The head of a column: the test, what it was, and its verdict. short: its name beside its values on a phone."""

    name: str
    note: str
    role: str
    word: str
    short: str = ""


@dataclass(frozen=True)
class Beside:
    """One table: a column under each head, a body for each titled group of rows."""

    heads: tuple[Head, ...]
    groups: tuple[tuple[str, Rows], ...]


def parted(items: Sequence[Item]) -> list[Sequence[Item]]:
    """As few parts of at most one table's width as will do, filled alike."""
    size = math.ceil(len(items) / max(math.ceil(len(items) / _ACROSS), 1))
    return [items[i : i + size] for i in range(0, len(items), size)]


def fact_rows(analyses: Sequence[Analysis | None], facts_of: Callable[[Analysis], tuple[Fact, ...]]) -> Rows:
    """Rows of facts; empty cells where a test has no such fact, or no analysis."""
    rows: Rows = {}
    for column, analysis in enumerate(analyses):
        for fact in facts_of(analysis) if analysis else ():
            cells = rows.setdefault(fact.what, [()] * len(analyses))
            cells[column] = (*cells[column], fact)
    return rows


def file_names(analyses: Sequence[Analysis]) -> list[str]:
    """The files' names, with their folders only where a name stands for two."""
    whole = [a.recording.source or f"test {k}" for k, a in enumerate(analyses, start=1)]
    short = [PurePath(name).name or name for name in whole]
    return [name if short.count(name) == 1 else full for name, full in zip(short, whole, strict=True)]


def beside(analyses: Sequence[Analysis], names: Sequence[str]) -> list[Beside]:
    """Tables of up to four tests each, one column a test; names: the columns' heads."""
    return [_beside(part) for part in parted(list(zip(names, analyses, strict=True)))]


def _beside(pairs: Sequence[tuple[str, Analysis]]) -> Beside:
    analyses = [a for _, a in pairs]
    sizes, conditions = fact_rows(analyses, _sizes), fact_rows(analyses, _conditions)
    return beside_table([_head(name, a) for name, a in pairs], analyses, sizes, conditions)


def beside_table(heads: Iterable[Head], analyses: Sequence[Analysis | None], sizes: Rows, conditions: Rows) -> Beside:
    """The table of these tests; None: one that could not be analysed again."""
    reading, used = fact_rows(analyses, hold_facts), fact_rows(analyses, used_facts)
    titles = ("Size", "Reading", "Given and assumed", "Conditions")
    return Beside(tuple(heads), tuple(zip(titles, (sizes, reading, used, conditions), strict=True)))


def _head(name: str, analysis: Analysis) -> Head:
    what = f"{circuit_words(analysis.circuit).capitalize()}, {analysis.direction}"
    return Head(name, what, verdict_role(analysis), verdict_word(analysis))


def _sizes(analysis: Analysis) -> tuple[Fact, ...]:
    return (*size_facts(analysis), *judgement_facts(analysis))


def _conditions(analysis: Analysis) -> tuple[Fact, ...]:
    c, verdict = analysis.recording.conditions, analysis.verdict
    limit = verdict.limit if verdict else None
    rows = (
        Fact("Limit", limit.text if limit else "none", "", WHOSE[limit.source] if limit else ""),
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


@dataclass(frozen=True)
class Readings:
    """Rows of the readings shown, out of `count`; short enough to be read as they are, or to be folded."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    count: int

    @property
    def short(self) -> bool:
        return self.count <= OPEN_UP_TO


def readings_table(recording: Recording) -> Readings:
    """At most `MOST_ROWS` readings, evenly spread, and every one at which something was done."""
    n = recording.time_s.size
    marked = _marked_rows(recording)
    rows = np.union1d(spread(n, MOST_ROWS), np.array(sorted(marked), dtype=int)) if n else np.zeros(0, int)
    unit = recording.conditions.show_unit
    columns = {
        "Time (s)": _decimals(recording.time_s[rows], 2),
        f"Gauge pressure ({unit})": _decimals(recording.pressure_pa[rows] / PRESSURE_PA[unit], 4),
    }
    if recording.temperature_k is not None:
        warm = recording.temperature_k[rows] - 273.15
        columns["Temperature (degC)"] = [f"{t:.1f}" if np.isfinite(t) else "" for t in warm]
    if marked:
        columns["Done"] = ["; ".join(marked.get(int(row), [])) for row in rows]
    return Readings(tuple(columns), tuple(zip(*columns.values(), strict=True)), n)


def _decimals(values: NDArray[np.float64], most: int) -> list[str]:
    """With the decimal places that show every value as it was read; at most `most`."""
    spare = (p for p in range(most) if np.abs(values - values.round(p)).max(initial=0.0) < 0.02 * 10.0**-p)
    places = next(spare, most)
    return [f"{value:.{places}f}" for value in values]


def _marked_rows(recording: Recording) -> dict[int, list[str]]:
    """Row of the first reading at or after each mark -> what was done."""
    rows: dict[int, list[str]] = {}
    for mark in recording.marks:
        if recording.time_s.size:
            at = min(int(np.searchsorted(recording.time_s, mark.time_s - 1e-9)), recording.time_s.size - 1)
            rows.setdefault(at, []).append(mark.text)
    return rows
