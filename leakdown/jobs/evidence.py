"""The tests of a record, analysed; what else it says of the engine; and the place and change they come to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from leakdown import __version__
from leakdown.analysis import Analysis
from leakdown.jobs.record import Changed, Job, Note, Place, Ranked, StoredResult, Suspected, Test, TestInputs
from leakdown.jobs.store import Writing, now, plain, recording_bytes
from leakdown.judge.analyse import analyse, held
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from leakdown.where.answers import Answers, EngineFacts, all_observations, fact_name, for_suspects
from leakdown.where.compare import compare
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.locate import locate_held
from leakdown.where.located import Located
from leakdown.where.suspects import Triage
from leakdown.words.objects import analysis_object
from leakdown.words.sizes import size_brief, size_sentence, verdict_sentence

_FIGURES = (
    "circuit",
    "direction",
    "start_pressure_kpa",
    "end_pressure_kpa",
    "exponential",
    "leak_rate",
    "loss_kpa_per_min",
    "equivalent_hole_mm",
    "viscous_share",
    "detection_limit_kpa_per_min",
    "limit",
    "used",
)


def settings_of(said: TestInputs) -> Settings:
    """What was fixed when the test was added. Raises UsageError for a limit that cannot be read."""
    limit = parse_limit(said.limit) if said.limit else None
    return Settings(quote_pa=said.quote_pa, hold_s=said.hold_s, limit=limit)


def found_of(analysis: Analysis) -> StoredResult:
    """A result in words and figures that need no program to be read."""
    whole = analysis_object(analysis)
    figures: dict[str, Any] = {key: whole[key] for key in _FIGURES}
    hold = whole["hold"]
    figures["hold"] = {key: hold[key] for key in ("start_s", "end_s", "readings")}
    return StoredResult(
        verdict=whole["verdict"],
        reason=verdict_sentence(analysis),
        size=size_sentence(analysis),
        brief=size_brief(analysis),
        detected=whole["detected"],
        flags=tuple((flag.code, flag.text) for flag in analysis.flags),
        figures=figures,
        program=__version__,
    )


def recording_again(folder: Path, test: Test) -> Recording:
    """The recording of a test, read as it was read then. Raises RecordError, InputError."""
    said = test.said
    options = ReadingOptions(said.unit, said.direction, said.absolute, said.barometer_pa)
    recording = read_bytes(recording_bytes(folder, test.kept), test.kept.name, options)
    return replace(recording, conditions=said.conditions)


def analysed_again(folder: Path, test: Test) -> Analysis:
    """The analysis of a test from its bytes. Raises RecordError, InputError, UsageError."""
    return analyse(recording_again(folder, test), settings_of(test.said))


_OBSERVED = ("note", "repair", "verdict")


def said_in(job: Job) -> tuple[tuple[str, bool], ...]:
    """(id, seen) of everything that was said, once each."""
    last: dict[str, tuple[str, bool]] = {}

    def take(seen: tuple[str, ...], not_seen: tuple[str, ...] = ()) -> None:
        for identity, was in (*((i, True) for i in seen), *((i, False) for i in not_seen)):
            last[fact_name(identity)] = (identity, was)

    take(understood_in(job))
    for entry in job.entries:
        if entry in job.suspected or (isinstance(entry, Note) and entry.kind in _OBSERVED):
            assert isinstance(entry, Note | Suspected)
            take(entry.seen, entry.not_seen)
    return tuple(last.values())


def understood_in(job: Job) -> tuple[str, ...]:
    """Ids that the complaint's words were taken to say when they were written, or last put right."""
    corrections = [n for n in job.notes("correction") if n.corrects == "complaint"]
    return corrections[-1].seen if corrections else job.engine.understood


def words_of(ids: Iterable[str]) -> tuple[str, ...]:
    """Observations of either kind in words; an id that the tables do not know any more stands for itself."""
    names = {o.id: o.text for o in all_observations()}
    known = complaint_knowledge().complaints
    return tuple(known[i].says if i in known else names.get(i, i) for i in ids)


def answer_words(answers: Answers) -> tuple[str, ...]:
    """Answers in words, as parts of a sentence."""
    known = complaint_knowledge().complaints
    return tuple(known[i].says if seen else f"not so: {known[i].says}" for i, seen in answers.all())


def answers_in(job: Job) -> Answers:
    """Everything of it that `suspects` takes in."""
    return for_suspects(said_in(job))


def answers_with(job: Job, seen: Sequence[str], not_seen: Sequence[str]) -> Answers:
    """What the record says already, and these answers, whose word counts."""
    earlier = answers_in(job)
    said = (*earlier.all(), *((i, True) for i in seen), *((i, False) for i in not_seen))
    return for_suspects(said)


def add_suspects(at: Writing, text: str, answers: Answers, found: Triage) -> Suspected:
    """Write the ranking as it was shown. text: the complaint in words, or "". Raises OutputError."""
    entry = Suspected(
        number=at.job.next_number,
        at=now(),
        text=plain(text),
        seen=answers.seen,
        not_seen=answers.not_seen,
        said=answer_words(answers),
        suspects=tuple(Ranked(s.place, s.name, s.probability, s.leak, s.reasons) for s in found.suspects),
        next_do=found.next_test.do,
        next_why=found.next_test.why,
        plain=found.plain,
        caveat=found.caveat,
        program=__version__,
    )
    at.save(at.job.with_entry(entry))
    return entry


def place_found(folder: Path, job: Job, newest: Test, analysis: Analysis) -> Place | None:
    """What the newest test and the earlier ones of its circuit and stage say; None when it sizes no leak.

    A vent's inflow, a needle's openings and a circuit that would not pump up say nothing of a place.
    Raises LeakdownError.
    """
    if not sizes_a_leak(analysis):
        return None
    earlier = [t for t in job.counted if t.stage == newest.stage and t.number != newest.corrects]
    before = [(t, analysed_again(folder, t)) for t in earlier]
    tests = [held(a.recording, settings_of(t.said)) for t, a in before if sizes_a_leak(a)]
    tests.append(held(analysis.recording, settings_of(newest.said)))
    located = locate_held(tests, observed(job))
    return _place(located, answer_words(answers_in(job)))


def sizes_a_leak(analysis: Analysis) -> bool:
    """Whether the test was a hold whose loss is a leak."""
    return not any(finding.instead for finding in analysis.findings)


def observed(job: Job) -> EngineFacts:
    """Everything of it that `locate` takes in."""
    said = Answers(*(tuple(i for i, was in said_in(job) if was is seen) for seen in (True, False)))
    return EngineFacts(said.seen, said.not_seen, job.current.intake, job.current.seal_lips)


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
    change = compare(recording_again(folder, before), analysis.recording, settings=settings_of(newest.said))
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
