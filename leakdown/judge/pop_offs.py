"""Openings and reseats of an inlet needle in a log of rising pressure. Pure: arrays in, PopOffs out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.tuned import tuned

_T = tuned("judge")
UNWATCHED = (0.0, math.inf)


@dataclass(frozen=True)
class PopOff:
    """One opening of an inlet needle.

    reseat_pa: None when it fell on without closing. fall_per_s: relative loss per second once reseated, at
    least and at most (95 %). clipped: the gauge was at its end, the true opening is higher.
    """

    time_s: float
    opening_pa: float
    reseat_pa: float | None
    fall_per_s: tuple[float, float]
    clipped: bool


def pop_offs(time_s: Array, pressure_pa: Array, range_pa: float | None) -> tuple[PopOff, ...]:
    """Every opening in readings (n,), gauge Pa, in order."""
    found, begin = [], 0
    while (peak := _next_peak(time_s, pressure_pa, begin)) is not None:
        stop = _next_rise(pressure_pa, peak)
        clipped = at_scale_end(pressure_pa, peak) or (
            range_pa is not None and float(pressure_pa[peak]) >= _T.full_scale * range_pa
        )
        found.append(_pop(time_s[peak:stop], pressure_pa[peak:stop], clipped))
        begin = stop
    return tuple(found)


def _next_peak(t: Array, p: Array, begin: int) -> int | None:
    """Index of the last reading before a sudden fall, or None."""
    top = begin
    for k in range(begin, p.size):
        if p[k] >= p[top]:
            top = k
        drop = _fall_of_opening(p[top])
        if p[top] - p[k] > drop:
            if t[k] - t[top] <= _T.opening_within_s and _pumped_up(t, p, top):
                return top
            top = k  # a slow loss, or let out by hand: not an opening
    return None


def _pumped_up(t: Array, p: Array, top: int) -> bool:
    """Whether the pressure was still being raised: a needle opens under the pump, a hold ends at rest."""
    before = p[(t >= t[top] - _T.pumped_before_s) & (t <= t[top])]
    jitter = float(np.median(np.abs(np.diff(before)))) if before.size > 2 else 0.0
    return bool(p[top] - before.min() > max(_T.raised * p[top], 6.0 * jitter, _T.raised_pa))


def _next_rise(p: Array, peak: int) -> int:
    """Index at which the pressure is pumped up again after a peak (or the end): by half of what it fell."""
    most, least = _fall_of_opening(p[peak]), 2.0 * _turning(float(p[peak]))
    low = peak
    for k in range(peak + 1, p.size):
        if p[k] < p[low]:
            low = k
        if p[k] - p[low] > min(most, max(0.5 * float(p[peak] - p[low]), least)):
            # the lowest may be chance, long before
            level = np.flatnonzero(p[low:k] < p[low] + _turning(float(p[peak])))
            return low + int(level[-1]) + 1
    return int(p.size)


def at_scale_end(pressure_pa: Array, peak: int) -> bool:
    """Whether a peak stands at the recording's highest reading, to the digit, for several readings."""
    top, flat = pressure_pa[peak], _T.flat_top
    alike = int(np.sum(pressure_pa[max(peak - flat + 1, 0) : peak + 1] == top))
    return bool(top >= pressure_pa.max() and alike >= flat)


def _pop(t: Array, p: Array, clipped: bool) -> PopOff:
    opening = float(p[0])
    level = _first_level(t, p, opening)
    if level is None:  # pumped on at once: where it turned is where it seated
        lowest = float(p.min())
        seated = lowest if lowest > _T.ran_empty * opening and p[-1] < lowest + _turning(opening) else None
        return PopOff(float(t[0]), opening, seated, UNWATCHED, clipped)
    first, last = level
    reseat = float(np.mean(p[first:last]))
    return PopOff(float(t[0]), opening, reseat, _fall_per_s(t, p, first, reseat), clipped)


def _fall_of_opening(level_pa: float) -> float:
    """A fall from a level that is an opening; less is a pump valve seating."""
    return float(max(_T.opening_drop * level_pa, _T.opening_drop_pa))


def _turning(opening_pa: float) -> float:
    return 0.25 * _fall_of_opening(opening_pa)


def _first_level(t: Array, p: Array, opening: float) -> tuple[int, int] | None:
    """First stretch after the fall in which the pressure hardly moves, above empty; (first, last) indices."""
    for first in range(1, p.size):
        last = int(np.searchsorted(t, t[first] + _T.level_s - 1e-9)) + 1
        if last > p.size:
            return None
        if p[first] < _T.ran_empty * opening:
            return None
        slope = (p[first] - p[last - 1]) / (t[last - 1] - t[first])
        if abs(slope) < _T.level_per_s * opening and p[first] < opening - 0.5 * _fall_of_opening(opening):
            return first, last
    return None


def _fall_per_s(t: Array, p: Array, first: int, reseat: float) -> tuple[float, float]:
    """Relative loss per second after reseating, at least and at most (95 %), until somebody vents or pumps.

    The end of a blow-down dies out within a second, a dribble goes on: so the last third of the stretch
    counts, and only where it falls about as fast as the second.
    """
    after = p[first:]
    sudden = -np.diff(after) > _fall_of_opening(reseat)
    jitter = float(np.median(np.abs(np.diff(after)))) if after.size > 2 else 0.0
    raised = after[1:] > np.minimum.accumulate(after)[:-1] + max(_turning(reseat), 6.0 * jitter)
    ended = np.flatnonzero(sudden | raised)
    last = first + int(ended[0]) + 1 if ended.size else p.size
    third = (last - first) // 3
    if third < 4:
        return UNWATCHED
    parts = (slice(first, last), slice(first + third, last - third), slice(last - third, last))
    whole, early, late = (_slope(t[part], p[part], reseat) for part in parts)
    goes_on = late[0] >= _T.dribble_goes_on * early[0] and t[last - 1] - t[first] >= _T.dribble_s
    most = min(slope + 2.0 * u for slope, u in (whole, late))
    if most < -_T.dribbles_per_s:  # it rises: somebody pumps
        return UNWATCHED
    return (max(late[0] - 2.0 * late[1], 0.0) if goes_on else 0.0), most


def _slope(t: Array, p: Array, reseat: float) -> tuple[float, float]:
    """Relative fall per second of a stretch by least squares, and its standard deviation."""
    x = t - t[0]
    slope, offset = np.polyfit(x, p, 1)
    scatter = float(np.std(p - slope * x - offset, ddof=2))
    return -float(slope) / reseat, scatter / float(np.sqrt(np.sum(np.square(x - x.mean())))) / reseat
