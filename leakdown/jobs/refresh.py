"""New words for a page whose tests are the same: a note costs no drawing, and the page is never stale."""

from __future__ import annotations

from pathlib import Path

from leakdown.errors import LeakdownError
from leakdown.jobs.disk import read_plain, write_whole
from leakdown.jobs.page_words import told_again
from leakdown.jobs.record import Job

REPORT = "report.html"
PICTURES = ("chart.png", "chart.pdf", "chart.svg")
_LARGEST_PAGE = 100_000_000


def refresh(folder: Path, job: Job) -> bool:
    """Write the page's words anew, under the job's lock. False, and nothing written, when that is not enough:
    the tests are others, or page or pictures are missing. Raises OutputError.
    """
    try:
        page = read_plain(folder / REPORT, _LARGEST_PAGE).decode("utf-8")
    except (OSError, ValueError, LeakdownError):
        return False
    again = told_again(page, job)
    if again is None or not all((folder / name).is_file() for name in PICTURES):
        return False
    write_whole(folder / REPORT, again.encode("utf-8"))
    return True
