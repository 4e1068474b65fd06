"""The runs of a job: entered, put right by addition, in order, and what they come to in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from leakdown.errors import UsageError
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.record import Job
from leakdown.jobs.store import Writing
from leakdown.runs.durations import duration_words, parse_duration
from leakdown.runs.run import ENDED_WORDS, Run, Throttle
from leakdown.where.heard import groups_said, heard
from leakdown.words.runs_told import runs_sentence

_LONGEST_TEXT = 10_000
RESTARTS = "restarts-at-once"


@dataclass(frozen=True)
class JobRun:
    """A run that counts. number: of its entry; run: for the statistics; text: its note."""

    number: int
    run: Run
    text: str


def add_run(at: Writing, entry: EngineRun) -> EngineRun:
    """Write a run. Raises UsageError with nothing written."""
    run = _run(entry, entry.started, 0)  # checks itself
    if max(map(len, (run.fuel, run.fitted, entry.text))) > _LONGEST_TEXT:
        raise UsageError(f"the text is longer than {_LONGEST_TEXT} letters", remedy="Say less.")
    numbers = [r.number for r in runs_of(at.job)]
    if entry.corrects is not None and entry.corrects not in numbers:
        there = ", ".join(map(str, numbers)) or "none yet"
        raise UsageError(f"there is no run {entry.corrects} that counts", remedy=f"Runs that count: {there}.")
    return at.add(entry)


def ran_s(duration: str | None, ended: str) -> float:
    """Seconds of a run as given; nothing, or no time, for one that would not start. Raises UsageError."""
    if duration is None and ended != "would-not-start":
        raise UsageError("the duration is missing", remedy='Say how long it ran: "45 s", "1:20", "2 min".')
    return 0.0 if duration is None else parse_duration(duration)


def checked_start(text: str) -> str:
    """When a run was made, as given: ISO 8601, or "". Raises UsageError."""
    try:
        return datetime.fromisoformat(text).isoformat() if text else ""
    except ValueError:
        raise UsageError(f"--started {text!r} is no date and time", remedy='Write it as "2026-03-05T09:30".') from None


def runs_of(job: Job) -> tuple[JobRun, ...]:
    """The runs that count, in the order of their entries; one that was put right keeps its place."""
    repairs = [n.number for n in job.notes("repair") if not job.withdrawn(n)]
    in_place = {r.corrects: r for r in job.engine_runs if r.corrects is not None}
    found = []
    for first in (r for r in job.engine_runs if r.corrects is None):
        last = first
        while last.number in in_place:
            last = in_place[last.number]
        if not job.withdrawn(last):
            period = sum(number < first.number for number in repairs)
            at = last.started or first.started or first.at
            found.append(JobRun(last.number, _run(last, at, period), last.text))
    return tuple(found)


def _run(entry: EngineRun, at: str, period: int) -> Run:
    throttle, restarts = _noted(entry.text)
    return Run(entry.ran_s, entry.ended, entry.fuel, entry.warm, entry.fitted, at[:10], period, throttle, restarts)


@lru_cache(maxsize=256)
def _noted(text: str) -> tuple[Throttle, bool]:
    """What the note of a run says of the throttle, and whether it started again at once."""
    if not text:
        return "", False
    said = groups_said(text, ("full-throttle", "idle"))
    throttle: Throttle = "" if len(said) != 1 else "open" if said == ("full-throttle",) else "idle"
    return throttle, RESTARTS in heard(text).seen


def counted_runs(job: Job) -> tuple[Run, ...]:
    """The same for the statistics alone."""
    return tuple(r.run for r in runs_of(job))


def run_words(run: Run) -> str:
    """ "41 s, died; full, cold; old filter"."""
    ran = text_of_end(run)
    warm = {True: "warm", False: "cold", None: ""}[run.warm]
    said = ", ".join(part for part in (run.fuel and f"fuel {run.fuel}", warm) if part)
    return "; ".join(part for part in (ran, said, run.fitted) if part)


def text_of_end(run: Run) -> str:
    """How long, and how it ended."""
    if run.ended == "would-not-start":
        return ENDED_WORDS[run.ended]
    return f"{duration_words(run.ran_s)}, {ENDED_WORDS[run.ended]}"


def story_sentence(job: Job) -> str:
    """ "It died after 28 to 41 s five times; since the change (new line) it ran ..."; "" without runs."""
    return runs_sentence(counted_runs(job), [n.text for n in job.notes("repair")])
