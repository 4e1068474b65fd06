"""The part of a vent's test in which the vent alone moves the reading, and how fast it moves at a level.

A vent that flows freely empties a tank in a second, so the rules for a leak (the longest calm stretch is the
hold) do not hold here: everything from the highest reading on counts, until somebody lets the air out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.errors import InputError
from leakdown.hold.parts import Parts
from leakdown.hold.readings import DENSE_FROM, white_noise_pa
from leakdown.hold.window import Window
from leakdown.recording import Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_T = tuned("judge")


@dataclass(frozen=True)
class VentDecay:
    """Magnitudes from the highest reading on: time_s (n,) from there, size_pa (n,), gauge zero taken off.

    noise_pa, rounding_pa: standard deviations of one reading. clock_s: doubt of a reading's time.
    start_s, end_s: on the recording's clock.
    """

    time_s: Array
    size_pa: Array
    noise_pa: float
    rounding_pa: float
    clock_s: float
    start_s: float
    end_s: float

    @property
    def u_pa(self) -> float:
        """Standard deviation of one reading, noise and rounding together."""
        return math.hypot(self.noise_pa, self.rounding_pa)

    @property
    def start_pa(self) -> float:
        """The highest reading."""
        return float(self.size_pa[0])

    @property
    def end_pa(self) -> float:
        """Mean of the last readings; the last one of a sheet."""
        return float(np.mean(self.size_pa[-min(3, max(1, self.size_pa.size // 10)) :]))

    def rest_pa(self, still_pa_s: float) -> float | None:
        """The level at which it came to rest: the last fifth moves by less than `still_pa_s`; or None."""
        if self.time_s.size < 3:
            return None
        n = max(3, self.time_s.size // 5)
        t, size = self.time_s[-n:], self.size_pa[-n:]
        slope = float(np.polyfit(t - t[0], size, 1)[0])
        return float(np.mean(size)) if abs(slope) < still_pa_s else None


def vent_decay(parts: Parts) -> VentDecay:
    """What the vent did by itself. Raises InputError when there are fewer than two readings of it."""
    clean, window, resolution = parts.recording, parts.window, parts.resolution.value or 0.0
    dense = clean.time_s.size >= DENSE_FROM
    noise = white_noise_pa(clean.pressure_pa) if dense else 0.0
    rounding = max(resolution / math.sqrt(12.0), _T.vent_least_pa)
    u = math.hypot(noise, rounding)
    size = parts.recording.sign * (clean.pressure_pa - _zero_pa(window))
    stop = _let_out(clean, window)
    top = int(np.flatnonzero(size[:stop] >= size[:stop].max() - 2.0 * u)[0])
    stop = top + _before_quickening(clean.time_s[top:stop], size[top:stop], u)
    t, size = clean.time_s[top:stop], size[top:stop]
    if t.size < 2 or size[0] <= 0.0:
        raise InputError(
            "there are not two readings after the tank was filled",
            where=clean.source,
            remedy="Read on after the valve is shut; check --direction.",
        )
    hand = clean.by_hand and not dense
    return VentDecay(t - t[0], size, noise, rounding, _T.watch_s if hand else 0.0, float(t[0]), float(t[-1]))


def _before_quickening(t: Array, size: Array, u_pa: float) -> int:
    """How many readings count: through any passive vent the reading never falls faster than before."""
    falls = -np.diff(size)
    for k in range(2, falls.size):
        before = falls[max(k - 3, 0) : k] / np.diff(t)[max(k - 3, 0) : k]
        calm = max(float(before.max()), 2.0 * u_pa / float(t[k] - t[k - 1]))
        far = falls[k] > max(6.0 * u_pa, _T.let_out * float(size[0]))
        quick = float(falls[k]) / float(t[k + 1] - t[k]) > _T.quicker_than_before * calm
        if far and quick and t[k] - t[0] >= _T.held_first_s:
            return k + 1
    return int(t.size)


def _zero_pa(window: Window | None) -> float:
    return 0.0 if window is None else window.zero.known_pa


def _let_out(recording: Recording, window: Window | None) -> int:
    """How many readings count: up to where a tank that held for long was opened by hand."""
    n = recording.time_s.size
    if window is None or window.end_s - window.closed_s < _T.held_first_s:
        return n
    opened = any(phase.name == "vent" and phase.start_s >= window.end_s for phase in window.phases)
    return int(np.searchsorted(recording.time_s, window.end_s, side="right")) if opened else n


def speed_at(level_pa: float, seen: VentDecay) -> Interval | None:
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


def _speed_at_end(seen: VentDecay) -> float:
    """The most that it can still move at its end (95 %): it never came down to the level.

    Any stretch up to the end moved faster on the mean; the one is taken that says most.
    """
    n = seen.time_s.size
    return min(_at_most(seen, slice(max(n - last, 0), n)) for last in {max(3, n // 3), max(3, n // 2), n})


def _fastest(level_pa: float, seen: VentDecay) -> float:
    """Upper bound of the speed at the level, from the stretches above it.

    Readings at the top do not count: somebody may still have been pumping.
    """
    size = seen.size_pa
    shut = int(np.flatnonzero(size >= seen.start_pa - 3.0 * seen.u_pa)[-1])
    stop = int(np.argmax(size < level_pa + seen.u_pa))
    bounds = []
    for share in _T.stretches:
        inside = np.flatnonzero(size[shut:stop] < (1.0 + share) * level_pa)
        if inside.size > 1:
            bounds.append(_at_most(seen, slice(shut + int(inside[0]), stop)))
    return min(bounds, default=math.inf)


def _at_most(seen: VentDecay, part: slice) -> float:
    """Upper bound of the mean fall per second of a stretch."""
    fall, u = _fall_per_s(seen, part)
    return float(max(fall, 0.0) + _T.speed_sigmas * u)


def _slowest(level_pa: float, seen: VentDecay, first: int) -> float:
    """Lower bound of the speed at the level: from `first`, the first reading surely below it, on.

    The gap across the level counts from the level.
    """
    t, size = seen.time_s, seen.size_pa
    last_above = int(np.flatnonzero(size > level_pa + seen.u_pa)[-1])
    gap = float(t[first] - t[last_above]) + seen.clock_s
    bounds = [(level_pa - float(size[first]) - _T.speed_sigmas * seen.u_pa) / gap]
    for share in _T.stretches:
        inside = np.flatnonzero(size[first:] > (1.0 - share) * level_pa)
        if inside.size and inside[-1] > 0:
            fall, u = _fall_per_s(seen, slice(first, first + int(inside[-1]) + 1))
            bounds.append(fall - _T.speed_sigmas * u)
    return float(max(*bounds, 0.0))


def _fall_per_s(seen: VentDecay, part: slice) -> tuple[float, float]:
    """Fall per second of a stretch by least squares, and its standard deviation.

    Readings rounded alike err alike, so rounding counts once for the stretch however many there are, unless
    the scatter is wider than the gauge's step.
    """
    t, size = seen.time_s[part], seen.size_pa[part]
    centred = t - t.mean()
    spread = float(np.sum(np.square(centred)))
    span = float(t[-1] - t[0])
    scattered = seen.noise_pa > _T.dithered * seen.rounding_pa
    white = (seen.u_pa if scattered else seen.noise_pa) / math.sqrt(spread)
    rounded = 0.0 if scattered else math.sqrt(2.0) * seen.rounding_pa / span
    fall = -float(np.sum(centred * size)) / spread
    return fall, math.hypot(white, rounded, fall * seen.clock_s / span)
