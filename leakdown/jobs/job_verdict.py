"""The verdict on a job as it is now, by circuit and for the engine. A pass has to be earned in full."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leakdown.circuits import CIRCUITS
from leakdown.circuits import circuit as circuit_of
from leakdown.jobs.alike import of_the_whole
from leakdown.jobs.record import Entry, Job, Note, StoredPlace, Test

ENGINE = "crankcase"
RIG = "rig"


@dataclass(frozen=True)
class CircuitVerdict:
    """One circuit: its word, the tests that speak for it now, and what is missing for a pass."""

    circuit: str
    word: str
    tests: tuple[Test, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class JobVerdict:
    """The job: word "pass", "fail" or "undecided"; circuits that were not tested; whether work was done."""

    word: str
    circuits: tuple[CircuitVerdict, ...]
    not_tested: tuple[str, ...]
    repaired: bool

    @property
    def engine_tested(self) -> bool:
        """Whether any test was of the crankcase itself."""
        return any(c.circuit == ENGINE for c in self.circuits)


def job_verdict(job: Job) -> JobVerdict:
    """Judge the tests that count by the present state of the engine."""
    found = {t.circuit for t in job.counted}
    tested = [c for c in CIRCUITS if c != RIG and c in found]
    circuits = tuple(_circuit(job, c) for c in tested)
    words = [c.word for c in circuits]
    word = "fail" if "fail" in words else "pass" if set(words) == {"pass"} else "undecided"
    repaired = bool(job.notes("repair")) or any(t.stage == "after" for t in job.counted)
    return JobVerdict(word, circuits, tuple(c for c in CIRCUITS if c not in (*tested, RIG)), repaired)


def _circuit(job: Job, circuit: str) -> CircuitVerdict:
    own = [t for t in job.counted if t.circuit == circuit]
    now = since_the_repair(job, own)
    whole = [t for t in now if t in of_the_whole(own)]
    last = {t.direction: t for t in whole or now}
    tests = tuple(last[d] for d in ("pressure", "vacuum") if d in last)
    if any(t.result.verdict == "fail" for t in tests):
        return CircuitVerdict(circuit, "fail", tests, ())
    missing = _missing(circuit, tests, stale=bool(own) and not now)
    missing += ["a test of the whole circuit"] if now and not whole else []
    return CircuitVerdict(circuit, "undecided" if missing else "pass", tests, tuple(missing))


def since_the_repair(job: Job, tests: Sequence[Test]) -> list[Test]:
    """Those of `tests` that speak for the engine as it is now: after the last repair, where there was one.

    A test is out of date when work was noted between an earlier repair of its own and now; a repair that was
    noted late, after the tests that followed it, makes none of them so.
    """
    repairs = [n.number for n in job.notes("repair")]
    after = [t for t in tests if t.stage == "after"]
    if not repairs and not after:
        return list(tests)
    return [t for t in after if not _overtaken(t, repairs)]


def _overtaken(test: Test, repairs: Sequence[int]) -> bool:
    return any(r < test.number for r in repairs) and any(r > test.number for r in repairs)


def _missing(circuit: str, tests: tuple[Test, ...], stale: bool) -> list[str]:
    if stale:
        return ["a test since the repair"]
    done = {t.direction for t in tests}
    needed = ("pressure", "vacuum") if circuit_of(circuit).both == "needed" else ("pressure",)
    missing = [f"a {d} test" for d in needed if d not in done]
    missing += [f"a decision of the {t.direction} test" for t in tests if t.result.verdict == "undecided"]
    if not all(t.connection_proven for t in tests):
        missing.append("proof that the gauge was connected (crack a blank open at the end)")
    if not all(t.inputs.blanks_checked for t in tests):
        missing.append("a check of the blanks and plugs (reseat, soap)")
    return missing


def entries_in_order(job: Job) -> tuple[Entry, ...]:
    """The entries as the story goes: a repair noted late stands before the tests that followed it."""
    entries = list(job.entries)
    repair = next(iter(job.notes("repair")), None)
    first = next((t for t in job.tests if t.stage == "after"), None)
    if repair and first and entries.index(first) < entries.index(repair):
        entries.remove(repair)
        entries.insert(entries.index(first), repair)
    return tuple(entries)


def last_finding(job: Job) -> StoredPlace | None:
    """Where the tests before the repair put the leak, as they stood in the end."""
    tests = [t for t in job.counted if t.stage == "before" and t.place is not None and t.circuit != RIG]
    bad = any(t.result.verdict != "pass" for t in tests)
    return tests[-1].place if tests and bad else None


def places_said(job: Job) -> tuple[str, ...]:
    """Where the mechanic found the fault: seen, not worked out."""
    return tuple(dict.fromkeys(n.place for n in job.notes("note", "repair", "verdict") if n.place))


def places_named(job: Job) -> tuple[str, ...]:
    """Where the fault was found: as the mechanic says, or else as the tests say."""
    said = places_said(job)
    place = last_finding(job)
    return said or ((place.place_name,) if place and place.group != "no-leak-found" else ())


def mechanics_verdict(job: Job) -> Note | None:
    """The mechanic's last verdict."""
    notes = job.notes("verdict")
    return notes[-1] if notes else None
