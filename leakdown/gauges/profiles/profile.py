"""What one kind of gauge is: framing, how its lines are read, what its numbers mean."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from leakdown.gauges.profiles.convert import Conversion, Points
from leakdown.gauges.profiles.modbus_frames import Register
from leakdown.quantities import PressureUnit


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

    def conversion(
        self, unit: PressureUnit | None, absolute: bool | None, barometer_pa: float | None
    ) -> Conversion:
        """The profile's conversion, with what the user says on top."""
        return Conversion(
            unit or self.unit,
            self.scale,
            self.offset,
            self.calibration,
            self.absolute if absolute is None else absolute,
            barometer_pa,
        )


AUTO = Profile("auto", "finds the pressure by its label, JSON key, NMEA field, unit or as the only number")
