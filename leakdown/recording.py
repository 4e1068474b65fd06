"""A Recording: what a gauge or a sheet said, in SI units, before anybody interpreted it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leakdown.circuit_names import CIRCUITS as CIRCUITS
from leakdown.circuit_names import circuit_named as circuit_named
from leakdown.errors import InputError

Direction = Literal["pressure", "vacuum"]


@dataclass(frozen=True)
class Mark:
    """Something done during a hold: `text` as written, at `time_s` on the recording's own clock."""

    time_s: float
    text: str


@dataclass(frozen=True)
class Conditions:
    """What is known about a test. None means "not said"; nothing here is a silent default.

    `volume_u_m3` is a 95 % half-width. `includes` names the sections that this test contained,
    `blocked` what was blanked off. `unit` is the user's own pressure unit, for showing results.
    """

    circuit: str | None = None
    direction: Direction | None = None
    volume_m3: float | None = None
    volume_u_m3: float | None = None
    barometer_pa: float | None = None
    temperature_k: float | None = None
    gauge: str | None = None
    resolution_pa: float | None = None
    includes: tuple[str, ...] = ()
    blocked: tuple[str, ...] = ()
    note: str | None = None
    started: str | None = None
    unit: str = "kPa"
    extra: tuple[tuple[str, str], ...] = ()

    def other(self, key: str) -> str | None:
        """The text of a key that the reader kept without a field of its own, as the file has it; or None."""
        return dict(self.extra).get(key)

    def overridden(self, **options: object) -> Conditions:
        """A copy in which every option that is not None replaces what the file said."""
        return replace(self, **{key: value for key, value in options.items() if value is not None})  # type: ignore[arg-type]


@dataclass(frozen=True)
class Recording:
    """Readings of one test.

    time_s: (n,) strictly increasing, seconds on the sheet's or gauge's own zero.
    pressure_pa: (n,) gauge pressure, signed (negative = vacuum), finite.
    temperature_k: (n,) or None, NaN where not written.
    marks, conditions: see those classes. source: the file or port, for messages.
    by_hand: True for a sheet filled in by a person (reading times are then approximate).
    remarks: what the reader understood or passed over, in words, for the user.
    unreadable: gauge texts that were no reading, counted.
    """

    time_s: NDArray[np.float64]
    pressure_pa: NDArray[np.float64]
    temperature_k: NDArray[np.float64] | None = None
    marks: tuple[Mark, ...] = ()
    conditions: Conditions = field(default_factory=Conditions)
    source: str = ""
    by_hand: bool = False
    remarks: tuple[str, ...] = ()
    unreadable: int = 0

    def __post_init__(self) -> None:
        """Reject arrays that no later step could handle. Raises InputError."""
        if self.time_s.ndim != 1 or self.time_s.shape != self.pressure_pa.shape:
            raise InputError("time and pressure differ in length", where=self.source)
        if not (np.isfinite(self.time_s).all() and np.isfinite(self.pressure_pa).all()):
            raise InputError("a time or a pressure is not a finite number", where=self.source)
        if self.time_s.size > 1 and not (np.diff(self.time_s) > 0).all():
            raise InputError("times do not increase", where=self.source)

    @property
    def direction(self) -> Direction:
        """The direction as said, or the sign of the reading farthest from zero."""
        if self.conditions.direction:
            return self.conditions.direction
        farthest = self.pressure_pa[np.argmax(np.abs(self.pressure_pa))]
        return "vacuum" if farthest < 0 else "pressure"

    def between(self, start_s: float, end_s: float) -> Recording:
        """The readings and marks from `start_s` to `end_s`, both ends included."""
        keep = (self.time_s >= start_s) & (self.time_s <= end_s)
        temperature = None if self.temperature_k is None else self.temperature_k[keep]
        marks = tuple(m for m in self.marks if start_s <= m.time_s <= end_s)
        return replace(
            self,
            time_s=self.time_s[keep],
            pressure_pa=self.pressure_pa[keep],
            temperature_k=temperature,
            marks=marks,
        )
