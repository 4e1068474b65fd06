"""What the user said about a file, beyond what the file says itself."""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.circuits import Direction
from leakdown.errors import UsageError
from leakdown.quantities import PRESSURE_PA, PressureUnit, pressure_unit, time_unit_s


@dataclass(frozen=True)
class ReadingOptions:
    """Options that win over the file.

    unit: pressure unit as text ("psi", "kPa abs"). direction: "pressure" or "vacuum".
    absolute: the readings are absolute pressures (a barometer is then needed).
    barometer_pa: station pressure, Pa absolute. time_unit: unit of a bare time column ("s", "min").
    column: heading of the pressure column to take. sheet: sheet of a workbook to take.
    zero_pa: what the gauge shows open to air, as the sheet writes its readings. test: which of several tests,
    counted from 1. columns: headings for a file that has none, one a column ("-" for one without use).
    Raises UsageError for an unknown unit or direction, a test below 1, or headings that name no pressure.
    """

    unit: str | None = None
    direction: Direction | None = None
    absolute: bool = False
    barometer_pa: float | None = None
    time_unit: str | None = None
    column: str | None = None
    sheet: str | None = None
    zero_pa: float | None = None
    test: int | None = None
    columns: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.unit is not None and pressure_unit(self.unit) is None:
            raise UsageError(
                f"unknown pressure unit {self.unit!r}",
                remedy=f"Known units: {', '.join(PRESSURE_PA)} (psig, kPa abs and the like too).",
            )
        if self.direction not in (None, "pressure", "vacuum"):
            raise UsageError(f"unknown direction {self.direction!r}", remedy="Say pressure or vacuum.")
        if self.time_unit is not None and time_unit_s(self.time_unit) is None:
            raise UsageError(f"unknown time unit {self.time_unit!r}", remedy="Known units: s, ms, min, h.")
        if self.test is not None and self.test < 1:
            raise UsageError(f"--test {self.test}: tests are counted from 1", remedy="Such as --test 2.")

    @staticmethod
    def columns_of(text: str) -> tuple[str, ...]:
        """The headings of "time (ms), -, pressure (bar)". Raises UsageError where no two are named."""
        names = tuple(part.strip() or "-" for part in re.split(r"[,;](?![^()]*\))", text))
        if sum(name != "-" for name in names) < 2:
            raise UsageError(
                f"--columns {text!r} does not name a time and a pressure",
                remedy='Name every column in order, as in "time (ms), -, pressure (bar)".',
            )
        return names

    @property
    def pressure_unit(self) -> PressureUnit | None:
        """The unit that overrides the file's, or None."""
        return None if self.unit is None else pressure_unit(self.unit)
