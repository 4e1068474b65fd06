"""`leakdown analyse`: readings in, size of the leak, verdict and report out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.cli.present import Wanted, analysed, settings_from, show, status_of, write_text
from leakdown.errors import LeakdownError, UsageError

if TYPE_CHECKING:
    from leakdown.estimate.result import Analysis

Report = Annotated[
    Path | None,
    typer.Option(
        "--report", help="Write a page with chart and numbers (HTML).", rich_help_panel="The result"
    ),
]
Chart = Annotated[
    Path | None,
    typer.Option("--chart", help="Write the decay chart (PNG, PDF or SVG).", rich_help_panel="The result"),
]
VerdictStatus = Annotated[
    bool,
    typer.Option("--verdict-status", help="Exit 10 on fail, 11 on undecided.", rich_help_panel="The result"),
]


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
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    resolution: o.Resolution = None,
    hold: o.HoldText = None,
    quote_at: o.QuoteAt = "35 kPa",
    report: Report = None,
    chart: Chart = None,
    as_json: o.Json = False,
    verdict_status: VerdictStatus = False,
    quiet: o.Quiet = False,
) -> None:
    """Size the leak in a reading sheet or recording, judge it, and write a report."""
    wanted = Wanted(
        o.ReadingText(unit, direction, absolute, barometer, altitude),
        o.TestText(circuit, volume, volume_uncertainty, temperature, resolution),
        settings_from(quote_at, hold, limit),
        as_json,
        quiet,
    )
    _check_outputs(files, report, chart)
    results: list[Analysis] = []
    trouble = 0
    for path in files:
        try:
            result = analysed(path, wanted)
        except LeakdownError as error:
            if len(files) == 1:
                raise
            say(f"leakdown: {error}")
            trouble = max(trouble, error.exit_status)
            continue
        _save(result, report, chart, wanted)
        show(result, path, wanted, first=not results)
        results.append(result)
    raise typer.Exit(trouble or (status_of(results) if verdict_status else 0))


def _check_outputs(files: list[Path], report: Path | None, chart: Path | None) -> None:
    if len(files) > 1 and (report or chart):
        raise UsageError(
            "--report and --chart take one file at a time", remedy="Run analyse once for each file."
        )
    for path in (report, chart):
        o.refuse_overwriting(path, files)
    if chart and chart.suffix.lower() not in (".png", ".pdf", ".svg"):
        raise UsageError(f"--chart {chart}: unknown kind of picture", remedy="Name it .png, .pdf or .svg.")


def _save(result: Analysis, report: Path | None, chart: Path | None, wanted: Wanted) -> None:
    if report:
        from leakdown.report.page import analysis_page

        write_text(report, analysis_page(result))
        _tell(f"Report: {report}", wanted)
    if chart:
        from leakdown.report.chart import decay_chart
        from leakdown.report.picture import save

        save(decay_chart(result), chart)
        _tell(f"Chart: {chart}", wanted)


def _tell(text: str, wanted: Wanted) -> None:
    if not (wanted.quiet or wanted.json):
        say(text)
