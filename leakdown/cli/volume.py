"""`leakdown volume`: how much room shares the gauge's air, measured or reckoned, with its doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, width
from leakdown.errors import UsageError
from leakdown.quantities import parse_length, parse_pressure, parse_volume

if TYPE_CHECKING:
    from leakdown.prepare.bench_sums import SizedVolume

_DOUBT = 'A doubt may be added to any of them: "16 kPa +/- 0.1 kPa" or "+/- 1 %" (95 %).'
_app = typer.Typer(no_args_is_help=True, help="Volume under test, from a bottle, a syringe or dimensions.")

_PORTS = "open (the piston uncovers a transfer port) or closed."
_RATIO = "(crankcase at bottom + swept) / crankcase at bottom, 1.45."


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(_app, name="volume")


@_app.command("bottle", epilog=_DOUBT)
def bottle(
    size: Annotated[str, o.option("--bottle", 'Volume of the bottle and its hose, "100 cm3".')],
    before: Annotated[str, o.option("--before", 'Gauge pressure in the bottle, "50 kPa".')],
    after: Annotated[str, o.option("--after", 'After opening it into the circuit, "16 kPa".')],
    resolution: o.Resolution = None,
    as_json: o.Json = False,
) -> None:
    """A bottle at a known pressure is opened into the circuit, which was at ambient."""
    from leakdown.prepare.bench_sums import by_bottle
    from leakdown.said import positive_pressure_pa
    from leakdown.uncertainty import read_input

    step = positive_pressure_pa(resolution, "--resolution") if resolution else None
    sized = by_bottle(
        read_input(size, "bottle", parse_volume, nominal=True),
        read_input(before, "before", _gauge_pa, step),
        read_input(after, "after", _gauge_pa, step),
    )
    _show(sized, as_json)


@_app.command("syringe", epilog=_DOUBT)
def syringe(
    injected: Annotated[str, o.option("--injected", 'Air pushed in, "10 cm3".')],
    rise: Annotated[str, o.option("--rise", 'Rise of the reading that stays, "4.82 kPa".')],
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    resolution: o.Resolution = None,
    as_json: o.Json = False,
) -> None:
    """A syringe of ambient air is emptied into the closed circuit."""
    from leakdown.prepare.bench_sums import assumed_barometer, by_syringe
    from leakdown.said import ambient_pa, positive_pressure_pa
    from leakdown.uncertainty import read_input

    step = positive_pressure_pa(resolution, "--resolution") if resolution else None
    station = ambient_pa(barometer.split("+/-")[0] if barometer else None, altitude)
    air = read_input(barometer, "barometer", _gauge_pa) if barometer else assumed_barometer(station)
    sized = by_syringe(
        read_input(injected, "injected", parse_volume, nominal=True), read_input(rise, "rise", _gauge_pa, step), air
    )
    _show(sized, as_json)


@_app.command("engine", epilog=_DOUBT)
def engine(
    bore: Annotated[str, o.option("--bore", '"44 mm".')],
    stroke: Annotated[str, o.option("--stroke", '"32 mm".')],
    crankcase_ratio: Annotated[str, o.option("--crankcase-ratio", _RATIO)],
    clearance: Annotated[str | None, o.option("--clearance", 'Above the piston at top, "4 cm3".')] = None,
    rig: Annotated[str | None, o.option("--rig", 'Hoses and gauge, "12 cm3".')] = None,
    ports: Annotated[str, o.option("--ports", _PORTS, metavar="STATE")] = "open",
    as_json: o.Json = False,
) -> None:
    """From bore, stroke and crankcase compression ratio."""
    from leakdown.prepare.bench_sums import Engine, by_engine
    from leakdown.prepare.bench_sums import crankcase_ratio as ratio_of
    from leakdown.uncertainty import read_input

    if ports not in ("open", "closed"):
        raise UsageError(f"--ports {ports!r} is neither open nor closed", remedy="Say open or closed.")
    dimensions = Engine(
        read_input(bore, "bore", parse_length, nominal=True),
        read_input(stroke, "stroke", parse_length, nominal=True),
        ratio_of(crankcase_ratio),
        read_input(clearance, "clearance", parse_volume) if clearance else None,
        read_input(rig, "rig", parse_volume) if rig else None,
        ports,  # type: ignore[arg-type]
    )
    _show(by_engine(dimensions), as_json)


def _gauge_pa(text: str, what: str) -> float:
    return parse_pressure(text, what).value_pa


def _show(sized: SizedVolume, as_json: bool) -> None:
    from leakdown.words.preparing import volume_lines, volume_object
    from leakdown.words.wrap import clean_wrapped

    if as_json:
        print_json(volume_object(sized))
    else:
        out("\n".join(volume_lines(sized, width(), clean_wrapped)))
