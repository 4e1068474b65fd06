"""The gauge's own clock against the computer's: which times the readings get, at once and once all is over. Pure.

A line cannot arrive before it was sent, but may be late: by milliseconds, or by seconds where it waits for others and
all come at once. So arrival against the gauge's clock lies above a line that many arrivals touch, and the slope of
that line is the speed of the gauge's clock, whatever the delays: the edge of the lower convex hull below the middle
of the test (Moon, Skelly, Towsley, "Estimation and removal of clock skew from network delay measurements", IEEE
INFOCOM 1999; from memory).

Live, a line's time is the gauge's, laid so that no line yet came before it was sent. When the test is over all lines
are laid by the final line; `settled` says the times then, and the caller may rewrite what it wrote.
"""

from __future__ import annotations

import math
from array import array
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.live.texts import text
from leakdown.tuned import tuned

_T = tuned("live.capture")
_LEAP, _LEAP_SLACK_S, _SAME_RUN = _T.clock_leap, _T.clock_leap_slack_s, _T.clock_restart_lines
_JITTER_S: float = _T.clock_jitter_s
WRAPS_S = (2**32 * 1e-3, 2**32 * 1e-6, 2**16 * 1e-3)
"""Counters run over: 32 bits of milliseconds after 49.7 days, of microseconds after 71.6 minutes, 16 after 66 s."""

STEP_S = 1e-4
"""Times are written to 0.1 ms and must increase."""

UNITS_S = (1.0, 1e-3, 1e-6)
"""What a count without a name may stand for."""

_BINS = 200
Array = NDArray[np.float64]


@dataclass(frozen=True)
class ClockFit:
    """Computer seconds in a count of the gauge's clock, how sure (a share), and the computer's time at its zero.

    unit_s: seconds that a count stands for, if it is a clock."""

    rate: float
    doubt: float
    offset_s: float
    unit_s: float = 1.0

    @property
    def off(self) -> bool:
        """Surely further from the computer's than a good clock."""
        return bool(abs(self.rate / self.unit_s - 1.0) - 2.0 * self.doubt > _T.clock_tolerance)

    @property
    def is_clock(self) -> bool:
        """False where it is surely no clock in seconds at all."""
        return not self.off or bool(1.0 / _T.clock_no_clock < self.rate / self.unit_s < _T.clock_no_clock)

    @property
    def trusted_rate(self) -> float:
        """The clock's own seconds as long as nothing is surely wrong with them."""
        return self.rate if self.off else self.unit_s


def fitted(device_s: Array, arrival_s: Array, units_s: tuple[float, ...] = (1.0,)) -> ClockFit:
    """The line below all arrivals, nearest to them. At least two readings, `device_s` (n,) not falling.

    units_s: what a count may stand for."""
    span_s = float(device_s[-1] - device_s[0])
    unseen = ClockFit(1.0, math.inf, float(np.min(arrival_s - device_s)))
    if span_s <= 0.0:
        return unseen
    lowest = _lowest(device_s, arrival_s)
    hull: list[tuple[float, float]] = []
    for x, y in zip(device_s[lowest].tolist(), arrival_s[lowest].tolist(), strict=True):
        while len(hull) > 1 and _above(hull[-2], hull[-1], (x, y)):
            hull.pop()
        if not hull or x > hull[-1][0]:
            hull.append((x, y))
    middle = float(np.mean(device_s))
    right = next((i for i, (x, _) in enumerate(hull) if x > middle and i), len(hull) - 1)
    (x0, y0), (x1, y1) = hull[right - 1], hull[right]
    rate = (y1 - y0) / (x1 - x0)
    if rate <= 0.0:  # all came at one moment: nothing is seen of the clock's pace
        return unseen
    late_s = float(np.median(arrival_s - (y0 + rate * (device_s - x0))))
    stride_s = span_s / (device_s.size - 1)
    doubt = min(late_s + _T.clock_jitter_s, 2.0 * stride_s * rate + _T.clock_jitter_s) / (span_s * rate)
    unit_s = min(units_s, key=lambda unit: abs(math.log(rate / unit)))
    return ClockFit(rate, doubt, y0 - rate * x0, unit_s)


def _above(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])


def _lowest(device_s: Array, arrival_s: Array) -> NDArray[np.intp]:
    """Where in each of many short spans a line came with the least delay; both ends."""
    if device_s.size <= 2 * _BINS:
        return np.arange(device_s.size)
    slope = (arrival_s[-1] - arrival_s[0]) / (device_s[-1] - device_s[0])
    edges = np.linspace(0, device_s.size, _BINS + 1).astype(int)
    late = arrival_s - slope * device_s
    inside = [a + int(np.argmin(late[a:b])) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    return np.unique([0, *inside, device_s.size - 1])


@dataclass(frozen=True)
class Settled:
    """Times (n,) of all moments in the order they were asked for, s; `clock_s` (n,) as the gauge sent it, NaN without.

    moved_s: how far the furthest is from the time given out at once. said: of the clock's speed, "" where it is
    right; told: that was remarked while the test ran."""

    time_s: Array
    clock_s: Array
    moved_s: float
    said: str
    told: bool


class _Moments:
    """Everything that was asked: arrival, the gauge's clock raw and run on, which run of it, the time given out."""

    def __init__(self) -> None:
        self.arrival_s, self.raw_s, self.device_s, self.given_s = (array("d") for _ in range(4))
        self.run = array("l")

    def add(self, arrival_s: float, raw_s: float, device_s: float, run: int, given_s: float) -> None:
        self.arrival_s.append(arrival_s)
        self.raw_s.append(raw_s)
        self.device_s.append(device_s)
        self.given_s.append(given_s)
        self.run.append(run)


class GaugeClock:
    """Turns (arrival, gauge clock or None) into strictly increasing seconds since `start_s`.

    A number of the clock that fits neither before nor after was torn; a few that fit one another are a restart, and
    remarked; counters that run over are run on; a clock at another speed is corrected, what is no clock dropped, both
    with a remark.
    """

    def __init__(self, start_s: float) -> None:
        self.remarks: list[str] = []
        self._start_s = start_s
        self._last_s = -STEP_S
        self._log: _Moments | None = _Moments()
        self._run = 0
        self._good: tuple[tuple[float, float], ...] = ()  # the last two (arrival, gauge clock run on) that fitted
        self._odd: tuple[tuple[int, float, float], ...] = ()  # moment, arrival, gauge clock: they fit one another
        self._wrapped_s = 0.0
        self._rate, self._offset_s = 1.0, math.inf
        self.named = True  # its name or unit is written
        self._is_clock = True
        self._told = False
        self._judge_s = _T.clock_judged_after_s

    def light_copy(self) -> GaugeClock:
        """One that goes on as this would, for times that are not given out yet: without memory."""
        twin = copy(self)
        twin._log, twin.remarks = None, []
        return twin

    @property
    def moments(self) -> int:
        """How many times were given out."""
        return len(self._log.given_s) if self._log else 0

    def time_s(self, arrival_s: float, device_s: float | None) -> float:
        """Seconds since the start, later than every time given out before."""
        known = None if device_s is None else self._run_on(arrival_s, device_s)
        value = arrival_s - self._start_s
        if known is not None and self._is_clock:
            offset_s = arrival_s - self._rate * known
            if offset_s < self._offset_s - _JITTER_S:  # small jitter moves nothing: steps stay the gauge's
                self._offset_s = offset_s
            value = self._offset_s + self._rate * known - self._start_s
        self._last_s = max(round(value, 4), round(self._last_s + STEP_S, 4))
        if self._log:
            raw_s = math.nan if device_s is None else device_s
            self._log.add(arrival_s, raw_s, math.nan if known is None else known, self._run, self._last_s)
            self._judge(arrival_s)
        return self._last_s

    # -- what the clock's number means

    def _run_on(self, arrival_s: float, device_s: float) -> float | None:
        """The clock run on over wraps; None where the number fits nothing yet."""
        value = device_s + self._wrapped_s
        unknown = len(self._good) == 1 and not self.named and value > self._good[0][1]  # in any unit
        if not self._good or unknown or self._follows(self._good[-1], arrival_s, value):
            return self._fits(arrival_s, value)
        if len(self._good) == 2 and value < self._good[-1][1] and self._follows(self._good[0], arrival_s, value):
            self._forget_last()  # it ran ahead by itself: that one was torn
            return self._fits(arrival_s, value)
        wrapped = self._wrap(arrival_s, value)
        return self._fits(arrival_s, wrapped) if wrapped is not None else self._odd_one(arrival_s, value)

    def _follows(self, before: tuple[float, float], arrival_s: float, value: float) -> bool:
        stride_s = abs(self._good[-1][1] - self._good[0][1]) if len(self._good) == 2 else 0.0
        far = _LEAP * max(stride_s, arrival_s - before[0]) + _LEAP_SLACK_S
        return bool(0.0 <= value - before[1] <= far)

    def _fits(self, arrival_s: float, value: float) -> float:
        self._good, self._odd = (*self._good[-1:], (arrival_s, value)), ()
        return value

    def _forget_last(self) -> None:
        self._good = self._good[:1]
        if self._log:
            last = next(i for i in reversed(range(len(self._log.device_s))) if not math.isnan(self._log.device_s[i]))
            self._log.device_s[last] = math.nan
        self._offset_s = math.inf

    def _wrap(self, arrival_s: float, value: float) -> float | None:
        then_s, before = self._good[-1]
        for wrap_s in WRAPS_S:
            doubt_s = _T.clock_wrap_slack_s + 0.1 * (arrival_s - then_s)
            reached = value < before and before - self._wrapped_s <= wrap_s
            if reached and abs(before + arrival_s - then_s - wrap_s - value) <= doubt_s:
                self._wrapped_s += wrap_s
                return value + wrap_s
        return None

    def _odd_one(self, arrival_s: float, value: float) -> float | None:
        steps_s = [b[2] - a[2] for a, b in zip(self._odd, [*self._odd[1:], (0, arrival_s, value)], strict=False)]
        together = bool(steps_s) and steps_s[-1] >= 0.0
        together = together and (len(steps_s) < 2 or steps_s[-1] <= _LEAP * steps_s[-2] + _LEAP_SLACK_S)
        self._odd = (*(self._odd if together else ()), (self.moments, arrival_s, value))
        return self._another_run(arrival_s, value) if len(self._odd) >= _SAME_RUN else None

    def _another_run(self, arrival_s: float, value: float) -> float:
        """Enough lines fit one another and not those before: the gauge restarted at the first of them."""
        odd, before = self._odd, self._good[-1][1]
        if value < before:
            self.remarks.append(text("clock back", at_s=odd[0][1] - self._start_s))
        self._run += 1
        self._good, self._odd, self._offset_s = (odd[-2][1:], (arrival_s, value)), (), math.inf
        if self._log:
            for moment, _, device_s in odd[:-1]:
                self._log.device_s[moment], self._log.run[moment] = device_s, self._run
        self._offset_s = min(at_s - self._rate * device_s for _, at_s, device_s in odd)
        return value

    # -- how fast it runs

    def _judge(self, arrival_s: float) -> None:
        """Now and then: at the first of these moments at which it is certain, the speed is corrected."""
        passed_s = arrival_s - self._start_s
        if passed_s < self._judge_s or not self._is_clock:
            return
        self._judge_s = passed_s * _T.clock_judge_spacing
        fit = self._fit_of(self._run)
        if fit is None or fit.is_clock and abs(fit.trusted_rate / self._rate - 1.0) <= 2.0 * fit.doubt:
            return
        said = self._said(fit)
        if said and not self._told:
            self.remarks.append(said)
            self._told = True
        self._is_clock, self._rate, self._offset_s = fit.is_clock, fit.trusted_rate, fit.offset_s

    def _fit_of(self, run: int) -> ClockFit | None:
        assert self._log is not None
        device_s, arrival_s = np.array(self._log.device_s), np.array(self._log.arrival_s)
        known = np.isfinite(device_s) & (np.array(self._log.run) == run)
        units_s = (1.0,) if self.named else UNITS_S
        return fitted(device_s[known], arrival_s[known], units_s) if known.sum() >= _T.clock_least_readings else None

    def settled(self) -> Settled | None:
        """All times as they are best known now; None for a gauge without a clock."""
        assert self._log is not None
        device_s, arrival_s = np.array(self._log.device_s), np.array(self._log.arrival_s)
        run, given_s = np.array(self._log.run), np.array(self._log.given_s)
        if not np.isfinite(device_s).any():
            return None
        fits = {int(k): fit for k in np.unique(run) if (fit := self._fit_of(int(k))) is not None}
        surest = min(fits.values(), key=lambda fit: fit.doubt, default=ClockFit(1.0, math.inf, 0.0))
        rate = surest.trusted_rate
        time_s = arrival_s - self._start_s
        for k in np.unique(run) if surest.is_clock else ():
            here = np.isfinite(device_s) & (run == k)
            if here.any():
                offset_s = float(np.min(arrival_s[here] - rate * device_s[here]))
                time_s[here] = offset_s + rate * device_s[here] - self._start_s
        torn = np.flatnonzero(np.isfinite(self._log.raw_s) & np.isnan(device_s))
        known = np.flatnonzero(np.isfinite(device_s))
        if surest.is_clock and torn.size:
            time_s[torn] = np.interp(torn, known, time_s[known])
        time_s -= min(float(time_s.min()), 0.0)
        moved_s = float(np.max(np.abs(time_s - given_s)))
        return Settled(time_s, np.array(self._log.raw_s) * surest.unit_s, moved_s, self._said(surest), self._told)

    def _said(self, fit: ClockFit) -> str:
        """What to tell of the clock's speed; a column that only looked like a clock is dropped in silence."""
        if not fit.is_clock:
            return text("clock off", ratio=1.0 / fit.rate) if self.named else ""
        speed = fit.unit_s / fit.rate - 1.0
        if not fit.off:
            return ""
        return text("clock corrected", percent=abs(speed) * 100.0, way="fast" if speed > 0.0 else "slow")
