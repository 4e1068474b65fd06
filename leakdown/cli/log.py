"""`leakdown log`: a live test from a gauge, every reading on disk as it arrives."""

from __future__ import annotations

import json
import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.cli.live_plan import Run
from leakdown.cli.live_run import Counts
from leakdown.cli.results import Wanted, analysed, show, status_of
from leakdown.errors import InputError, UsageError


@dataclass(frozen=True)
class Closing:
    """What is wanted at the end."""

    json: bool
    verdict_status: bool
    quiet: bool


def close(run: Run, counts: Counts, closing: Closing) -> int:
    """Say what was recorded, analyse it, show it; the exit status."""
    from leakdown.reading import Told

    path = run.plan.out
    if not closing.quiet:
        say(f"{path}: {counts.text()}")
    wanted = Wanted(Told(), run.settings, json=closing.json, quiet=closing.quiet)
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


_GAUGE = "The gauge"
_TEST = "The test"

Port = Annotated[
    str, typer.Argument(help="Device (/dev/ttyUSB0, COM3) or URL (socket://host:port).", show_default=False)
]
Out = Annotated[
    Path | None,
    typer.Option(
        "--out", help="The recording to write (never overwritten).", show_default="test-DATE-TIME.csv"
    ),
]
Gauge = Annotated[
    str,
    typer.Option(
        "--gauge", help="Profile name or file; `leakdown gauges` lists them.", rich_help_panel=_GAUGE
    ),
]
Baud = Annotated[
    int | None, typer.Option("--baud", help="Speed of the port.", rich_help_panel=_GAUGE, min=50)
]
Duration = Annotated[
    str | None, typer.Option("--duration", help='When to end, such as "90 s"; else Ctrl-C or q.')
]
UntilDecided = Annotated[bool, typer.Option("--until-decided", help="End as soon as the verdict is certain.")]
NoPrompt = Annotated[bool, typer.Option("--no-prompt", help="Take no keys, lead nobody (for scripts).")]
Wait = Annotated[
    str,
    typer.Option("--wait", help="How long to wait for a gauge that was unplugged.", rich_help_panel=_GAUGE),
]
Includes = Annotated[
    str | None,
    typer.Option("--includes", help="Sections in this test, with commas.", rich_help_panel=_TEST),
]
Blocked = Annotated[
    str | None,
    typer.Option("--blocked", help="What is blanked off, with commas.", rich_help_panel=_TEST),
]
Note = Annotated[str | None, typer.Option("--note", help="A note for the record.", rich_help_panel=_TEST)]
VerdictStatus = Annotated[bool, typer.Option("--verdict-status", help="Exit 10 on fail, 11 on undecided.")]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("log", epilog='Example: leakdown log /dev/ttyUSB0 --out vacuum.csv --duration "90 s"')(log)


def log(
    port: Port,
    out: Out = None,
    gauge: Gauge = "auto",
    baud: Baud = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    duration: Duration = None,
    until_decided: UntilDecided = False,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    limit: o.LimitText = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    temperature: o.Temperature = None,
    includes: Includes = None,
    blocked: Blocked = None,
    note: Note = None,
    wait: Wait = "10 s",
    no_prompt: NoPrompt = False,
    as_json: o.Json = False,
    verdict_status: VerdictStatus = False,
    quiet: o.Quiet = False,
) -> None:
    """Record a live test from a gauge; nothing that it sends is lost."""
    from leakdown.cli.live_plan import GaugeText, LogText, run_from
    from leakdown.cli.live_run import record
    from leakdown.reading import Told

    told = Told(unit, direction, absolute, barometer, altitude,
                circuit, volume, volume_uncertainty, temperature, None)  # fmt: skip
    text = LogText(
        GaugeText(port, out, gauge, baud, wait),
        told,
        (includes, blocked, note),
        (duration, limit, until_decided),
        prompt=not no_prompt,
        quiet=quiet or as_json,
    )
    run = run_from(text)
    counts = record(run)
    raise typer.Exit(close(run, counts, Closing(as_json, verdict_status, quiet)))
