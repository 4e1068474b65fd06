"""Stretches of a log with the valve shut, found by how fast the pressure moves.

Physics tells them apart, not thresholds alone: through any passive leak the pressure moves ever more
slowly, so a fall that suddenly quickens is a vent, a slip or a hand on the hose, never the leak.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array, Step
from leakdown.errors import InputError
from leakdown.hold.readings import flat_level, white_noise_pa
from leakdown.tuned import tuned

_T = tuned("hold")
_AS_LONG: float = _T.as_long
_NOTICED: float = _T.noticed


@dataclass(frozen=True)
class _Trace:
    """A log made ready for the search: magnitudes, local slopes (per s) and what counts as noise in them."""

    t: Array
    size: Array
    slope: Array
    width: int
    noise: float
    slack: float
    peak: float

    @staticmethod
    def of(t: Array, size: Array, resolution_pa: float) -> _Trace:
        spacing = float(np.median(np.diff(t)))
        width = max(2, round(_T.smooth_s / spacing))
        noise = max(white_noise_pa(size), resolution_pa / np.sqrt(12.0), 1.0)
        slope = _slopes(t, size, width)
        # chance by the white noise, and by how slopes really differ from one moment to the next
        white = 6.0 * noise * np.sqrt(2.0 / width) / (width * spacing)
        changes = np.abs(slope[3 * width :] - slope[: -3 * width])
        slack = max(float(white), 3.0 * float(np.median(changes)) if changes.size else 0.0)
        return _Trace(t, size, slope, width, noise, slack, float(np.partition(size, -3)[-3:].min()))


@dataclass(frozen=True)
class _Stretch:
    """Readings first..last with the valve shut; `resumed` after a sudden step in the one before."""

    first: int
    last: int
    resumed: bool


def find_in_log(t: Array, size: Array, resolution_pa: float) -> tuple[int, int, tuple[Step, ...], bool]:
    """First and last index of the hold in a log, steps inside it, and whether there were several holds."""
    trace = _Trace.of(t, size, resolution_pa)
    holds, lengths = _holds(trace)
    best = holds[int(np.argmax(lengths))]
    steps = tuple(
        Step(float(0.5 * (t[a.last] + t[b.first])), float(size[b.first] - size[a.last]))
        for a, b in zip(best[:-1], best[1:], strict=True)
    )
    part = max(best, key=lambda s: t[s.last] - t[s.first])
    last = _until_empty(trace, part)
    return part.first, last, steps, sum(x > _AS_LONG * max(lengths) for x in lengths) > 1


def every_hold_in_log(t: Array, size: Array, resolution_pa: float) -> list[tuple[int, int]]:
    """First and last index of each hold about as long as the longest, in order."""
    trace = _Trace.of(t, size, resolution_pa)
    holds, lengths = _holds(trace)
    parts = [
        max(hold, key=lambda s: t[s.last] - t[s.first])
        for hold, length in zip(holds, lengths, strict=True)
        if length > _AS_LONG * max(lengths)
    ]
    return [(part.first, part.last) for part in parts]


def _holds(trace: _Trace) -> tuple[list[list[_Stretch]], list[float]]:
    """The holds of a log and how long each is, s. Raises InputError when there is none."""
    t, holds = trace.t, _joined(trace, _stretches(trace))
    if not holds:
        raise InputError(
            "no hold found: the pressure is pumped or vented all the time", remedy="Give --hold START..END (seconds)."
        )
    return holds, [float(t[h[-1].last] - t[h[0].first]) for h in holds]


def _slopes(t: Array, size: Array, width: int) -> Array:
    """Slope at each reading between the means of the `width` readings before it and from it on."""
    n = size.size
    total, clock = np.concatenate(([0.0], np.cumsum(size))), np.concatenate(([0.0], np.cumsum(t)))
    i = np.arange(n)
    low, high = np.maximum(i - width, 0), np.minimum(i + width, n)
    left, right = np.maximum(i - low, 1), high - i
    rise = (total[high] - total[i]) / right - (total[i] - total[low]) / left
    gap = (clock[high] - clock[i]) / right - (clock[i] - clock[low]) / left
    rise[0], gap[0] = 0.0, 1.0
    return rise / gap


def _stretches(trace: _Trace) -> list[_Stretch]:
    """Between one fast rise and the next: from the top to the next sudden fall, and on after a mere step."""
    rising = trace.slope > max(_T.fill_per_s * trace.peak, trace.slack)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], rising.astype(np.int8), [0]))))
    starts = [0, *(int(k) for k in edges[1::2])]
    ends = [*(int(k) for k in edges[::2]), trace.size.size]
    found = []
    for begin, stop in zip(starts, ends, strict=True):
        first, resumed = _top(trace, begin, stop) if begin else 0, bool(begin)
        while stop - first >= 2 * trace.width or (first == 0 and stop == trace.size.size):
            fall = _sudden_fall(trace, first, stop)
            last = stop - 1 if fall is None else _before_fall(trace, first, fall)
            if fall is None and stop < trace.size.size:
                last = max(first, stop - trace.width)
            if last > first and trace.size[first : first + trace.width].mean() > _T.holds_above * trace.peak:
                found.append(_Stretch(first, last, resumed))
            if fall is None:
                break
            first, resumed = _after_fall(trace, last, fall, stop)
    return found


def _top(trace: _Trace, begin: int, stop: int) -> int:
    """The highest smoothed reading just after a rise: where the valve was shut."""
    first = max(begin - 2 * trace.width, 0)
    latest = trace.t[min(begin, trace.t.size - 1)] + _T.top_within_s
    until = min(stop, int(np.searchsorted(trace.t, latest)) + 1)
    part = trace.size[first:until]
    if part.size < 3:
        return first
    smooth = np.convolve(part, np.ones(3) / 3.0, mode="same")
    smooth[[0, -1]] = part[[0, -1]]
    top = first + int(np.flatnonzero(smooth > smooth.max() - 2.0 * trace.noise)[-1])
    return min(top + int(np.argmax(trace.size[top : top + 2])), stop - 1)


def _sudden_fall(trace: _Trace, first: int, stop: int) -> int | None:
    """Index at which the pressure starts to fall several times faster than a moment before."""
    w = trace.width
    begin, lag = first + 4 * w, 3 * w
    if begin >= stop:
        return None
    slope = trace.slope[first + w : stop]
    now, past = slope[lag:], np.minimum(slope[:-lag], 0.0)
    sudden = np.flatnonzero(now < np.minimum(_T.quicker * past, past - max(2.0 * trace.slack, _NOTICED * trace.peak)))
    return None if sudden.size == 0 else begin + int(sudden[0])


def _before_fall(trace: _Trace, first: int, fall: int) -> int:
    """The last reading before a fall that was noticed, smoothed, near `fall`."""
    w = trace.width
    base = slice(max(fall - 3 * w, first), fall - w + 1) if fall - w > first else slice(first, fall)
    level, slope = trace.size[base].mean(), min(float(trace.slope[max(fall - 2 * w, first)]), 0.0)
    middle = trace.t[base].mean()
    for k in range(base.stop, min(fall + 2 * w, trace.size.size)):
        expected = level + slope * (trace.t[k] - middle)
        if trace.size[k] < expected - max(5.0 * trace.noise, _NOTICED * trace.peak):
            return max(k - 1, first)
    return max(fall - 1, first)


def _after_fall(trace: _Trace, last: int, fall: int, stop: int) -> tuple[int, bool]:
    """Where to look on after a sudden fall, and whether the fall was over at once (a vent, a step).

    One that goes on as it began is the leak itself, after the valve was shut on a steady pressure.
    """
    steepest = fall + int(np.argmin(trace.slope[fall : min(fall + 2 * trace.width, stop)]))
    later = int(np.searchsorted(trace.t, trace.t[steepest] + _T.fall_over_s))
    if later < stop and trace.slope[later] < _T.goes_on * trace.slope[steepest]:
        return max(last, fall - trace.width), False
    calm = np.flatnonzero(trace.slope[steepest:stop] > _T.calm_again * trace.slope[steepest])
    return (stop if calm.size == 0 else steepest + int(calm[0]) + trace.width), True


def _joined(trace: _Trace, stretches: list[_Stretch]) -> list[list[_Stretch]]:
    """Stretches parted only by a small step belong to one hold; pump strokes and refills part holds."""
    holds: list[list[_Stretch]] = []
    for stretch in stretches:
        if holds and _same_hold(trace, holds[-1][-1], stretch):
            holds[-1].append(stretch)
        else:
            holds.append([stretch])
    return holds


def _same_hold(trace: _Trace, before: _Stretch, after: _Stretch) -> bool:
    """A settled hold that goes on near its own level after a short disturbance that did not empty it."""
    level = trace.size[before.last]
    start, stop = sorted((before.last, after.first))  # the next one may be found to begin within this one
    between = trace.size[start : stop + 1]
    settled = trace.t[before.last] - trace.t[before.first] > _T.settled_s
    soon = trace.t[after.first] - trace.t[before.last] < _T.disturbed_s
    near = abs(trace.size[after.first] - level) < _T.near_its_level * level
    near = near and between.min() > _T.not_emptied * level
    near = near and trace.size[after.first] < (1.0 + _T.topped_up) * level  # more is a pump's work
    return bool(settled and after.resumed and soon and near)


def _until_empty(trace: _Trace, part: _Stretch) -> int:
    """End the hold where the circuit is as good as empty, if what follows is plainly the gauge's zero."""
    low = np.flatnonzero(trace.size[part.first : part.last + 1] < _T.empty * trace.peak)
    if low.size == 0:
        return part.last
    empty = part.first + int(low[0])
    rest = trace.size[empty:]
    level = flat_level(rest[rest.size // 2 :], trace.noise)
    return part.last if level is None or trace.t[-1] - trace.t[empty] < _T.zero_for_s else empty
