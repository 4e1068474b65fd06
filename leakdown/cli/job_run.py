"""`leakdown job run` and `leakdown job runs`: the engine timed between tests, and whether a change helped."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import print_json, say, show, width
from leakdown.cli.help_text import one_of
from leakdown.cli.job_options import Folder, Reference, refreshed
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.jobs.record import Job

_ENDS = ("died", "stopped", "bogged", "would-not-start")
Duration = Annotated[
    str | None, typer.Argument(help='How long it ran: "45 s", "1:20", "1 min 20 s".', show_default=False)
]
Ended = Annotated[
    str, o.option("--ended", "died, stopped (by hand), bogged or would-not-start.", autocompletion=one_of(*_ENDS))
]
Fuel = Annotated[
    str, o.option("--fuel", "At the start: full, half, quarter, low, or in words.",
                  autocompletion=one_of("full", "half", "quarter", "low"))
]  # fmt: skip
Warm = Annotated[bool | None, typer.Option("--warm/--cold", help="Started warm or cold.", show_default=False)]
Fitted = Annotated[str, o.option("--with", 'What was fitted: "old filter, new line".', metavar="TEXT")]
InsteadOf = Annotated[int | None, o.option("--instead-of", "Puts run N right, which stays in the record.", metavar="N")]
Clock = Annotated[bool, o.option("--clock", "Time it here: one key when it starts, one when it ends.")]
Started = Annotated[str, o.option("--started", 'When, if not now: "2026-03-05T09:30".', metavar="ISO")]


def register(group: typer.Typer) -> None:
    """Add both commands."""
    example = 'Example: leakdown job run 2026-017 "41 s" --ended died --fuel full --cold'
    group.command("run", epilog=example)(run)
    group.command("runs", epilog="Example: leakdown job runs 2026-017")(runs)


def run(
    reference: Reference,
    duration: Duration = None,
    ended: Ended = "",
    fuel: Fuel = "",
    warm: Warm = None,
    fitted: Fitted = "",
    note: Annotated[str, o.option("--note", "Throttle, load, weather, what was heard.", metavar="TEXT")] = "",
    instead_of: InsteadOf = None,
    clock: Clock = False,
    started: Started = "",
    folder: Folder = Path("jobs"),
    quiet: o.Quiet = False,
) -> None:
    """Note a run of the engine: how long, how it ended, fuel, warm or cold, what was fitted."""
    from leakdown.jobs.engine_run import EngineRun
    from leakdown.jobs.engine_runs import add_run, checked_start, ran_s
    from leakdown.jobs.store import folder_of, load, writing

    if ended not in _ENDS and (ended or not clock):
        what = f"--ended {ended!r} is unknown" if ended else "--ended is missing"
        raise UsageError(what, remedy=f"Say how it ended: {', '.join(_ENDS)}.")
    if clock and duration:
        raise UsageError("a duration and --clock together", remedy="Give one of them.")
    began = checked_start(started)
    if clock:
        _before_the_clock(load(folder_of(folder, reference)))
        seconds, ended = _timed(ended)
    else:
        seconds = ran_s(duration, ended)
    entry = EngineRun(0, "", seconds, ended, fuel.strip(), warm, fitted.strip(),  # type: ignore[arg-type]
                      note.strip(), began, instead_of)  # fmt: skip
    with writing(folder, reference) as at:
        first = not at.job.engine_runs and not clock
        entry = add_run(at, entry)
        if not quiet:
            ended_words = f"{seconds:g} s, {ended}"
            say(f"{reference}: run {entry.number} added ({ended_words})")
        _say_safety(at.job, first)
        refreshed(at, quiet)


def _timed(ended: str) -> tuple[float, str]:
    from leakdown.cli.stopwatch import timed

    return timed(ended)


def _before_the_clock(job: Job) -> None:
    """The cautions, and no clock where a leak test comes first. Raises UsageError."""
    from leakdown.jobs.run_advice import why_no_run

    if why := why_no_run(job):
        raise UsageError(f"no run now: {why}", remedy="Leak test first (crankcase, pressure and vacuum).")
    _say_safety(job, not job.engine_runs)
    if not job.engine_runs and sys.stdin.isatty():
        input("Enter when all that is so. ")


def _say_safety(job: Job, first: bool) -> None:
    """The cautions once a job; that a leak test comes first, every time."""
    from leakdown.jobs.run_advice import why_no_run
    from leakdown.tuned import text
    from leakdown.words.runs import safety_lines
    from leakdown.words.wrap import clean_wrapped

    barred = why_no_run(job)
    told = [*(safety_lines() if first else ()), *([text("runs", "leak-first", why=barred)] if barred else [])]
    for line in told:
        say("\n".join(clean_wrapped(line, width(), "", "  ")))


def runs(reference: Reference, folder: Folder = Path("jobs"), as_json: o.Json = False) -> None:
    """Show the runs in order, compare before and after the latest repair, and say what they show."""
    from leakdown.jobs.customer_paragraph import texts_of_people
    from leakdown.jobs.run_advice import runs_lines, runs_object
    from leakdown.jobs.store import folder_of, load

    job = load(folder_of(folder, reference))
    if as_json:
        print_json(runs_object(job))
        return
    show(None, runs_lines(job), False, texts_of_people(job))
