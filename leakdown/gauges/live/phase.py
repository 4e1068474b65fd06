"""Where a test stands, told online from the readings: zero, fill, stabilise, hold, vent. Pure.

For the live view only: what a finished recording is analysed on is decided from the whole of it.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

Phase = Literal["zero", "fill", "stabilise", "hold", "vent"]

ZERO_PA = 1_500.0
"""Open to air: a needle's width."""

SETTLE_S = 10.0
"""Time after filling during which heat and rubber relax (practice, no source: gas 1-5 s, rubber 10-60 s)."""

FILL_RATE_PA_S = 1_500.0
VENT_SHARE = 0.3
STEADY_SHARE = 0.3
EMPTY_SHARE = 0.15
QUICKER = 2.0
WINDOW_S = 1.0


@dataclass(frozen=True)
class PhaseNow:
    """The phase, since when, and the pressure at its start."""

    phase: Phase
    since_s: float
    start_pa: float


class PhaseWatch:
    """Feed readings in order of time; `feed` gives the phase after each."""

    def __init__(self, settle_s: float = SETTLE_S) -> None:
        self._settle_s = settle_s
        self._window: deque[tuple[float, float]] = deque()
        self._earlier: deque[tuple[float, float]] = deque()
        self._now = PhaseNow("zero", 0.0, 0.0)
        self._peak_pa = 0.0

    def feed(self, time_s: float, pressure_pa: float) -> PhaseNow:
        """Phase at this reading."""
        self._window.append((time_s, pressure_pa))
        while self._window[0][0] < time_s - WINDOW_S and len(self._window) > 2:
            self._earlier.append(self._window.popleft())
        while self._earlier and self._earlier[0][0] < time_s - 2.0 * WINDOW_S:
            self._earlier.popleft()
        phase = self._next(time_s, pressure_pa)
        if phase != self._now.phase:
            self._now = PhaseNow(phase, time_s, pressure_pa)
        if phase in ("fill", "zero"):
            self._peak_pa = abs(pressure_pa)
        else:
            self._peak_pa = max(self._peak_pa, abs(pressure_pa))
        return self._now

    def _outward_pa_s(self) -> float:
        """How fast the pressure moves away from ambient (negative: back towards it)."""
        (t0, p0), (t1, p1) = self._window[0], self._window[-1]
        return (abs(p1) - abs(p0)) / (t1 - t0) if t1 > t0 else 0.0

    def _next(self, time_s: float, pressure_pa: float) -> Phase:
        size, rate, phase = abs(pressure_pa), self._outward_pa_s(), self._now.phase
        if size < ZERO_PA:
            return "vent" if phase in ("stabilise", "hold") and self._dropped(time_s, size) else "zero"
        if rate > FILL_RATE_PA_S:
            return "fill"
        if phase in ("zero", "vent"):
            if self._under_way(time_s, size, rate):
                return "stabilise"
            return "fill" if rate > 0 else phase
        if phase == "fill":
            return "stabilise"
        if self._dropped(time_s, size):
            return "vent"
        return "hold" if phase == "hold" or time_s - self._now.since_s >= self._settle_s else "stabilise"

    def _under_way(self, time_s: float, size: float, rate: float) -> bool:
        """The log began (or a vent ended) with the valve shut and pressure inside."""
        lasted = time_s - self._window[0][0] >= 0.9 * WINDOW_S
        steady = abs(rate) < min(STEADY_SHARE * size, FILL_RATE_PA_S)
        return lasted and steady and min(abs(p) for _, p in self._window) > 2.0 * ZERO_PA

    def _dropped(self, time_s: float, size: float) -> bool:
        """A valve was opened: a large part gone within a window, and faster than before.

        Through a leak, however big, the pressure falls ever more slowly."""
        fall = abs(self._window[0][1]) - size
        if fall <= VENT_SHARE * self._peak_pa:
            return False
        if size < EMPTY_SHARE * self._peak_pa:
            return True
        settled = self._now.phase == "hold" or time_s - self._now.since_s > 2.0 * WINDOW_S
        before = abs(self._earlier[0][1]) - abs(self._window[0][1]) if self._earlier else 0.0
        return settled and fall > QUICKER * max(before, 0.0)
