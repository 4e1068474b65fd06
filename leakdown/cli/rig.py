"""`leakdown rig`: what the capped rig leaks, kept by name and taken off later tests."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import json_line, out, width
from leakdown.cli.results import settings_from
from leakdown.quantities import parse_length

if TYPE_CHECKING:
    from leakdown.analysis import Analysis

_app = typer.Typer(
    no_args_is_help=True, help="Rig first: keep its own leak, take it off, check with an orifice."
)

Name = Annotated[str, typer.Argument(help="Your name for the rig.", show_default=False)]
File = Annotated[Path, typer.Argument(help="A recording or reading sheet.", show_default=False)]
Rigs = Annotated[Path | None, typer.Option("--rigs", help="Folder with the rigs (or LEAKDOWN_RIGS).")]


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

    test = o.TestText("rig", volume, volume_uncertainty, None, resolution)
    result = _analysed(file, o.ReadingText(unit, direction, False, barometer), test, quote_at)
    rig, _ = keep_rig(name, folder_of(rigs), result)
    _show(rig_object(rig), rig_lines(rig), as_json, (rig.name,))


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
        _show(rig_object(rig), rig_lines(rig), as_json, (rig.name,))


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

    test = o.TestText(circuit, volume, volume_uncertainty, None, resolution)
    result = _analysed(file, o.ReadingText(unit, direction, False, barometer), test, quote_at)
    found = cleared(result, load(name, folder_of(rigs)))
    _show(cleared_object(found), cleared_lines(found), as_json, (found.rig,))


@_app.command("check", epilog='Example: leakdown rig check hole.csv --orifice "0.3 mm" --volume "112 cm3"')
def check(
    file: File,
    orifice: Annotated[
        str, typer.Option("--orifice", help='Diameter of the known hole, "0.30 mm +/- 0.01 mm".')
    ],
    coefficient: Annotated[float, typer.Option("--coefficient", help="Its discharge coefficient.")] = 0.61,
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

    test = o.TestText("rig", volume, volume_uncertainty, None, resolution)
    result = _analysed(file, o.ReadingText(unit, direction, False, barometer), test, "35 kPa")
    found = orifice_check(result, read_input(orifice, "orifice", parse_length), coefficient)
    _show(check_object(found), [found.sentence], as_json)


def _analysed(file: Path, reading: o.ReadingText, test: o.TestText, quote_at: str) -> Analysis:
    from leakdown.judge.analyse import analyse

    settings = replace(settings_from(quote_at), shop=None)  # a rig is measured by what is said of it alone
    return analyse(o.read_file(file, reading, test), settings)


def _show(plain: dict[str, Any], lines: list[str], as_json: bool, own: Iterable[str] = ()) -> None:
    from leakdown.words.wrap import clean, wrapped

    if as_json:
        print(json_line(plain))
        return
    out("\n".join(line for text in lines for line in wrapped(clean(text), width(), "", "    ")), own)
