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
_COOLED = 0.4 / 1.4  # (g - 1) / g of air


@dataclass(frozen=True)
class VentDecay:
    """Magnitudes from the highest reading on: time_s (n,) from there, size_pa (n,), gauge zero taken off.

    noise_pa, rounding_pa: standard deviations of one reading. clock_s: doubt of a reading's time.
    start_s, end_s: on the recording's clock. fill_s: how long pumping took, as far as it was seen.
    """

    time_s: Array
    size_pa: Array
    noise_pa: float
    rounding_pa: float
    clock_s: float
    start_s: float
    end_s: float
    fill_s: float = 0.0

    @property
    def u_pa(self) -> float:
        """Standard deviation of one reading, noise and rounding together."""
        return math.hypot(self.noise_pa, self.rounding_pa)

    @property
    def start_pa(self) -> float:
        """The highest reading."""
        return float(self.size_pa[0])

    @property
    def shut(self) -> int:
        """Index of the last reading at the top: the pump may have worked until then."""
        return int(np.flatnonzero(self.size_pa >= self.start_pa - 3.0 * self.u_pa)[-1])

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
    begun = np.flatnonzero(parts.recording.sign * (clean.pressure_pa[:top] - _zero_pa(window)) < 0.1 * float(size[0]))
    fill_s = float(t[0] - clean.time_s[begun[-1]]) if begun.size else 0.0
    return VentDecay(t - t[0], size, noise, rounding, _T.watch_s if hand else 0.0, float(t[0]), float(t[-1]), fill_s)


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


def speed_at(level_pa: float, seen: VentDecay, ambient_pa: float) -> Interval | None:
    """Pa/s at which air coming in would bring a stiff tank back through `level_pa` (95 %); high may be infinite.

    The bounds allow for walls that give and gas that warms, the value takes the readings as they are.

    value None where only bounds are known; low 0 when it never came down to the level. None when it
    did not start surely above.
    """
    if seen.start_pa <= level_pa + seen.u_pa:
        return None
    gives = 1.0 + (ambient_pa - level_pa) * _T.wall_gives  # room for more air than the reading shows
    size = seen.size_pa
    above = np.flatnonzero(size > level_pa - seen.u_pa)
    if int(above[-1]) + 1 >= size.size:
        return Interval(None, 0.0, gives * _speed_at_end(seen))
    low, of_air = _slowest(level_pa, seen, int(above[-1]) + 1, ambient_pa)
    high = _fastest(level_pa, seen)
    if not low < high:  # the readings contradict a passive vent: both bounds count
        low, high, of_air = high, low, min(of_air, high)
    value = math.sqrt(low * high) if low > 0.0 and high < math.inf else None
    return Interval(value, of_air, gives * high)


def _speed_at_end(seen: VentDecay) -> float:
    """The most that it can still move at its end (95 %): it never came down to the level.

    Any stretch up to the end moved faster on the mean; the one is taken that says most.
    """
    n = seen.time_s.size
    return min(_at_most(seen, slice(max(n - last, 0), n)) for last in {max(3, n // 3), max(3, n // 2), n})


def _fastest(level_pa: float, seen: VentDecay) -> float:
    """Upper bound of the speed at the level, from the stretches above it.

    Readings at the top do not count, nor the fall after the last of them where pumping was seen: somebody may
    still have been at it.
    """
    size, shut = seen.size_pa, seen.shut + (seen.fill_s > 0.0)
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


def _slowest(level_pa: float, seen: VentDecay, first: int, ambient_pa: float) -> tuple[float, float]:
    """Lower bounds of the speed at the level, as read and of the air's part of it.

    From `first`, the first reading surely below it, on.

    The gap across the level counts from the level.
    """
    t, size = seen.time_s, seen.size_pa
    last_above = int(np.flatnonzero(size > level_pa + seen.u_pa)[-1])
    gap = float(t[first] - t[last_above]) + seen.clock_s
    falls = [((level_pa - float(size[first])) / gap, seen.u_pa / gap, last_above, first)]
    for share in _T.stretches:
        inside = np.flatnonzero(size[first:] > (1.0 - share) * level_pa)
        if inside.size and inside[-1] > 0:
            last = first + int(inside[-1])
            falls.append((*_fall_per_s(seen, slice(first, last + 1)), first, last))
    read = max(fall - _T.speed_sigmas * u for fall, u, *_ in falls)
    of_air = max(_air_only(fall, _T.speed_sigmas * u, (a, b), seen, ambient_pa) for fall, u, a, b in falls)
    return max(read, 0.0), max(of_air, 0.0)


def _air_only(fall: float, half: float, ends: tuple[int, int], seen: VentDecay, ambient_pa: float) -> float:
    """Lower bound of the part of a fall per second (+/- half) that is air coming in, as into a stiff tank at rest.

    Gas cooled by pumping warms again, and a wall that creeps in goes on doing so: both look like air. theta, the
    wall's temperature over the gas's less 1, starts at the adiabatic share at most (less after slow pumping) and
    dies out with tau: dp/dt = q' (1 + 0.4 e) + p theta0 e / tau, e = exp(-t / tau), from the energy balance of the
    gas for a constant q'. Of all tau the worst counts.
    """
    start, end = (float(seen.time_s[k] - seen.time_s[min(seen.shut, ends[0])]) for k in ends)
    tau = np.geomspace(0.02, 1.0, 30) * _T.gas_settles_s
    gone = (np.exp(-start / tau) - np.exp(-end / tau)) / (end - start)
    pumped = max(seen.fill_s, 1e-3) / tau
    warming = _COOLED * seen.start_pa * (1.0 - np.exp(-pumped)) / pumped * gone
    gas = fall - float(np.min((fall - warming) / (1.0 + 0.4 * np.exp(-start / tau))))
    creep = np.geomspace(0.02, 10.0, 30) * _T.gas_settles_s
    gone = (np.exp(-start / creep) - np.exp(-end / creep)) / (end - start)
    wall = ambient_pa * _T.wall_creeps * seen.start_pa * float(gone.max())
    return fall - math.hypot(gas, wall, half)


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
