"""The runs of the engine as a block of the job's page, and as a picture in its folder."""

from __future__ import annotations

from pathlib import Path

from leakdown.disk import write_whole
from leakdown.jobs.customer_paragraph import texts_of_people
from leakdown.jobs.engine_runs import counted_runs, story_sentence
from leakdown.jobs.record import Job
from leakdown.report.page import as_markup, render
from leakdown.report.runs_picture import runs_picture, runs_svg
from leakdown.runs.compare import compared
from leakdown.words.runs import comparison_lines

RUNS_PICTURE = "runs.png"


def runs_block(job: Job) -> str:
    """The block as HTML; nothing without a run."""
    runs = counted_runs(job)
    if not runs:
        return ""
    svg = runs_svg(runs, _changes(job))
    lines = [
        story_sentence(job),
        *comparison_lines(compared(runs, len(_changes(job))), bool(_changes(job)), propose=False),
    ]
    return render("runs.html", texts_of_people(job), lines=lines, svg=as_markup(svg), label=lines[0])


def write_runs_picture(folder: Path, job: Job) -> None:
    """Draw them beside the page. Raises OutputError."""
    runs = counted_runs(job)
    if runs:
        write_whole(folder / RUNS_PICTURE, runs_picture(runs, _changes(job), "png"))


def _changes(job: Job) -> list[str]:
    return [n.text for n in job.notes("repair")]
