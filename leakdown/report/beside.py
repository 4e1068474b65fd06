"""Several tests beside each other in numbers: size, readings, what was given and what assumed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

from leakdown.analysis import Analysis
from leakdown.report.columns import fact_rows, parted, section, table
from leakdown.report.html import text
from leakdown.words.facts import Fact, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.words.sizes import circuit_words, verdict_word
from leakdown.words.wrap import moment


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
