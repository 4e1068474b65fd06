"""The leak so far, estimated while the test runs, in a thread of its own: nothing waits for it.

`feed` only appends. The thread takes what there is every few seconds of a hold, analyses it as the summary
will, and leaves the result where the screen finds it. It rests 25 times as long as it worked: never
more than 4 % of a core.
"""

from __future__ import annotations

import threading
import time
from collections import deque

import numpy as np

from leakdown.errors import LeakdownError
from leakdown.estimate.analysis import Settings, analyse
from leakdown.estimate.result import Analysis
from leakdown.gauges.live.decide import Looks
from leakdown.gauges.live.phase import PhaseNow
from leakdown.recording import Conditions, Recording

EVERY_S = 2.5
REST = 25.0
FIRST_AFTER_S = 5.0
SPACING_S = 0.045
"""One reading in 45 ms is enough: a faster gauge is thinned (not averaged, which would hide its steps)."""

KEPT_BEFORE_FILL_S = 10.0


class Estimator:
    """Use as a context manager. `latest` and `decided` may be read at any time."""

    def __init__(self, conditions: Conditions, settings: Settings, decide: bool) -> None:
        self.latest: Analysis | None = None
        self.decided = ""
        self._conditions, self._settings = conditions, settings
        self._looks = Looks() if decide else None
        self._readings: deque[tuple[float, float]] = deque()
        self._lock = threading.Lock()
        self._closed_s: float | None = None
        self._stop = threading.Event()
        self._next_s = 0.0
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
        self._closed_s = None
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
            if closed_for_s < FIRST_AFTER_S or time.monotonic() < self._next_s and not due:
                continue
            begin = time.monotonic()
            result = self._analysed(readings)
            self.latest = result or self.latest
            if due and self._looks is not None:
                self.decided = self._looks.take(closed_for_s, result) or ""
            self._next_s = begin + max(EVERY_S, REST * (time.monotonic() - begin))

    def _taken(self) -> tuple[list[tuple[float, float]], float]:
        """A copy of the readings, and for how long the valve has been shut (0: it is open)."""
        with self._lock:
            if self._closed_s is None:
                return [], 0.0
            return list(self._readings), self._readings[-1][0] - self._closed_s

    def _analysed(self, readings: list[tuple[float, float]]) -> Analysis | None:
        times, pressures = np.array(readings).T
        try:
            return analyse(Recording(times, pressures, conditions=self._conditions), self._settings)
        except (LeakdownError, ArithmeticError, ValueError, np.linalg.LinAlgError):
            return None  # nothing to show by now; the summary will say why
