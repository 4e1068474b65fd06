"""Readings that stand at an atmosphere where a gauge would stand at zero: absolute pressures unsaid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import circuit
from leakdown.errors import InputError
from leakdown.quantities import ATMOSPHERE_PA
from leakdown.recording import Conditions, Doubt
from leakdown.sheets.grid import text, told
from leakdown.tuned import tuned

_T = tuned("sheets")


@dataclass(frozen=True)
class Readings:
    """time_s and pressure_pa (n,) as read for gauge pressures, of either sign; whether written by hand.

    turned: written as positive numbers and taken for a vacuum.
    """

    time_s: NDArray[np.float64]
    pressure_pa: NDArray[np.float64]
    by_hand: bool
    unit: str
    source: str
    turned: bool = False

    @property
    def coarse_pa(self) -> NDArray[np.float64]:
        """Readings of a sheet, or the medians of twelve parts of a log; without their sign."""
        size = self.size_pa
        if self.by_hand or size.size < 36:
            return size
        return np.array([np.median(part) for part in np.array_split(size, 12)])

    @property
    def size_pa(self) -> NDArray[np.float64]:
        """Readings without their sign."""
        return np.abs(self.pressure_pa)


def check_absolute(readings: Readings, conditions: Conditions) -> list[Doubt]:
    """Doubts about readings that may be absolute; raises InputError where they rest at the air's pressure.

    A needle's circuit is left alone: it is pumped far beyond an atmosphere.
    """
    if readings.time_s.size < 2 or circuit(conditions.circuit).needle:
        return []
    first, last = _rest(readings, 1), _rest(readings, -1)
    back = first is not None and last is not None and abs(first - last) < 2 * _T.still_pa
    for where, air in (("at the start", first), ("at the end", last)):
        if air is not None and (
            _comes_back(readings, air) if back else _is_air(readings, air, where == "at the start")
        ):
            raise _refused(readings, air, f"open to air {where}")
    if _comes_to_air(readings.coarse_pa):
        raise _refused(readings, float(readings.coarse_pa[-1]), "at the end, where they come to rest")
    vacuum = conditions.direction == "vacuum"
    found = [None if vacuum else _all_above(readings), _growing(readings, vacuum)]
    found += [_either(readings, conditions)] if vacuum and not any(found) else []
    return [Doubt("maybe-absolute", text, True) for text in found if text]


def _refused(readings: Readings, air_pa: float, where: str) -> InputError:
    air = f"{air_pa / 1e3:.1f} kPa"
    return InputError(**told("looks absolute", air=air, where=where, unit=readings.unit), where=readings.source)


def _comes_to_air(size_pa: NDArray[np.float64]) -> bool:
    """Whether readings fall or rise ever more slowly to a level that the air can have, and stay there."""
    if size_pa.size < 4 or not _T.lowest_air_pa <= size_pa[-1] <= _T.highest_air_pa:
        return False
    away = np.abs(size_pa - size_pa[-1])
    away = away[int(np.argmax(away)) :]
    if away.size < 4 or away[0] < _T.test_jump_pa or size_pa.min() < _T.near_zero_pa:
        return False
    falls = -np.diff(away)
    slowing = falls[0] >= 0.5 * falls.max() and falls[-1] <= _T.slowed_share * falls.max()
    return bool((falls >= -_T.still_pa).all() and slowing)


def _rest(readings: Readings, way: int) -> float | None:
    """The level at which the readings begin (`way` 1) or end (-1), where it is an air pressure, or None."""
    size, time = readings.size_pa[::way], np.abs(readings.time_s - readings.time_s[::way][0])[::way]
    count = 1 if readings.by_hand else max(3, int(np.searchsorted(time, 1.0, side="right")))
    if size.size < max(count + 2, 3):
        return None
    level = float(np.median(size[:count]))
    still = float(np.ptp(size[:count])) <= 2 * _T.still_pa
    return level if still and _T.lowest_air_pa <= level <= _T.highest_air_pa else None


def _comes_back(readings: Readings, air: float) -> bool:
    """Whether a log that begins and ends at one level `air` left it in between, as tests do."""
    size = readings.size_pa
    left = np.abs(size - air).max() >= _T.test_jump_pa and size.max() <= air + _T.most_over_air_pa
    return bool(left and size.min() >= _T.near_zero_pa)


def _is_air(readings: Readings, air: float, start: bool) -> bool:
    """Whether `air` is the level from which the test was filled or emptied, or to which it was vented."""
    size = readings.size_pa
    low, high = size.min(), size.max()
    if low < _T.near_zero_pa:
        return False
    over = low >= air - _T.about_air_pa and air + _T.test_jump_pa <= high <= air + _T.most_over_air_pa
    under = high <= air + _T.about_air_pa and low <= air - _T.test_jump_pa
    if not (over or under):
        return False
    away = np.abs(size - air)
    # noise moves the highest about in a tight hold
    peak = int(np.flatnonzero(away >= _T.peak_share * away.max())[0])
    after = away[peak:]
    if ((after - np.minimum.accumulate(after)) > _T.pumped_again_pa).any():
        return False  # away from the air a second time, as where a needle pops and is pumped up
    if not start:
        return _vented(readings, away)
    time_s = readings.time_s
    fast = time_s[peak] - time_s[0] < _T.filling_share * (time_s[-1] - time_s[0])
    return bool(after.size >= 2 and fast)


def _vented(readings: Readings, away: NDArray[np.float64]) -> bool:
    """Whether the last readings came back to the air at once, after a hold."""
    near = np.flatnonzero(away > 2 * _T.still_pa)
    last = int(near[-1]) if near.size else 0
    if readings.by_hand:
        held = float(np.abs(np.diff(away[: last + 1])).max(initial=0.0))
        return last == away.size - 2 and bool(away[last] >= max(_T.test_jump_pa, 3 * held))
    span = float(readings.time_s[-1] - readings.time_s[0])
    before = np.searchsorted(readings.time_s, readings.time_s[last] - _T.venting_share * span)
    return bool(away[before] >= _T.test_jump_pa)


def _all_above(readings: Readings) -> str | None:
    low, high = readings.size_pa.min(), readings.size_pa.max()
    over = _T.highest_air_pa < high <= _T.highest_air_pa + _T.most_over_air_pa
    if low < _T.lowest_air_pa or not over:
        return None
    return text("all above", low=low / 1e3, high=high / 1e3, unit=readings.unit)


def _either(readings: Readings, conditions: Conditions) -> str | None:
    """A tight vacuum without a sign, at a level that a gauge and an absolute gauge can both show in such a test.

    A loss towards zero tells a gauge, and so does a zero of it that was noted; in inHg the trade means vacuum.
    """
    size = readings.coarse_pa
    air = conditions.barometer_pa or ATMOSPHERE_PA
    deepest = _T.deepest_over_caution * circuit(conditions.circuit).caution_pa("vacuum")
    both = air - deepest <= size[0] <= air - _T.test_jump_pa
    tells = readings.unit == "inHg" or conditions.zero_pa is not None or size.min() < _T.near_zero_pa
    if not readings.turned or not both or tells or np.ptp(size) >= _T.deepens_by_pa:
        return None
    shown = {"unit": readings.unit, "level": size[0] / 1e3, "deep": (air - size[0]) / 1e3}
    return text("either", **shown)


def _growing(readings: Readings, vacuum: bool) -> str | None:
    size = readings.coarse_pa
    if not readings.by_hand:
        size = size[int(np.argmin(size)) :]
    first, last = size[[0, -1]]
    growth = last - first
    falls = (np.diff(size) < (0.0 if readings.by_hand else -0.05 * growth)).any()
    least = _T.deepens_by_pa if vacuum else _T.growing_by_pa
    if falls or first < _T.growing_from_pa or growth < least or last > _T.highest_air_pa:
        return None
    if not readings.by_hand and last - size[size.size // 2] < 0.2 * growth:
        return None  # pumped up, and then it stood
    return text("growing", first=first / 1e3, last=last / 1e3)
