"""What the user said about a file, beyond what the file says itself."""

from __future__ import annotations

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
    Raises UsageError for an unknown unit or direction.
    """

    unit: str | None = None
    direction: Direction | None = None
    absolute: bool = False
    barometer_pa: float | None = None
    time_unit: str | None = None
    column: str | None = None
    sheet: str | None = None

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

    @property
    def pressure_unit(self) -> PressureUnit | None:
        """The unit that overrides the file's, or None."""
        return None if self.unit is None else pressure_unit(self.unit)
