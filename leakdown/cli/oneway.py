"""`leakdown vent` and `leakdown popoff`: parts that must pass air one way only."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import style_for, width
from leakdown.errors import UsageError

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
    from leakdown.oneway.show import vent_lines, vent_object
    from leakdown.oneway.vent import vent as judged

    if kind not in ("valve", "breather", "unknown"):
        raise UsageError(f"--kind {kind!r} is not known", remedy="Say valve, breather or unknown.")
    test = o.TestText("tank", volume, volume_uncertainty, None, resolution)
    into = o.read_file(vacuum, o.ReadingText(unit, "vacuum", False, barometer, altitude), test)
    reading = o.ReadingText(unit, "pressure", False, barometer, altitude)
    out = o.read_file(pressure, reading, test) if pressure else None
    _show(judged(into, out, kind), vent_object, vent_lines, as_json)  # type: ignore[arg-type]


def popoff(
    file: Annotated[Path, typer.Argument(help="Log of rising pressure with the pop-offs in it.")],
    circuit: o.Circuit = "carburettor-inlet",
    range_: Range = None,
    unit: o.Unit = None,
    as_json: o.Json = False,
) -> None:
    """Opening and reseat of an inlet needle, five times, and whether it closes."""
    from leakdown.oneway.needle import needle
    from leakdown.oneway.show import needle_lines, needle_object

    if circuit not in ("carburettor-inlet", "float-inlet"):
        raise UsageError(
            f"--circuit {circuit!r} has no inlet needle", remedy="Say carburettor-inlet or float-inlet."
        )
    recording = o.read_file(file, o.ReadingText(unit, "pressure"), o.TestText(circuit))
    end = o.positive_pressure_pa(range_, "--range") if range_ else None
    _show(needle(recording, circuit, end), needle_object, needle_lines, as_json)  # type: ignore[arg-type]


def _show(found: Any, machine: Any, lines: Any, as_json: bool) -> None:
    from leakdown.report.wrap import wrapped

    if as_json:
        print(json.dumps(machine(found), allow_nan=False, ensure_ascii=False))
        return
    print("\n".join(lines(found, width(), wrapped, style_for(sys.stdout))))
