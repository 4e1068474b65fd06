"""Pump strokes in a log, and whether pumping got anywhere. Pure: arrays in, `Pumping` out.

A stroke lifts the reading at once; what it falls by before the next one is the leak's. While a circuit fills,
every stroke tops the last; when the tops stay where they are, the leak takes all that the pump delivers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.tuned import tuned

_T = tuned("hold")
_LEAST_STROKES: int = _T.least_strokes


@dataclass(frozen=True)
class Pumping:
    """The last run of strokes: how many a second, the level that they held, and when; magnitudes.

    strokes: of the part in which nothing was gained. held_pa: its tops. through_pa: the steady level that
    drives as much through a hole as the rise and fall between strokes does (flow goes with the root).
    """

    strokes: int
    per_s: float
    held_pa: float
    through_pa: float
    start_s: float
    end_s: float


@dataclass(frozen=True)
class _Stroke:
    end_s: float
    top_pa: float
    rise_pa: float


def pumping_in_vain(time_s: Array, size_pa: Array, resolution_pa: float) -> Pumping | None:
    """Pumping that no longer raised the reading; None when there was none. size_pa: magnitudes (n,)."""
    if time_s.size < 3 * _LEAST_STROKES:
        return None
    least = max(6.0 * _quiet_noise_pa(size_pa), 2.0 * resolution_pa, _T.least_stroke_pa)
    least = max(least, _T.least_stroke * float(size_pa.max()))
    run = _last_run(_strokes(time_s, size_pa, least))
    part = run[len(run) // 3 :]  # the first ones fill the circuit
    if len(part) < _LEAST_STROKES:
        return None
    times, tops = np.array([s.end_s for s in part]), np.array([s.top_pa for s in part])
    gained = float(np.polyfit(np.arange(len(part)), tops, 1)[0])
    rise = float(np.median([s.rise_pa for s in part]))
    if gained > _T.no_gain * rise:
        return None
    pace = (len(part) - 1) / float(times[-1] - times[0])
    during = np.maximum(size_pa[(time_s >= times[0]) & (time_s <= times[-1])], 0.0)
    through = float(np.mean(np.sqrt(during))) ** 2
    return Pumping(len(part), pace, float(np.median(tops)), through, float(times[0]), float(times[-1]))


def _quiet_noise_pa(size_pa: Array) -> float:
    """Standard deviation of a reading between strokes: from the lowest quarter of the second differences."""
    second = np.abs(size_pa[:-2] - 2.0 * size_pa[1:-1] + size_pa[2:])
    return float(np.quantile(second, 0.25)) / (0.3186 * math.sqrt(6.0))  # quarter of |normal|, variance 6


def _strokes(t: Array, size: Array, least_pa: float) -> list[_Stroke]:
    """Every quick rise of at least `least_pa` between a low and the top after it."""
    found: list[_Stroke] = []
    low = top = 0
    for k in range(1, size.size):
        if size[k] >= size[top]:
            top = k
        if size[top] - size[k] > 0.5 * least_pa:  # past a top
            _add(found, t, size, low, top, least_pa)
            low = top = k
        elif size[k] < size[low]:
            low = top = k
    _add(found, t, size, low, top, least_pa)
    return found


def _add(found: list[_Stroke], t: Array, size: Array, low: int, top: int, least_pa: float) -> None:
    if size[top] - size[low] < least_pa:
        return
    begun = low + int(np.flatnonzero(size[low : top + 1] < size[low] + 0.25 * (size[top] - size[low]))[-1])
    if t[top] - t[begun] <= _T.stroke_s:
        found.append(_Stroke(float(t[top]), float(size[top]), float(size[top] - size[low])))


def _last_run(strokes: list[_Stroke]) -> list[_Stroke]:
    """The strokes of the last pumping, without a long pause."""
    run: list[_Stroke] = []
    for stroke in strokes:
        if run and stroke.end_s - run[-1].end_s > _T.pause_s:
            run = []
        run.append(stroke)
    return run
