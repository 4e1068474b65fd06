"""`leakdown volume`: how much room shares the gauge's air, measured or reckoned, with its doubt."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, width
from leakdown.errors import UsageError
from leakdown.quantities import ATMOSPHERE_PA, parse_length, parse_pressure, parse_volume

if TYPE_CHECKING:
    from leakdown.prepare.volume import SizedVolume
    from leakdown.uncertainty import Written

_DOUBT = 'A doubt may be added to any of them: "16 kPa +/- 0.1 kPa" or "+/- 1 %" (95 %).'
_app = typer.Typer(no_args_is_help=True, help="Volume under test, from a bottle, a syringe or dimensions.")

Ports = Annotated[
    str,
    typer.Option("--ports", help="open (the piston uncovers a transfer port) or closed.", metavar="STATE"),
]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(_app, name="volume")


@_app.command("bottle", epilog=_DOUBT)
def bottle(
    size: Annotated[str, typer.Option("--bottle", help='Volume of the bottle and its hose, "100 cm3".')],
    before: Annotated[str, typer.Option("--before", help='Gauge pressure in the bottle, "50 kPa".')],
    after: Annotated[str, typer.Option("--after", help='After opening it into the circuit, "16 kPa".')],
    resolution: o.Resolution = None,
    as_json: o.Json = False,
) -> None:
    """A bottle at a known pressure is opened into the circuit, which was at ambient."""
    from leakdown.prepare.volume import by_bottle

    step = o.positive_pressure_pa(resolution, "--resolution") if resolution else None
    _show(
        by_bottle(
            _read(size, "bottle", parse_volume, nominal=True),
            _read(before, "before", _gauge_pa, step),
            _read(after, "after", _gauge_pa, step),
        ),
        as_json,
    )


@_app.command("syringe", epilog=_DOUBT)
def syringe(
    injected: Annotated[str, typer.Option("--injected", help='Air pushed in, "10 cm3".')],
    rise: Annotated[str, typer.Option("--rise", help='Rise of the reading that stays, "4.82 kPa".')],
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    resolution: o.Resolution = None,
    as_json: o.Json = False,
) -> None:
    """A syringe of ambient air is emptied into the closed circuit."""
    from leakdown.prepare.volume import by_syringe
    from leakdown.uncertainty import assumed

    step = o.positive_pressure_pa(resolution, "--resolution") if resolution else None
    if barometer:
        o.ambient_pa(barometer.split("+/-")[0], altitude)
        ambient = _read(barometer, "barometer", _gauge_pa)
    else:
        known = o.ambient_pa(None, altitude)
        why = (
            "barometer from the altitude, weather +/- 3 %"
            if known
            else "barometer assumed 101.325 kPa +/- 3 %"
        )
        ambient = assumed("barometer", known or ATMOSPHERE_PA, 0.03 * (known or ATMOSPHERE_PA), why)
    _show(
        by_syringe(
            _read(injected, "injected", parse_volume, nominal=True),
            _read(rise, "rise", _gauge_pa, step),
            ambient,
        ),
        as_json,
    )


@_app.command("engine", epilog=_DOUBT)
def engine(
    bore: Annotated[str, typer.Option("--bore", help='"44 mm".')],
    stroke: Annotated[str, typer.Option("--stroke", help='"32 mm".')],
    crankcase_ratio: Annotated[
        str,
        typer.Option("--crankcase-ratio", help="(crankcase at bottom + swept) / crankcase at bottom, 1.45."),
    ],
    clearance: Annotated[
        str | None, typer.Option("--clearance", help='Above the piston at top, "4 cm3".')
    ] = None,
    rig: Annotated[str | None, typer.Option("--rig", help='Hoses and gauge, "12 cm3".')] = None,
    ports: Ports = "open",
    as_json: o.Json = False,
) -> None:
    """From bore, stroke and crankcase compression ratio."""
    from leakdown.prepare.volume import Engine, by_engine

    if ports not in ("open", "closed"):
        raise UsageError(f"--ports {ports!r} is neither open nor closed", remedy="Say open or closed.")
    _show(
        by_engine(
            Engine(
                _read(bore, "bore", parse_length, nominal=True),
                _read(stroke, "stroke", parse_length, nominal=True),
                _ratio(crankcase_ratio),
                _read(clearance, "clearance", parse_volume) if clearance else None,
                _read(rig, "rig", parse_volume) if rig else None,
                ports,  # type: ignore[arg-type]
            )
        ),
        as_json,
    )


def _read(
    text: str, name: str, parse: Callable[[str, str], float], step: float | None = None, nominal: bool = False
) -> Written:
    from leakdown.uncertainty import written

    return written(text, name, parse, step, nominal)


def _ratio(text: str) -> Written:
    """A pure number, with or without its doubt."""
    from leakdown.prepare.volume import ratio_as_printed

    value, *doubt = (piece.strip() for piece in text.split("+/-"))
    try:
        plain = ratio_as_printed(float(value.replace(",", ".")))
        if not doubt:
            return plain
        return _read(text, "crankcase ratio", lambda piece, _: float(piece.replace(",", ".")))
    except ValueError as error:
        raise UsageError(f"--crankcase-ratio: {text!r} is no number", remedy="Write it as 1.45.") from error


def _gauge_pa(text: str, what: str) -> float:
    return parse_pressure(text, what).value_pa


def _show(sized: SizedVolume, as_json: bool) -> None:
    from leakdown.words.preparing import volume_lines, volume_object
    from leakdown.words.wrap import clean, wrapped

    if as_json:
        print(json.dumps(volume_object(sized), allow_nan=False, ensure_ascii=False))
        return

    def wrap(text: str, columns: int, first: str, rest: str) -> list[str]:
        return wrapped(clean(text), columns, first, rest)

    out("\n".join(volume_lines(sized, width(), wrap)))
