"""Options that several commands share: declared once, turned into SI once."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.errors import UsageError
from leakdown.quantities import (
    clock_seconds,
    parse_length,
    parse_pressure,
    parse_temperature,
    parse_time,
    parse_uncertainty,
    parse_volume,
)

if TYPE_CHECKING:
    from leakdown.recording import Recording
    from leakdown.sheets.options import ReadingOptions


_TEST = "The test"
_READING = "Reading the file"
_RESULT = "The result"

Files = Annotated[
    list[Path], typer.Argument(help="Reading sheets or recordings (CSV, TSV, XLSX).", show_default=False)
]
Unit = Annotated[
    str | None,
    typer.Option(
        "--unit", help='Pressure unit of the readings, such as "psi" or "inHg".', rich_help_panel=_READING
    ),
]
Direction = Annotated[
    str | None,
    typer.Option("--direction", help="pressure or vacuum.", metavar="DIRECTION", rich_help_panel=_TEST),
]
Absolute = Annotated[
    bool,
    typer.Option(
        "--absolute", help="Readings are absolute pressures (needs the barometer).", rich_help_panel=_READING
    ),
]
Barometer = Annotated[
    str | None,
    typer.Option(
        "--barometer",
        help='Station pressure, such as "98.2 kPa" (not the sea-level figure).',
        rich_help_panel=_TEST,
    ),
]
Altitude = Annotated[
    str | None,
    typer.Option(
        "--altitude",
        help='Height above sea level, such as "850 m", when there is no barometer.',
        rich_help_panel=_TEST,
    ),
]
Circuit = Annotated[
    str | None,
    typer.Option(
        "--circuit",
        help="crankcase, intake, impulse, fuel-line, carburettor-inlet, float-inlet, tank or rig.",
        rich_help_panel=_TEST,
    ),
]
Volume = Annotated[
    str | None,
    typer.Option(
        "--volume", help='Volume under test with hoses and gauge, such as "250 cm3".', rich_help_panel=_TEST
    ),
]
VolumeUncertainty = Annotated[
    str | None,
    typer.Option("--volume-uncertainty", help='Its doubt (95 %), "10 %" or "25 cm3".', rich_help_panel=_TEST),
]
Temperature = Annotated[
    str | None,
    typer.Option("--temperature", help='Of engine and room, such as "20 degC".', rich_help_panel=_TEST),
]
Resolution = Annotated[
    str | None,
    typer.Option(
        "--resolution",
        help='The smallest step read off the gauge, such as "0.25 psi".',
        rich_help_panel=_READING,
    ),
]
QuoteAt = Annotated[
    str,
    typer.Option("--quote-at", help="Gauge pressure at which the leak is quoted.", rich_help_panel=_RESULT),
]
LimitText = Annotated[
    str | None,
    typer.Option(
        "--limit",
        help='"50 kPa to 30 kPa in 20 s", "7 kPa in 60 s from 40 kPa" or "2.5 cm3/min".',
        rich_help_panel=_TEST,
    ),
]
HoldText = Annotated[
    str | None,
    typer.Option(
        "--hold", help="START..END in seconds: the part to use, chosen by hand.", rich_help_panel=_READING
    ),
]
Json = Annotated[
    bool, typer.Option("--json", help="One JSON object a line, nothing else.", rich_help_panel=_RESULT)
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Only the result.", rich_help_panel=_RESULT)]


@dataclass(frozen=True)
class ReadingText:
    """The reading options as typed."""

    unit: str | None = None
    direction: str | None = None
    absolute: bool = False
    barometer: str | None = None
    altitude: str | None = None


@dataclass(frozen=True)
class TestText:
    """The options that describe a test, as typed."""

    circuit: str | None = None
    volume: str | None = None
    volume_uncertainty: str | None = None
    temperature: str | None = None
    resolution: str | None = None


def read_file(path: Path, reading: ReadingText, test: TestText | None = None) -> Recording:
    """Read one file and let the options win over what it says. Raises InputError, UsageError."""
    from leakdown.sheets.file import read

    options = reading_options(reading)
    return with_conditions(read(path, options), options, test)


def reading_options(reading: ReadingText) -> ReadingOptions:
    """What was typed about reading. Raises UsageError."""
    from leakdown.sheets.options import ReadingOptions

    return ReadingOptions(
        unit=reading.unit,
        direction=direction_named(reading.direction),
        absolute=reading.absolute,
        barometer_pa=ambient_pa(reading.barometer, reading.altitude),
    )


def with_conditions(recording: Recording, options: ReadingOptions, test: TestText | None) -> Recording:
    """The recording with the options' conditions over its own. Raises UsageError."""
    given: dict[str, Any] = {"barometer_pa": options.barometer_pa, "direction": options.direction}
    if test is not None:
        given |= _test_conditions(test, recording)
    return replace(recording, conditions=recording.conditions.overridden(**given))


def _test_conditions(test: TestText, recording: Recording) -> dict[str, Any]:
    from leakdown.recording import circuit_named

    volume = parse_volume(test.volume, "--volume") if test.volume else None
    known = volume if volume is not None else recording.conditions.volume_m3
    doubt = None
    if test.volume_uncertainty:
        if known is None:
            raise UsageError(
                "--volume-uncertainty without a volume", remedy='Give --volume, such as "250 cm3".'
            )
        doubt = parse_uncertainty(test.volume_uncertainty, known, "--volume-uncertainty")
    elif volume is not None and recording.conditions.volume_u_m3 is not None:
        # the file's doubt belongs to the file's volume
        doubt = min(recording.conditions.volume_u_m3, 0.99 * volume)
    return {
        "circuit": circuit_named(test.circuit) if test.circuit else None,
        "volume_m3": volume,
        "volume_u_m3": doubt,
        "temperature_k": parse_temperature(test.temperature, "--temperature") if test.temperature else None,
        "resolution_pa": positive_pressure_pa(test.resolution, "--resolution") if test.resolution else None,
    }


def direction_named(text: str | None) -> Any:
    """pressure or vacuum. Raises UsageError."""
    if text is None:
        return None
    plain = text.strip().lower()
    if plain not in ("pressure", "vacuum"):
        raise UsageError(
            f"--direction {text!r} is neither pressure nor vacuum", remedy="Say pressure or vacuum."
        )
    return plain


def ambient_pa(barometer: str | None, altitude: str | None) -> float | None:
    """Station pressure from --barometer or --altitude; None when neither is given. Raises UsageError."""
    if barometer and altitude:
        return _cross_checked(_barometer_pa(barometer), _altitude_pa(altitude), barometer, altitude)
    if barometer:
        return _barometer_pa(barometer)
    return _altitude_pa(altitude) if altitude else None


def _barometer_pa(text: str) -> float:
    pressure = parse_pressure(text, "--barometer")
    if not 30e3 <= pressure.value_pa <= 120e3:
        raise UsageError(
            f"--barometer {text!r} is outside 30..120 kPa",
            remedy='Give the station pressure, such as "98.2 kPa".',
        )
    return pressure.value_pa


def _altitude_pa(text: str) -> float:
    from leakdown.physics.air import standard_pressure_pa

    try:
        return standard_pressure_pa(parse_length(text, "--altitude"))
    except ValueError as error:
        raise UsageError(f"--altitude: {error}", remedy='Give metres or feet, such as "850 m".') from error


def _cross_checked(barometer_pa: float, altitude_pa: float, barometer: str, altitude: str) -> float:
    if abs(barometer_pa / altitude_pa - 1.0) > 0.05:
        raise UsageError(
            f"--barometer {barometer} does not fit --altitude {altitude} ({altitude_pa / 1e3:.1f} kPa there)",
            remedy="Weather reports give sea-level figures; give the bench's pressure, or only the altitude.",
        )
    return barometer_pa


def positive_pressure_pa(text: str, what: str) -> float:
    """A magnitude of pressure, sign dropped. Raises UsageError for zero."""
    value = abs(parse_pressure(text, what).value_pa)
    if value == 0:
        raise UsageError(f"{what}: {text!r} is zero", remedy="Give a size above zero.")
    return value


def hold_span(text: str | None) -> tuple[float, float] | None:
    """ "12..72", "12 s..1:12" -> seconds. Raises UsageError."""
    if text is None:
        return None
    ends = [end.strip() for end in text.split("..")]
    if len(ends) != 2 or not all(ends):
        raise UsageError(
            f"--hold: cannot read {text!r}", remedy='Write START..END in seconds, such as "12..72".'
        )
    start, end = (_seconds(end) for end in ends)
    if not (math.isfinite(start) and start < end):
        raise UsageError(
            f"--hold: {text!r} does not end after it starts", remedy='Write START..END, such as "12..72".'
        )
    return start, end


def _seconds(text: str) -> float:
    if re.fullmatch(r"[-+]?\d+(?:\.\d*)?", text):
        return float(text)
    elapsed = clock_seconds(text)
    return parse_time(text, "--hold") if elapsed is None else elapsed


def refuse_overwriting(target: Path | None, inputs: list[Path]) -> None:
    """The readings as received are never written over. Raises UsageError."""
    for path in inputs if target is not None and target.exists() else ():
        if path.exists() and target is not None and target.samefile(path):
            raise UsageError(
                f"{target} is the file of readings itself",
                remedy="Write to another name; the readings stay as they are.",
            )
