"""The page for the customer and the next mechanic, and the chart: drawn, and kept in the job's folder.

Plain words first, then what stands behind them. A note needs no new drawing: the words have marks about them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import TypeVar

from markupsafe import Markup

from leakdown import __version__
from leakdown.analysis import Analysis
from leakdown.disk import read_plain, write_whole
from leakdown.errors import LeakdownError
from leakdown.jobs.customer_page import SUMMARY, customer_page, foot_of
from leakdown.jobs.customer_paragraph import headline, paragraphs, rig_remark, texts_of_people, word
from leakdown.jobs.job_verdict import job_verdict, mechanics_verdict
from leakdown.jobs.photos import thumbnails
from leakdown.jobs.record import FIELDS, Job
from leakdown.jobs.results import analysed_again
from leakdown.jobs.runs_on_page import runs_block, write_runs_picture
from leakdown.jobs.story import Step, story_of
from leakdown.jobs.tests_on_page import (
    Analyses,
    charted_circuits,
    circuit_chart,
    each_test,
    main_chart,
    shown_tests,
    side_by_side,
    thumbnail_of,
    warnings,
)
from leakdown.report.analysis_page import residual_caption
from leakdown.report.located_page import decay_drawn
from leakdown.report.page import FOOT_MARKS, Drawn, is_library_script, library_script, page, render, running_foot
from leakdown.report.picture import picture
from leakdown.words.cautions import work_cautions
from leakdown.words.signs import own_texts
from leakdown.words.sizes import VERDICT_WORDS, circuit_words

REPORT = "report.html"
LIBRARY = "charts.js"
"""The plotting library: once beside the pages of a job, not in each of them."""
PICTURES = ("chart.png", "chart.pdf", "chart.svg")
_LARGEST_PAGE = 100_000_000
Photos = Mapping[int, str]
NO_PHOTOS: Photos = {}
_T = TypeVar("_T")


def words_of_page(job: Job, small: Photos) -> tuple[str, str]:
    """What stands before the charts, and the story that stands behind them, each between its marks."""
    own = texts_of_people(job)
    drawn = {t.number: thumbnail_of(t) for t in job.counted}
    story = runs_block(job) + render("job_story.html", own, steps=_steps(job), photos=small, drawn=drawn)
    parts = (render("job_told.html", own, **_told(job)), story)
    first, second = (f"{start}{part}{end}" for part, (start, end) in zip(parts, _MARKS, strict=True))
    return first, second


_MARKS = tuple((f"<!-- words {k} -->", f"<!-- end of words {k} -->") for k in (0, 1))


def with_new_words(page: str, job: Job, small: Photos = NO_PHOTOS) -> str | None:
    """The page with new words, or None when it was drawn from other tests or has lost its marks."""
    if f"<!-- {tests_mark(job)} -->" not in page:
        return None
    foot = running_foot(foot_of(job), texts_of_people(job))
    for words, (start, end) in zip((foot, *words_of_page(job, small)), (FOOT_MARKS, *_MARKS), strict=True):
        before, found, rest = page.partition(start)
        _, closed, after = rest.partition(end)
        if not (found and closed):
            return None
        page = before + words + after
    return page


def tests_mark(job: Job) -> str:
    """Tells the tests that the charts of a page were drawn from: another program or test, another mark."""
    drawn = [(t.number, t.stage, t.circuit, t.direction, t.recording.sha256, repr(t.inputs)) for t in job.counted]
    return f"tests {sha256(repr((__version__, drawn)).encode('utf-8', 'replace')).hexdigest()}"


def _head(job: Job) -> list[tuple[str, str]]:
    """What is known of the engine, the complaint aside."""
    rows = []
    for name in FIELDS:
        value = getattr(job.current, name)
        value = "; ".join(value) if isinstance(value, tuple) else value
        if value and value != "unknown" and name != "complaint":
            label = "Changed before" if name == "parts_changed" else name.replace("_", " ").capitalize()
            rows.append((label, value))
    return rows


def _told(job: Job) -> dict[str, object]:
    said, remark = mechanics_verdict(job), rig_remark(job)
    return {
        "job": job,
        "head": _head(job),
        "role": job_verdict(job).word,
        "word": word(job),
        "headline": headline(job),
        "paragraphs": paragraphs(job),
        "own_verdict": (VERDICT_WORDS[said.verdict], said.text) if said else None,
        "remarks": [remark] if remark else [],
    }


def _steps(job: Job) -> list[tuple[Step, str, str]]:
    """Each step with its looks and the word of its verdict."""
    steps = []
    for step in story_of(job):
        kind = "own" if step.kind == "verdict" else step.kind  # the large verdict has that class to itself
        css = kind + (f" {step.verdict}" if step.verdict else "") + (" struck" if step.struck else "")
        tested = step.kind == "test" and step.verdict
        steps.append((step, css, VERDICT_WORDS[step.verdict] if tested else ""))
    return steps


def job_page(
    job: Job, analyses: Analyses, troubles: tuple[str, ...] = (), drawn: bool = True, small: Photos = NO_PHOTOS
) -> str:
    """One self-contained HTML file. analyses: by the test's number; troubles: what could not be shown.
    small: data URIs of photographs by their entry's number.

    drawn False leaves the charts out.
    """
    first, story = (Markup(part) for part in words_of_page(job, small))
    return page(
        "job.html",
        (*texts_of_people(job), *own_texts(*(a.recording for a in analyses.values()))),
        _drawings(job, analyses) if drawn else (),
        beside=LIBRARY,
        foot=foot_of(job),
        reference=job.reference,
        first=first,
        story=story,
        troubles=troubles,
        tables=side_by_side(job, analyses),
        warnings=warnings(job, analyses),
        tests=each_test(job, analyses, drawn),
        residual_caption=residual_caption(*analyses.values()),
        kept=[(test.number, test.recording) for test in job.tests],
        cautions=_cautions(job, analyses),
        mark=tests_mark(job),
    )


def _drawings(job: Job, analyses: Analyses) -> tuple[Drawn, ...]:
    drawings = []
    for i, circuit in enumerate(charted_circuits(job, analyses)):
        chart = circuit_chart(job, circuit, analyses)
        if chart is not None:
            tests = shown_tests(job, circuit, analyses)
            named = [(f"{t.direction} {t.stage}", analyses[t.number]) for t in tests]
            drawings.append(decay_drawn(f"decay-{i}", chart, named))
    return tuple(drawings)


def _cautions(job: Job, analyses: Analyses) -> list[str]:
    """Those of every circuit, each once; with several circuits the first, about pressure, says which."""
    circuits = charted_circuits(job, analyses)
    lines: dict[str, None] = {}
    for circuit in circuits:
        tests = [t for t in job.counted if t.circuit == circuit and t.number in analyses]
        first, *rest = work_cautions(analyses[tests[-1].number])
        name = f"{circuit_words(circuit).capitalize()}: " if len(circuits) > 1 else ""
        lines |= dict.fromkeys((f"{name}{first}", *rest))
    return list(lines)


def refresh(folder: Path, job: Job) -> bool:
    """Write the page's words anew, under the job's lock. False, and nothing written, when that is not enough:
    the tests are others, or page or pictures are missing. Raises OutputError.
    """
    try:
        old = read_plain(folder / REPORT, _LARGEST_PAGE).decode("utf-8")
    except (OSError, ValueError, LeakdownError):
        return False
    new = with_new_words(old, job, thumbnails(folder, job))
    if new is None or not all((folder / name).is_file() for name in PICTURES):
        return False
    write_whole(folder / REPORT, new.encode("utf-8"))
    write_runs_picture(folder, job)
    return True


def attach(folder: Path, job: Job) -> tuple[str, ...]:
    """Write report.html and the chart three times. Returns what could not be shown, in words.

    Under the job's lock. Raises OutputError when the page cannot be written.
    """
    troubles: list[str] = []
    analyses = _analyses(folder, job, troubles)
    small = thumbnails(folder, job)
    made = _tried(lambda: job_page(job, analyses, tuple(troubles), small=small), "the charts of the page", troubles)
    if made is None:
        made = job_page(job, analyses, tuple(troubles), drawn=False, small=small)
    _put_library(folder)
    write_whole(folder / REPORT, made.encode("utf-8"))
    _tried(lambda: write_runs_picture(folder, job), "the chart of the runs", troubles)
    chart = _tried(lambda: main_chart(job, analyses), "the chart", troubles)
    if chart is None:
        return tuple(troubles)
    for name in PICTURES:
        content = _tried(partial(picture, chart, name.rpartition(".")[2]), name, troubles)
        if content is not None:
            write_whole(folder / name, content)
    return tuple(troubles)


def _put_library(folder: Path) -> None:
    """The file beside the pages, written where it is missing or another. Raises OutputError."""
    try:
        there = is_library_script(read_plain(folder / LIBRARY, _LARGEST_PAGE))
    except (OSError, LeakdownError):
        there = False
    if not there:
        write_whole(folder / LIBRARY, library_script())


def attach_summary(folder: Path, job: Job) -> tuple[str, ...]:
    """Write the customer's sheet. Returns what could not be shown, in words. Raises OutputError."""
    troubles: list[str] = []
    analyses = _analyses(folder, job, troubles)
    made = _tried(lambda: customer_page(job, analyses), "the chart of the customer's sheet", troubles)
    write_whole(folder / SUMMARY, (made or customer_page(job, {})).encode("utf-8"))
    return tuple(troubles)


def _analyses(folder: Path, job: Job, troubles: list[str]) -> dict[int, Analysis]:
    """By test number; what cannot be analysed again is said."""
    analyses = {}
    for test in job.counted:
        try:
            analysis = analysed_again(folder, test)
        except LeakdownError as error:
            where = f"{Path(error.where).name}: " if error.where else ""
            troubles.append(f"Test {test.number}, {where}{error.what}. Its result of {test.at[:10]} stands below.")
            continue
        analyses[test.number] = analysis
        now = analysis.verdict.word if analysis.verdict else "undecided"
        if now != test.result.verdict:
            troubles.append(
                f"Test {test.number} was {test.result.verdict} with leakdown {test.result.program} and is "
                f"{now} with this one: look at it again."
            )
    return analyses


def _tried(make: Callable[[], _T], what: str, troubles: list[str]) -> _T | None:
    """What `make` returns, or None and a word about it: drawing libraries fail in ways of their own."""
    try:
        return make()
    except Exception as error:  # the record must not suffer, whatever it is
        troubles.append(f"{what} could not be drawn ({type(error).__name__}: {error})")
        return None
