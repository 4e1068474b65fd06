"""`leakdown job list` and `leakdown job trend`: across jobs."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, put, say, style_for, width
from leakdown.cli.job_options import Folder
from leakdown.cli.pages import UNNAMED, page_path
from leakdown.cli.results import check_outputs, tell, write_text
from leakdown.errors import LeakdownError, UsageError


def register(group: typer.Typer) -> None:
    """Add both commands."""
    group.command("list", epilog="Example: leakdown job list pump --verdict fail")(list_jobs)
    group.command("trend", epilog="Example: leakdown job trend 1234567")(trend)


Words = Annotated[list[str] | None, typer.Argument(help="Words to look for anywhere in the list.", show_default=False)]


def list_jobs(
    words: Words = None,
    engine: Annotated[str, o.option("--engine", "Part of the engine's name or serial.")] = "",
    place: Annotated[str, o.option("--place", "Part of the place found.")] = "",
    verdict: Annotated[str, o.option("--verdict", "pass, fail, undecided or none.")] = "",
    report: Annotated[
        Path | None, o.option("--report", "Write an overview page (HTML).", "The result", metavar="FILE")
    ] = None,
    as_csv: Annotated[bool, o.option("--csv", "A CSV table.", "The result")] = False,
    folder: Folder = Path("jobs"),
    as_json: o.Json = False,
) -> None:
    """List jobs, all or those that answer a search, newest first."""
    from leakdown.jobs.listing import Wanted, csv_text, found_rows, listing, row_object
    from leakdown.jobs.terminal import row_lines

    wanted = Wanted(tuple(words or ()), engine, place, verdict)
    if not folder.exists():
        say(f"{folder} does not exist yet: leakdown job new makes it.")
    found = listing(folder)
    rows = found_rows(found.rows, wanted)
    if report is not None:
        from leakdown.jobs.overview import overview_page

        target = Path("jobs.html") if report == UNNAMED else page_path(report, folder)
        assert target is not None
        write_text(target, overview_page(folder, [row.reference for row in rows]))
        tell(f"Report: {target}", as_json)
    if as_json:
        for row in rows:
            print_json(row_object(row))
    elif as_csv:
        put(csv_text(rows))
    else:
        for line in row_lines(rows, width(), style_for(sys.stdout)):
            print(line)
        of = f"{len(rows)} of " if len(rows) != len(found.rows) else ""
        say(f"{of}{len(found.rows)} jobs")
    raise typer.Exit(_told(found.troubles))


def _told(troubles: Sequence[LeakdownError]) -> int:
    for error in troubles:
        say(f"leakdown: {error}")
    return 2 if troubles else 0


def trend(
    serial: Annotated[str, typer.Argument(help="The engine's serial number.", show_default=False)],
    chart: Annotated[
        Path | None, o.option("--chart", "Write a chart (PNG, PDF or SVG).", "The result", metavar="FILE")
    ] = None,
    folder: Folder = Path("jobs"),
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Follow one engine over its visits: each circuit and direction, visit by visit."""
    from leakdown.jobs.terminal import trend_lines
    from leakdown.jobs.trend import trend as follow
    from leakdown.jobs.trend import trend_chart
    from leakdown.report.picture import save

    if not serial.strip():
        raise UsageError("the serial number is empty", remedy="Give the engine's serial number.")
    check_outputs([], None, chart)
    visits, troubles = follow(folder, serial)
    if as_json:
        for visit in visits:
            print_json(asdict(visit))
    else:
        own = (serial, *(text for v in visits for text in (v.reference, v.hours)))
        for line in trend_lines(visits, width(), style_for(sys.stdout)):
            out(line, own)
        if not visits:
            say(f"no tests of an engine with the serial {serial!r} in {folder}")
    drawn = trend_chart(serial, visits) if chart else None
    if chart and drawn:
        save(drawn, chart)
        tell(f"Chart: {chart}", quiet or as_json)
    elif chart:
        say("no chart: no visit has a leak rate (give job add the volume)")
    raise typer.Exit(_told(troubles))
