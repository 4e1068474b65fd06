"""The leak so far, estimated while the test runs, and when the verdict is certain enough to stop.

A thread of its own: nothing waits for it. Looks are planned, so that looking often raises no error rate.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Analysis, Limit
from leakdown.errors import LeakdownError
from leakdown.fit.inputs import temperature_k
from leakdown.fit.leak import Vessel, size
from leakdown.fit.model import GROWTH, OPENING, HoldModel
from leakdown.fit.search import HoldFit, search
from leakdown.hold.readings import prepare
from leakdown.judge.analyse import judged
from leakdown.judge.settings import Settings
from leakdown.judge.tightness import analysed_hold
from leakdown.live.bench.prompts import PhaseNow
from leakdown.physics.balance import NotSolved
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, show_pressure, significant, standard_cm3_per_min
from leakdown.recording import Conditions, Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_T = tuned("live.bench")
FIRST_LOOK_S: float = _T.first_look_s
SPACING: float = _T.look_spacing
LOOKS: int = _T.looks
MIN_PASS_S: float = _T.least_pass_s
EVERY_S: float = _T.estimate_every_s
WIDENING = 2.955 / 1.960
"""Normal quantiles of 1 - 0.025/16 and of 0.975: one look among 16 errs a sixteenth as often."""


def widened(measured: Interval) -> Interval:
    """The 95 % interval at the level of one look among all (see tests/live/test_decide.py)."""
    value = measured.value
    if value is None or value <= 0.0 or measured.low <= 0.0:
        return Interval(value, 0.0, measured.high * WIDENING**2)
    low = max(value - WIDENING * (value - measured.low), 0.0)
    return Interval(value, low, value * (measured.high / value) ** WIDENING)


def certain_word(measured: Interval | None, limit: Limit, hold_s: float) -> str | None:
    """ "pass" or "fail" when the widened interval lies on one side of the limit, else None."""
    if measured is None:
        return None
    allowed = limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s
    wide = widened(measured)
    if wide.high <= allowed and hold_s >= MIN_PASS_S:
        return "pass"
    return "fail" if wide.low > allowed and hold_s >= _T.least_fail_s else None


class Looks:
    """The planned looks at one test: `due` tells when the next one is, `take` spends it."""

    def __init__(self) -> None:
        self.taken = 0
        self._next_s = FIRST_LOOK_S

    def due(self, closed_for_s: float) -> bool:
        """True when the valve has been shut long enough for the next look."""
        return self.taken < LOOKS and closed_for_s >= self._next_s

    def take(self, closed_for_s: float, result: Analysis | None) -> str | None:
        """The certain verdict, if any, of an analysis of all readings up to now; None is a look too.

        The analysis must say the same word itself: what bars its verdict or doubts it bars this one."""
        self.taken += 1
        self._next_s = closed_for_s * SPACING
        if result is None or result.verdict is None:
            return None
        length_s = result.hold.end_s - result.hold.start_s
        certain = certain_word(result.verdict.measured, result.verdict.limit, length_s)
        return certain if certain == result.verdict.word else None


_THINNED_S = _T.thinned_s
Array = NDArray[np.float64]


def can_be_carried_on(last: Analysis, found: HoldFit) -> bool:
    """A plain leak, sized: neither opening nor growing."""
    return last.leak is not None and not found.fit.parameters[[OPENING, GROWTH]].any()


def carried_on(last: Analysis, found: HoldFit, time_s: Array, pressure_pa: Array) -> tuple[Analysis, HoldFit] | None:
    """`last` with its leak estimated anew, and the new fit; None where only a full analysis will do."""
    after = time_s >= last.hold.closed_s
    if not can_be_carried_on(last, found) or int(after.sum()) < _T.refit_readings:
        return None
    resolution_pa = last.used.resolution_pa.value or 0.0
    readings = prepare(time_s[after] - last.hold.closed_s, pressure_pa[after], resolution_pa, False)
    before = found.model
    model = HoldModel(readings, before.ambient_pa, before.inward, before.quote_pa, before.priors)
    try:
        again = search(model, "plain", found.fit.parameters)
        if not again.fit.converged:
            return None
        used = last.used
        discharge = used.discharge_coefficient.value or 1.0
        vessel = Vessel(used.volume_m3.value, used.volume_u_m3.value, temperature_k(used), discharge)
        sized = size(again, before.quote_pa, vessel)
    except NotSolved:
        return None
    return (replace(last, leak=sized.estimate), sized.found) if sized.complete else None


def leak_so_far(result: Analysis | None, shown: str | None = None) -> str:
    """ "leak 12.3 cm3/min (11.9 to 12.8)"; per minute of pressure without a volume; "" if unknown. shown: the unit."""
    if result is None or result.leak is None:
        return ""
    leak, unit = result.leak, shown or result.recording.conditions.show_unit
    at = f"at {show_pressure(abs(leak.at_pa), unit, 2)}"
    if leak.throughput_pa_m3_s is not None:
        kelvin = result.used.temperature_k.value or REFERENCE_TEMPERATURE_K
        size = leak.throughput_pa_m3_s.scaled(standard_cm3_per_min(1.0, kelvin))
        return _words(size, "leak", "cm3/min", at)
    return _words(leak.rate_pa_s.scaled(60.0 / PRESSURE_PA[unit]), "loses", f"{unit}/min", at)


def _words(size: Interval, verb: str, unit: str, at: str) -> str:
    if size.value is None:
        return f"no leak seen; one of {significant(size.high, 2)} {unit} {at} would show"
    decimals = len(significant(size.value).partition(".")[2])
    low, high = f"{size.low:.{decimals}f}", f"{size.high:.{decimals}f}"
    return f"{verb} {significant(size.value)} {unit} ({low} to {high}) {at}"


_NO_ESTIMATE = (LeakdownError, ArithmeticError, ValueError, np.linalg.LinAlgError)


class Estimator:
    """Use as a context manager. `latest` and `decided` may be read at any time."""

    def __init__(self, conditions: Conditions, settings: Settings, decide: bool, every_s: float = EVERY_S) -> None:
        """`every_s`: how often, and half the time after which the first estimate comes."""
        self.latest: Analysis | None = None
        self.decided = ""
        self._conditions, self._settings, self._every_s = conditions, settings, every_s
        self._looks = Looks() if decide else None
        self._readings: deque[tuple[float, float]] = deque()
        self._lock = threading.Lock()
        self._closed_s: float | None = None
        self._state: tuple[Analysis, HoldFit] | None = None
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
            if not self._readings or time_s - self._readings[-1][0] >= _THINNED_S:
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
            while self._readings[0][0] < time_s - _T.kept_before_fill_s:
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
        """All of the recording analysed, unless that was done a moment ago; when due, all that the summary will say."""
        begin = time.monotonic()
        if begin < self._full_s and not due:
            return None
        recording, rest = Recording(times, pressures, conditions=self._conditions), _T.rest_odd
        try:
            found = (judged if due else analysed_hold)(recording, self._settings)
            if found.fit is None:  # judged by something else than a hold
                return found.analysis
            rest = _T.rest if can_be_carried_on(found.analysis, found.fit) else _T.rest_odd
            return self._kept((found.analysis, found.fit))
        except _NO_ESTIMATE:
            return None  # nothing to show by now; the summary will say why
        finally:
            self._full_s = time.monotonic() + rest * (time.monotonic() - begin)

    def _kept(self, state: tuple[Analysis, HoldFit]) -> Analysis:
        self._state, self.latest = state, state[0]
        return state[0]
