"""The part of a vent recording in which the vent alone moves the reading: pumped, shut, and left to itself.

A vent that flows freely empties a tank in a second, so the rules for a leak (the longest calm stretch is the
hold) do not hold here: everything from the highest reading on counts, until somebody lets the air out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import InputError
from leakdown.hold.parts import Parts
from leakdown.hold.readings import DENSE_FROM, white_noise_pa
from leakdown.hold.window import Window
from leakdown.recording import Recording

Array = NDArray[np.float64]

_HELD_FIRST_S = 10.0  # a level this long that then falls at once was let out by hand (common practice)
_LET_OUT = 0.2  # of the highest reading, in one step
_QUICKER = 3.0  # than just before
_LEAST_PA = 1.0
_BY_HAND_S = 1.0  # how well a person reads a watch (common practice)


@dataclass(frozen=True)
class Passed:
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
        n = max(3, self.time_s.size // 5)
        if self.time_s.size < 3:
            return None
        t, size = self.time_s[-n:], self.size_pa[-n:]
        if t[-1] - t[0] <= 0.0:
            return None
        slope = float(np.polyfit(t - t[0], size, 1)[0])
        return float(np.mean(size)) if abs(slope) < still_pa_s else None


def passed(parts: Parts) -> Passed:
    """What the vent did by itself. Raises InputError when there are fewer than two readings of it."""
    clean, window, resolution = parts.recording, parts.window, parts.resolution.value or 0.0
    dense = clean.time_s.size >= DENSE_FROM
    noise = white_noise_pa(clean.pressure_pa) if dense else 0.0
    rounding = max(resolution / math.sqrt(12.0), _LEAST_PA)
    u = math.hypot(noise, rounding)
    size = parts.sign * (clean.pressure_pa - _zero_pa(window))
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
    return Passed(t - t[0], size, noise, rounding, _BY_HAND_S if hand else 0.0, float(t[0]), float(t[-1]))


def _before_quickening(t: Array, size: Array, u_pa: float) -> int:
    """How many readings count: through any passive vent the reading never falls faster than before."""
    falls = -np.diff(size)
    for k in range(2, falls.size):
        gone = falls[k] > max(6.0 * u_pa, _LET_OUT * float(size[0]))
        before = falls[max(k - 3, 0) : k] / np.diff(t)[max(k - 3, 0) : k]
        calm = max(float(before.max()), 2.0 * u_pa / float(t[k] - t[k - 1]))
        if (
            gone
            and float(falls[k]) / float(t[k + 1] - t[k]) > _QUICKER * calm
            and t[k] - t[0] >= _HELD_FIRST_S
        ):
            return k + 1
    return int(t.size)


def _zero_pa(window: Window | None) -> float:
    return 0.0 if window is None else window.zero.known_pa


def _let_out(recording: Recording, window: Window | None) -> int:
    """How many readings count: up to where a tank that held for long was opened by hand."""
    n = recording.time_s.size
    if window is None or window.end_s - window.closed_s < _HELD_FIRST_S:
        return n
    opened = any(phase.name == "vent" and phase.start_s >= window.end_s for phase in window.phases)
    return int(np.searchsorted(recording.time_s, window.end_s, side="right")) if opened else n
