"""`leakdown analyse`: readings in, size of the leak, verdict and report out."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.cli.pages import UNNAMED, page_path, show_page
from leakdown.cli.results import (
    Wanted,
    analysed,
    check_outputs,
    settings_from,
    show,
    status_of,
    sum_of,
    tell,
    write_text,
)
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.analysis import Analysis
    from leakdown.batch import Outcome

_TEST, _READING, _RESULT = "The test", "Reading the file", "The result"
_MANY = 8  # files from which progress is worth a line

Report = Annotated[
    Path | None,
    o.option(
        "--report",
        "Write a page with chart and numbers (HTML); beside the readings without a name.",
        _RESULT,
        metavar="FILE",
    ),
]
Chart = Annotated[Path | None, o.option("--chart", "Write the decay chart (PNG, PDF or SVG).", _RESULT, metavar="FILE")]
Csv = Annotated[Path | None, o.option("--csv", "Write a table with a row a file.", _RESULT, metavar="FILE")]
Rig = Annotated[
    str | None, o.option("--rig", "Name of the rig: kept with --circuit rig, else its own leak is taken off.", _TEST)
]
Rigs = Annotated[Path | None, o.option("--rigs", "Folder with the rigs (or LEAKDOWN_RIGS).", _TEST, metavar="DIR")]
Displacement = Annotated[
    str | None,
    o.option("--displacement", 'Swept volume, such as "50 cm3": is the leak big enough to matter at idle?', _TEST),
]
VentKind = Annotated[
    str | None,
    o.option("--vent-kind", "valve or breather (felt, labyrinth): what a tank's vent may do outward.", _TEST),
]
GaugeRange = Annotated[
    str | None,
    o.option("--gauge-range", 'End of the gauge\'s scale, such as "100 kPa": nothing beyond it counts.', _READING),
]
Opens = Annotated[
    str | None, o.option("--opens", 'Where the maker has an inlet needle open, such as "90 to 130 kPa".', _TEST)
]
VerdictStatus = Annotated[bool, o.option("--verdict-status", "Exit 10 on fail, 11 on undecided.", _RESULT)]


def register(app: typer.Typer) -> None:
    """Add the command under both spellings."""
    app.command("analyse", epilog='Example: leakdown analyse sheet.csv --volume "250 cm3"')(analyse)
    app.command("analyze", hidden=True)(analyse)


def analyse(
    files: o.Files,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    limit: o.LimitText = None,
    displacement: Displacement = None,
    rig: Rig = None,
    rigs: Rigs = None,
    air_needed: o.AirNeeded = None,
    vent_kind: VentKind = None,
    opens: Opens = None,
    gauge_range: GaugeRange = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    zero: o.Zero = None,
    test: o.Test = None,
    columns: o.Columns = None,
    resolution: o.Resolution = None,
    hold: o.HoldText = None,
    quote_at: o.QuoteAt = "35 kPa",
    report: Report = None,
    open_page: o.Open = False,
    chart: Chart = None,
    csv: Csv = None,
    as_json: o.Json = False,
    verdict_status: VerdictStatus = False,
    quiet: o.Quiet = False,
) -> None:
    """Size the leak in a reading sheet or recording, judge it, and write a report."""
    from leakdown.reading import Told

    told = Told(unit, direction, absolute, barometer, altitude,
                circuit, volume, volume_uncertainty, temperature, resolution, zero, test, columns)  # fmt: skip
    settings = settings_from(
        quote_at, hold, limit, circuit, displacement, rig, rigs, air_needed, vent_kind, gauge_range, opens
    )
    wanted = Wanted(told, settings, as_json, quiet)
    pages = _pages(files, report, open_page, chart, csv)
    results: list[Analysis] = []
    outcomes = []
    trouble = 0
    for outcome in _outcomes(files, wanted):
        if outcome.result is None:
            trouble = max(trouble, _refused(outcome, alone=len(files) == 1))
        else:
            _save(outcome.result, pages.get(outcome.path), open_page, chart, wanted)
            if rig and outcome.result.circuit == "rig":
                _keep(rig, rigs, outcome.result, wanted)
            show(outcome.result, outcome.path, wanted, first=not results)
            results.append(outcome.result)
        outcomes.append(outcome)
    _end(outcomes, csv, wanted)
    raise typer.Exit(trouble or (status_of(results) if verdict_status else 0))


def _keep(name: str, rigs: Path | None, result: Analysis, wanted: Wanted) -> None:
    from leakdown.judge.rig_store import folder_of, keep

    shop = wanted.settings.shop
    folder = folder_of(rigs or (None if shop is None else shop.rigs))
    tell(f"Rig {name} kept: {keep(name, folder, result)[1]}", wanted.quiet or wanted.json)


def _outcomes(files: list[Path], wanted: Wanted) -> Iterator[Outcome[Analysis]]:
    """Each file's result or error in order; several at a time, with progress on a terminal."""
    from leakdown.batch import in_order

    told = len(files) >= _MANY and sys.stderr.isatty() and not wanted.quiet
    for number, outcome in enumerate(in_order(partial(analysed, wanted=wanted), files), start=1):
        if told:
            sys.stderr.write(f"\r{number} of {len(files)} files" + ("\n" if number == len(files) else ""))
        yield outcome


def _refused(outcome: Outcome[Analysis], alone: bool) -> int:
    """Say why a file could not be analysed; the only file's error is the command's own."""
    assert outcome.error is not None
    if alone:
        raise outcome.error
    say(f"leakdown: {outcome.error}")
    return outcome.error.exit_status


def _end(outcomes: list[Outcome[Analysis]], csv: Path | None, wanted: Wanted) -> None:
    """The table of all files, and what they came to."""
    if csv:
        _write_table(outcomes, csv, wanted)
    if len(outcomes) > 1:
        results = [outcome.result for outcome in outcomes if outcome.result is not None]
        tell(sum_of(results, len(outcomes)), wanted.quiet or wanted.json)


def _write_table(outcomes: list[Outcome[Analysis]], csv: Path, wanted: Wanted) -> None:
    from leakdown.rows import csv_text, row_of, row_of_error

    rows = [
        row_of(str(each.path), each.result) if each.result else row_of_error(str(each.path), each.error or Exception())
        for each in outcomes
    ]
    write_text(csv, csv_text(rows))
    tell(f"Table: {csv}", wanted.quiet or wanted.json)


def _pages(
    files: list[Path], report: Path | None, open_page: bool, chart: Path | None, csv: Path | None
) -> dict[Path, Path]:
    """The page of each file, where one is wanted. Raises UsageError for outputs that cannot be written."""
    if len(files) > 1 and (report not in (None, UNNAMED) or chart):
        remedy = "Run analyse once for each file, or give --report without a name."
        raise UsageError("--chart and --report with a name take one file at a time", remedy=remedy)
    check_outputs(files, None, chart)
    o.refuse_overwriting(csv, files)
    wanted = ((file, page_path(report, file, open_page)) for file in files)
    pages = {file: page for file, page in wanted if page is not None}
    for page in pages.values():
        o.refuse_overwriting(page, files)
    return pages


def _save(result: Analysis, report: Path | None, open_page: bool, chart: Path | None, wanted: Wanted) -> None:
    if report:
        from leakdown.report.analysis_page import analysis_page

        write_text(report, analysis_page(result))
        tell(f"Report: {report}", wanted.quiet or wanted.json)
        show_page(report, open_page)
    if chart:
        from leakdown.report.decay_chart import decay_chart
        from leakdown.report.picture import save

        save(decay_chart(result), chart)
        tell(f"Chart: {chart}", wanted.quiet or wanted.json)
