"""A rig's own leak, and what is left of a test when it is taken off. Frozen data only; SI units."""

from __future__ import annotations

from dataclasses import dataclass, field

from leakdown.analysis import Flag
from leakdown.recording import Direction
from leakdown.uncertainty import Interval


@dataclass(frozen=True)
class RigLeak:
    """What the capped rig leaked in one direction: throughput at a gauge pressure (signed), 95 %.

    Kept as a leak, not as kPa: the rig's little volume makes a tiny leak look large. measured: a date.
    """

    direction: Direction
    at_pa: float
    throughput_pa_m3_s: Interval
    measured: str
    source: str = ""


@dataclass(frozen=True)
class Rig:
    """A rig by name: its volume and its leak in either direction, as far as they were measured."""

    name: str
    volume_m3: float | None = None
    volume_u_m3: float | None = None
    leaks: tuple[RigLeak, ...] = field(default=())

    def leak(self, direction: Direction) -> RigLeak | None:
        """The latest result of a direction."""
        return next((x for x in reversed(self.leaks) if x.direction == direction), None)


@dataclass(frozen=True)
class Cleared:
    """A test with the rig's leak taken off; `value` None and `low` 0 when nothing is left that stands out."""

    rig: str
    direction: Direction
    at_pa: float
    test_pa_m3_s: Interval
    rig_pa_m3_s: Interval
    left_pa_m3_s: Interval
    flags: tuple[Flag, ...]


@dataclass(frozen=True)
class OrificeCheck:
    """The whole chain (gauge, volume, sums) against a known hole: measured over known area, 95 %."""

    ratio: Interval
    agrees: bool
    sentence: str
