"""`leakdown sheet`: a blank reading sheet, to print or to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import put, say
from leakdown.cli.results import write_text
from leakdown.errors import UsageError
from leakdown.quantities import parse_time

_HOLD = 'How long to read, such as "3 min" (as long as needed).'
_OUT = "FILE.html or FILE.csv; standard output without it."
_NEVER = 1.5  # times the caution pressure


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("sheet", epilog="Example: leakdown sheet --circuit crankcase --direction vacuum --unit inHg")(sheet)


def sheet(
    circuit: o.CircuitName = "crankcase",
    direction: o.Direction = "pressure",
    unit: Annotated[str, o.option("--unit", 'The gauge\'s unit, such as "psi".')] = "kPa",
    every: Annotated[str, o.option("--every", "Time between readings.")] = "10 s",
    hold: Annotated[str | None, o.option("--hold", _HOLD)] = None,
    limit: o.LimitText = None,
    target: Annotated[str | None, o.option("--target", "What to pump to (common practice).")] = None,
    as_csv: Annotated[bool, o.option("--csv", "A CSV file to fill in.")] = False,
    out: Annotated[Path | None, typer.Option("--out", "-o", help=_OUT, metavar="FILE")] = None,
    quiet: o.Quiet = False,
) -> None:
    """Print a blank reading sheet for one circuit: times filled in, target and caution named."""
    from leakdown.circuits import circuit_named
    from leakdown.report.blank_sheet import blank_sheet, blank_sheet_page, csv_text
    from leakdown.said import direction_named

    named, way = circuit_named(circuit), direction_named(direction) or "pressure"
    blank = blank_sheet(
        named,
        way,
        unit,
        parse_time(every, "--every"),
        parse_time(hold, "--hold") if hold else None,
        limit,
        _bearable_pa(target, named, way) if target else None,
    )
    page = csv_text(blank) if _wants_csv(as_csv, out) else blank_sheet_page(blank)
    if out is None:
        put(page)
        return
    write_text(out, page)
    if not quiet:
        say(f"{out} written")


def _bearable_pa(target: str, circuit: str, direction: Any) -> float:
    """The pressure to pump to. Raises UsageError for one that harms the circuit, whatever the maker says."""
    from leakdown.circuits import circuit as circuit_of
    from leakdown.said import positive_pressure_pa

    wanted, caution = positive_pressure_pa(target, "--target"), circuit_of(circuit).caution_pa(direction)
    if wanted > _NEVER * caution:
        most = f"a {circuit} test under {direction} stays below {caution / 1e3:g} kPa (common practice)"
        remedy = "Give a lower one; where the maker's manual asks for more, use the maker's own sheet."
        raise UsageError(f"--target {target}: {most}", remedy=remedy)
    return wanted


def _wants_csv(as_csv: bool, out: Path | None) -> bool:
    ending = out.suffix.lower() if out else ""
    if ending not in ("", ".csv", ".html", ".htm"):
        raise UsageError(f"{out}: unknown kind of sheet", remedy="Name it .html or .csv.")
    if as_csv and ending in (".html", ".htm"):
        raise UsageError(f"--csv into {out}", remedy="Name it .csv, or leave --csv out.")
    return as_csv or ending == ".csv"
