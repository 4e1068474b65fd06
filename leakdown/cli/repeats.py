"""`leakdown repeats`: several holds of the same test, together."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import show
from leakdown.cli.results import settings_from

_HOLDS = "Recordings of the same test, or one log with several holds."
Holds = Annotated[list[Path], typer.Argument(help=_HOLDS, show_default=False, metavar="FILE")]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("repeats", epilog="Example: leakdown repeats hold1.csv hold2.csv hold3.csv")(repeats)


def repeats(
    files: Holds,
    volume: o.Volume = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    resolution: o.Resolution = None,
    quote_at: o.QuoteAt = "35 kPa",
    as_json: o.Json = False,
) -> None:
    """Pool several holds of one test: do they agree, how well do they repeat."""
    from leakdown.judge.repeats import analysed_holds, pooled
    from leakdown.reading import Told, told_recording
    from leakdown.words.bench_results import pooled_lines, pooled_object

    told = Told(unit, direction, False, barometer, altitude, circuit, volume, None, temperature, resolution)
    settings = settings_from(quote_at)
    recordings = [told_recording(path, told) for path in files]
    found = pooled([one for recording in recordings for one in analysed_holds(recording, settings)])
    show(pooled_object(found), pooled_lines(found), as_json, rest="     ")
