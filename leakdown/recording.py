"""A Recording: what a gauge or a sheet said, in SI units, before anybody interpreted it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from leakdown.circuits import CIRCUITS, DIRECTIONS, Direction, circuit_named
from leakdown.errors import InputError, UsageError
from leakdown.quantities import pressure_unit

if TYPE_CHECKING:
    import pandas as pd

_VOLUME_M3 = (1e-7, 0.1)  # a nipple's bore; a drum: nothing outside is a circuit of a small engine
_BAROMETER_PA = (30e3, 120e3)  # above the highest peaks, below the deepest mines
_TEMPERATURE_K = (200.0, 500.0)


class ByValue:
    """A dataclass that holds arrays: equal when every field is, number by number; NaN equals NaN."""

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        return all(_alike(a, b) for a, b in zip(_values(self), _values(other), strict=True))

    def __hash__(self) -> int:
        plain = (v.tobytes() if isinstance(v, np.ndarray) else v for v in _values(self))
        return hash((type(self).__name__, *plain))


def _values(one: Any) -> list[Any]:
    return [getattr(one, field.name) for field in fields(one)]


def _alike(a: Any, b: Any) -> bool:
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        both = isinstance(a, np.ndarray) and isinstance(b, np.ndarray)
        return both and np.array_equal(a, b, equal_nan=True)
    return a is b or bool(a == b)


@dataclass(frozen=True)
class Mark:
    """Something done during a hold: `text` as written, at `time_s` on the recording's own clock."""

    time_s: float
    text: str


UNDONE = "undone: "
"""How a mark begins that takes the last one of the same words back: a recording is only ever appended to."""


def standing(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    """Marks in order of time without those that were taken back."""
    kept: list[Mark] = []
    for mark in marks:
        undone = mark.text.removeprefix(UNDONE)
        last = next((k for k in reversed(range(len(kept))) if kept[k].text == undone), None)
        if undone == mark.text or last is None:
            kept.append(mark)
        else:
            del kept[last]
    return tuple(kept)


@dataclass(frozen=True)
class Doubt:
    """What the reader could not be sure of: a stable `code`, and `text` that says what to do.

    bars_pass: the readings may mean something else than was read, so that no pass can rest on them.
    """

    code: str
    text: str
    bars_pass: bool = False

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Conditions:
    """What is known about a test. None means "not said"; nothing here is a silent default.

    `shown_in` is the pressure unit to show results in where that is not `unit`, the one read.
    `by_settings` names the fields that the shop's settings filled in.
    `zero_pa`, `zero_after_pa`: what the gauge shows open to air, before and after the test, gauge, signed as
    the readings are. `volume_u_m3` is a 95 % half-width. `includes` names the sections that this test
    contained, `blocked` what was blanked off. `unit` is the user's own pressure unit, for showing results.
    `shut_pa`: gauge reading when the valve was shut first, signed. `waited_s`: from the last closing (that of
    topping up included) to time zero of the rows. `topped_up`: pumped up to the target again in between.
    `pump_off`: pump and regulator were taken off the circuit.
    """

    circuit: str | None = None
    direction: Direction | None = None
    volume_m3: float | None = None
    volume_u_m3: float | None = None
    barometer_pa: float | None = None
    temperature_k: float | None = None
    gauge: str | None = None
    resolution_pa: float | None = None
    zero_pa: float | None = None
    zero_after_pa: float | None = None
    includes: tuple[str, ...] = ()
    blocked: tuple[str, ...] = ()
    note: str | None = None
    started: str | None = None
    unit: str = "kPa"
    extra: tuple[tuple[str, str], ...] = ()
    by_settings: tuple[str, ...] = ()
    shown_in: str | None = None
    shut_pa: float | None = None
    waited_s: float | None = None
    topped_up: bool | None = None
    pump_off: bool | None = None

    def __post_init__(self) -> None:
        """Refuse what no test can have, by name and value. Raises UsageError."""
        if self.circuit is not None and self.circuit not in CIRCUITS:
            object.__setattr__(self, "circuit", circuit_named(str(self.circuit)))
        if self.direction is not None and self.direction not in DIRECTIONS:
            raise UsageError(f"direction {self.direction!r} is not known", remedy="Say pressure or vacuum.")
        if pressure_unit(self.unit) is None:
            raise UsageError(f"unit {self.unit!r} is no pressure unit", remedy="Such as kPa, psi or inHg.")
        self._check("volume_m3", _VOLUME_M3, 1e6, "cm3", "a circuit with hoses and gauge")
        self._check("barometer_pa", _BAROMETER_PA, 1e-3, "kPa", "the air at any bench")
        self._check("temperature_k", _TEMPERATURE_K, 1.0, "K", "an engine that can be tested")
        if self.shut_pa is not None and not math.isfinite(self.shut_pa):
            raise UsageError(f"shut_pa {self.shut_pa!r} is no pressure", remedy="Give the gauge's reading in Pa.")
        for name in ("volume_u_m3", "resolution_pa", "waited_s"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value >= 0.0):
                raise UsageError(f"{name} {value!r} is no size", remedy="Give a number that is not below zero.")

    def _check(self, name: str, span: tuple[float, float], factor: float, unit: str, of: str) -> None:
        value = getattr(self, name)
        if value is None or span[0] <= value <= span[1]:
            return
        low, high = (f"{end * factor:g}" for end in span)
        raise UsageError(
            f"{name.rsplit('_', 1)[0]} {value * factor:g} {unit}: not that of {of} ({low} to {high} {unit})",
            remedy="Check the number and its unit.",
        )

    @property
    def show_unit(self) -> str:
        """The pressure unit in which results are shown."""
        return self.shown_in or self.unit

    def other(self, key: str) -> str | None:
        """The text of a key that the reader kept without a field of its own, as the file has it; or None."""
        return {re.sub(r"[\s-]+", "_", name.strip().lower()): text for name, text in self.extra}.get(key)

    def overridden(self, **options: object) -> Conditions:
        """A copy in which every option that is not None replaces what the file said."""
        return replace(self, **{key: value for key, value in options.items() if value is not None})  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False, repr=False)
class Recording(ByValue):
    """Readings of one test.

    time_s: (n,) strictly increasing, seconds on the sheet's or gauge's own zero.
    pressure_pa: (n,) gauge pressure, signed (negative = vacuum), finite.
    temperature_k: (n,) or None, NaN where not written.
    marks, conditions: see those classes. source: the file or port, for messages.
    by_hand: True for a sheet filled in by a person (reading times are then approximate).
    remarks: what the reader understood or passed over, in words, for the user.
    unreadable: gauge texts that were no reading, counted. doubts: what the reader is not sure of.
    holds: start and end (s) of each hold of a sheet that was pumped up again unmarked; empty for one hold.
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
    doubts: tuple[Doubt, ...] = ()
    holds: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        """Take lists and arrays; refuse what no later step could handle. Raises InputError."""
        for name in ("time_s", "pressure_pa", "temperature_k"):
            value: ArrayLike | None = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, self._array(name, value))
        object.__setattr__(self, "marks", tuple(self.marks))
        if self.time_s.size != self.pressure_pa.size or (
            self.temperature_k is not None and self.temperature_k.size != self.time_s.size
        ):
            raise InputError(self._sizes(), where=self.source)
        if not (np.isfinite(self.time_s).all() and np.isfinite(self.pressure_pa).all()):
            raise InputError("a time or a pressure is not a finite number", where=self.source)
        if self.time_s.size > 1 and not (np.diff(self.time_s) > 0).all():
            raise InputError("times do not increase", where=self.source)

    def _array(self, name: str, value: ArrayLike) -> NDArray[np.float64]:
        try:
            found = np.asarray(value, dtype=np.float64)
        except (TypeError, ValueError) as error:
            raise InputError(f"{name} holds something that is no number", where=self.source) from error
        if found.ndim != 1:
            raise InputError(f"{name} must be one row of numbers, not {found.ndim}", where=self.source)
        return found

    def _sizes(self) -> str:
        pairs = (("times", self.time_s), ("pressures", self.pressure_pa), ("temperatures", self.temperature_k))
        counts = ", ".join(f"{value.size} {name}" for name, value in pairs if value is not None)
        return f"times and readings differ in length: {counts}"

    def __repr__(self) -> str:
        """A few lines; the arrays themselves are in `time_s`, `pressure_pa`, or `to_frame()`."""
        p = self.pressure_pa / 1e3
        span = f"{p[0]:.4g} to {p[-1]:.4g} kPa in {self.time_s[-1] - self.time_s[0]:.4g} s" if p.size else "empty"
        marks = f", {len(self.marks)} marks" if self.marks else ""
        head = f"Recording {self.source}".rstrip()
        return f"{head}: {self.circuit}, {self.direction}, {p.size} readings, {span}{marks}"

    def with_said(self, said: Sequence[str | Doubt]) -> Recording:
        """The recording with what was understood and doubted put before what it says already."""
        doubts = tuple(one for one in said if isinstance(one, Doubt))
        remarks = (*map(str, said), *self.remarks)
        return replace(self, remarks=remarks, doubts=(*doubts, *self.doubts))

    def to_frame(self) -> pd.DataFrame:
        """A table with time_s, pressure_kpa (gauge), temperature_degc where known, and mark."""
        import pandas as pd

        frame = pd.DataFrame({"time_s": self.time_s, "pressure_kpa": self.pressure_pa / 1e3})
        if self.temperature_k is not None:
            frame["temperature_degc"] = self.temperature_k - 273.15
        marks = [""] * self.time_s.size
        for mark in self.marks:
            row = int(np.argmin(np.abs(self.time_s - mark.time_s)))
            marks[row] = f"{marks[row]}; {mark.text}" if marks[row] else mark.text
        frame["mark"] = marks
        return frame

    @property
    def circuit(self) -> str:
        """The circuit as said; the crankcase where nobody says one."""
        return self.conditions.circuit or CIRCUITS[0]

    @property
    def direction(self) -> Direction:
        """The direction as said, or the sign of the reading farthest from zero."""
        if self.conditions.direction:
            return self.conditions.direction
        farthest = self.pressure_pa[np.argmax(np.abs(self.pressure_pa))]
        return "vacuum" if farthest < 0 else "pressure"

    @property
    def sign(self) -> float:
        """-1 under vacuum: turns gauge pressures into magnitudes."""
        return -1.0 if self.direction == "vacuum" else 1.0

    def between(self, start_s: float, end_s: float) -> Recording:
        """The readings and marks from `start_s` to `end_s`, both ends included."""
        keep = (self.time_s >= start_s) & (self.time_s <= end_s)
        temperature = None if self.temperature_k is None else self.temperature_k[keep]
        marks = tuple(m for m in self.marks if start_s <= m.time_s <= end_s)
        return replace(
            self, time_s=self.time_s[keep], pressure_pa=self.pressure_pa[keep], temperature_k=temperature, marks=marks
        )
