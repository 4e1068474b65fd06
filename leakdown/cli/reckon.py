"""`leakdown reckon`: what a watch, a pump and a ruler tell where there is no recording."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import show
from leakdown.errors import UsageError
from leakdown.quantities import ATMOSPHERE_PA, parse_length, parse_pressure, parse_time, parse_volume

if TYPE_CHECKING:
    from leakdown.uncertainty import InputQuantity

_HELP = "Reckon without a recording: a leak that will not pump up, its share of idle air, a centre seal."
_app = typer.Typer(no_args_is_help=True, help=_HELP)


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(_app, name="reckon")


@_app.command("pump", epilog='Example: leakdown reckon pump --held "8 kPa" --strokes 10 --in "10 s"')
def pump(
    held: Annotated[str, o.option("--held", 'The pressure it would not go past, "8 kPa" (vacuum: -8).')],
    strokes: Annotated[float, o.option("--strokes", "Strokes counted.", metavar="NUMBER")],
    time: Annotated[str, o.option("--in", 'The time they took, "10 s".')],
    stroke: Annotated[str | None, o.option("--stroke", 'Of the pump, "15 cm3" (default).')] = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    as_json: o.Json = False,
) -> None:
    """A circuit that will not pump up: how big the leak is."""
    from leakdown.judge.pumping import pace_of, pumped_leak, stroke_of, usual_stroke
    from leakdown.said import ambient_pa
    from leakdown.words.bench_results import pumped_lines, pumped_object

    took = parse_time(time, "--in")
    if took <= 0.0:
        raise UsageError("--in must be above zero", remedy='Give the time of the strokes, "10 s".')
    volume = stroke_of(parse_volume(stroke, "--stroke")) if stroke else usual_stroke()
    ambient = ambient_pa(barometer, altitude) or ATMOSPHERE_PA
    leak = pumped_leak(parse_pressure(held, "--held").value_pa, pace_of(strokes / took), volume, ambient)
    show(pumped_object(leak), pumped_lines(leak), as_json)


@_app.command("idle", epilog='Example: leakdown reckon idle --hole "0.5 mm" --displacement "50 cm3"')
def idle(
    hole: Annotated[str, o.option("--hole", 'The equivalent hole of the leak, "0.5 mm".')],
    displacement: Annotated[str, o.option("--displacement", 'Swept volume of the cylinder, "50 cm3".')],
    speed: Annotated[float, o.option("--idle", "Idle speed in turns a minute.", metavar="NUMBER")] = 2800.0,
    as_json: o.Json = False,
) -> None:
    """Whether a leak is big enough to explain the complaint (rough)."""
    from leakdown.judge.idle_air import idle_share
    from leakdown.words.bench_results import share_object

    diameter = parse_length(hole, "--hole")
    if diameter <= 0.0 or speed <= 0.0:
        raise UsageError("--hole and --idle must be above zero", remedy='Such as --hole "0.5 mm" --idle 2800.')
    share = idle_share(diameter, parse_volume(displacement, "--displacement"), speed)
    show(share_object(share), [share.sentence], as_json)


@_app.command("neighbour", epilog='Example: leakdown reckon neighbour --rise "2 kPa" --in "60 s" --volume "250 cm3"')
def neighbour(
    rise: Annotated[str, o.option("--rise", 'Of the neighbour\'s gauge, "2 kPa".')],
    time: Annotated[str, o.option("--in", 'The time it took, "60 s".')],
    volume: Annotated[str, o.option("--volume", 'Of the neighbour with its hose, "250 cm3".')],
    test: Annotated[str, o.option("--test", "Pressure in the tested cylinder.")] = "40 kPa",
    resolution: o.Resolution = None,
    as_json: o.Json = False,
) -> None:
    """Several cylinders: what leaks past the centre seal into the neighbour."""
    from leakdown.prepare.bench_sums import centre_seal
    from leakdown.said import positive_pressure_pa
    from leakdown.uncertainty import read_input
    from leakdown.words.bench_results import seal_lines, seal_object

    step = positive_pressure_pa(resolution, "--resolution") if resolution else None
    seal = centre_seal(
        read_input(rise, "rise", _gauge_pa, step),
        _time(time),
        read_input(volume, "volume", parse_volume, nominal=True),
        parse_pressure(test, "--test").value_pa,
    )
    show(seal_object(seal), seal_lines(seal), as_json)


def _time(text: str) -> InputQuantity:
    from leakdown.uncertainty import InputQuantity

    return InputQuantity("time", parse_time(text, "--in"), 0.5, "assumed", "time read to half a second")


def _gauge_pa(text: str, what: str) -> float:
    return parse_pressure(text, what).value_pa
