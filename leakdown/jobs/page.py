"""A job -> the page for the customer and the next mechanic: plain words first, then what stands behind."""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

from leakdown import __version__
from leakdown.analysis import Analysis
from leakdown.jobs.charts import Analyses, charted_circuits, circuit_chart, shown_tests
from leakdown.jobs.each_test import each_test
from leakdown.jobs.page_words import TITLE, tests_mark, told
from leakdown.jobs.record import Job, Test
from leakdown.jobs.side_by_side import checksums, side_by_side, warnings
from leakdown.report.html import items, text
from leakdown.report.shell import Drawn, figure, page
from leakdown.words.cautions import AUTHORITY, work_cautions
from leakdown.words.sizes import circuit_words, size_brief, verdict_word


def job_page(job: Job, analyses: Analyses, troubles: tuple[str, ...] = (), drawn: bool = True) -> str:
    """One self-contained HTML file. analyses: by the test's number; troubles: what could not be shown.

    drawn False leaves the charts out.
    """
    first, story = told(job)
    drawings = _drawings(job, analyses) if drawn else ()
    charts = "".join(f"<section><h2>{text(_chart_title(d))}</h2>{figure(d)}</section>" for d in drawings)
    parts = [
        first,
        _troubles(troubles),
        charts,
        side_by_side(job, analyses),
        warnings(job, analyses),
        story,
        each_test(job, analyses, drawn),
        checksums(job),
        _closing(job, analyses),
    ]
    body = "\n".join(part for part in parts if part) + f"\n<!-- {tests_mark(job)} -->"
    return page(f"Job {job.reference}: {TITLE}", body, drawings, _style())


@lru_cache(maxsize=1)
def _style() -> str:
    return resources.files("leakdown.jobs").joinpath("page.css").read_text("utf-8")


def _troubles(troubles: tuple[str, ...]) -> str:
    listed = items(troubles, css="flags")
    return f"<section><h2>Could not be shown</h2>{listed}</section>" if listed else ""


def _drawings(job: Job, analyses: Analyses) -> tuple[Drawn, ...]:
    drawings = []
    for i, circuit in enumerate(charted_circuits(job, analyses)):
        chart = circuit_chart(job, circuit, analyses)
        if chart is None:
            continue
        tests = shown_tests(job, circuit, analyses)
        lines = [
            f"{t.direction} {t.stage}: {verdict_word(a)}, {size_brief(a)}" for t, a in _with(tests, analyses)
        ]
        said = f"Decay chart. {chart.title}. {'; '.join(lines)}"
        together = " Each starts when its valve was shut." if len(tests) > 1 else ""
        caption = f"Points: readings. Lines: fitted decay with its 95 % band.{together}"
        drawings.append(Drawn(f"decay-{i}", chart, said, caption + items(lines)))
    return tuple(drawings)


def _with(tests: list[Test], analyses: Analyses) -> list[tuple[Test, Analysis]]:
    return [(t, analyses[t.number]) for t in tests]


def _chart_title(drawn: Drawn) -> str:
    return drawn.chart.title


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


def _closing(job: Job, analyses: Analyses) -> str:
    cautions = _cautions(job, analyses)
    section = f"<section><h2>Cautions</h2>{items(cautions)}</section>" if cautions else ""
    blanks = "".join(f"<div><span></span>{name}</div>" for name in ("Date", "Mechanic", "Signature"))
    made = f"leakdown {text(__version__)}. This page holds all it shows and asks no network."
    return (
        f'{section}<p class="authority">{text(AUTHORITY)}</p>'
        f'<div class="signature">{blanks}</div><footer>{made}</footer>'
    )
