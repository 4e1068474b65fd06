"""The tests of a job on its page: each by itself, and their numbers beside each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from leakdown.analysis import Analysis
from leakdown.jobs.job_verdict import ENGINE, RIG
from leakdown.jobs.record import Job, Test
from leakdown.report.chart_data import Chart
from leakdown.report.decay_chart import decay_chart, residual_chart
from leakdown.report.html import text
from leakdown.report.picture import inline_svg
from leakdown.report.tables import Rows, fact_rows, parted, readings_table, section, table
from leakdown.words.facts import Fact, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.words.sizes import VERDICT_WORDS, circuit_words

Analyses = Mapping[int, Analysis]


def charted_circuits(job: Job, analyses: Analyses) -> list[str]:
    """Circuits with an analysed test that counts: the crankcase first, the rig only when it stands alone."""
    found = dict.fromkeys(t.circuit for t in job.counted if t.number in analyses)
    return sorted((c for c in found if c != RIG), key=lambda c: c != ENGINE) or list(found)


def shown_tests(job: Job, circuit: str, analyses: Analyses) -> list[Test]:
    """The last test of each direction and stage, in the order before, after."""
    own = [t for t in job.counted if t.circuit == circuit and t.number in analyses]
    last = {(t.stage, t.direction): t for t in own}
    order = [(s, d) for s in ("before", "after") for d in ("pressure", "vacuum")]
    return [last[key] for key in order if key in last]


def circuit_chart(job: Job, circuit: str, analyses: Analyses) -> Chart | None:
    """One chart for the circuit's tests, or None when none could be analysed."""
    tests = shown_tests(job, circuit, analyses)
    if not tests:
        return None
    if len(tests) == 1:
        return decay_chart(analyses[tests[0].number])
    return decay_chart(*(analyses[t.number] for t in tests), names=_names(tests), limits_within=1.2)


def _names(tests: Sequence[Test]) -> list[str]:
    staged = len({t.stage for t in tests}) > 1
    return [f"{t.direction} {t.stage}" if staged else t.direction for t in tests]


def main_chart(job: Job, analyses: Analyses) -> Chart | None:
    """The chart to attach: the crankcase's, or else that of the circuit tested first."""
    circuits = charted_circuits(job, analyses)
    return circuit_chart(job, circuits[0], analyses) if circuits else None


_CAPTION = (
    "Readings minus the fitted decay. Scattered evenly about zero, the curve fits; a wave or a trend means "
    "something else happened."
)


def each_test(job: Job, analyses: Analyses, drawn: bool = True) -> str:
    """A section with a folded part for each test that could be analysed; "" when there is none.

    Only the tests of the charts get a picture, so that a long job's page stays small. drawn False: none does.
    """
    charted = {t.number for c in charted_circuits(job, analyses) for t in shown_tests(job, c, analyses)}
    parts = "".join(
        _part(test, analyses[test.number], drawn and test.number in charted)
        for test in job.counted
        if test.number in analyses
    )
    if not parts:
        return ""
    note = "<p>Unfold a test to read it, or to have it on paper.</p>"
    return f'<section class="each"><h2>Readings, test by test</h2>{note}{parts}</section>'


def _part(test: Test, analysis: Analysis, drawn: bool) -> str:
    return (
        f"<details><summary>{_name(test)}: {text(test.recording.file)}</summary>"
        f"{_left_over(test, analysis) if drawn else ''}{readings_table(analysis.recording)}</details>"
    )


def _left_over(test: Test, analysis: Analysis) -> str:
    if not analysis.residual_time_s.size:
        return ""
    picture = inline_svg(residual_chart(analysis), f"leftover-{test.number}")
    said = f'role="img" aria-label="Residuals of the fit of test {test.number}"'
    return f'<figure><div class="leftover" {said}>{picture}</div><figcaption>{_CAPTION}</figcaption></figure>'


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
    word = VERDICT_WORDS[test.result.verdict] if test.result.figure("limit") else "NO LIMIT"
    return f'{_name(test)}<span class="verdict-word {test.result.verdict}">{word}</span>'


def _name(test: Test) -> str:
    name = f"{circuit_words(test.circuit).capitalize()}, {test.direction}, {test.stage}"
    return f"{test.number}. {text(name)}"


def _size(analysis: Analysis) -> tuple[Fact, ...]:
    return (*size_facts(analysis), *(f for f in judgement_facts(analysis) if f.what != "Kind"))


def _conditions(tests: Sequence[Test]) -> Rows:
    rows = {
        "Limit": [_limit(t) for t in tests],
        "Blanked off": [", ".join(t.inputs.conditions.blocked) for t in tests],
        "In this test": [", ".join(t.inputs.conditions.includes) for t in tests],
        "Gauge": [t.inputs.conditions.gauge or "" for t in tests],
        "Connection": ["proven" if t.connection_proven else "not proven" for t in tests],
        "Blanks and plugs": ["checked" if t.inputs.blanks_checked else "not checked" for t in tests],
        "Note": [t.inputs.conditions.note or "" for t in tests],
    }
    return {what: [text(cell) for cell in cells] for what, cells in rows.items() if any(cells)}


def _limit(test: Test) -> str:
    limit = test.result.figure("limit")
    if not limit:
        return "none"
    page = f", manual page {test.inputs.manual_page}" if test.inputs.manual_page else ""
    sources = {"maker": f"the maker's{page}", "file": "the file's own", "given": "given"}
    return f"{limit.get('text', '')} ({sources.get(test.inputs.limit_from, 'common practice')})"


def warnings(job: Job, analyses: Analyses) -> str:
    """Each warning once, with the tests it is about."""
    about: dict[str, list[int]] = {}
    for test in job.counted:
        flags = analyses[test.number].flags if test.number in analyses else test.result.flags
        for flag in flags:
            about.setdefault(flag.text, []).append(test.number)
    listed = "".join(
        f"<li>Test{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}: {text(said)}</li>"
        for said, numbers in about.items()
    )
    head = '<section><h2>Mind before you rely on it</h2><ul class="flags">'
    return f"{head}{listed}</ul></section>" if listed else ""


def checksums(job: Job) -> str:
    """The recordings as received, so that a copy can be told from a forgery."""
    rows = "".join(
        f"<tr><td>{t.number}</td><td>{text(t.recording.file)}</td><td>{t.recording.size_bytes}</td>"
        f'<td class="sum">{text(t.recording.sha256)}</td></tr>'
        for t in job.tests
    )
    head = "<thead><tr><th>Test</th><th>File</th><th>Bytes</th><th>SHA-256</th></tr></thead>"
    table = f'<div class="scroll"><table class="files">{head}<tbody>{rows}</tbody></table></div>'
    return f"<section><h2>Recordings, as received</h2>{table}</section>" if rows else ""
