"""`leakdown vent` and `leakdown popoff`: parts that must pass air one way only."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, style_for, width
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.recording import Recording

KindOfVent = Annotated[str, typer.Option("--kind", help="valve, breather (felt, labyrinth) or unknown.")]
Range = Annotated[str | None, typer.Option("--range", help='End of the gauge\'s scale, "100 kPa".')]


def register(app: typer.Typer) -> None:
    """Add both commands."""
    app.command("vent", epilog='Example: leakdown vent vacuum.csv pressure.csv --volume "500 cm3"')(vent)
    app.command("popoff", epilog='Example: leakdown popoff needle.csv --range "200 kPa"')(popoff)


def vent(
    vacuum: Annotated[Path, typer.Argument(help="Recording of the tank under a little vacuum.")],
    pressure: Annotated[Path | None, typer.Argument(help="Recording of the tank under pressure.")] = None,
    kind: KindOfVent = "unknown",
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    unit: o.Unit = None,
    resolution: o.Resolution = None,
    as_json: o.Json = False,
) -> None:
    """Judge a tank vent: air must get in; outward it holds, relieves, or breathes."""
    from leakdown.judge.vent import vent as judged
    from leakdown.words.bench_results import vent_lines, vent_object

    if kind not in ("valve", "breather", "unknown"):
        raise UsageError(f"--kind {kind!r} is not known", remedy="Say valve, breather or unknown.")
    test = o.TestText("tank", volume, volume_uncertainty, None, resolution)
    into = _one_way(vacuum, "vacuum", o.ReadingText(unit, None, False, barometer, altitude), test)
    reading = o.ReadingText(unit, None, False, barometer, altitude)
    out = _one_way(pressure, "pressure", reading, test) if pressure else None
    _show(judged(into, out, kind), vent_object, vent_lines, as_json)  # type: ignore[arg-type]


def _one_way(path: Path, direction: str, reading: o.ReadingText, test: o.TestText) -> Recording:
    """One direction of a vent test; one that does not say is taken for the one meant. Raises UsageError."""
    said = o.read_file(path, reading)
    circuit, way = said.conditions.circuit, said.conditions.direction
    if circuit not in (None, "tank"):
        raise UsageError(f"a {circuit} test is no vent test", where=str(path), remedy="Give a tank's test.")
    if (way or said.direction) != direction and (way is not None or said.direction == "vacuum"):
        raise UsageError(
            f"a {way or said.direction} test where the {direction} test belongs",
            where=str(path),
            remedy="Give the vacuum test first, then the pressure test.",
        )
    return o.read_file(path, replace(reading, direction=direction), test)


def popoff(
    file: Annotated[Path, typer.Argument(help="Log of rising pressure with the pop-offs in it.")],
    circuit: o.Circuit = "carburettor-inlet",
    range_: Range = None,
    unit: o.Unit = None,
    as_json: o.Json = False,
) -> None:
    """Opening and reseat of an inlet needle, five times, and whether it closes."""
    from leakdown.judge.needle import needle
    from leakdown.words.bench_results import needle_lines, needle_object

    if circuit not in ("carburettor-inlet", "float-inlet"):
        raise UsageError(
            f"--circuit {circuit!r} has no inlet needle", remedy="Say carburettor-inlet or float-inlet."
        )
    recording = o.read_file(file, o.ReadingText(unit, "pressure"), o.TestText(circuit))
    end = o.positive_pressure_pa(range_, "--range") if range_ else None
    _show(needle(recording, circuit, end), needle_object, needle_lines, as_json)  # type: ignore[arg-type]


def _show(found: Any, machine: Any, lines: Any, as_json: bool) -> None:
    from leakdown.words.wrap import wrapped

    if as_json:
        print(json.dumps(machine(found), allow_nan=False, ensure_ascii=False))
        return
    out("\n".join(lines(found, width(), wrapped, style_for(sys.stdout))))
