"""Whether a gauge that stands still still measures. Pure.

A gauge that showed its noise before and shows none at all now is frozen. One too coarse to show any never did,
and is believed: a tight hold looks like that.
"""

from __future__ import annotations

import math
import statistics
from collections import deque

from leakdown.tuned import tuned

_T = tuned("live.bench")
_QUARTILE = 0.6745
"""Of the standard normal distribution: the median of its size."""


_FLICKER = 1.0 / _QUARTILE / math.sqrt(6.0) + 0.1
"""Spread, in steps, that the faintest noise gives where the pressure stands just between two steps (every second bend
is one step), and a little: what flickers no more tells nothing of the noise elsewhere."""


class Liveness:
    """Feed readings in order of time; `since_s` is when the gauge froze, None while it lives."""

    def __init__(self) -> None:
        self.since_s: float | None = None
        self._bends: deque[float] = deque(maxlen=200)
        self._runs: deque[int] = deque(maxlen=50)
        self._steps: deque[float] = deque(maxlen=200)
        self._last: list[float] = []
        self._moved_s, self._repeats = 0.0, 0

    def feed(self, time_s: float, pressure_pa: float) -> None:
        """Take a reading (gauge, signed)."""
        if self._last and pressure_pa == self._last[-1]:
            self._repeats += 1
            self._judge(time_s, pressure_pa)
            return
        if self.since_s is None:
            self._learn(pressure_pa)
        before = [self._last[-1]] if self._repeats else self._last
        self._last = [*before, pressure_pa][-2:]
        self.since_s, self._moved_s, self._repeats = None, time_s, 0

    def _learn(self, pressure_pa: float) -> None:
        """How far the reading bends from one to the next, repeats included; its steps; how often each value comes."""
        if not self._last:
            return
        held = [*self._last, *[self._last[-1]] * self._repeats, pressure_pa]
        self._bends.extend(abs(a - 2.0 * b + c) for a, b, c in zip(held, held[1:], held[2:], strict=False))
        self._steps.append(abs(pressure_pa - self._last[-1]))
        self._runs.append(self._repeats + 1)

    def _judge(self, time_s: float, pressure_pa: float) -> None:
        if self.since_s is not None or pressure_pa == 0.0 or len(self._bends) < _T.known_from_readings:
            return  # a gauge may show its small values as exactly zero
        if time_s - self._moved_s < _T.still_s:
            return
        independent = self._repeats / statistics.median(self._runs)
        if independent * -math.log1p(-self._flips()) > _T.chance_still:
            self.since_s = self._moved_s

    def _flips(self) -> float:
        """The least chance that noise alone changes the next reading: from the middle of a step."""
        spread = statistics.median(self._bends) / _QUARTILE / math.sqrt(6.0)
        step = min(self._steps)
        if spread <= _FLICKER * step:
            return 0.0
        noise = math.sqrt(spread**2 - step**2 / 12.0)
        return min(math.erfc(step / (2.0 * noise) / math.sqrt(2.0)), 0.999)
