"""Where the tests so far put the leak, and what a repair did to it, as entries of a record."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from leakdown.analysis import Analysis
from leakdown.jobs.evidence import analysed_again, recording_again, settings_of
from leakdown.jobs.heard import answer_words, answers_in, said_in
from leakdown.jobs.record import Changed, Job, Place, Test
from leakdown.judge.held import held_of
from leakdown.where.compare import compare
from leakdown.where.complaint import complaint_on, facts_of
from leakdown.where.locate import BenchAnswers as Observed
from leakdown.where.locate import circuit_of, locate_held
from leakdown.where.located import Located


def place_found(folder: Path, job: Job, newest: Test, analysis: Analysis) -> Place | None:
    """What the newest test and the earlier ones of its circuit and stage say; None when it sizes no leak.

    A vent's inflow, a needle's openings and a circuit that would not pump up say nothing of a place.
    Raises LeakdownError.
    """
    if not sizes_a_leak(analysis):
        return None
    earlier = [t for t in job.counted if t.stage == newest.stage and t.number != newest.corrects]
    before = [(t, analysed_again(folder, t)) for t in earlier]
    held = [held_of(a, settings_of(t.said)) for t, a in before if sizes_a_leak(a)]
    held.append(held_of(analysis, settings_of(newest.said)))
    located = locate_held(held, observed(job, circuit_of(held)))
    return _place(located, answer_words(answers_in(job)))


def sizes_a_leak(analysis: Analysis) -> bool:
    """Whether the test was a hold whose loss is a leak."""
    return not any(finding.instead for finding in analysis.findings)


def observed(job: Job, circuit: str) -> Observed:
    """Everything of it that `locate` takes in for tests of `circuit`. Raises UsageError for unknown ids."""
    said = said_in(job)
    facts = facts_of([i for i, was in said if was], [i for i, was in said if not was])
    engine = job.current
    complaint = complaint_on(circuit, facts.answers)
    return Observed(facts.seen, facts.not_seen, engine.intake, engine.seal_lips, complaint)


def _place(located: Located, heard: tuple[str, ...]) -> Place:
    group = located.groups[0]
    place = next((p for p in located.places if p.group == group.group), located.places[0])
    step = located.next_test
    return Place(
        located.headline,
        group.group,
        group.name,
        place.place,
        place.name,
        group.probability,
        step.do if step else "",
        step.why if step else "",
        heard,
    )


def change_since(folder: Path, job: Job, newest: Test, analysis: Analysis) -> Changed | None:
    """The newest test against the last one before the repair, same circuit and direction; or None.

    Raises LeakdownError.
    """
    before = earlier_like(job.counted, newest)
    if before is None or not sizes_a_leak(analysis):
        return None
    change = compare(recording_again(folder, before), analysis.recording, settings_of(newest.said))
    value, low, high = change.after_over_before
    return Changed(before.number, change.word, change.sentence, value, low, high)


def earlier_like(tests: Sequence[Test], newest: Test) -> Test | None:
    """The last test before the repair that `newest` can be held against."""
    if newest.stage != "after":
        return None
    same = [
        t
        for t in tests
        if t.stage == "before" and (t.circuit, t.direction) == (newest.circuit, newest.direction)
    ]
    return same[-1] if same else None
