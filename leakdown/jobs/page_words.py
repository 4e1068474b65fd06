"""The words of a job's page: head, verdict and story, which alone change when something is said.

They stand between marks, so that a page whose tests are the same takes new words without being drawn anew.
"""

from __future__ import annotations

from hashlib import sha256

from leakdown import __version__
from leakdown.jobs.outcome import said_verdict
from leakdown.jobs.plainly import headline, paragraphs, rig_remark, word
from leakdown.jobs.record import FIELDS, Job
from leakdown.jobs.story import Step, Story, story_of
from leakdown.report.html import symbol, text
from leakdown.words.sizes import VERDICT_WORDS
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
