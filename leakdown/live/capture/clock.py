"""Times of readings: arrival on the computer's monotonic clock, or the gauge's own clock tied to it. Pure."""

from __future__ import annotations

from leakdown.tuned import tuned

WRAPS_S = (2**32 * 1e-3, 2**32 * 1e-6)
"""A 32-bit counter of milliseconds runs over after 49.7 days, one of microseconds after 71.6 minutes."""

STEP_S = 1e-4
"""Times are written to 0.1 ms and must increase."""

_T = tuned("live.capture")
_JUDGE_AFTER_S, _TOLERANCE, _LEAP = _T.clock_judged_after_s, _T.clock_tolerance, _T.clock_leap


class GaugeClock:
    """Turns (arrival, gauge clock or None) into strictly increasing seconds since `start_s`.

    With a gauge clock, arrival jitter disappears; wraps are undone, a restart of the gauge is tied to
    its arrival again and remarked, and a clock that runs at the wrong speed is dropped with a remark.
    """

    def __init__(self, start_s: float) -> None:
        self.remarks: list[str] = []
        self._start_s = start_s
        self._last_s = -STEP_S
        self._anchor: tuple[float, float] | None = None  # arrival, gauge clock
        self._previous: tuple[float, float] = (0.0, 0.0)
        self._unwrapped_s = 0.0
        self._trusted = True
        self._leap: float | None = None
        self._stride_s = 0.0

    def time_s(self, arrival_s: float, device_s: float | None) -> float:
        """Seconds since the start, later than every time given out before."""
        value = arrival_s - self._start_s
        if device_s is not None and self._trusted:
            value = self._by_gauge(arrival_s, device_s)
        self._last_s = max(round(value, 4), round(self._last_s + STEP_S, 4))
        return self._last_s

    def _by_gauge(self, arrival_s: float, device_s: float) -> float:
        if self._anchor is None:
            self._tie(arrival_s, device_s)
        elif self._leaps(arrival_s, device_s):
            return arrival_s - self._start_s
        elif device_s < self._previous[1]:
            self._went_back(arrival_s, device_s)
        self._leap = None
        self._previous = (arrival_s, device_s)
        assert self._anchor is not None
        by_arrival = arrival_s - self._anchor[0]
        by_gauge = device_s + self._unwrapped_s - self._anchor[1]
        if by_arrival > _JUDGE_AFTER_S and abs(by_gauge - by_arrival) > _TOLERANCE * by_arrival + 0.5:
            self._trusted = False
            self.remarks.append(
                f"the gauge's clock runs {by_gauge / by_arrival:.3g} times as fast as "
                "the computer's; times are arrival times from here on"
            )
            return arrival_s - self._start_s
        return self._anchor[0] - self._start_s + by_gauge

    def _leaps(self, arrival_s: float, device_s: float) -> bool:
        """A clock far ahead on one line only is a torn number; on two lines running it is the clock."""
        ahead = device_s - self._previous[1]
        expected = arrival_s - self._previous[0]
        far = _LEAP * max(self._stride_s, expected) + 1.0
        if ahead <= far:
            self._stride_s = max(ahead, 0.0)
            return False
        if self._leap is not None and 0 <= device_s - self._leap <= far:
            return False
        self._leap = device_s
        return True

    def _tie(self, arrival_s: float, device_s: float) -> None:
        self._anchor = (arrival_s, device_s)
        self._unwrapped_s = 0.0

    def _went_back(self, arrival_s: float, device_s: float) -> None:
        elapsed = arrival_s - self._previous[0]
        for wrap_s in WRAPS_S:
            expected = self._previous[1] + elapsed - wrap_s
            if abs(expected - device_s) <= 2.0 + _TOLERANCE * elapsed:
                self._unwrapped_s += wrap_s
                return
        self.remarks.append(f"the gauge restarted at {arrival_s - self._start_s:.1f} s (its clock went back)")
        self._tie(arrival_s, device_s)
