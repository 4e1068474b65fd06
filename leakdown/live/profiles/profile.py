"""What one kind of gauge is: framing, how its lines are read, what its numbers mean in Pa."""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass
from typing import Literal

from leakdown.errors import UsageError
from leakdown.live.profiles.modbus_frames import Register
from leakdown.live.texts import told
from leakdown.quantities import PRESSURE_PA, PressureUnit

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Conversion:
    """How shown values become Pa.

    unit: the unit to use whatever the gauge says, or None to believe the gauge. calibration: (shown,
    true) pairs in ascending order of the shown value, joined by straight lines and carried on beyond
    the ends; else true = shown * scale + offset, both in `unit`. absolute: None lets the unit's own
    "a" or "abs" decide. barometer_pa: needed for an absolute gauge.
    """

    unit: PressureUnit | None = None
    scale: float = 1.0
    offset: float = 0.0
    calibration: Points = ()
    absolute: bool | None = None
    barometer_pa: float | None = None

    def __post_init__(self) -> None:
        """Raises UsageError for an absolute gauge without a barometer."""
        self._ambient_pa(bool(self.absolute))

    def unit_of(self, shown: PressureUnit | None) -> PressureUnit:
        """The unit that counts. Raises UsageError when neither gauge nor user names one."""
        unit = self.unit or shown
        if unit is None:
            raise UsageError(**told("no unit", others=", ".join(n for n in PRESSURE_PA if n != "kPa")))
        return unit

    def gauge_pa(self, value: float, shown: PressureUnit | None) -> float:
        """Gauge pressure in Pa of a shown value. Raises UsageError (no unit, no barometer)."""
        unit = self.unit_of(shown)
        true = interpolate(self.calibration, value) if self.calibration else value * self.scale + self.offset
        absolute = self.absolute if self.absolute is not None else unit.reference == "absolute"
        return true * unit.factor_pa - self._ambient_pa(absolute)

    def _ambient_pa(self, absolute: bool) -> float:
        """What an absolute gauge shows too much; nothing for others."""
        if absolute and self.barometer_pa is None:
            raise UsageError(**told("no barometer"))
        return (self.barometer_pa or 0.0) if absolute else 0.0


def interpolate(points: Points, shown: float) -> float:
    """Piecewise linear through at least two points, straight on beyond the ends."""
    at = min(max(bisect_left([p[0] for p in points], shown), 1), len(points) - 1)
    (x0, y0), (x1, y1) = points[at - 1], points[at]
    return y0 + (y1 - y0) * (shown - x0) / (x1 - x0)


def checked_points(points: list[list[float]], where: str) -> Points:
    """Calibration points as a profile gives them. Raises UsageError unless they ascend, two or more."""
    pairs = tuple((float(p[0]), float(p[1])) for p in points if len(p) == 2)
    ascending = all(a[0] < b[0] for a, b in zip(pairs, pairs[1:], strict=False))
    if len(pairs) != len(points) or len(pairs) < 2 or not ascending:
        raise UsageError("calibration needs two or more [shown, true] pairs with rising shown values", where=where)
    return pairs


@dataclass(frozen=True)
class Framing:
    """Serial settings; `end` is None where CR, LF and CRLF all end a line."""

    baud: int = 115_200
    bits: int = 8
    parity: str = "N"
    stop: float = 1
    end: bytes | None = None


@dataclass(frozen=True)
class Columns:
    """Where things stand in a row, counted from 0."""

    separator: str
    pressure: int
    count: int | None = None
    time: int | None = None
    temperature: int | None = None


@dataclass(frozen=True)
class Profile:
    """One kind of gauge. With neither `pattern` nor `columns`, `auto` finds the pressure on the line."""

    name: str
    about: str = ""
    mode: Literal["stream", "poll", "modbus"] = "stream"
    unit: PressureUnit | None = None
    absolute: bool | None = None
    pattern: re.Pattern[str] | None = None
    columns: Columns | None = None
    no_reading: re.Pattern[str] | None = None
    checksum: str = ""
    time_unit_s: float = 1e-3
    scale: float = 1.0
    offset: float = 0.0
    calibration: Points = ()
    framing: Framing = Framing()
    command: bytes = b""
    interval_s: float = 0.1
    register: Register | None = None
    source: str = ""

    def conversion(self, unit: PressureUnit | None, absolute: bool | None, barometer_pa: float | None) -> Conversion:
        """The profile's conversion, with what the user says on top. Raises UsageError."""
        absolute = self.absolute if absolute is None else absolute
        return Conversion(unit or self.unit, self.scale, self.offset, self.calibration, absolute, barometer_pa)


AUTO = Profile("auto", "finds the pressure by its label, JSON key, NMEA field, unit or as the only number")
