"""A job -> the page for the customer and the next mechanic: plain words first, then what stands behind."""

from __future__ import annotations

from hashlib import sha256

from markupsafe import Markup

from leakdown import __version__
from leakdown.jobs.customer_paragraph import headline, paragraphs, rig_remark, texts_of_people, word
from leakdown.jobs.job_verdict import said_verdict
from leakdown.jobs.record import FIELDS, Job
from leakdown.jobs.story import Step, Story, story_of
from leakdown.jobs.tests_on_page import (
    Analyses,
    charted_circuits,
    circuit_chart,
    each_test,
    shown_tests,
    side_by_side,
    warnings,
)
from leakdown.report.analysis_page import RESIDUAL_CAPTION
from leakdown.report.located_page import decay_drawn
from leakdown.report.page import Drawn, page, render
from leakdown.words.cautions import work_cautions
from leakdown.words.signs import own_texts
from leakdown.words.sizes import VERDICT_WORDS, circuit_words

_HEAD_WORDS = {"fuel_mix": "Fuel mix", "parts_changed": "Changed before", "seal_lips": "Seal lips"}


def told(job: Job) -> tuple[str, str]:
    """What stands before the charts, and the story that stands behind them, each between its marks."""
    story, own = story_of(job), texts_of_people(job)
    parts = (render("job_told.html", own, **_told(story)), render("job_story.html", own, steps=_steps(story)))
    first, second = (f"{_start(k)}{part}{_end(k)}" for k, part in enumerate(parts))
    return first, second


def told_again(page: str, job: Job) -> str | None:
    """The page with new words, or None when it was drawn from other tests or has lost its marks."""
    if f"<!-- {tests_mark(job)} -->" not in page:
        return None
    for k, part in enumerate(told(job)):
        before, start, rest = page.partition(_start(k))
        _, end, after = rest.partition(_end(k))
        if not (start and end):
            return None
        page = before + part + after
    return page


def _start(k: int) -> str:
    return f"<!-- words {k} -->"


def _end(k: int) -> str:
    return f"<!-- end of words {k} -->"


def tests_mark(job: Job) -> str:
    """Tells the tests that the charts of a page were drawn from: another program or test, another mark."""
    told = [(t.number, t.stage, t.circuit, t.direction, t.kept.sha256, repr(t.said)) for t in job.counted]
    return f"tests {sha256(repr((__version__, told)).encode('utf-8', 'replace')).hexdigest()}"


def _head(job: Job) -> list[tuple[str, str]]:
    """What is known of the engine, the complaint aside."""
    rows = []
    for name in FIELDS:
        value = getattr(job.current, name)
        value = "; ".join(value) if isinstance(value, tuple) else value
        if value and value != "unknown" and name != "complaint":
            rows.append((_HEAD_WORDS.get(name, name.capitalize()), value))
    return rows


def _told(story: Story) -> dict[str, object]:
    job = story.job
    said, remark = said_verdict(job), rig_remark(job)
    return {
        "job": job,
        "head": _head(job),
        "role": story.standing.word,
        "word": word(job),
        "headline": headline(job),
        "paragraphs": paragraphs(job),
        "own_verdict": (VERDICT_WORDS[said.verdict], said.text) if said else None,
        "remarks": [remark] if remark else [],
    }


def _steps(story: Story) -> list[tuple[Step, str, str]]:
    """Each step with its looks and the word of its verdict."""
    steps = []
    for step in story.steps:
        kind = "own" if step.kind == "verdict" else step.kind  # the large verdict has that class to itself
        css = kind + (f" {step.verdict}" if step.verdict else "") + (" struck" if step.struck else "")
        tested = step.kind == "test" and step.verdict
        steps.append((step, css, VERDICT_WORDS[step.verdict] if tested else ""))
    return steps


def job_page(job: Job, analyses: Analyses, troubles: tuple[str, ...] = (), drawn: bool = True) -> str:
    """One self-contained HTML file. analyses: by the test's number; troubles: what could not be shown.

    drawn False leaves the charts out.
    """
    first, story = (Markup(part) for part in told(job))
    return page(
        "job.html",
        (*texts_of_people(job), *own_texts(*(a.recording for a in analyses.values()))),
        _drawings(job, analyses) if drawn else (),
        reference=job.reference,
        first=first,
        story=story,
        troubles=troubles,
        tables=side_by_side(job, analyses),
        warnings=warnings(job, analyses),
        tests=each_test(job, analyses, drawn),
        residual_caption=RESIDUAL_CAPTION,
        kept=[(test.number, test.kept) for test in job.tests],
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
