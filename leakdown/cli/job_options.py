"""Options and steps that the job commands share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli.console import json_line, say

if TYPE_CHECKING:
    from leakdown.jobs.record import Job
    from leakdown.jobs.store import Writing


def _on_panel(panel: str) -> Any:
    """Options of one panel of the help text, a line each."""
    return lambda name, text, metavar=None: typer.Option(
        name, help=text, metavar=metavar, rich_help_panel=panel
    )


for_record, for_note, for_result = map(_on_panel, ("For the record", "What kind of note", "The result"))
Reference = Annotated[str, typer.Argument(metavar="REF", help="The job's reference.", show_default=False)]
Folder = Annotated[
    Path,
    typer.Option("--folder", envvar="LEAKDOWN_JOBS", help="Where the job folders live.", metavar="DIR"),
]


def print_json(value: Any) -> None:
    """One object on a line of its own."""
    print(json_line(value), flush=True)


def refreshed(at: Writing, quiet: bool) -> None:
    """Bring page and pictures up to date where the job has them: never older than the record."""
    from leakdown.jobs.page import REPORT, refresh

    if not (at.folder / REPORT).exists():
        return
    if not refresh(at.folder, at.job):
        attached(at.folder, at.job, quiet)
    elif not quiet:
        say(f"{at.folder / REPORT} is up to date")


def attached(folder: Path, job: Job, quiet: bool) -> None:
    """Write the page and the pictures; what could not be shown is said, and costs nothing else."""
    from leakdown.jobs.page import REPORT, attach

    for trouble in attach(folder, job):
        say(trouble)
    if not quiet:
        say(f"{folder / REPORT} and the chart (PNG, PDF, SVG) written")
