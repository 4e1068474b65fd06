"""A blank sheet as one HTML page for A4 paper: no script, no network."""

from __future__ import annotations

from importlib import resources
from string import Template

from leakdown.report.blank_sheet import TITLE, BlankSheet, blanks_to_fill, cautions, heading, steps
from leakdown.report.html import items, text
from leakdown.words.cautions import AUTHORITY

_COLUMN = 10  # rows in one column of readings


def paper_page(sheet: BlankSheet) -> str:
    """The whole file."""
    files = resources.files("leakdown.report").joinpath("assets")
    return Template(files.joinpath("paper.html").read_text("utf-8")).substitute(
        title=text(f"{TITLE}: {heading(sheet)}"),
        style=files.joinpath("paper.css").read_text("utf-8"),
        name=text(TITLE),
        heading=text(heading(sheet)),
        head=_lines(
            (("Job", ""), ("Engine", ""), ("Serial", ""), ("Hours", ""), ("Mechanic", ""), ("Date", ""))
        ),
        steps=items(steps(sheet), "ol"),
        cautions=items(cautions(sheet)),
        limit=_limit(sheet),
        conditions=_lines(blanks_to_fill(sheet)),
        readings=_readings(sheet),
        authority=text(AUTHORITY),
    )


def _lines(names: tuple[tuple[str, str], ...]) -> str:
    """Names with a line to write on, and the unit at its end."""
    return "".join(f"<div><dt>{text(name)}</dt><dd>{text(unit)}</dd></div>" for name, unit in names)


def _limit(sheet: BlankSheet) -> str:
    if not sheet.limit:
        return "Limit: the maker's figure"
    return f"Limit: {text(sheet.limit)} ({text(sheet.limit_from)})"


def _readings(sheet: BlankSheet) -> str:
    times = sheet.times_s
    columns = -(-len(times) // _COLUMN)
    size = -(-len(times) // min(max(columns, 1), 3))
    parts = [times[i : i + size] for i in range(0, len(times), size)]
    head = f"<tr><th>time</th><th>{text(sheet.pressure_heading)}</th><th>what was done</th></tr>"
    return "".join(
        f"<table><thead>{head}</thead><tbody>{''.join(_row(t) for t in part)}</tbody></table>"
        for part in parts
    )


def _row(time_s: float) -> str:
    minutes, seconds = divmod(time_s, 60.0)
    clock = (
        f' <span class="clock">{minutes:.0f}:{seconds:02.0f}</span>'
        if time_s >= 60 and seconds % 1 == 0
        else ""
    )
    return f"<tr><td>{time_s:g} s{clock}</td><td></td><td></td></tr>"
