"""A job -> the page for the customer and the next mechanic: plain words first, then what stands behind."""

from __future__ import annotations

from functools import lru_cache
from hashlib import sha256
from importlib import resources

from leakdown import __version__
from leakdown.analysis import Analysis
from leakdown.jobs.customer_paragraph import headline, paragraphs, rig_remark, word
from leakdown.jobs.job_verdict import said_verdict
from leakdown.jobs.record import FIELDS, Job, Test
from leakdown.jobs.story import Step, Story, story_of
from leakdown.jobs.tests_on_page import (
    Analyses,
    charted_circuits,
    checksums,
    circuit_chart,
    each_test,
    shown_tests,
    side_by_side,
    warnings,
)
from leakdown.report.html import Drawn, figure, items, page, symbol, text
from leakdown.words.cautions import AUTHORITY, work_cautions
from leakdown.words.sizes import VERDICT_WORDS, circuit_words, size_brief, verdict_word
from leakdown.words.wrap import unparted

TITLE = "Crankcase and fuel-system pressure/vacuum test"
_HEAD_WORDS = {"fuel_mix": "Fuel mix", "parts_changed": "Changed before", "seal_lips": "Seal lips"}


def told(job: Job) -> tuple[str, str]:
    """What stands before the charts, and the story that stands behind them, each between its marks."""
    story = story_of(job)
    parts = (_header(job) + _verdict(story), _story(story))
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


def _header(job: Job) -> str:
    engine = job.current
    rows = []
    for name in FIELDS:
        value = getattr(engine, name)
        value = "; ".join(value) if isinstance(value, tuple) else value
        if value and value != "unknown" and name != "complaint":
            label = _HEAD_WORDS.get(name, name.capitalize())
            rows.append(f"<div><dt>{text(label)}</dt><dd>{text(value)}</dd></div>")
    line = f"Job {text(job.reference)}" + (f" &middot; opened {text(job.opened[:10])}" if job.opened else "")
    facts = f'<dl class="head">{"".join(rows)}</dl>' if rows else ""
    return f"<header><h1>{TITLE}</h1><p>{line}</p></header>{facts}"


def _verdict(story: Story) -> str:
    job, role = story.job, story.standing.word
    said = said_verdict(job)
    own = ""
    if said is not None:
        own = f'<p class="said">The mechanic: {text(VERDICT_WORDS[said.verdict])}. {text(said.text)}</p>'
    remark = rig_remark(job)
    caution = f'<ul class="flags"><li>{text(remark)}</li></ul>' if remark else ""
    plain = "".join(f"<p>{text(unparted(p))}</p>" for p in paragraphs(job))
    return (
        f'<section class="verdict {role}" aria-label="Where the job stands">'
        f'<div class="word">{symbol(role)}<span>{text(word(job))}</span></div>'
        f'<p class="found">{text(headline(job))}</p></section>'
        f'<section class="plainly">{plain}{own}{caution}</section>'
    )


def _story(story: Story) -> str:
    steps = "".join(_step(s) for s in story.steps)
    return f'<section><h2>What was done, in order</h2><ol class="story">{steps}</ol></section>'


def _step(step: Step) -> str:
    said = f" &middot; {text(VERDICT_WORDS[step.verdict])}" if step.kind == "test" and step.verdict else ""
    number = f'<span class="number">{step.number}</span> ' if step.number is not None else ""
    lines = "".join(
        f"<p>{text(unparted(part))}</p>" for line in step.lines for part in line.splitlines() if part.strip()
    )
    kind = "own" if step.kind == "verdict" else step.kind  # the large verdict has that class to itself
    css = kind + (f" {step.verdict}" if step.verdict else "") + (" struck" if step.struck else "")
    day = f"<time>{text(step.at[:10])} {text(step.at[11:16])}</time>"
    return f'<li class="{css}"><h3>{number}{text(step.title)}{said}</h3>{day}{lines}</li>'


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
    return resources.files("leakdown.report").joinpath("assets", "job.css").read_text("utf-8")


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
