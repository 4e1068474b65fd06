"""`leakdown analyse`: readings in, size of the leak, verdict and report out."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import poor_terminal, say, style_for, width
from leakdown.errors import LeakdownError, UsageError

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


@dataclass(frozen=True)
class _Wanted:
    reading: o.ReadingText
    test: o.TestText
    settings: Any
    json: bool
    quiet: bool


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
    wanted = _Wanted(
        o.ReadingText(unit, direction, absolute, barometer, altitude),
        o.TestText(circuit, volume, volume_uncertainty, temperature, resolution),
        _settings(quote_at, hold, limit),
        as_json,
        quiet,
    )
    _check_outputs(files, report, chart)
    words = []
    trouble = 0
    for number, path in enumerate(files):
        try:
            result = _one(path, wanted)
        except LeakdownError as error:
            if len(files) == 1:
                raise
            say(f"leakdown: {error}")
            trouble = max(trouble, error.exit_status)
            continue
        _save(result, report, chart, wanted)
        _show(result, path, wanted, first=number == 0)
        words.append(result.verdict.word if result.verdict else "undecided")
    raise typer.Exit(trouble or (_verdict_status(words) if verdict_status else 0))


def _verdict_status(words: list[str]) -> int:
    """10 when any test failed, 11 when any is undecided, else 0."""
    return 10 if "fail" in words else 11 if "undecided" in words else 0


def _settings(quote_at: str, hold: str | None, limit: str | None) -> Any:
    from leakdown.estimate.analysis import Settings
    from leakdown.estimate.limits import parse_limit

    return Settings(
        quote_pa=o.positive_pressure_pa(quote_at, "--quote-at"),
        hold_s=o.hold_span(hold),
        limit=parse_limit(limit) if limit else None,
    )


def _check_outputs(files: list[Path], report: Path | None, chart: Path | None) -> None:
    if len(files) > 1 and (report or chart):
        raise UsageError(
            "--report and --chart take one file at a time", remedy="Run analyse once for each file."
        )
    if chart and chart.suffix.lower() not in (".png", ".pdf", ".svg"):
        raise UsageError(f"--chart {chart}: unknown kind of picture", remedy="Name it .png, .pdf or .svg.")


def _one(path: Path, wanted: _Wanted) -> Any:
    from leakdown.estimate.analysis import analyse as analyse_recording

    return analyse_recording(o.read_file(path, wanted.reading, wanted.test), wanted.settings)


def _show(result: Any, path: Path, wanted: _Wanted, first: bool) -> None:
    if wanted.json:
        from leakdown.report.machine import analysis_object

        print(
            json.dumps(analysis_object(result) | {"file": str(path)}, allow_nan=False, ensure_ascii=False),
            flush=True,
        )
        return
    from leakdown.report.text import terminal_report

    print(
        ("" if first else "\n")
        + terminal_report(result, width(), style_for(sys.stdout), poor_terminal(sys.stdout))
    )
    if not wanted.quiet:
        for remark in result.recording.remarks:
            say(f"{path}: {remark}")


def _save(result: Any, report: Path | None, chart: Path | None, wanted: _Wanted) -> None:
    if report:
        from leakdown.report.page import analysis_page

        write_text(report, analysis_page(result))
        _tell(f"Report: {report}", wanted)
    if chart:
        from leakdown.report.chart import decay_chart
        from leakdown.report.picture import save

        save(decay_chart(result), chart)
        _tell(f"Chart: {chart}", wanted)


def _tell(text: str, wanted: _Wanted) -> None:
    if not (wanted.quiet or wanted.json):
        say(text)


def write_text(path: Path, text: str) -> None:
    """Write a UTF-8 file, or say why not. Raises OutputError."""
    from leakdown.errors import OutputError

    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(
            f"cannot write: {error.strerror or error}",
            where=str(path),
            remedy="Choose another folder or free some space.",
        ) from error
