"""The tests of a job on its page: each by itself, and their numbers beside each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from leakdown.analysis import Analysis
from leakdown.jobs.alike import SetUp, set_ups
from leakdown.jobs.job_verdict import ENGINE, RIG
from leakdown.jobs.record import Job, Test
from leakdown.judge.limits import WHOSE
from leakdown.report.chart_data import Chart, spread_words
from leakdown.report.decay_chart import decay_chart, residual_chart
from leakdown.report.picture import inline_svg
from leakdown.report.tables import Beside, Head, Readings, Rows, beside_table, fact_rows, parted, readings_table
from leakdown.report.thumbnail import thumbnail
from leakdown.words.facts import Fact, judgement_facts, size_facts
from leakdown.words.sizes import VERDICT_WORDS, circuit_words

Analyses = Mapping[int, Analysis]


def charted_circuits(job: Job, analyses: Analyses) -> list[str]:
    """Circuits with an analysed test that counts: the crankcase first, the rig only when it stands alone."""
    found = dict.fromkeys(t.circuit for t in job.counted if t.number in analyses)
    return sorted((c for c in found if c != RIG), key=lambda c: c != ENGINE) or list(found)


def shown_tests(job: Job, circuit: str, analyses: Analyses) -> list[Test]:
    """The last test of each set-up and stage, in the order before, after; the whole circuit before its parts."""
    own = [t for t in job.counted if t.circuit == circuit and t.number in analyses]
    found = set_ups(own)
    last = {(t.stage, found[t.number]): t for t in own}
    return sorted(
        last.values(), key=lambda t: (len(found[t.number].without) > 0, t.stage != "before", t.direction != "pressure")
    )


def circuit_chart(job: Job, circuit: str, analyses: Analyses) -> Chart | None:
    """One chart for the circuit's tests, or None when none could be analysed."""
    tests = shown_tests(job, circuit, analyses)
    if not tests:
        return None
    if len(tests) == 1:
        return decay_chart(analyses[tests[0].number])
    return decay_chart(*(analyses[t.number] for t in tests), names=_names(tests), limits_within=1.2)


def _names(tests: Sequence[Test]) -> list[str]:
    staged, found = len({t.stage for t in tests}) > 1, set_ups(tests)
    labels = [found[t.number] for t in tests]
    if not staged:
        return [one.label for one in labels]
    return [f"{one.label}{',' if one.without else ''} {t.stage}" for one, t in zip(labels, tests, strict=True)]


def main_chart(job: Job, analyses: Analyses) -> Chart | None:
    """The chart to attach: the crankcase's, or else that of the circuit tested first."""
    circuits = charted_circuits(job, analyses)
    return circuit_chart(job, circuits[0], analyses) if circuits else None


@dataclass(frozen=True)
class ReadTest:
    """One test in its folded part; picture: what the fit leaves over, where it is drawn, and that in words."""

    number: int
    name: str
    file: str
    picture: Markup | None
    spread: str
    readings: Readings


def each_test(job: Job, analyses: Analyses, drawn: bool = True) -> list[ReadTest]:
    """Every test that could be analysed.

    Only the tests of the charts get a picture, so that a long job's page stays small. drawn False: none does.
    """
    found = set_ups(job.counted)
    charted = {t.number for c in charted_circuits(job, analyses) for t in shown_tests(job, c, analyses)}
    return [
        ReadTest(
            test.number,
            f"{test.number}. {_what(test, found[test.number])}",
            test.recording.file,
            *(_left_over(test, analyses[test.number]) if drawn and test.number in charted else (None, "")),
            readings_table(analyses[test.number].recording),
        )
        for test in job.counted
        if test.number in analyses
    ]


def _what(test: Test, set_up: SetUp) -> str:
    return f"{circuit_words(test.circuit).capitalize()}, {set_up.label}, {test.stage}"


def _left_over(test: Test, analysis: Analysis) -> tuple[Markup | None, str]:
    if not analysis.residual_time_s.size:
        return None, ""
    chart = residual_chart(analysis)
    return Markup(inline_svg(chart, f"leftover-{test.number}")), spread_words(chart)


def thumbnail_of(test: Test) -> Markup:
    """A test as it was judged when it was added, small; empty where the record has no curve of it."""
    curve, found = test.result.curve, test.result
    if curve is None:
        return Markup()
    word = VERDICT_WORDS[found.verdict] if found.figure("limit") else "NO LIMIT"
    name = f"{test.direction}, {test.stage}"
    return Markup(thumbnail(curve.time_s, curve.pressure_kpa, test.direction, found.verdict, word, name))


def side_by_side(job: Job, analyses: Analyses) -> list[Beside]:
    """Tables of up to four tests of one circuit each."""
    circuits = sorted(dict.fromkeys(t.circuit for t in job.counted), key=lambda c: (c == RIG, c != ENGINE))
    own = [[t for t in job.counted if t.circuit == c] for c in circuits]
    labels = set_ups(job.counted)
    return [_beside(part, analyses, labels) for tests in own for part in parted(tests)]


def _beside(tests: Sequence[Test], analyses: Analyses, labels: Mapping[int, SetUp]) -> Beside:
    found = [analyses.get(test.number) for test in tests]
    return beside_table([_head(t, labels[t.number]) for t in tests], found, fact_rows(found, _size), _conditions(tests))


def _head(test: Test, set_up: SetUp) -> Head:
    word = VERDICT_WORDS[test.result.verdict] if test.result.figure("limit") else "NO LIMIT"
    short = f"{test.number}. {set_up.label}, {test.stage}"  # a table is of one circuit
    return Head(f"{test.number}. {_what(test, set_up)}", "", test.result.verdict, word, short)


def _size(analysis: Analysis) -> tuple[Fact, ...]:
    return (*size_facts(analysis), *(f for f in judgement_facts(analysis) if f.what != "Kind"))


def _conditions(tests: Sequence[Test]) -> Rows:
    rows = {
        "Limit": list(map(_limit, tests)),
        "Blanked off": [", ".join(t.inputs.conditions.blocked) for t in tests],
        "In this test": [", ".join(t.inputs.conditions.includes) for t in tests],
        "Gauge": [t.inputs.conditions.gauge or "" for t in tests],
        "Connection": ["proven" if t.connection_proven else "not proven" for t in tests],
        "Blanks and plugs": ["checked" if t.inputs.blanks_checked else "not checked" for t in tests],
        "Note": [t.inputs.conditions.note or "" for t in tests],
    }
    return {what: [(Fact(what, cell),) for cell in cells] for what, cells in rows.items() if any(cells)}


def _limit(test: Test) -> str:
    limit = test.result.figure("limit")
    if not limit:
        return "none"
    page = f", manual page {test.inputs.manual_page}" if test.inputs.manual_page else ""
    whose = WHOSE.get(limit.get("source", "practice"), WHOSE["practice"])
    if test.inputs.limit_from == "maker":
        whose = f"the maker's{page}"
    return f"{limit.get('text', '')} ({whose})"


def warnings(job: Job, analyses: Analyses) -> list[str]:
    """Each warning once, with the tests it is about."""
    about: dict[str, list[int]] = {}
    for test in job.counted:
        flags = analyses[test.number].flags if test.number in analyses else test.result.flags
        for flag in flags:
            about.setdefault(flag.text, []).append(test.number)
    return [
        f"Test{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}: {said}"
        for said, numbers in about.items()
    ]
