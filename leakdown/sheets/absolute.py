"""Readings that stand at an atmosphere where a gauge would stand at zero: absolute pressures unsaid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import circuit
from leakdown.errors import InputError
from leakdown.recording import Conditions

LOWEST_PA, HIGHEST_PA = 84e3, 106e3
"""Air pressure from about 1500 m of altitude to a strong high (common practice, no source)."""
_MOST_OVER_PA = 65e3
"""Above the air: what a seal may be given, with room (common practice, no source); needles take more."""
_NEAR_ZERO_PA = 3e3
_STILL_PA = 500.0
_PLUS_PA = 1.5e3
_JUMP_PA = 10e3


@dataclass(frozen=True)
class Readings:
    """time_s and pressure_pa (n,) as read for gauge pressures, of either sign; whether written by hand."""

    time_s: NDArray[np.float64]
    pressure_pa: NDArray[np.float64]
    by_hand: bool
    unit: str
    source: str

    @property
    def size_pa(self) -> NDArray[np.float64]:
        """Readings without their sign."""
        return np.abs(self.pressure_pa)


def check_absolute(readings: Readings, conditions: Conditions) -> list[str]:
    """Remarks on readings that may be absolute; raises InputError where they rest at the air's pressure.

    A needle's circuit is left alone: it is pumped far beyond an atmosphere.
    """
    if readings.time_s.size < 3 or circuit(conditions.circuit).needle:
        return []
    first, last = _rest(readings, 1), _rest(readings, -1)
    back = first is not None and last is not None and abs(first - last) < 2 * _STILL_PA
    for where, air in (("at the start", first), ("at the end", last)):
        if air is not None and (
            _comes_back(readings, air) if back else _is_air(readings, air, where == "at the start")
        ):
            raise InputError(
                f"these look like absolute pressures: {air / 1e3:.1f} kPa open to air {where}",
                where=readings.source,
                remedy=f'Give --absolute --barometer "{air / 1e3:.1f} kPa", or, if the gauge shows 0 open to '
                f'air, --unit "{readings.unit} gauge".',
            )
    return [remark for remark in (_all_above(readings), _growing(readings)) if remark]


def _rest(readings: Readings, way: int) -> float | None:
    """The level at which the readings begin (`way` 1) or end (-1), where it is an air pressure, or None."""
    size, time = readings.size_pa[::way], np.abs(readings.time_s - readings.time_s[::way][0])[::way]
    count = 1 if readings.by_hand else max(3, int(np.searchsorted(time, 1.0, side="right")))
    if size.size < count + 2:
        return None
    level = float(np.median(size[:count]))
    still = float(np.ptp(size[:count])) <= 2 * _STILL_PA
    return level if still and LOWEST_PA <= level <= HIGHEST_PA else None


def _comes_back(readings: Readings, air: float) -> bool:
    """Whether a log that begins and ends at one level `air` left it in between, as tests do."""
    size = readings.size_pa
    left = bool(np.abs(size - air).max() >= _JUMP_PA) and bool(size.max() <= air + _MOST_OVER_PA)
    return left and bool(size.min() >= _NEAR_ZERO_PA)


def _is_air(readings: Readings, air: float, start: bool) -> bool:
    """Whether `air` is the level from which the test was filled or emptied, or to which it was vented."""
    size = readings.size_pa
    if size.min() < _NEAR_ZERO_PA:
        return False
    over = size.min() >= air - _PLUS_PA and air + _JUMP_PA <= size.max() <= air + _MOST_OVER_PA
    under = size.max() <= air + _PLUS_PA and size.min() <= air - _JUMP_PA
    if not (over or under):
        return False
    away = np.abs(size - air)
    peak = int(np.flatnonzero(away >= 0.97 * away.max())[0])  # noise moves the highest about in a tight hold
    after = away[peak:]
    if _pumped_again(after):
        return False
    if not start:
        return _vented(readings, away)
    fast = readings.time_s[peak] - readings.time_s[0] < 0.6 * (readings.time_s[-1] - readings.time_s[0])
    return after.size >= 2 and fast


def _pumped_again(away: NDArray[np.float64]) -> bool:
    """Whether the readings move away from the air a second time, as where a needle pops and is pumped up."""
    falling = np.minimum.accumulate(away)
    return bool(((away - falling) > 3e3).any())


def _vented(readings: Readings, away: NDArray[np.float64]) -> bool:
    """Whether the last readings came back to the air at once, after a hold."""
    near = np.flatnonzero(away > 2 * _STILL_PA)
    last = int(near[-1]) if near.size else 0
    if readings.by_hand:
        held = float(np.abs(np.diff(away[: last + 1])).max(initial=0.0))
        return last == away.size - 2 and away[last] >= max(_JUMP_PA, 3 * held)
    span = float(readings.time_s[-1] - readings.time_s[0])
    before = int(np.searchsorted(readings.time_s, readings.time_s[last] - 0.1 * span))
    return bool(away[before] >= _JUMP_PA)


def _all_above(readings: Readings) -> str | None:
    low, high = readings.size_pa.min() / 1e3, readings.size_pa.max() / 1e3
    if low < HIGHEST_PA / 1e3 or high > (HIGHEST_PA + _MOST_OVER_PA) / 1e3:
        return None
    return (
        f"all readings lie between {low:.0f} and {high:.0f} kPa, as absolute pressures of a usual test "
        f'would: if they are, give --absolute and --barometer; if not, --unit "{readings.unit} gauge" says so'
    )


def _growing(readings: Readings) -> str | None:
    size = readings.size_pa
    steps = np.diff(size)
    if not readings.by_hand or size[0] < 15e3 or (steps < 0).any() or size[-1] - size[0] < 3e3:
        return None
    return (
        f"the readings grow from {size[0] / 1e3:.1f} to {size[-1] / 1e3:.1f} kPa: no closed volume does "
        "that; still pumping, or absolute pressures of a vacuum test (--absolute --barometer)?"
    )
