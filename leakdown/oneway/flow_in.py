"""Air per second through a vent at one pressure, from how fast a tank's reading comes back there.

q = V dp/dt / p_a (isothermal). Whatever a passive vent's law, the reading moves ever more slowly: its mean
speed on the way down to the level is an upper bound of the speed at the level, and its mean speed from the
level on a lower one. The narrower the stretch beside the level, the closer the bounds, and the less the
readings say of them; the stretch is chosen that says most.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from leakdown.oneway.passed import Passed
from leakdown.uncertainty import Interval

Array = NDArray[np.float64]

_STRETCHES = (0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6)  # of the level, above it and below it
_DITHERED = 1.7  # noise of half a step, in standard deviations of rounding: it averages the rounding out
_SIGMAS = 2.5  # the best of several stretches: a little more than 95 % of one


def speed_at(level_pa: float, seen: Passed) -> Interval | None:
    """Pa/s at which the reading comes back through `level_pa` (95 %); high may be infinite.

    value None where only bounds are known; low 0 when it never came down to the level. None when it
    started below.
    """
    if seen.start_pa <= level_pa:
        return None
    size = seen.size_pa
    above = np.flatnonzero(size > level_pa - seen.u_pa)
    if int(above[-1]) + 1 >= size.size:
        return Interval(None, 0.0, _speed_at_end(seen))
    low, high = _slowest(level_pa, seen, int(above[-1]) + 1), _fastest(level_pa, seen)
    if not low < high:  # the readings contradict a passive vent: both bounds count
        low, high = high, low
    value = math.sqrt(low * high) if low > 0.0 and high < math.inf else None
    return Interval(value, low, high)


def air_m3_s(speed: Interval, volume_m3: float, half_m3: float, ambient_pa: float) -> Interval:
    """Ambient air per second for a speed of the reading; half_m3: doubt of the volume (95 %)."""
    scaled, doubt = speed.scaled(volume_m3 / ambient_pa), half_m3 / volume_m3
    if scaled.value is None or scaled.high == math.inf:
        return Interval(scaled.value, scaled.low * (1.0 - doubt), scaled.high * (1.0 + doubt))
    down = math.hypot(1.0 - scaled.low / scaled.value, doubt)
    up = math.hypot(scaled.high / scaled.value - 1.0, doubt)
    return Interval(scaled.value, scaled.value * max(1.0 - down, 0.0), scaled.value * (1.0 + up))


def _speed_at_end(seen: Passed) -> float:
    """The most that it can still move at its end (95 %): it never came down to the level.

    Any stretch up to the end moved faster on the mean; the one is taken that says most.
    """
    n = seen.time_s.size
    bounds = []
    for last in {max(3, n // 3), max(3, n // 2), n}:
        fall, u = _fall_per_s(seen, slice(max(n - last, 0), n))
        bounds.append(max(fall, 0.0) + _SIGMAS * u)
    return min(bounds)


def _fastest(level_pa: float, seen: Passed) -> float:
    """Upper bound of the speed at the level, from the stretches above it.

    Readings at the top do not count: somebody may still have been pumping.
    """
    size = seen.size_pa
    shut = int(np.flatnonzero(size >= seen.start_pa - 3.0 * seen.u_pa)[-1])
    stop = int(np.argmax(size < level_pa + seen.u_pa))
    bounds = []
    for share in _STRETCHES:
        inside = np.flatnonzero(size[shut:stop] < (1.0 + share) * level_pa)
        if inside.size > 1:
            fall, u = _fall_per_s(seen, slice(shut + int(inside[0]), stop))
            bounds.append(max(fall, 0.0) + _SIGMAS * u)
    return min(bounds, default=math.inf)


def _slowest(level_pa: float, seen: Passed, first: int) -> float:
    """Lower bound of the speed at the level: from `first`, the first reading surely below it, on.

    The gap across the level counts from the level.
    """
    t, size = seen.time_s, seen.size_pa
    last_above = int(np.flatnonzero(size > level_pa + seen.u_pa)[-1])
    gap = float(t[first] - t[last_above]) + seen.clock_s
    bounds = [(level_pa - float(size[first]) - _SIGMAS * seen.u_pa) / gap]
    for share in _STRETCHES:
        inside = np.flatnonzero(size[first:] > (1.0 - share) * level_pa)
        if inside.size and inside[-1] > 0:
            fall, u = _fall_per_s(seen, slice(first, first + int(inside[-1]) + 1))
            bounds.append(fall - _SIGMAS * u)
    return max(*bounds, 0.0)


def _fall_per_s(seen: Passed, part: slice) -> tuple[float, float]:
    """Fall per second of a stretch by least squares, and its standard deviation.

    Readings rounded alike err alike, so rounding counts once for the stretch however many there are, unless
    the scatter is wider than the gauge's step.
    """
    t, size = seen.time_s[part], seen.size_pa[part]
    centred = t - t.mean()
    spread = float(np.sum(np.square(centred)))
    span = float(t[-1] - t[0])
    scattered = seen.noise_pa > _DITHERED * seen.rounding_pa
    white = (seen.u_pa if scattered else seen.noise_pa) / math.sqrt(spread)
    rounded = 0.0 if scattered else math.sqrt(2.0) * seen.rounding_pa / span
    fall = -float(np.sum(centred * size)) / spread
    return fall, math.hypot(white, rounded, fall * seen.clock_s / span)
