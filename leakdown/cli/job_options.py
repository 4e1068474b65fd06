"""Options and steps that the job commands share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli.console import say

if TYPE_CHECKING:
    from leakdown.jobs.record import Job
    from leakdown.jobs.store import Writing

Reference = Annotated[str, typer.Argument(metavar="REF", help="The job's reference.", show_default=False)]
Folder = Annotated[
    Path,
    typer.Option("--folder", envvar="LEAKDOWN_JOBS", help="Where the job folders live.", metavar="DIR"),
]
SeenIds = Annotated[
    list[str] | None,
    typer.Option(
        "--seen", metavar="ID", help="Something that was seen (repeat); leakdown locate --observations."
    ),
]
NotSeenIds = Annotated[
    list[str] | None, typer.Option("--not-seen", metavar="ID", help="Looked for and not seen (repeat).")
]


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
    from leakdown.jobs.page import attach

    for trouble in attach(folder, job):
        say(trouble)
    if not quiet:
        say(f"{folder / 'report.html'} and the chart (PNG, PDF, SVG) written")
