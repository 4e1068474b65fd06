"""What a person says of a test, one thing at a time: text with a unit -> SI."""

from __future__ import annotations

import math
import re

from leakdown.circuits import Direction
from leakdown.errors import UsageError
from leakdown.physics.air import standard_pressure_pa
from leakdown.quantities import clock_seconds, parse_length, parse_pressure, parse_time


def direction_named(text: str | None) -> Direction | None:
    """pressure or vacuum. Raises UsageError."""
    if text is None:
        return None
    plain = text.strip().lower()
    if plain not in ("pressure", "vacuum"):
        raise UsageError(f"--direction {text!r} is neither pressure nor vacuum", remedy="Say pressure or vacuum.")
    return plain  # type: ignore[return-value]


def ambient_pa(barometer: str | None, altitude: str | None) -> float | None:
    """Station pressure from a barometer or an altitude; None when neither is given. Raises UsageError."""
    if barometer and altitude:
        return _cross_checked(_barometer_pa(barometer), _altitude_pa(altitude), barometer, altitude)
    if barometer:
        return _barometer_pa(barometer)
    return _altitude_pa(altitude) if altitude else None


def _barometer_pa(text: str) -> float:
    pressure = parse_pressure(text, "--barometer")
    if not 30e3 <= pressure.value_pa <= 120e3:
        raise UsageError(
            f"--barometer {text!r} is outside 30..120 kPa", remedy='Give the station pressure, such as "98.2 kPa".'
        )
    return pressure.value_pa


def _altitude_pa(text: str) -> float:
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
        raise UsageError(f"--hold: cannot read {text!r}", remedy='Write START..END in seconds, such as "12..72".')
    start, end = (_seconds(end) for end in ends)
    if not (math.isfinite(start) and start < end):
        raise UsageError(f"--hold: {text!r} does not end after it starts", remedy='Write START..END, such as "12..72".')
    return start, end


def _seconds(text: str) -> float:
    if re.fullmatch(r"[-+]?\d+(?:\.\d*)?", text):
        return float(text)
    elapsed = clock_seconds(text)
    return parse_time(text, "--hold") if elapsed is None else elapsed
