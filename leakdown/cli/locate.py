"""`leakdown locate` and `leakdown compare`: several tests in, a place or a change out."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, say, style_for, width
from leakdown.cli.results import check_outputs, settings_from, tell, write_text
from leakdown.cli.suspects import ids_in_words
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.where.complaint import Facts

_FOUND = "What was found"

Tests = Annotated[
    list[Path] | None, typer.Argument(help="Pressure and vacuum tests of one engine.", show_default=False)
]
Seen = Annotated[
    list[str] | None,
    typer.Option("--seen", metavar="ID", help="Something that was seen (repeat).", rich_help_panel=_FOUND),
]
NotSeen = Annotated[
    list[str] | None,
    typer.Option(
        "--not-seen", metavar="ID", help="Looked for and not seen (repeat).", rich_help_panel=_FOUND
    ),
]
Intake = Annotated[
    str,
    typer.Option(
        "--intake", help="piston-port, reed, rotary, stratified or unknown.", rich_help_panel=_FOUND
    ),
]
Lips = Annotated[
    str,
    typer.Option(
        "--seal-lips", help="Which way the lips face: in, out, twin or unknown.", rich_help_panel=_FOUND
    ),
]
Report = Annotated[
    Path | None,
    typer.Option(
        "--report", help="Write a page with charts and reasons (HTML).", rich_help_panel="The result"
    ),
]
Chart = Annotated[
    Path | None,
    typer.Option("--chart", help="Write the charts (PNG, PDF or SVG).", rich_help_panel="The result"),
]
Observations = Annotated[
    bool,
    typer.Option("--observations", help="List the ids for --seen and --not-seen.", rich_help_panel=_FOUND),
]
ComplaintText = Annotated[
    str | None,
    typer.Option(
        "--complaint",
        help="The complaint in words, as leakdown suspects takes it.",
        rich_help_panel=_FOUND,
        show_default=False,
    ),
]


def register(app: typer.Typer) -> None:
    """Add both commands."""
    app.command("locate", epilog="Example: leakdown locate pressure.csv vacuum.csv --intake piston-port")(
        locate
    )
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
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    resolution: o.Resolution = None,
    quote_at: o.QuoteAt = "35 kPa",
    report: Report = None,
    chart: Chart = None,
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Rank where the leak is, from pressure and vacuum tests and what was seen."""
    from leakdown.judge.held import held
    from leakdown.where.complaint import complaint_on
    from leakdown.where.locate import BenchAnswers, circuit_of, locate_held
    from leakdown.words.located import located_lines
    from leakdown.words.objects import located_object

    if observations:
        _list_observations(as_json)
        return
    if not files:
        raise UsageError(
            "no tests to look at", remedy="Give recordings: leakdown locate pressure.csv vacuum.csv"
        )
    check_outputs(files, report, chart)
    reading = o.ReadingText(unit, None, absolute, barometer, altitude)
    test = o.TestText(circuit, volume, volume_uncertainty, temperature, resolution)
    facts = _facts(seen, not_seen, complaint, quiet or as_json)
    said = BenchAnswers(facts.seen, facts.not_seen, intake, seal_lips)
    settings = settings_from(quote_at, None, None)
    recordings = [o.read_file(path, reading, test) for path in files]
    tests = [held(recording, settings) for recording in recordings]
    found = locate_held(tests, replace(said, complaint=complaint_on(circuit_of(tests), facts.answers)))
    _save_located(found, tests, report, chart, quiet or as_json)
    _show(found, located_object, located_lines, recordings, as_json)
    _remarks(recordings, quiet or as_json)


def compare(
    before: Annotated[Path, typer.Argument(help="The test before.", show_default=False)],
    after: Annotated[Path, typer.Argument(help="The test after.", show_default=False)],
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    limit: o.LimitText = None,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    resolution: o.Resolution = None,
    quote_at: o.QuoteAt = "35 kPa",
    report: Report = None,
    chart: Chart = None,
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Say how much smaller or larger a leak became."""
    from leakdown.judge.held import held
    from leakdown.where.compare import compare_held
    from leakdown.words.located import change_lines
    from leakdown.words.objects import change_object

    check_outputs([before, after], report, chart)
    reading = o.ReadingText(unit, direction, absolute, barometer, altitude)
    test = o.TestText(circuit, volume, volume_uncertainty, temperature, resolution)
    settings = settings_from(quote_at, None, limit)
    recordings = [o.read_file(path, reading, test) for path in (before, after)]
    first, second = (held(recording, settings) for recording in recordings)
    change = compare_held(first, second)
    _save_change(change, (first, second), report, chart, quiet or as_json)
    _show(change, change_object, change_lines, recordings, as_json)
    _remarks(recordings, quiet or as_json)


def _save_located(
    found: Any, tests: list[Any], report: Path | None, chart: Path | None, silent: bool
) -> None:
    if report:
        from leakdown.report.located_page import located_page

        write_text(report, located_page(found, tests))
        tell(f"Report: {report}", silent)
    if chart:
        from leakdown.report.interval_chart import ratio_chart
        from leakdown.report.located_chart import located_chart
        from leakdown.report.picture import save

        save(located_chart(found, tests), chart, ratio_chart(found.ratio))
        tell(f"Chart: {chart}", silent)


def _save_change(
    change: Any, tests: tuple[Any, Any], report: Path | None, chart: Path | None, silent: bool
) -> None:
    if report:
        from leakdown.report.change_page import change_page

        write_text(report, change_page(change, *tests))
        tell(f"Report: {report}", silent)
    if chart:
        from leakdown.report.decay_chart import change_decay
        from leakdown.report.interval_chart import change_chart
        from leakdown.report.picture import save

        save(change_decay(*(h.analysis for h in tests)), chart, change_chart(change))
        tell(f"Chart: {chart}", silent)


def _show(found: Any, machine: Any, lines: Any, recordings: list[Any], as_json: bool) -> None:
    if as_json:
        print(json.dumps(machine(found), allow_nan=False, ensure_ascii=False), flush=True)
        return
    from leakdown.words.signs import own_texts
    from leakdown.words.wrap import clean, wrapped

    def wrap(text: str, columns: int, first: str, rest: str) -> list[str]:
        return wrapped(clean(text), columns, first, rest)

    out("\n".join(lines(found, width(), wrap, style_for(sys.stdout))), own_texts(*recordings))


def _remarks(recordings: list[Any], silent: bool) -> None:
    for recording in () if silent else recordings:
        for remark in recording.remarks:
            say(f"{recording.source}: {remark}")


def _facts(seen: list[str] | None, not_seen: list[str] | None, complaint: str | None, silent: bool) -> Facts:
    """What was seen at the bench and what the complaint says, each fact once. Raises UsageError."""
    from leakdown.where.complaint import facts_of

    words = [i for i in ids_in_words(complaint, silent) if i not in (not_seen or ())]
    return facts_of([*words, *(seen or ())], not_seen or ())


_KINDS = {"bench": "Seen or done at the bench:", "complaint": "From the complaint (leakdown suspects asks):"}


def _list_observations(as_json: bool) -> None:
    from leakdown.where.complaint import all_observations

    kind = ""
    for row in all_observations():
        if as_json:
            print(json.dumps({"id": row.id, "text": row.text, "kind": row.kind}, ensure_ascii=False))
            continue
        if row.kind != kind:
            print(("\n" if kind else "") + _KINDS[row.kind])
            kind = row.kind
        print(f"  {row.id:<24}{row.text}")
