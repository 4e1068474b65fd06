"""The page for the customer and the next mechanic, and the chart: drawn, and kept in the job's folder.

Plain words first, then what stands behind them. A note needs no new drawing: the words have marks about them.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial
from hashlib import sha256
from importlib import resources
from pathlib import Path
from typing import TypeVar

from leakdown import __version__
from leakdown.analysis import Analysis
from leakdown.disk import read_plain, write_whole
from leakdown.errors import LeakdownError
from leakdown.jobs.customer_paragraph import headline, paragraphs, rig_remark, word
from leakdown.jobs.job_verdict import job_verdict, mechanics_verdict
from leakdown.jobs.record import FIELDS, Job
from leakdown.jobs.results import analysed_again
from leakdown.jobs.story import Step, story_of
from leakdown.jobs.tests_on_page import (
    Analyses,
    charted_circuits,
    checksums,
    circuit_chart,
    each_test,
    main_chart,
    shown_tests,
    side_by_side,
    warnings,
)
from leakdown.report.html import Drawn, figure, items, page, symbol, text
from leakdown.report.picture import picture
from leakdown.words.cautions import AUTHORITY, work_cautions
from leakdown.words.sizes import VERDICT_WORDS, circuit_words, size_brief, verdict_word
from leakdown.words.wrap import unparted

REPORT = "report.html"
PICTURES = ("chart.png", "chart.pdf", "chart.svg")
_LARGEST_PAGE = 100_000_000
TITLE = "Crankcase and fuel-system pressure/vacuum test"
_T = TypeVar("_T")


def words_of_page(job: Job) -> tuple[str, str]:
    """What stands before the charts, and the story that stands behind them, each between its marks."""
    head, steps = _header(job) + _verdict(job), _story(job)
    return f"{_MARKS[0][0]}{head}{_MARKS[0][1]}", f"{_MARKS[1][0]}{steps}{_MARKS[1][1]}"


_MARKS = tuple((f"<!-- words {k} -->", f"<!-- end of words {k} -->") for k in (0, 1))


def with_new_words(page: str, job: Job) -> str | None:
    """The page with new words, or None when it was drawn from other tests or has lost its marks."""
    if f"<!-- {tests_mark(job)} -->" not in page:
        return None
    for words, (start, end) in zip(words_of_page(job), _MARKS, strict=True):
        before, found, rest = page.partition(start)
        _, closed, after = rest.partition(end)
        if not (found and closed):
            return None
        page = before + words + after
    return page


def tests_mark(job: Job) -> str:
    """Tells the tests that the charts of a page were drawn from: another program or test, another mark."""
    drawn = [
        (t.number, t.stage, t.circuit, t.direction, t.recording.sha256, repr(t.inputs)) for t in job.counted
    ]
    return f"tests {sha256(repr((__version__, drawn)).encode('utf-8', 'replace')).hexdigest()}"


def _header(job: Job) -> str:
    engine = job.current
    rows = []
    for name in FIELDS:
        value = getattr(engine, name)
        value = "; ".join(value) if isinstance(value, tuple) else value
        if value and value != "unknown" and name != "complaint":
            label = "Changed before" if name == "parts_changed" else name.replace("_", " ").capitalize()
            rows.append(f"<div><dt>{text(label)}</dt><dd>{text(value)}</dd></div>")
    line = f"Job {text(job.reference)}" + (f" &middot; opened {text(job.opened[:10])}" if job.opened else "")
    facts = f'<dl class="head">{"".join(rows)}</dl>' if rows else ""
    return f"<header><h1>{TITLE}</h1><p>{line}</p></header>{facts}"


def _verdict(job: Job) -> str:
    role, said = job_verdict(job).word, mechanics_verdict(job)
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


def _story(job: Job) -> str:
    steps = "".join(_step(s) for s in story_of(job))
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
    first, story = words_of_page(job)
    drawings = _drawings(job, analyses) if drawn else ()
    charts = "".join(f"<section><h2>{text(d.chart.title)}</h2>{figure(d)}</section>" for d in drawings)
    parts = [
        first,
        f"<section><h2>Could not be shown</h2>{items(troubles, css='flags')}</section>" if troubles else "",
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


def _drawings(job: Job, analyses: Analyses) -> tuple[Drawn, ...]:
    drawings = []
    for i, circuit in enumerate(charted_circuits(job, analyses)):
        chart = circuit_chart(job, circuit, analyses)
        if chart is None:
            continue
        tests = shown_tests(job, circuit, analyses)
        found = [(t, analyses[t.number]) for t in tests]
        lines = [f"{t.direction} {t.stage}: {verdict_word(a)}, {size_brief(a)}" for t, a in found]
        said = f"Decay chart. {chart.title}. {'; '.join(lines)}"
        together = " Each starts when its valve was shut." if len(tests) > 1 else ""
        caption = f"Points: readings. Lines: fitted decay with its 95 % band.{together}"
        drawings.append(Drawn(f"decay-{i}", chart, said, caption + items(lines)))
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


def _closing(job: Job, analyses: Analyses) -> str:
    cautions = _cautions(job, analyses)
    section = f"<section><h2>Cautions</h2>{items(cautions)}</section>" if cautions else ""
    blanks = "".join(f"<div><span></span>{name}</div>" for name in ("Date", "Mechanic", "Signature"))
    made = f"leakdown {text(__version__)}. This page holds all it shows and asks no network."
    return (
        f'{section}<p class="authority">{text(AUTHORITY)}</p>'
        f'<div class="signature">{blanks}</div><footer>{made}</footer>'
    )


def refresh(folder: Path, job: Job) -> bool:
    """Write the page's words anew, under the job's lock. False, and nothing written, when that is not enough:
    the tests are others, or page or pictures are missing. Raises OutputError.
    """
    try:
        old = read_plain(folder / REPORT, _LARGEST_PAGE).decode("utf-8")
    except (OSError, ValueError, LeakdownError):
        return False
    new = with_new_words(old, job)
    if new is None or not all((folder / name).is_file() for name in PICTURES):
        return False
    write_whole(folder / REPORT, new.encode("utf-8"))
    return True


def attach(folder: Path, job: Job) -> tuple[str, ...]:
    """Write report.html and the chart three times. Returns what could not be shown, in words.

    Under the job's lock. Raises OutputError when the page cannot be written.
    """
    troubles: list[str] = []
    analyses = _analyses(folder, job, troubles)
    made = _tried(lambda: job_page(job, analyses, tuple(troubles)), "the charts of the page", troubles)
    if made is None:
        made = job_page(job, analyses, tuple(troubles), drawn=False)
    write_whole(folder / REPORT, made.encode("utf-8"))
    chart = _tried(lambda: main_chart(job, analyses), "the chart", troubles)
    if chart is None:
        return tuple(troubles)
    for name in PICTURES:
        content = _tried(partial(picture, chart, name.rpartition(".")[2]), name, troubles)
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
