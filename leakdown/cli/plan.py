"""`leakdown plan`: how long to hold, before the test is run."""

from __future__ import annotations

import json
import sys
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, style_for, width
from leakdown.errors import UsageError
from leakdown.quantities import parse_temperature, parse_time, parse_uncertainty, parse_volume
from leakdown.recording import circuit_named

Every = Annotated[
    str | None,
    typer.Option("--every", help="Time between readings, \"10 s\" (a needle's default; a logger's is 1 s)."),
]
Start = Annotated[str | None, typer.Option("--start", help='Pressure to fill to, "45 kPa".')]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "plan",
        epilog='Example: leakdown plan --volume "250 cm3" --limit "7 kPa in 60 s" --resolution "0.25 psi"',
    )(plan)


def plan(
    volume: o.Volume = None,
    resolution: o.Resolution = None,
    limit: o.LimitText = None,
    every: Every = None,
    start: Start = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    as_json: o.Json = False,
) -> None:
    """Say how long a hold decides the limit with this gauge, and what it can see at best."""
    if not (volume and resolution):
        raise UsageError(
            "plan needs the volume and the gauge's resolution",
            remedy='Give --volume "250 cm3" --resolution "0.25 psi".',
        )
    from leakdown.judge.limits import parse_limit
    from leakdown.prepare.plan import plan as planned
    from leakdown.prepare.rehearsal import bench_for
    from leakdown.words.preparing import plan_lines, plan_object
    from leakdown.words.wrap import wrapped

    size = parse_volume(volume, "--volume")
    found = planned(
        bench_for(
            size,
            o.positive_pressure_pa(resolution, "--resolution"),
            parse_limit(limit) if limit else None,
            circuit_named(circuit) if circuit else "crankcase",
            o.direction_named(direction) or "pressure",
            parse_time(every, "--every") if every else None,
            o.positive_pressure_pa(start, "--start") if start else None,
            o.ambient_pa(barometer, altitude),
            parse_temperature(temperature, "--temperature") if temperature else None,
            parse_uncertainty(volume_uncertainty, size) if volume_uncertainty else None,
        )
    )
    if as_json:
        print(json.dumps(plan_object(found), allow_nan=False, ensure_ascii=False))
        return
    out("\n".join(plan_lines(found, width(), wrapped, style_for(sys.stdout))))
