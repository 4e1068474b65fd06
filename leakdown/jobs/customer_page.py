"""The one sheet that goes home with the engine: what was said, wrong and done, one chart, and whether it holds now.

Plain words, no ids, no options, no odds: whoever wants those has the job's own page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from leakdown.jobs.alike import counting_change
from leakdown.jobs.customer_paragraph import (
    fault_words,
    last_each,
    lax_words,
    listed,
    loses,
    not_tested_words,
    texts_of_people,
)
from leakdown.jobs.job_verdict import RIG, CircuitVerdict, job_verdict, last_finding, places_said
from leakdown.jobs.record import Job, Test
from leakdown.jobs.tests_on_page import Analyses
from leakdown.quantities import show_pressure, significant
from leakdown.report.chart_data import in_words
from leakdown.report.decay_chart import decay_chart
from leakdown.report.page import page
from leakdown.report.picture import inline_svg
from leakdown.words.sizes import circuit_words
from leakdown.words.wrap import capital

SUMMARY = "customer.html"


@dataclass(frozen=True)
class Told:
    """One part of the sheet."""

    heading: str
    sentences: tuple[str, ...]


def customer_page(job: Job, analyses: Analyses) -> str:
    """The sheet as one HTML file without scripts. analyses: by the test's number; without any it has no chart."""
    verdict = job_verdict(job)
    pair = pair_shown(job)
    shown = [analyses[t.number] for t in pair if t.number in analyses]
    names = [t.stage for t in pair if t.number in analyses]
    chart = decay_chart(*shown, names=names if len(shown) > 1 else ()) if shown else None
    return page(
        "customer.html",
        texts_of_people(job),
        foot=foot_of(job),
        job=job,
        day=max((e.at for e in job.entries), default=job.opened)[:10],
        role=verdict.word if verdict.circuits else "undecided",
        word=_word(job),
        told=told(job),
        picture=Markup(inline_svg(chart, "decay")) if chart else None,
        small_picture=Markup(inline_svg(chart, "decay-phone", phone=True)) if chart else None,
        charted=_charted(pair),
        in_words=in_words(chart) if chart else "",
    )


def foot_of(job: Job) -> tuple[str, ...]:
    """What every sheet of the job says at its foot: job, engine, serial, the day of the last entry."""
    day = max((entry.at for entry in job.entries), default=job.opened)[:10]
    return f"Job {job.reference}", job.current.engine, job.current.serial, day


def told(job: Job) -> tuple[Told, ...]:
    """The parts of the sheet that say something, in the order in which a customer asks."""
    parts = (
        Told("What you told us", (job.current.complaint,) if job.current.complaint else ()),
        Told("What was wrong", tuple(_wrong(job))),
        Told("What was done", tuple(_done(job))),
        Told("Does it hold now?" if job_verdict(job).repaired else "Does it hold?", tuple(_now(job))),
        Told("Not tested", (capital(not_tested_words(job)),) if job.counted else ()),
    )
    return tuple(part for part in parts if part.sentences)


def pair_shown(job: Job) -> tuple[Test, ...]:
    """The test before and the test after to be drawn: one that failed before, where there is one; else one test."""
    pairs = []
    for after in job.counted:
        change = counting_change(job, after)
        before = next((t for t in job.counted if change is not None and t.number == change.against), None)
        if before is not None:
            pairs.append((before, after))
    if pairs:
        return max(pairs, key=lambda pair: (pair[0].result.verdict == "fail", pair[1].number))
    own = [t for t in job.counted if t.circuit != RIG] or list(job.counted)
    failed = [t for t in own if t.result.verdict == "fail"]
    return tuple((failed or own)[-1:])


def _charted(pair: Sequence[Test]) -> str:
    if not pair:
        return ""
    test = pair[-1]
    what = f"The {circuit_words(test.circuit)} under {test.direction}, shut off and watched"
    return f"{what}, before and after: the flatter the curve, the tighter." if len(pair) > 1 else f"{what}."


def _word(job: Job) -> str:
    verdict = job_verdict(job)
    if not verdict.circuits:
        return "NOT TESTED YET"
    return {"pass": "IT HOLDS", "fail": "IT DOES NOT HOLD"}.get(verdict.word, "NOT SHOWN YET")


def _wrong(job: Job) -> list[str]:
    before = [t for t in last_each([t for t in job.counted if t.stage == "before"]) if t.circuit != RIG]
    failed = [t for t in before if t.result.verdict == "fail"]
    lines = [_failed(t) for t in failed]
    found, likely = places_said(job), last_finding(job)
    if found:
        lines.append(f"The fault was found here: {listed(list(found))}.")
    elif likely is not None and failed and likely.group != "no-leak-found":
        lines.append(f"Most likely it is the {likely.group_name}: the tests point there, nobody has seen it yet.")
    if before and not lines:
        lines.append(f"No test is over its limit.{lax_words(before)}")
    return lines


def _failed(test: Test) -> str:
    name = f"The {circuit_words(test.circuit)}"
    if not loses(test):
        return test.result.size
    hold = test.result.figure("hold")
    start, end = (test.result.figures.get(f"{which}_pressure_kpa") for which in ("start", "end"))
    if not (start and end and hold):
        return f"{name} does not hold under {test.direction}."
    seconds = float(hold["end_s"]) - float(hold["start_s"])
    unit = test.inputs.conditions.show_unit
    first, last = (show_pressure(1e3 * abs(kpa), unit) for kpa in (start, end))
    lost = f"from {first} to {last} in {significant(seconds, 2)} s"
    return f"{name} does not hold under {test.direction}: shut off, it fell {lost}, more than is allowed."


def _done(job: Job) -> list[str]:
    repairs = [" ".join(note.text.split()) for note in job.notes("repair")]
    if not repairs:
        return ["A repair was made."] if job_verdict(job).repaired else ["Nothing has been repaired yet."]
    return [capital(text if text[-1:] in ".!?" else f"{text}.") for text in repairs]


def _now(job: Job) -> list[str]:
    return [line for c in job_verdict(job).circuits for line in _state(job, c)]


def _state(job: Job, c: CircuitVerdict) -> list[str]:
    name = f"the {circuit_words(c.circuit)}"
    changes = ((t.direction, counting_change(job, t)) for t in c.tests)
    smaller = [f"Under {way}: {x.sentence}" for way, x in changes if x is not None and x.word in ("smaller", "larger")]
    if c.word == "fail":
        failed = [t for t in c.tests if t.result.verdict == "fail"]
        return [f"No: {name} is {fault_words(failed)} under {listed([t.direction for t in failed])}.", *smaller]
    if c.word == "pass":
        ways = listed([t.direction for t in c.tests])
        does = "holds" if all(map(loses, c.tests)) else "does what it must"
        return [f"Yes: {name} {does} under {ways}, tested cold.{lax_words(c.tests)}", *smaller]
    return [f"Not shown yet for {name}. Still wanted: {listed(list(c.missing))}.", *smaller]
