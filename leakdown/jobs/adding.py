"""Entries that come in: a test with its recording, or a note. Each is checked before anything is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from leakdown.analysis import Analysis
from leakdown.disk import digest
from leakdown.errors import InputError, LeakdownError, UsageError
from leakdown.jobs.record import (
    FIELDS,
    STAGES,
    VERDICTS,
    Engine,
    Job,
    Note,
    NoteKind,
    Stage,
    StoredRecording,
    Test,
    TestInputs,
    with_field,
)
from leakdown.jobs.results import (
    change_since,
    place_found,
    settings_of,
    stored_result,
    with_counting_limit,
    with_shop_air,
)
from leakdown.jobs.store import RECORDINGS, Writing
from leakdown.judge.analyse import analyse
from leakdown.judge.known_leak import rig_seen
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.settings import ShopSettings
from leakdown.where.answers import check_engine, sorted_answers
from leakdown.where.heard import heard

LONGEST_TEXT = 100_000
_T = TypeVar("_T")


@dataclass(frozen=True)
class Added:
    """A test as it went into the record, its analysis, and what could not be said about it, in words."""

    test: Test
    analysis: Analysis
    remarks: tuple[str, ...]


def add_test(
    at: Writing,
    data: bytes,
    recording: Recording,
    inputs: TestInputs,
    stage: Stage,
    corrects: int | None = None,
    shop: ShopSettings | None = None,
) -> Added:
    """Analyse a recording, keep its bytes and write the entry. Raises LeakdownError, with nothing written.

    shop: fills in what the recording does not say; it is kept as it was now, whatever is set later.
    """
    job = at.job
    if corrects is not None and corrects not in [t.number for t in job.tests]:
        raise UsageError(f"there is no test {corrects} to correct", remedy="leakdown job show lists the tests.")
    _refuse_the_same_bytes(job, data, recording.source, corrects, inputs.test)
    recording = Settings(shop=shop).filled_in(recording)
    inputs, remark = with_counting_limit(with_shop_air(inputs, recording, shop), recording, job, shop)
    analysis = analyse(recording, settings_of(inputs))
    rig = Settings(shop=shop).rig_for(recording)
    if rig is not None:  # its own leak is not taken off here; what proves it is kept all the same
        analysis = rig_seen(analysis, rig.name, rig.known)
    conditions = replace(recording.conditions, direction=recording.direction)
    stored, inputs = StoredRecording("", recording.source, "", 0), replace(inputs, conditions=conditions)
    draft = Test(0, "", stage, stored, inputs, stored_result(analysis), corrects=corrects)
    remarks = [remark] if remark else []
    place = _tried(place_found, "the place", remarks, at.folder, job, draft, analysis)
    change = _tried(change_since, "the change", remarks, at.folder, job, draft, analysis)
    test = replace(draft, recording=at.keep(data, recording.source), place=place, change=change)
    return Added(at.add(test), analysis, tuple(remarks))


def _refuse_the_same_bytes(job: Job, data: bytes, source: str, corrects: int | None, which: int | None) -> None:
    """Only a correction may read a recording anew, or `which` asks for another test in it. Raises InputError."""
    sha256 = digest(data)
    same = (t for t in reversed(job.tests) if t.recording.sha256 == sha256 and t.inputs.test == which)
    test = next(same, None)
    if test is not None and test.number != corrects:
        raise InputError(
            f"is in the job already, byte for byte: test {test.number}, {RECORDINGS}/{test.recording.file}",
            where=source,
            remedy=f"To have it read or judged in another way, add it with --corrects {test.number}.",
        )


def _tried(what: Callable[..., _T | None], name: str, remarks: list[str], *given: Any) -> _T | None:
    """A finding that fails is said and left out: the test itself must not be lost for it."""
    try:
        return what(*given)
    except LeakdownError as error:
        where = f"{error.where}: " if error.where else ""
        remarks.append(f"{name} could not be worked out ({where}{error.what})")
        return None


def add_note(at: Writing, note: Note) -> Note:
    """Write a note, repair, verdict, correction or withdrawal. Raises UsageError."""
    if not note.text.strip():
        raise UsageError("the text is empty", remedy="Say what was seen, found or done.")
    if len(note.text) > LONGEST_TEXT:
        raise UsageError(f"the text is longer than {LONGEST_TEXT} letters", remedy="Put it into a file beside the job.")
    _check_target(at.job, note)
    if note.kind == "correction" and note.corrects in FIELDS:
        checked_engine(with_field(at.job.current, note.corrects, note.text))
    if note.kind == "correction" and note.corrects == "complaint":
        note = replace(note, seen=heard(note.text).seen)
    return at.add(note)


def _check_target(job: Job, note: Note) -> None:
    withdrawable = [str(e.number) for e in job.entries if not isinstance(e, Note)]
    if note.kind == "withdrawal" and note.corrects not in withdrawable:
        raise UsageError(f"there is no test {note.corrects} to withdraw", remedy="leakdown job show lists the tests.")
    if note.kind == "correction" and note.corrects not in (*(str(e.number) for e in job.entries), *FIELDS):
        fields = ", ".join(name.replace("_", "-") for name in FIELDS)
        remedy = f"Give an entry's number, or one of {fields}."
        raise UsageError(f"there is no {note.corrects!r} to correct", remedy=remedy)


def stage_named(text: str | None, job: Job) -> Stage:
    """before or after; not said, it follows from whether a repair stands in the record. Raises UsageError."""
    if text is None:
        return "after" if job.notes("repair") else "before"
    for stage in STAGES:
        if text.strip().lower() == stage:
            return stage
    raise UsageError(f"--stage {text!r} is neither before nor after", remedy="Say before or after (the repair).")


def checked_engine(engine: Engine) -> Engine:
    """The head of a new record, its words known and its complaint understood. Raises UsageError."""
    for name in FIELDS:
        if sum(map(len, getattr(engine, name))) > LONGEST_TEXT:
            raise UsageError(f"--{name.replace('_', '-')} is longer than {LONGEST_TEXT} letters", remedy="Say less.")
    check_engine(engine.intake, engine.seal_lips)
    return replace(engine, understood=heard(engine.complaint).seen)


def note_of(
    text: str,
    repair: bool = False,
    verdict: str | None = None,
    corrects: str | None = None,
    withdraws: int | None = None,
    place: str = "",
    seen: tuple[str, ...] = (),
    not_seen: tuple[str, ...] = (),
) -> Note:
    """The note that was meant. Raises UsageError when it cannot be one kind, or a word is unknown."""
    meant: dict[NoteKind, bool] = {
        "repair": repair,
        "verdict": verdict is not None,
        "correction": corrects is not None,
        "withdrawal": withdraws is not None,
    }
    chosen = [kind for kind, so in meant.items() if so]
    if len(chosen) > 1:
        raise UsageError(f"a note is one of {', '.join(chosen)}, not several", remedy="Write one note for each.")
    known = next((word for word in VERDICTS if word == verdict), None)
    if verdict is not None and known is None:
        raise UsageError(f"--verdict {verdict!r} is unknown", remedy=f"Say {', '.join(VERDICTS)}.")
    sorted_answers(seen, not_seen)  # refuses ids that nobody knows
    target = str(withdraws) if withdraws is not None else (corrects or "").strip().replace("-", "_")
    return Note(0, "", chosen[0] if chosen else "note", text, known or "", place, target, seen, not_seen)
