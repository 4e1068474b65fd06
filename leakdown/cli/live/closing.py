"""How a log ends: the same summary as `leakdown analyse` gives, or why there is none."""

from __future__ import annotations

import json
import shlex
from dataclasses import dataclass
from pathlib import Path

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.cli.live.plan import Run
from leakdown.cli.live.run import Counts
from leakdown.cli.present import Wanted, analysed, show, status_of
from leakdown.errors import InputError, UsageError


@dataclass(frozen=True)
class Closing:
    """What is wanted at the end."""

    json: bool
    verdict_status: bool
    quiet: bool


def close(run: Run, counts: Counts, closing: Closing) -> int:
    """Say what was recorded, analyse it, show it; the exit status."""
    path = run.plan.out
    if not closing.quiet:
        say(f"{path}: {counts.text()}")
    wanted = Wanted(o.ReadingText(), o.TestText(), run.settings, json=closing.json, quiet=closing.quiet)
    try:
        result = analysed(path, wanted)
    except (InputError, UsageError) as error:
        return _not_analysed(error, path, counts, closing)
    show(result, path, wanted)
    if not closing.quiet:
        say(f"Next: {_again(path, run.limit)}")
    return status_of([result]) if closing.verdict_status else 0


def _not_analysed(error: InputError | UsageError, path: Path, counts: Counts, closing: Closing) -> int:
    """The recording is kept and says nothing yet: not an error of the log."""
    if not closing.quiet:
        say(f"No result: {error.what}." + (f"\n  {error.remedy}" if error.remedy else ""))
    if closing.json:
        line = {"file": str(path), "readings": counts.readings, "unreadable": counts.unreadable}
        print(json.dumps(line | {"seconds": round(counts.seconds, 3)}, ensure_ascii=False), flush=True)
    return 11 if closing.verdict_status else 0


def _again(path: Path, limit: str | None) -> str:
    limited = f" --limit {shlex.quote(limit)}" if limit else ""
    return f"leakdown analyse {shlex.quote(str(path))}{limited} --report page.html"
