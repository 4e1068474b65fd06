"""What the user said about a file, beyond what the file says itself."""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.circuits import Direction
from leakdown.errors import UsageError
from leakdown.quantities import PRESSURE_PA, PressureUnit, pressure_unit, time_unit_s
from leakdown.sheets.grid import told


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
            raise UsageError(**told("unknown unit", unit=self.unit, units=", ".join(PRESSURE_PA)))
        if self.direction not in (None, "pressure", "vacuum"):
            raise UsageError(**told("unknown direction", direction=self.direction))
        if self.time_unit is not None and time_unit_s(self.time_unit) is None:
            raise UsageError(**told("unknown time unit", unit=self.time_unit))
        if self.test is not None and self.test < 1:
            raise UsageError(**told("counted from one", test=self.test))

    @staticmethod
    def columns_of(text: str) -> tuple[str, ...]:
        """The headings of "time (ms), -, pressure (bar)". Raises UsageError where no two are named."""
        names = tuple(part.strip() or "-" for part in re.split(r"[,;](?![^()]*\))", text))
        if sum(name != "-" for name in names) < 2:
            raise UsageError(**told("columns told", text=text))
        return names

    @property
    def pressure_unit(self) -> PressureUnit | None:
        """The unit that overrides the file's, or None."""
        return None if self.unit is None else pressure_unit(self.unit)
