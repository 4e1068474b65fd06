"""The leak so far, estimated while the test runs, in a thread of its own: nothing waits for it.

`feed` only appends. Every few seconds of a hold the thread takes what there is, carries the last fit on, and
leaves the result where the screen finds it. A full analysis, as the summary makes it, comes first, at each
planned look, and now and then: a hundred times as rarely as it takes long (25 times where the hold has an
odd shape, which cannot be carried on).
"""

from __future__ import annotations

import threading
import time
from collections import deque

import numpy as np

from leakdown.analysis import Analysis
from leakdown.errors import LeakdownError
from leakdown.estimate.analysis import Settings, analysed_with_fit
from leakdown.estimate.search import Found
from leakdown.gauges.live.decide import Looks
from leakdown.gauges.live.phase import PhaseNow
from leakdown.gauges.live.refresh import Array, can_be_carried_on, carried_on
from leakdown.recording import Conditions, Recording

EVERY_S = 2.5
"""How often, and half the time after which the first estimate comes."""

REST, REST_ODD = 100.0, 25.0
SPACING_S = 0.045
"""One reading in 45 ms is enough: a faster gauge is thinned (not averaged, which would hide its steps)."""

KEPT_BEFORE_FILL_S = 10.0
_NO_ESTIMATE = (LeakdownError, ArithmeticError, ValueError, np.linalg.LinAlgError)


class Estimator:
    """Use as a context manager. `latest` and `decided` may be read at any time."""

    def __init__(
        self, conditions: Conditions, settings: Settings, decide: bool, every_s: float = EVERY_S
    ) -> None:
        self.latest: Analysis | None = None
        self.decided = ""
        self._conditions, self._settings, self._every_s = conditions, settings, every_s
        self._looks = Looks() if decide else None
        self._readings: deque[tuple[float, float]] = deque()
        self._lock = threading.Lock()
        self._closed_s: float | None = None
        self._state: tuple[Analysis, Found] | None = None
        self._stop = threading.Event()
        self._next_s = self._full_s = 0.0
        self._thread = threading.Thread(target=self._run, name="estimate", daemon=True)

    def __enter__(self) -> Estimator:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join(timeout=5.0)

    def feed(self, time_s: float, pressure_pa: float, phase: PhaseNow) -> None:
        """Take a reading and the phase it belongs to."""
        with self._lock:
            if not self._readings or time_s - self._readings[-1][0] >= SPACING_S:
                self._readings.append((time_s, pressure_pa))
            if phase.phase in ("zero", "fill", "vent"):
                self._opened(time_s, phase)
            elif self._closed_s is None:
                self._closed_s = phase.since_s

    def _opened(self, time_s: float, phase: PhaseNow) -> None:
        self._closed_s = self._state = None
        self._full_s = 0.0
        if phase.phase == "fill":
            self.latest = None
        if phase.phase == "zero":
            while self._readings[0][0] < time_s - KEPT_BEFORE_FILL_S:
                self._readings.popleft()

    # -- the thread

    def _run(self) -> None:
        while not self._stop.wait(0.1):
            readings, closed_for_s = self._taken()
            due = self._looks is not None and not self.decided and self._looks.due(closed_for_s)
            if not due and (closed_for_s < 2.0 * self._every_s or time.monotonic() < self._next_s):
                continue
            times, pressures = np.array(readings).T
            result = self._carried_on(times, pressures, due) or self._in_full(times, pressures, due)
            if due and self._looks is not None:
                self.decided = self._looks.take(closed_for_s, result) or ""
            self._next_s = time.monotonic() + self._every_s

    def _taken(self) -> tuple[list[tuple[float, float]], float]:
        """A copy of the readings, and for how long the valve has been shut (0: it is open)."""
        with self._lock:
            if self._closed_s is None:
                return [], 0.0
            return list(self._readings), self._readings[-1][0] - self._closed_s

    def _carried_on(self, times: Array, pressures: Array, due: bool) -> Analysis | None:
        """The last fit with what came since; None when a full analysis is wanted, due or needed."""
        state = self._state
        if state is None or due or time.monotonic() >= self._full_s:
            return None
        try:
            state = carried_on(*state, times, pressures)
        except _NO_ESTIMATE:
            return None
        return self._kept(state) if state else None

    def _in_full(self, times: Array, pressures: Array, due: bool) -> Analysis | None:
        """All of the recording analysed as the summary will, unless that was done a moment ago."""
        begin = time.monotonic()
        if begin < self._full_s and not due:
            return None
        recording, rest = Recording(times, pressures, conditions=self._conditions), REST_ODD
        try:
            state = analysed_with_fit(recording, self._settings)
            rest = REST if can_be_carried_on(*state) else REST_ODD
            return self._kept(state)
        except _NO_ESTIMATE:
            return None  # nothing to show by now; the summary will say why
        finally:
            self._full_s = time.monotonic() + rest * (time.monotonic() - begin)

    def _kept(self, state: tuple[Analysis, Found]) -> Analysis:
        self._state, self.latest = state, state[0]
        return state[0]
