"""A job -> lines for a terminal: where it stands, then its story."""

from __future__ import annotations

from collections.abc import Callable

from leakdown.jobs.plainly import headline, rig_remark, word
from leakdown.jobs.record import FIELDS, Job
from leakdown.jobs.story import Step, story_of
from leakdown.words.sizes import VERDICT_WORDS
from leakdown.words.wrap import clean, wrapped

Style = Callable[[str, str], str]
_NAMES = {
    "engine": "Engine",
    "serial": "Serial",
    "hours": "Hours",
    "fuel_mix": "Fuel mix",
    "intake": "Intake",
}


def job_lines(job: Job, width: int, style: Style) -> list[str]:
    """The whole job."""
    story = story_of(job)
    role = story.standing.word
    head = clean(f"Job {job.reference}")
    lines = [style(head, "strong"), *_facts(job, width)]
    verdict = word(job)
    first = wrapped(f"{verdict}  {headline(job)}", width, "", "  ")
    first[0] = first[0].replace(verdict, style(verdict, role), 1)
    lines += ["", *first]
    for circuit in story.standing.circuits:
        if circuit.missing:
            wanted = f"Still wanted ({circuit.circuit}): {'; '.join(circuit.missing)}."
            lines += wrapped(wanted, width, "  ", "  ")
    if remark := rig_remark(job):
        lines += wrapped(remark, width, "  ", "  ")
    for step in story.steps:
        lines += ["", *_step(step, width, style)]
    return lines


def _facts(job: Job, width: int) -> list[str]:
    engine = job.current
    pairs = [
        f"{_NAMES[n]} {v}" for n in FIELDS if n in _NAMES and (v := getattr(engine, n)) not in ("", "unknown")
    ]
    return wrapped(clean(", ".join(pairs)), width, "  ", "  ") if pairs else []


def _step(step: Step, width: int, style: Style) -> list[str]:
    number = f"{step.number}  " if step.number is not None else ""
    said = f": {VERDICT_WORDS[step.verdict]}" if step.kind == "test" and step.verdict else ""
    title = f"{number}{step.title}{said}" + (" (does not count)" if step.struck else "")
    lines = wrapped(clean(title), max(20, width - 18), "", "   ")
    day = f"{step.at[:10]} {step.at[11:16]}"
    lines[0] = f"{lines[0]:<{max(20, width - 17)}} {day}".rstrip()
    lines[0] = style(lines[0], "strong")
    lines += [part for line in step.lines for part in _wrapped_lines(line, width)]
    return lines + [style(part, "dim") for part in _wrapped_lines(step.aside, width)] * bool(step.aside)


def _wrapped_lines(text: str, width: int) -> list[str]:
    """A text of several lines keeps them."""
    return [part for line in text.splitlines() or [""] for part in wrapped(clean(line), width, "   ", "   ")]
