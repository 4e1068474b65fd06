"""`leakdown job list` and `leakdown job trend`: across jobs."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, say, style_for, width
from leakdown.cli.job_options import Folder
from leakdown.cli.results import check_outputs, tell
from leakdown.errors import LeakdownError, UsageError

if TYPE_CHECKING:
    from leakdown.jobs.listing import Row
    from leakdown.jobs.trend import Visit

_VERDICTS = ("pass", "fail", "undecided", "none")


def register(group: typer.Typer) -> None:
    """Add both commands."""
    group.command("list", epilog="Example: leakdown job list pump --verdict fail")(list_jobs)
    group.command("trend", epilog="Example: leakdown job trend 1234567")(trend)


def list_jobs(
    words: Annotated[
        list[str] | None, typer.Argument(help="Words to look for anywhere in the list.", show_default=False)
    ] = None,
    engine: Annotated[str, typer.Option("--engine", help="Part of the engine's name or serial.")] = "",
    place: Annotated[str, typer.Option("--place", help="Part of the place found.")] = "",
    verdict: Annotated[str, typer.Option("--verdict", help="pass, fail, undecided or none.")] = "",
    as_csv: Annotated[bool, typer.Option("--csv", help="A CSV table.", rich_help_panel="The result")] = False,
    folder: Folder = Path("jobs"),
    as_json: o.Json = False,
) -> None:
    """List jobs, all or those that answer a search, newest first."""
    from leakdown.jobs.listing import Wanted, csv_text, listing, matches, row_object

    if verdict not in ("", *_VERDICTS):
        raise UsageError(f"--verdict {verdict!r} is unknown", remedy=f"Say {', '.join(_VERDICTS)}.")
    _folder_is_there(folder)
    found = listing(folder)
    wanted = Wanted(tuple(words or ()), engine, place, verdict)
    rows = [row for row in found.rows if matches(row, wanted)]
    rows.sort(key=lambda row: (row.opened, row.reference), reverse=True)
    if as_json:
        for row in rows:
            print(json.dumps(row_object(row), allow_nan=False, ensure_ascii=False))
    elif as_csv:
        sys.stdout.write(csv_text(rows))
    else:
        _print(rows, len(found.rows))
    raise typer.Exit(_told(found.troubles))


def _folder_is_there(folder: Path) -> None:
    if not folder.exists():
        say(f"{folder} does not exist yet: leakdown job new makes it.")


def _told(troubles: Sequence[LeakdownError]) -> int:
    for error in troubles:
        say(f"leakdown: {error}")
    return 2 if troubles else 0


def _print(rows: Sequence[Row], of: int) -> None:
    from leakdown.jobs.words import row_lines

    for line in row_lines(rows, width(), style_for(sys.stdout)):
        print(line)
    say(f"{len(rows)} of {of} jobs" if len(rows) != of else f"{of} jobs")


def trend(
    serial: Annotated[str, typer.Argument(help="The engine's serial number.", show_default=False)],
    chart: Annotated[
        Path | None,
        typer.Option("--chart", help="Write a chart (PNG, PDF or SVG).", rich_help_panel="The result"),
    ] = None,
    folder: Folder = Path("jobs"),
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Follow one engine over its visits: each circuit and direction, visit by visit."""
    from leakdown.jobs.trend import trend as follow
    from leakdown.jobs.words import trend_lines

    if not serial.strip():
        raise UsageError("the serial number is empty", remedy="Give the engine's serial number.")
    check_outputs([], None, chart)
    visits, troubles = follow(folder, serial)
    if as_json:
        for visit in visits:
            print(json.dumps(asdict(visit), allow_nan=False, ensure_ascii=False))
    else:
        own = (serial, *(text for v in visits for text in (v.reference, v.hours)))
        for line in trend_lines(visits, width(), style_for(sys.stdout)):
            out(line, own)
        if not visits:
            say(f"no tests of an engine with the serial {serial!r} in {folder}")
    if chart:
        _draw(serial, visits, chart, quiet or as_json)
    raise typer.Exit(_told(troubles))


def _draw(serial: str, visits: Sequence[Visit], chart: Path, silent: bool) -> None:
    """Write the chart, or say why there is none. Raises OutputError."""
    from leakdown.jobs.trend import trend_chart
    from leakdown.report.picture import save

    drawn = trend_chart(serial, visits)
    if drawn is None:
        say("no chart: no visit has a leak rate (give job add the volume)")
        return
    save(drawn, chart)
    tell(f"Chart: {chart}", silent)
