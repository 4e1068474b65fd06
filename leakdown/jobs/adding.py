"""Entries that come in: a test with its recording, or a note. Each is checked before anything is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any, TypeVar

from leakdown.analysis import Analysis
from leakdown.errors import LeakdownError, UsageError
from leakdown.jobs.evidence import change_since, found_of, place_found, settings_of
from leakdown.jobs.record import (
    FIELDS,
    STAGES,
    VERDICTS,
    Engine,
    Job,
    Kept,
    Note,
    NoteKind,
    Stage,
    Test,
    TestInputs,
    with_field,
)
from leakdown.jobs.store import Writing, now, plain
from leakdown.judge.analyse import analyse
from leakdown.recording import Recording
from leakdown.where.answers import check_engine, sorted_answers, understood

LONGEST_TEXT = 100_000
_T = TypeVar("_T")
Finding = Callable[..., _T | None]


@dataclass(frozen=True)
class Added:
    """A test as it went into the record, its analysis, and what could not be said about it, in words."""

    test: Test
    analysis: Analysis
    remarks: tuple[str, ...]


def stage_now(job: Job) -> Stage:
    """before, until a repair stands in the record."""
    return "after" if job.notes("repair") else "before"


def add_test(
    at: Writing,
    data: bytes,
    recording: Recording,
    said: TestInputs,
    stage: Stage,
    corrects: int | None = None,
) -> Added:
    """Analyse a recording, keep its bytes and write the entry. Raises LeakdownError, with nothing written."""
    job = at.job
    if corrects is not None and corrects not in [t.number for t in job.tests]:
        raise UsageError(
            f"there is no test {corrects} to correct", remedy="leakdown job show lists the tests."
        )
    analysis = analyse(recording, settings_of(said))
    draft = Test(
        job.next_number,
        now(),
        stage,
        Kept("", recording.source, "", 0),
        replace(said, conditions=_plain_conditions(recording)),
        found_of(analysis),
        corrects=corrects,
    )
    remarks = [f"the same bytes as test {t.number}" for t in job.tests if _same(t, data)]
    given = (at.folder, job, draft, analysis)
    place = _tried(place_found, "the place", remarks, *given)
    changed = _tried(change_since, "the change", remarks, *given)
    test = replace(draft, kept=at.keep(data, recording.source), place=place, changed=changed)
    at.save(job.with_entry(test))
    return Added(test, analysis, tuple(remarks))


def _same(test: Test, data: bytes) -> bool:
    return len(data) == test.kept.size and sha256(data).hexdigest() == test.kept.sha256


def _plain_conditions(recording: Recording) -> Any:
    c = recording.conditions
    texts: dict[str, Any] = {n: plain(v) for n in ("gauge", "note", "started") if (v := getattr(c, n))}
    lists: dict[str, Any] = {n: tuple(plain(v) for v in getattr(c, n)) for n in ("includes", "blocked")}
    extra = tuple((plain(k), plain(v)) for k, v in c.extra)
    return replace(c, direction=recording.direction, extra=extra, **texts, **lists)


def _tried(what: Finding[_T], name: str, remarks: list[str], *given: Any) -> _T | None:
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
        raise UsageError(
            f"the text is longer than {LONGEST_TEXT} letters", remedy="Put it into a file beside the job."
        )
    if note.kind in ("correction", "withdrawal"):
        _check_target(at.job, note)
    if note.kind == "correction" and note.corrects in FIELDS:
        checked_engine(with_field(at.job.current, note.corrects, note.text))
    if note.kind == "correction" and note.corrects == "complaint":
        note = replace(note, seen=understood(note.text).seen)
    texts: dict[str, Any] = {"text": plain(note.text), "place": plain(note.place)}
    numbered = replace(note, number=at.job.next_number, at=now(), **texts)
    at.save(at.job.with_entry(numbered))
    return numbered


def _check_target(job: Job, note: Note) -> None:
    entries = [str(e.number) for e in job.entries]
    out = [str(e.number) for e in job.entries if not isinstance(e, Note)]
    if note.kind == "withdrawal" and note.corrects not in out:
        raise UsageError(
            f"there is no test {note.corrects} to withdraw", remedy="leakdown job show lists the tests."
        )
    if note.kind == "correction" and note.corrects not in (*entries, *FIELDS):
        fields = ", ".join(name.replace("_", "-") for name in FIELDS)
        raise UsageError(
            f"there is no {note.corrects!r} to correct", remedy=f"Give an entry's number, or one of {fields}."
        )


def stage_named(text: str | None, job: Job) -> Stage:
    """before or after; not said, it follows from whether a repair stands in the record. Raises UsageError."""
    if text is None:
        return stage_now(job)
    plain_text = text.strip().lower()
    for stage in STAGES:
        if plain_text == stage:
            return stage
    raise UsageError(
        f"--stage {text!r} is neither before nor after", remedy="Say before or after (the repair)."
    )


def checked_engine(engine: Engine) -> Engine:
    """The head of a new record with known words only, and texts that a file can hold. Raises UsageError."""
    values: dict[str, Any] = {}
    for name in FIELDS:
        value = getattr(engine, name)
        values[name] = tuple(plain(v) for v in value) if isinstance(value, tuple) else plain(value)
        if sum(map(len, values[name])) > LONGEST_TEXT:
            raise UsageError(f"--{name.replace('_', '-')} is longer than {LONGEST_TEXT} letters")
    check_engine(values["intake"], values["seal_lips"])
    return Engine(**values, understood=understood(values["complaint"]).seen)


def note_of(
    text: str,
    repair: bool,
    verdict: str | None,
    corrects: str | None,
    withdraws: int | None,
    place: str,
    observed: tuple[tuple[str, ...], tuple[str, ...]] = ((), ()),
) -> Note:
    """The note that was meant. Raises UsageError when it cannot be one kind, or a word is unknown."""
    chosen: list[NoteKind] = []
    chosen += ["repair"] if repair else []
    chosen += ["verdict"] if verdict is not None else []
    chosen += ["correction"] if corrects is not None else []
    chosen += ["withdrawal"] if withdraws is not None else []
    if len(chosen) > 1:
        raise UsageError(
            f"a note is one of {', '.join(chosen)}, not several", remedy="Write one note for each."
        )
    if verdict is not None and verdict not in VERDICTS:
        raise UsageError(f"--verdict {verdict!r} is unknown", remedy=f"Say {', '.join(VERDICTS)}.")
    sorted_answers(*observed)  # refuses ids that nobody knows
    target = str(withdraws) if withdraws is not None else (corrects or "").strip().replace("-", "_")
    kind: NoteKind = chosen[0] if chosen else "note"
    return Note(0, "", kind, text, verdict or "", place, target, *observed)
