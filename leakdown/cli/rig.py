"""`leakdown rig`: what the capped rig leaks, kept by name and taken off later tests."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import show as show_result
from leakdown.cli.results import settings_from
from leakdown.quantities import parse_length

if TYPE_CHECKING:
    from leakdown.analysis import Analysis

_app = typer.Typer(no_args_is_help=True, help="Rig first: keep its own leak, take it off, prove it with a known leak.")

Name = Annotated[str, typer.Argument(help="Your name for the rig.", show_default=False)]
File = Annotated[Path, typer.Argument(help="A recording or reading sheet.", show_default=False)]
Rigs = Annotated[Path | None, o.option("--rigs", "Folder with the rigs (or LEAKDOWN_RIGS).", metavar="DIR")]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(_app, name="rig")


@_app.command("keep", epilog='Example: leakdown rig keep bench-1 capped.csv --volume "12 cm3"')
def keep(
    name: Name,
    file: File,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    direction: o.Direction = None,
    barometer: o.Barometer = None,
    unit: o.Unit = None,
    resolution: o.Resolution = None,
    quote_at: o.QuoteAt = "35 kPa",
    rigs: Rigs = None,
    as_json: o.Json = False,
) -> None:
    """Keep what the rig leaks by itself, hose capped."""
    from leakdown.judge.rig_store import folder_of
    from leakdown.judge.rig_store import keep as keep_rig
    from leakdown.words.bench_results import rig_lines, rig_object

    result = _analysed(file, quote_at, "rig", direction, barometer, volume, volume_uncertainty, unit, resolution)
    rig, _ = keep_rig(name, folder_of(rigs), result)
    show_result(rig_object(rig), rig_lines(rig), as_json, (rig.name,), "    ")


@_app.command("show")
def show(
    name: Annotated[str | None, typer.Argument(help="One rig; all without it.")] = None,
    rigs: Rigs = None,
    as_json: o.Json = False,
) -> None:
    """Show the rigs that are kept."""
    from leakdown.judge.rig_store import folder_of, load, names
    from leakdown.words.bench_results import rig_lines, rig_object

    folder = folder_of(rigs)
    for one in [name] if name else names(folder):
        rig = load(one, folder)
        show_result(rig_object(rig), rig_lines(rig), as_json, (rig.name,), "    ")


@_app.command("subtract", epilog='Example: leakdown rig subtract bench-1 test.csv --volume "250 cm3"')
def subtract(
    name: Name,
    file: File,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    barometer: o.Barometer = None,
    unit: o.Unit = None,
    resolution: o.Resolution = None,
    quote_at: o.QuoteAt = "35 kPa",
    rigs: Rigs = None,
    as_json: o.Json = False,
) -> None:
    """A test without the rig's own leak."""
    from leakdown.judge.rig import cleared
    from leakdown.judge.rig_store import folder_of, load
    from leakdown.words.bench_results import cleared_lines, cleared_object

    result = _analysed(file, quote_at, circuit, direction, barometer, volume, volume_uncertainty, unit, resolution)
    found = cleared(result, load(name, folder_of(rigs)))
    show_result(cleared_object(found), cleared_lines(found), as_json, (found.rig,), "    ")


@_app.command(
    "known",
    epilog='Example: leakdown rig known bench-1 leak.csv --flow "12 cm3/min +/- 3 % at 35 kPa" --source "its label"',
)
def known(
    name: Name,
    file: File,
    flow: Annotated[str | None, o.option("--flow", 'As certified, "12.0 cm3/min +/- 3 % at 35 kPa".')] = None,
    hole: Annotated[str | None, o.option("--hole", 'Diameter of a hole, "0.30 mm +/- 0.01 mm".')] = None,
    capillary: Annotated[
        str | None, o.option("--capillary", 'Bore and length, "0.1 mm +/- 2 % x 50 mm +/- 1 mm".')
    ] = None,
    source: Annotated[str, o.option("--source", 'Where that comes from, "certificate 4711".')] = "",
    date: Annotated[
        str | None, o.option("--date", "Of the test, 2026-01-31; without it the file's, else today.")
    ] = None,
    coefficient: Annotated[
        float, o.option("--coefficient", "A hole's discharge coefficient.", metavar="NUMBER")
    ] = 0.61,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    direction: o.Direction = None,
    barometer: o.Barometer = None,
    unit: o.Unit = None,
    resolution: o.Resolution = None,
    rigs: Rigs = None,
    as_json: o.Json = False,
) -> None:
    """Keep a test of a leak of known size: what proves size and ratio, in every report of this rig."""
    from leakdown.judge.known_leak import known_leak, stated_as
    from leakdown.judge.rig_store import folder_of, keep_known
    from leakdown.words.bench_results import rig_lines, rig_object

    stated = stated_as(flow, hole, capillary, coefficient)
    quote = "35 kPa" if stated.at_pa is None else f"{stated.at_pa / 1e3:.9g} kPa"
    result = _analysed(file, quote, "rig", direction, barometer, volume, volume_uncertainty, unit, resolution)
    rig, _ = keep_known(name, folder_of(rigs), known_leak(result, stated, source, date))
    show_result(rig_object(rig), rig_lines(rig), as_json, (rig.name,), "    ")


@_app.command("check", epilog='Example: leakdown rig check hole.csv --orifice "0.3 mm" --volume "112 cm3"')
def check(
    file: File,
    orifice: Annotated[str, o.option("--orifice", 'Diameter of the known hole, "0.30 mm +/- 0.01 mm".')],
    coefficient: Annotated[float, o.option("--coefficient", "Its discharge coefficient.", metavar="NUMBER")] = 0.61,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    direction: o.Direction = None,
    barometer: o.Barometer = None,
    unit: o.Unit = None,
    resolution: o.Resolution = None,
    as_json: o.Json = False,
) -> None:
    """A known orifice in the cap checks gauge, volume and sums at one go."""
    from leakdown.judge.rig import orifice_check
    from leakdown.uncertainty import read_input
    from leakdown.words.bench_results import check_object

    result = _analysed(file, "35 kPa", "rig", direction, barometer, volume, volume_uncertainty, unit, resolution)
    found = orifice_check(result, read_input(orifice, "orifice", parse_length), coefficient)
    show_result(check_object(found), [found.sentence], as_json, rest="    ")


def _analysed(
    file: Path,
    quote_at: str,
    circuit: str | None,
    direction: str | None,
    barometer: str | None,
    volume: str | None,
    volume_uncertainty: str | None,
    unit: str | None,
    resolution: str | None,
) -> Analysis:
    from leakdown.judge.analyse import analyse
    from leakdown.reading import Told, told_recording

    told = Told(unit, direction, False, barometer, None, circuit, volume, volume_uncertainty, None, resolution)
    settings = replace(settings_from(quote_at), shop=None)  # a rig is measured by what is said of it alone
    return analyse(told_recording(file, told), settings)
