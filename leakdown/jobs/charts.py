"""Which tests share a chart: one circuit, both directions mirrored, before and after a repair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from leakdown.analysis import Analysis
from leakdown.jobs.record import Job, Test
from leakdown.jobs.standing import ENGINE, RIG
from leakdown.report.chart import decay_chart
from leakdown.report.chart_data import Chart

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
