"""What to do now, in one short line for each moment of a test. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.analysis import Limit
from leakdown.estimate.limits import practice
from leakdown.quantities import PRESSURE_PA, significant
from leakdown.recording import Conditions

ZERO_S = 3.0
REACHED = 0.97
HOLD_S = 60.0
BEYOND_LIMIT_S = 5.0


@dataclass(frozen=True)
class Aim:
    """What the test goes for: gauge magnitudes to fill to (None: not in that direction), seconds to hold."""

    pressure_pa: float | None
    vacuum_pa: float | None
    hold_s: float
    unit: str

    def target_pa(self, pressure_pa: float) -> float | None:
        """The target on the side of a reading."""
        return self.vacuum_pa if pressure_pa < 0 else self.pressure_pa


@dataclass(frozen=True)
class Moment:
    """Where the test stands: `held` once a hold has ended, `decided` when the verdict is certain."""

    phase: str
    phase_s: float
    pressure_pa: float
    held: bool
    decided: bool


def aim_of(conditions: Conditions, limit: Limit | None) -> Aim:
    """Common practice for the circuit (crankcase when not said) and the limit's own time."""
    table = practice().get(conditions.circuit or "crankcase", {})

    def target(direction: str) -> float | None:
        if conditions.direction not in (None, direction):
            return None
        kpa = table.get(direction, {}).get("target_kpa")
        return 1e3 * float(kpa) if kpa else None

    hold_s = limit.time_s + BEYOND_LIMIT_S if limit is not None and limit.kind == "drop" else HOLD_S
    return Aim(target("pressure"), target("vacuum"), hold_s, conditions.unit)


def lead(now: Moment, aim: Aim) -> str:
    """The line to show."""
    if now.phase in ("zero", "vent"):
        return _open(now, aim)
    if now.phase == "fill":
        target_pa = aim.target_pa(now.pressure_pa)
        reached = target_pa is not None and abs(now.pressure_pa) >= REACHED * target_pa
        return "close the valve" if reached else f"{_fill(aim, now.pressure_pa)}; then close the valve"
    if now.phase == "stabilise":
        return f"valve closed, hands off: settling {now.phase_s:.0f} s"
    if now.phase == "hold":
        if now.decided or now.phase_s >= aim.hold_s:
            return "press o, crack a blank open: the reading must fall"
        return f"hands off: holding {now.phase_s:.0f} s of {aim.hold_s:.0f} s"
    return "waiting for the gauge's first reading"


def _open(now: Moment, aim: Aim) -> str:
    if now.held:
        reading = f"open to air: reading the zero again {now.phase_s:.0f} s"
        return reading if now.phase_s < ZERO_S else "zero read again: q ends the log"
    if now.phase_s < ZERO_S:
        return f"open to air: reading the zero {now.phase_s:.0f} s"
    return _fill(aim, None)


def _fill(aim: Aim, pressure_pa: float | None) -> str:
    """ "pump to 45 kPa, slowly", or either way while nothing is known of the direction."""

    def shown(value_pa: float) -> str:
        return f"{significant(value_pa / PRESSURE_PA[aim.unit], 2)} {aim.unit}"

    up = f"pump to {shown(aim.pressure_pa)}" if aim.pressure_pa else ""
    down = f"draw {shown(aim.vacuum_pa)} of vacuum" if aim.vacuum_pa else ""
    ways = (up, down) if pressure_pa is None else (down,) if pressure_pa < 0 else (up,)
    text = ", or ".join(way for way in ways if way)
    return f"{text or 'fill to the pressure of the test'}, slowly"
