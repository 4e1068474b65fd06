"""What a record comes to in a word: the finding, the places named, the mechanic's own verdict."""

from __future__ import annotations

from leakdown.jobs.record import Job, Note, Place
from leakdown.jobs.standing import RIG


def last_finding(job: Job) -> Place | None:
    """Where the tests before the repair put the leak, as they stood in the end."""
    tests = [t for t in job.counted if t.stage == "before" and t.place is not None and t.circuit != RIG]
    bad = any(t.found.verdict != "pass" for t in tests)
    return tests[-1].place if tests and bad else None


def places_named(job: Job) -> tuple[str, ...]:
    """Where the fault was found: as the mechanic says, or else as the tests say."""
    said = tuple(dict.fromkeys(n.place for n in job.notes("note", "repair", "verdict") if n.place))
    place = last_finding(job)
    return said or ((place.place_name,) if place and place.group != "no-leak-found" else ())


def said_verdict(job: Job) -> Note | None:
    """The mechanic's last verdict."""
    notes = job.notes("verdict")
    return notes[-1] if notes else None
