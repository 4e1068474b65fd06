"""What the tests of one-way parts found. Frozen data only; pressures are gauge magnitudes in Pa."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from leakdown.analysis import Flag
from leakdown.uncertainty import Interval

Word = Literal["pass", "fail", "undecided"]


@dataclass(frozen=True)
class PopOff:
    """One opening of an inlet needle.

    reseat_pa: None when it fell on without closing. fall_per_s: relative loss per second once reseated, at
    least (95 %). clipped: the gauge was at its end, the true opening is higher.
    """

    time_s: float
    opening_pa: float
    reseat_pa: float | None
    fall_per_s: float
    clipped: bool


@dataclass(frozen=True)
class NeedleResult:
    """Openings of one recording. spread: (highest - lowest) / mean of the openings, None below two."""

    pops: tuple[PopOff, ...]
    opening_pa: Interval | None
    reseat_pa: Interval | None
    spread: float | None
    highest_pa: float
    word: Word
    reason: str
    flags: tuple[Flag, ...]

    @property
    def hold_at_pa(self) -> float | None:
        """Where to hold a minute next: 70 % of the reseat pressure (common practice)."""
        return None if self.reseat_pa is None or self.reseat_pa.value is None else 0.7 * self.reseat_pa.value


@dataclass(frozen=True)
class VentWay:
    """One direction of a vent test.

    flow_m3_s: ambient air per second at `at_pa`, 95 % (high may be infinite); None when the reading never
    was beyond `at_pa`. levels_pa: where the reading came to rest, None when it was still moving.
    start_s, end_s: the readings that count, on the recording's clock.
    """

    at_pa: float
    flow_m3_s: Interval | None
    levels_pa: float | None
    end_pa: float
    start_pa: float
    start_s: float
    end_s: float


@dataclass(frozen=True)
class VentResult:
    """Inward (what the engine needs) and outward (what the kind of vent decides)."""

    inward: VentWay
    outward: VentWay | None
    word: Word
    reason: str
    flags: tuple[Flag, ...]
