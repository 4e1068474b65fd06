"""The numbers of a job's tests beside each other: size, readings, what was given and what assumed."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown.analysis import Analysis
from leakdown.jobs.charts import Analyses
from leakdown.jobs.record import Job, Test
from leakdown.jobs.standing import ENGINE, RIG
from leakdown.report.columns import Rows, fact_rows, parted, section, table
from leakdown.report.html import text
from leakdown.words.facts import Fact, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.words.sizes import VERDICT_WORDS, circuit_words


def side_by_side(job: Job, analyses: Analyses) -> str:
    """Tables of up to four tests each, or "" without a test."""
    circuits = sorted(dict.fromkeys(t.circuit for t in job.counted), key=lambda c: (c == RIG, c != ENGINE))
    own = [[t for t in job.counted if t.circuit == c] for c in circuits]
    tables = [_table(part, analyses) for tests in own for part in parted(tests)]
    return section(tables) if tables else ""


def _table(tests: Sequence[Test], analyses: Analyses) -> str:
    found = [analyses.get(test.number) for test in tests]  # None: could not be analysed again
    groups = (
        ("Size", fact_rows(found, _size)),
        ("Reading", fact_rows(found, hold_facts)),
        ("Given and assumed", fact_rows(found, used_facts)),
        ("Conditions", _conditions(tests)),
    )
    return table([_head(test) for test in tests], groups)


def _head(test: Test) -> str:
    word = VERDICT_WORDS[test.found.verdict] if test.found.figures.get("limit") else "NO LIMIT"
    name = f"{circuit_words(test.circuit).capitalize()}, {test.direction}, {test.stage}"
    return f'{test.number}. {text(name)}<span class="verdict-word {test.found.verdict}">{word}</span>'


def _size(analysis: Analysis) -> tuple[Fact, ...]:
    return (*size_facts(analysis), *(f for f in judgement_facts(analysis) if f.what != "Kind"))


def _conditions(tests: Sequence[Test]) -> Rows:
    rows = {
        "Limit": [_limit(t) for t in tests],
        "Blanked off": [", ".join(t.said.conditions.blocked) for t in tests],
        "In this test": [", ".join(t.said.conditions.includes) for t in tests],
        "Gauge": [t.said.conditions.gauge or "" for t in tests],
        "Connection": ["proven" if t.connection_proven else "not proven" for t in tests],
        "Blanks and plugs": ["checked" if t.said.blanks_checked else "not checked" for t in tests],
        "Note": [t.said.conditions.note or "" for t in tests],
    }
    return {what: [text(cell) for cell in cells] for what, cells in rows.items() if any(cells)}


def _limit(test: Test) -> str:
    limit = test.found.figures.get("limit")
    if not isinstance(limit, dict):
        return "none"
    page = f", manual page {test.said.manual_page}" if test.said.manual_page else ""
    source = {"maker": f"the maker's{page}", "given": "given"}.get(test.said.limit_from, "common practice")
    return f"{limit.get('text', '')} ({source})"


def warnings(job: Job, analyses: Analyses) -> str:
    """Each warning once, with the tests it is about."""
    about: dict[str, list[int]] = {}
    for test in job.counted:
        flags = [f.text for f in analyses[test.number].flags] if test.number in analyses else []
        for said in flags or [said for _, said in test.found.flags if test.number not in analyses]:
            about.setdefault(said, []).append(test.number)
    listed = "".join(
        f"<li>Test{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}: {text(said)}</li>"
        for said, numbers in about.items()
    )
    return (
        f'<section><h2>Mind before you rely on it</h2><ul class="flags">{listed}</ul></section>'
        if listed
        else ""
    )


def checksums(job: Job) -> str:
    """The recordings as received, so that a copy can be told from a forgery."""
    rows = "".join(
        f"<tr><td>{t.number}</td><td>{text(t.kept.file)}</td><td>{t.kept.size}</td>"
        f'<td class="sum">{text(t.kept.sha256)}</td></tr>'
        for t in job.tests
    )
    head = "<thead><tr><th>Test</th><th>File</th><th>Bytes</th><th>SHA-256</th></tr></thead>"
    table = f'<div class="scroll"><table class="files">{head}<tbody>{rows}</tbody></table></div>'
    return f"<section><h2>Recordings, as received</h2>{table}</section>" if rows else ""
