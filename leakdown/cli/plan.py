"""`leakdown plan`: how long to hold, before the test is run."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, style_for, width
from leakdown.cli.results import shop_settings
from leakdown.errors import UsageError
from leakdown.quantities import parse_temperature, parse_time, parse_uncertainty, parse_volume

_EVERY = "Time between readings, \"10 s\" (a needle's default; a logger's is 1 s)."
Every = Annotated[str | None, o.option("--every", _EVERY)]
Start = Annotated[str | None, o.option("--start", 'Pressure to fill to, "45 kPa".')]


def register(app: typer.Typer) -> None:
    """Add the command."""
    example = 'leakdown plan --volume "250 cm3" --limit "7 kPa in 60 s" --resolution "0.25 psi"'
    app.command("plan", epilog=f"Example: {example}")(plan)


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
    from leakdown.said import ambient_pa, direction_named, positive_pressure_pa

    if not (volume and resolution):
        remedy = 'Give --volume "250 cm3" --resolution "0.25 psi".'
        raise UsageError("plan needs the volume and the gauge's resolution", remedy=remedy)
    from leakdown.prepare.plan import plan as planned
    from leakdown.words.preparing import plan_lines, plan_object
    from leakdown.words.wrap import wrapped

    volume_m3 = parse_volume(volume, "--volume")
    found = planned(
        volume_m3=volume_m3,
        resolution_pa=positive_pressure_pa(resolution, "--resolution"),
        limit=limit,
        shop=shop_settings(),
        circuit=circuit or "crankcase",
        direction=direction_named(direction) or "pressure",
        every_s=parse_time(every, "--every") if every else None,
        start_pa=positive_pressure_pa(start, "--start") if start else None,
        barometer_pa=ambient_pa(barometer, altitude),
        temperature_k=parse_temperature(temperature, "--temperature") if temperature else None,
        volume_u_m3=parse_uncertainty(volume_uncertainty, volume_m3) if volume_uncertainty else None,
    )
    if as_json:
        print_json(plan_object(found))
        return
    out("\n".join(plan_lines(found, width(), wrapped, style_for(sys.stdout))))
