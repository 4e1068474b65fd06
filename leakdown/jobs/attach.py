"""The page and the pictures, written into the job folder; which tests share a chart."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from leakdown.analysis import Analysis
from leakdown.errors import LeakdownError
from leakdown.jobs.disk import read_plain, write_whole
from leakdown.jobs.evidence import analysed_again
from leakdown.jobs.page import job_page, told_again
from leakdown.jobs.record import Job
from leakdown.jobs.tests_on_page import main_chart
from leakdown.report.chart_data import Chart
from leakdown.report.picture import picture

REPORT = "report.html"
PICTURES = ("chart.png", "chart.pdf", "chart.svg")
_LARGEST_PAGE = 100_000_000


def refresh(folder: Path, job: Job) -> bool:
    """Write the page's words anew, under the job's lock. False, and nothing written, when that is not enough:
    the tests are others, or page or pictures are missing. Raises OutputError.
    """
    try:
        page = read_plain(folder / REPORT, _LARGEST_PAGE).decode("utf-8")
    except (OSError, ValueError, LeakdownError):
        return False
    again = told_again(page, job)
    if again is None or not all((folder / name).is_file() for name in PICTURES):
        return False
    write_whole(folder / REPORT, again.encode("utf-8"))
    return True


_T = TypeVar("_T")


def attach(folder: Path, job: Job) -> tuple[str, ...]:
    """Write report.html and the chart three times. Returns what could not be shown, in words.

    Under the job's lock. Raises OutputError when the page cannot be written.
    """
    troubles: list[str] = []
    analyses = _analyses(folder, job, troubles)
    page = _tried(lambda: job_page(job, analyses, tuple(troubles)), "the charts of the page", troubles)
    if page is None:
        page = job_page(job, analyses, tuple(troubles), drawn=False)
    write_whole(folder / REPORT, page.encode("utf-8"))
    chart = _tried(lambda: main_chart(job, analyses), "the chart", troubles)
    for name in PICTURES:
        content = _drawn(chart, name, troubles) if chart is not None else None
        if content is not None:
            write_whole(folder / name, content)
    return tuple(troubles)


def _analyses(folder: Path, job: Job, troubles: list[str]) -> dict[int, Analysis]:
    """By test number; what cannot be analysed again is said."""
    analyses = {}
    for test in job.counted:
        try:
            analysis = analysed_again(folder, test)
        except LeakdownError as error:
            where = f"{Path(error.where).name}: " if error.where else ""
            troubles.append(
                f"Test {test.number}, {where}{error.what}. Its result of {test.at[:10]} stands below."
            )
            continue
        analyses[test.number] = analysis
        word = analysis.verdict.word if analysis.verdict else "undecided"
        if word != test.found.verdict:
            troubles.append(
                f"Test {test.number} was {test.found.verdict} with leakdown {test.found.program} and is "
                f"{word} with this one: look at it again."
            )
    return analyses


def _drawn(chart: Chart, name: str, troubles: list[str]) -> bytes | None:
    return _tried(lambda: picture(chart, name.rpartition(".")[2]), name, troubles)


def _tried(make: Callable[[], _T], what: str, troubles: list[str]) -> _T | None:
    """What `make` returns, or None and a word about it: drawing libraries fail in ways of their own."""
    try:
        return make()
    except Exception as error:  # the record must not suffer, whatever it is
        troubles.append(f"{what} could not be drawn ({type(error).__name__}: {error})")
        return None
