"""A record -> the story of a job, in order: complaint, tests, finding, repair, re-test, verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from leakdown.jobs.alike import counting_change, no_pair_words, set_ups
from leakdown.jobs.complaint_answers import understood_in, words_of
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.engine_runs import run_words, runs_of
from leakdown.jobs.job_verdict import RIG, entries_in_order
from leakdown.jobs.record import FIELDS, Job, Note, Photo, SuspectList, Test
from leakdown.runs.run import Run
from leakdown.tuned import tuned
from leakdown.words.numbers import percent_words
from leakdown.words.sizes import VERDICT_WORDS, circuit_words
from leakdown.words.wrap import capital

StepKind = Literal["complaint", "suspects", "test", "finding", "repair", "note", "verdict", "photo", "run"]

_SUSPECTS = tuned("jobs").suspects_named  # the record has them all


@dataclass(frozen=True)
class Step:
    """One step. number: of its entry, or None. verdict: a test's or the mechanic's own word, or "".

    aside: conditions that a page shows elsewhere.
    """

    kind: StepKind
    at: str
    title: str
    lines: tuple[str, ...]
    number: int | None = None
    verdict: str = ""
    struck: bool = False
    aside: str = ""


def story_of(job: Job) -> tuple[Step, ...]:
    """The whole story."""
    entries = entries_in_order(job)
    steps: list[Step] = [_complaint(job)]
    for i, entry in enumerate(entries):
        if isinstance(entry, Test):
            steps.append(_test(job, entry))
            following = entries[i + 1] if i + 1 < len(entries) else None
            if not (isinstance(following, Test) and following.stage == entry.stage):
                steps += _finding(job, entry)
        elif isinstance(entry, SuspectList):
            steps.append(_suspects(job, entry))
        elif isinstance(entry, EngineRun):
            steps.append(_engine_run(job, entry))
        elif isinstance(entry, Photo):
            steps.append(_photo(job, entry))
        else:
            steps.append(_note(job, entry))
    return tuple(steps)


def _complaint(job: Job) -> Step:
    engine = job.current
    parts = "; ".join(engine.parts_changed)
    lines = [engine.complaint or "No complaint was noted."]
    words = words_of(understood_in(job))
    lines += [f"Understood as: {'; '.join(words)}."] if words else []
    lines += [f"Already changed before it came in: {parts}."] if parts else []
    return Step("complaint", job.opened, "Complaint", tuple(lines))


def _suspects(job: Job, entry: SuspectList) -> Step:
    lines = [f"In words: {entry.text}"] if entry.text else []
    lines += [f"Said: {'; '.join(entry.answers)}."] if entry.answers else []
    lines += [f"{suspect_words(entry)}.", entry.plain] if entry.suspects else []
    lines += [f"Next: {entry.next_do} Why: {entry.next_why}."] if entry.next_do else []
    lines += [entry.caveat] if entry.caveat else []
    struck = entry not in job.suspect_lists
    lines += ["Does not count: withdrawn."] if struck else []
    lines += [f"Correction: {n.text}" for n in _corrections(job, entry.number)]
    title = "Suspects, from the complaint"
    return Step("suspects", entry.at, title, tuple(lines), entry.number, "", struck)


def _engine_run(job: Job, entry: EngineRun) -> Step:
    run = next((r for r in runs_of(job) if r.number == entry.number), None)
    ran = Run(entry.ran_s, entry.ended, entry.fuel, entry.warm, entry.fitted)
    lines = [f"{capital(run_words(ran))}.", *([entry.text] if entry.text else [])]
    lines += [f"Takes the place of run {entry.corrects}."] if entry.corrects is not None else []
    lines += ["Does not count: withdrawn, or put right by a later entry."] if run is None else []
    lines += [f"Correction: {n.text}" for n in _corrections(job, entry.number)]
    return Step("run", entry.started or entry.at, "Run of the engine", tuple(lines), entry.number, "", run is None)


def _photo(job: Job, photo: Photo) -> Step:
    lines = [photo.text] if photo.text else []
    struck = job.withdrawn(photo)
    lines += ["Does not count: withdrawn."] if struck else []
    lines += [f"Correction: {n.text}" for n in _corrections(job, photo.number)]
    title = f"Photograph: {photo.place}" if photo.place else "Photograph"
    return Step("photo", photo.at, title, tuple(lines), photo.number, "", struck, f"photos/{photo.recording.file}")


def suspect_words(entry: SuspectList) -> str:
    """The likeliest suspects with their odds, as they were shown."""
    first = [f"{s.name} ({percent_words(s.probability)})" for s in entry.suspects[:_SUSPECTS]]
    rest = sum(s.probability for s in entry.suspects[_SUSPECTS:])
    others = f"; others together {percent_words(rest)}" if entry.suspects[_SUSPECTS:] else ""
    return f"Most likely: {'; '.join(first)}{others}"


def test_title(test: Test, without: Sequence[str] = ()) -> str:
    """ "Crankcase, vacuum test, before the repair"; without: the parts that were not in it."""
    stage = "after the repair" if test.stage == "after" else "before the repair"
    parts = f" without {' and '.join(without)}" if without else ""
    return f"{circuit_words(test.circuit).capitalize()}, {test.direction} test{parts}, {stage}"


def _test(job: Job, test: Test) -> Step:
    lines = [test.result.size, test.result.reason]
    change, none = counting_change(job, test), no_pair_words(job, test)
    lines += [change.sentence] if change else [none] if none else []
    struck = test not in job.counted
    lines += ["Does not count: withdrawn, or corrected by a later test."] if struck else []
    lines += [f"Correction: {n.text}" for n in _corrections(job, test.number)]
    word, aside = test.result.verdict, _aside(test)
    without = set_ups(job.tests)[test.number].without
    return Step("test", test.at, test_title(test, without), tuple(lines), test.number, word, struck, aside)


def _aside(test: Test) -> str:
    c, page = test.inputs.conditions, test.inputs.manual_page
    parts = [f"recording {test.recording.file}"]
    parts += [f"gauge {c.gauge}"] if c.gauge else []
    parts += [f"blanked off: {', '.join(c.blocked)}"] if c.blocked else []
    parts += [f"manual page {page}"] if page else []
    return "; ".join(parts)


def _finding(job: Job, test: Test) -> list[Step]:
    """Where the tests so far put the leak; of no interest where nothing is over its limit."""
    place = test.place
    own = [t for t in job.counted if t.stage == test.stage and t.circuit != RIG]
    if place is None or not any(t.result.verdict != "pass" for t in own):
        return []
    lines = [place.headline]
    lines += [f"Counted in: {'; '.join(place.answers)}."] if place.answers else []
    lines += [f"Next: {place.next_do}"] if place.next_do and test.stage == "before" else []
    return [Step("finding", test.at, "Finding", tuple(lines))]


def _note(job: Job, note: Note) -> Step:
    lines = [note.text]
    lines += [f"Found at: {note.place}."] if note.place else []
    seen = "Understood as" if note.kind == "correction" else "Seen"
    lines += [f"{seen}: {'; '.join(words_of(note.seen))}."] if note.seen else []
    lines += [f"Looked for, not seen: {'; '.join(words_of(note.not_seen))}."] if note.not_seen else []
    lines += [f"Correction: {n.text}" for n in _corrections(job, note.number)]
    title = _title(note)
    kind: StepKind = note.kind if note.kind in ("repair", "verdict") else "note"
    return Step(kind, note.at, title, tuple(lines), note.number, note.verdict)


def _title(note: Note) -> str:
    if note.kind == "verdict":
        return f"The mechanic's verdict: {VERDICT_WORDS.get(note.verdict, note.verdict)}"
    if note.kind == "correction":
        what = note.corrects.replace("_", " ") if note.corrects in FIELDS else f"entry {note.corrects}"
        return f"Correction of {what}"
    return {"repair": "Repair", "withdrawal": f"Entry {note.corrects} withdrawn"}.get(note.kind, "Note")


def _corrections(job: Job, number: int) -> list[Note]:
    return [n for n in job.notes("correction") if n.corrects == str(number)]
