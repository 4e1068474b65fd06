"""Pages that a command writes: where they go when no name is given, and showing them."""

from __future__ import annotations

import webbrowser
from collections.abc import Sequence
from pathlib import Path

from leakdown.cli import options as o
from leakdown.errors import UsageError
from leakdown.file_names import LONGEST_ANYWHERE, file_name, shortened

_PAGES = (".html", ".htm")
UNNAMED = Path(".html")
"""What `--report` without a name means: the recording's name, with this ending."""


def with_report_names(words: Sequence[str]) -> list[str]:
    """The words of a command line, `--report` without a name spelt out.

    It has none at the end, before another option, or before the only file of the line.
    """
    files = [word for word in words if not word.startswith("-") and _is_input(Path(word))]
    after = [*words[1:], "-"]
    return [
        f"--report={UNNAMED}" if word == "--report" and (then.startswith("-") or files == [then]) else word
        for word, then in zip(words, after, strict=True)
    ]


def _is_input(path: Path) -> bool:
    return path.suffix.lower() not in _PAGES and path.is_file()


def page_path(report: Path | None, source: Path, open_it: bool = False, ending: str = "") -> Path | None:
    """Where the page goes: as named, else beside the recording (`ending` is put behind its name), else nowhere.

    Raises UsageError for a page that is not called .html.
    """
    if report is None and not open_it:
        return None
    if report is None or report == UNNAMED:
        wanted = shortened(f"{source.stem}{ending}", LONGEST_ANYWHERE - len(".html"))
        return source.with_name(file_name(f"{wanted}.html", longest=LONGEST_ANYWHERE))
    if report.suffix.lower() not in _PAGES:
        raise UsageError(f"--report {report}: a page is HTML", remedy="Name it .html, or give --report alone.")
    return report


def checked_page(report: Path | None, inputs: list[Path], open_it: bool = False, ending: str = "") -> Path | None:
    """The same, and never over one of the inputs. Raises UsageError."""
    page = page_path(report, inputs[0], open_it, ending)
    o.refuse_overwriting(page, inputs)
    return page


def show_page(page: Path | None, wanted: bool) -> None:
    """Open a page in the browser that the system prefers."""
    if wanted and page is not None:
        webbrowser.open(page.resolve().as_uri())
