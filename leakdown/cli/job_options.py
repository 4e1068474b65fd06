"""Options and steps that the job commands share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.cli.help_text import job_references
from leakdown.cli.results import shop_settings

if TYPE_CHECKING:
    from leakdown.jobs.record import Job
    from leakdown.jobs.store import Writing


_REFERENCE: dict[str, Any] = {"help": "The job's reference.", "show_default": False, "autocompletion": job_references}
Reference = Annotated[str, typer.Argument(metavar="REF", **_REFERENCE)]


def _jobs_folder(context: typer.Context, folder: Path) -> Path:
    """The folder as given, else as the shop has set it."""
    source = context.get_parameter_source("folder")
    if source is None or source.name != "DEFAULT":
        return folder
    return shop_settings().jobs or folder


_FOLDER = {"envvar": "LEAKDOWN_JOBS", "callback": _jobs_folder, "metavar": "DIR"}
Folder = Annotated[Path, o.option("--folder", "Where the job folders live.", **_FOLDER)]


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
    from leakdown.jobs.page import PICTURES, REPORT, attach

    for trouble in attach(folder, job):
        say(trouble)
    if not quiet:
        drawn = any((folder / name).is_file() for name in PICTURES)  # none without a test
        say(f"{folder / REPORT}{' and the chart (PNG, PDF, SVG)' if drawn else ''} written")
