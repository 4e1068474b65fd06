"""`leakdown locate` and `leakdown compare`: several tests in, a place or a change out."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, say, style_for, width
from leakdown.cli.help_text import intakes
from leakdown.cli.help_text import seal_lips as lips_facing
from leakdown.cli.pages import checked_page, show_page
from leakdown.cli.results import check_outputs, settings_from, tell, write_text
from leakdown.cli.suspects import FOUND, NotSeen, Observations, Seen, list_observations, say_understood
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.judge.judged import FittedTest
    from leakdown.recording import Recording
    from leakdown.report.chart_data import Chart
    from leakdown.report.interval_chart import IntervalChart
    from leakdown.where.located import Located

Tests = Annotated[
    list[Path] | None,
    typer.Argument(help="Pressure and vacuum tests of one engine.", show_default=False, metavar="FILE"),
]
_RESULT = "The result"
_INTAKES = "piston-port, reed, rotary, stratified or unknown."
_LIPS = "Which way the lips face: in, out, twin or unknown."
_COMPLAINT = "The complaint in words, as leakdown suspects takes it."
Intake = Annotated[str, o.option("--intake", _INTAKES, FOUND, autocompletion=intakes)]
Lips = Annotated[str, o.option("--seal-lips", _LIPS, FOUND, autocompletion=lips_facing)]
ComplaintText = Annotated[str | None, o.option("--complaint", _COMPLAINT, FOUND, show_default=False)]
_EXAMPLE = "leakdown locate pressure.csv vacuum.csv"
Verbose = Annotated[bool, o.option("--verbose", "Every reason and remark, not one screen of them.", _RESULT)]
Report = Annotated[
    Path | None,
    o.option(
        "--report",
        "Write a page with charts and reasons (HTML); beside the readings without a name.",
        _RESULT,
        metavar="FILE",
    ),
]
Picture = Annotated[Path | None, o.option("--chart", "Write the charts (PNG, PDF or SVG).", _RESULT, metavar="FILE")]


def register(app: typer.Typer) -> None:
    """Add both commands."""
    app.command("locate", epilog=f"Example: {_EXAMPLE} --intake piston-port")(locate)
    app.command("compare", epilog="Example: leakdown compare before.csv after.csv")(compare)


def locate(
    files: Tests = None,
    seen: Seen = None,
    not_seen: NotSeen = None,
    complaint: ComplaintText = None,
    intake: Intake = "unknown",
    seal_lips: Lips = "unknown",
    observations: Observations = False,
    circuit: o.Circuit = None,
    air_needed: o.AirNeeded = None,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    zero: o.Zero = None,
    test: o.Test = None,
    columns: o.Columns = None,
    resolution: o.Resolution = None,
    quote_at: o.QuoteAt = "35 kPa",
    report: Report = None,
    open_page: o.Open = False,
    chart: Picture = None,
    verbose: Verbose = False,
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Rank where the leak is, from pressure and vacuum tests and what was seen."""
    from leakdown.judge.analyse import fitted
    from leakdown.reading import Told, told_recording
    from leakdown.where.answers import EngineFacts, all_observations, answers_with_words
    from leakdown.where.locate import check_facts, locate_fitted
    from leakdown.words.located import all_lines, located_lines
    from leakdown.words.objects import located_object

    if observations:
        return list_observations([(row.id, row.text, row.kind) for row in all_observations()], as_json)
    if not files:
        raise UsageError("no tests to look at", remedy=f"Give recordings: {_EXAMPLE}")
    report = checked_page(report, files, open_page, "-where")
    check_outputs(files, None, chart)
    told = Told(unit, None, absolute, barometer, altitude,
                circuit, volume, volume_uncertainty, temperature, resolution, zero, test, columns)  # fmt: skip
    silent = quiet or as_json
    say_understood(complaint, silent)
    said = answers_with_words(complaint or "", seen or (), not_seen or ())
    facts = EngineFacts(said.seen, said.not_seen, intake, seal_lips)
    check_facts(facts)
    settings = settings_from(quote_at, air_needed=air_needed)
    recordings = [told_recording(path, told) for path in files]
    tests = [fitted(recording, settings) for recording in recordings]
    found = locate_fitted(tests, facts)
    if report or chart:
        _save_located(found, tests, report, chart, silent)
        show_page(report, open_page)
    _show(found, located_object, all_lines if verbose else located_lines, recordings, as_json)
    _remarks(recordings, silent)


def compare(
    before: Annotated[Path, typer.Argument(help="The test before.", show_default=False)],
    after: Annotated[Path, typer.Argument(help="The test after.", show_default=False)],
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    limit: o.LimitText = None,
    air_needed: o.AirNeeded = None,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    zero: o.Zero = None,
    test: o.Test = None,
    columns: o.Columns = None,
    resolution: o.Resolution = None,
    quote_at: o.QuoteAt = "35 kPa",
    report: Report = None,
    open_page: o.Open = False,
    chart: Picture = None,
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Say how much smaller or larger a leak became."""
    from leakdown.judge.analyse import fitted
    from leakdown.reading import Told, told_recording
    from leakdown.where.compare import compare_fitted
    from leakdown.words.located import change_lines
    from leakdown.words.objects import change_object

    silent = quiet or as_json
    report = checked_page(report, [after, before], open_page, "-change")
    check_outputs([before, after], None, chart)
    told = Told(unit, direction, absolute, barometer, altitude,
                circuit, volume, volume_uncertainty, temperature, resolution, zero, test, columns)  # fmt: skip
    settings = settings_from(quote_at, None, limit, air_needed=air_needed)
    recordings = [told_recording(path, told) for path in (before, after)]
    first, second = (fitted(recording, settings) for recording in recordings)
    change = compare_fitted(first, second)
    if report or chart:
        from leakdown.report.change_page import change_page
        from leakdown.report.decay_chart import change_decay
        from leakdown.report.interval_chart import change_chart

        _save(report, lambda: change_page(change, first, second), silent)
        show_page(report, open_page)
        _draw(chart, change_decay(first.analysis, second.analysis), change_chart(change), silent)
    _show(change, change_object, change_lines, recordings, as_json)
    _remarks(recordings, silent)


def _save_located(
    found: Located, tests: Sequence[FittedTest], report: Path | None, chart: Path | None, silent: bool
) -> None:
    from leakdown.report.interval_chart import ratio_chart
    from leakdown.report.located_chart import located_chart
    from leakdown.report.located_page import located_page

    _save(report, lambda: located_page(found, tests), silent)
    _draw(chart, located_chart(found, tests), ratio_chart(found.ratio), silent)


def _save(path: Path | None, page: Callable[[], str], silent: bool) -> None:
    if path:
        write_text(path, page())
        tell(f"Report: {path}", silent)


def _draw(path: Path | None, decay: Chart, interval: IntervalChart | None, silent: bool) -> None:
    if path:
        from leakdown.report.picture import save

        save(decay, path, interval)
        tell(f"Chart: {path}", silent)


def _show(found: Any, machine: Any, lines: Any, recordings: list[Any], as_json: bool) -> None:
    if as_json:
        print_json(machine(found))
        return
    from leakdown.words.signs import own_texts
    from leakdown.words.wrap import clean_wrapped

    out("\n".join(lines(found, width(), clean_wrapped, style_for(sys.stdout))), own_texts(*recordings))


def _remarks(recordings: Sequence[Recording], silent: bool) -> None:
    for recording in () if silent else recordings:
        for remark in recording.remarks:
            say(f"{recording.source}: {remark}")
