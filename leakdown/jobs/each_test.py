"""Each test of a job by itself: its readings, and what the fitted curve leaves over; folded away."""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.jobs.charts import Analyses, charted_circuits, shown_tests
from leakdown.jobs.record import Job, Test
from leakdown.report.chart import residual_chart
from leakdown.report.html import text
from leakdown.report.picture import inline_svg
from leakdown.report.readings_table import readings_table
from leakdown.words.sizes import circuit_words

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
    name = f"{test.number}. {circuit_words(test.circuit).capitalize()}, {test.direction}, {test.stage}"
    return (
        f"<details><summary>{text(name)}: {text(test.kept.file)}</summary>"
        f"{_left_over(test, analysis) if drawn else ''}{readings_table(analysis.recording)}</details>"
    )


def _left_over(test: Test, analysis: Analysis) -> str:
    if not analysis.residual_time_s.size:
        return ""
    picture = inline_svg(residual_chart(analysis), f"leftover-{test.number}")
    said = f'role="img" aria-label="Residuals of the fit of test {test.number}"'
    return f'<figure><div class="leftover" {said}>{picture}</div><figcaption>{_CAPTION}</figcaption></figure>'
