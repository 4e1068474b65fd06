"""Openings of a needle found a second time: each rule written once more from its words, over many random logs.

The readings stand on a grid coarse enough that every bound is met exactly by some of them; the lengths of the
logs are those at which a stretch is just long enough or just too short.
"""

from __future__ import annotations

import math
import statistics
from typing import Any

import numpy as np
import pytest

from leakdown.judge.pop_offs import (
    UNWATCHED,
    PopOff,
    _fall_per_s,
    _first_level,
    _next_peak,
    _next_rise,
    _pop,
    _pumped_up,
    at_scale_end,
    pop_offs,
)


def fall_again(level: float) -> float:
    """8 % of the level, 2 kPa at least (common practice, no source)."""
    return 0.08 * level if 0.08 * level > 2e3 else 2e3


def jitter_again(p: list[float]) -> float:
    """The usual step from one reading to the next; none of fewer than three readings."""
    return statistics.median(abs(b - a) for a, b in zip(p, p[1:], strict=False)) if len(p) > 2 else 0.0


def pumped_again(t: list[float], p: list[float], top: int) -> bool:
    """In the 4 s before raised by more than 1.5 % of it, 300 Pa and six usual steps."""
    before = [x for at, x in zip(t, p, strict=True) if t[top] - 4.0 <= at <= t[top]]
    return all(p[top] - min(before) > bound for bound in (0.015 * p[top], 300.0, 6.0 * jitter_again(before)))


def peak_again(t: list[float], p: list[float], begin: int) -> int | None:
    """The last highest reading before a fall within 2 s under the pump; after any other fall it starts afresh."""
    start = begin
    for k in range(begin, len(p)):
        top = max(range(start, k + 1), key=lambda i: (p[i], i))
        if p[top] - p[k] > fall_again(p[top]):
            if t[k] - t[top] <= 2.0 and pumped_again(t, p, top):
                return top
            start = k
    return None


def rise_again(p: list[float], peak: int) -> int:
    """Up again by half of what it fell: an opening's fall at most, half of one at least; from its last low reading."""
    whole = fall_again(p[peak])
    for k in range(peak + 1, len(p)):
        low = min(range(peak, k + 1), key=lambda i: (p[i], i))
        wanted = 0.5 * (p[peak] - p[low])
        wanted = 0.5 * whole if wanted < 0.5 * whole else whole if wanted > whole else wanted
        if p[k] - p[low] > wanted:
            return max(i for i in range(low, k) if p[i] < p[low] + 0.25 * whole) + 1
    return len(p)


def level_again(t: list[float], p: list[float], opening: float) -> tuple[int, int] | None:
    """First 0.3 s in which it moves by less than 6 % of the opening a second, half a fall below; above 12 % of it."""
    for first in range(1, len(p)):
        later = [k for k in range(first, len(t)) if t[k] >= t[first] + 0.3 - 1e-9]
        if not later or p[first] < 0.12 * opening:
            return None
        moved = abs(p[first] - p[later[0]]) / (t[later[0]] - t[first])
        if moved < 0.06 * opening and opening - p[first] > 0.5 * fall_again(opening):
            return first, later[0] + 1
    return None


def line_again(t: list[float], p: list[float], reseat: float) -> tuple[float, float]:
    """Slope and its standard error by the sums of a text book (and scipy's), as a fall per second of the level."""
    middle, mean = statistics.fmean(t), statistics.fmean(p)
    spread = math.fsum((x - middle) ** 2 for x in t)
    slope = math.fsum((x - middle) * (y - mean) for x, y in zip(t, p, strict=True)) / spread
    left = math.fsum((y - mean - slope * (x - middle)) ** 2 for x, y in zip(t, p, strict=True))
    return -slope / reseat, math.sqrt(left / (len(t) - 2) / spread) / reseat


def fall_per_s_again(t: list[float], p: list[float], first: int, reseat: float) -> tuple[float, float]:
    """Whole, second and last third of the stretch up to a fall or a rise; a dribble goes on for a second and more."""
    steps = jitter_again(p[first:])
    last = len(p)
    for k in range(first + 1, len(p)):
        raised = p[k] - min(p[first:k]) > max(0.25 * fall_again(reseat), 6.0 * steps)
        if p[k - 1] - p[k] > fall_again(reseat) or raised:
            last = k
            break
    third = (last - first) // 3
    if third < 4:
        return UNWATCHED
    whole, early, late = (
        line_again(t[a:b], p[a:b], reseat)
        for a, b in ((first, last), (first + third, last - third), (last - third, last))
    )
    most = min(whole[0] + 2.0 * whole[1], late[0] + 2.0 * late[1])
    if most < -0.01:
        return UNWATCHED
    goes_on = late[0] >= 0.7 * early[0] and t[last - 1] - t[first] >= 1.0
    return (max(late[0] - 2.0 * late[1], 0.0) if goes_on else 0.0), most


def pop_again(t: list[float], p: list[float], clipped: bool) -> PopOff:
    """Where it seated is the mean of its level; where it turned when it is pumped on at once, above 12 %."""
    level = level_again(t, p, p[0])
    if level is not None:
        reseat = statistics.fmean(p[level[0] : level[1]])
        return PopOff(t[0], p[0], reseat, fall_per_s_again(t, p, level[0], reseat), clipped)
    low = min(p)
    turned = low > 0.12 * p[0] and p[-1] - low < 0.25 * fall_again(p[0])
    return PopOff(t[0], p[0], low if turned else None, UNWATCHED, clipped)


def walk(rng: Any) -> tuple[list[float], list[float]]:
    """A log of rises, falls, levels and jitter, on a grid."""
    scale, p = float(rng.choice([1e3, 5e3, 20e3])), [0.0]
    while len(p) < 40:
        kind, n = rng.integers(0, 5), int(rng.integers(1, 14))
        step = {0: rng.integers(1, 9, n), 1: -rng.integers(1, 9, n), 2: np.zeros(n), 3: rng.integers(-1, 2, n)}
        step[4] = np.concatenate((rng.integers(6, 9, n) / 8.0, [-rng.integers(1, 40)]))
        p += list(p[-1] + np.cumsum(step[int(kind)] * scale / 8.0))
    t = np.cumsum(rng.choice([0.125, 0.25, 0.5, 1.0]) * rng.choice([1.0, 1.0, 1.0, 2.0], len(p)))
    return [float(x) for x in t], [max(float(x), 0.0) for x in p]


def close(found: PopOff, again: PopOff) -> None:
    assert (found.time_s, found.opening_pa, found.clipped) == (again.time_s, again.opening_pa, again.clipped)
    assert found.reseat_pa == (None if again.reseat_pa is None else pytest.approx(again.reseat_pa))
    assert found.fall_per_s == pytest.approx(again.fall_per_s, rel=1e-6, abs=1e-9)


def test_peaks_rises_and_levels_found_again() -> None:
    rng = np.random.default_rng(11)
    for _ in range(150):
        t, p = walk(rng)
        times, sizes, begin = np.array(t), np.array(p), int(rng.integers(0, 12))
        peak, top = peak_again(t, p, begin), int(rng.integers(1, len(p)))
        assert _next_peak(times, sizes, begin) == peak
        assert _pumped_up(times, sizes, top) == pumped_again(t, p, top)
        assert _next_rise(sizes, top) == rise_again(p, top)
        opening = p[top - 1] or 1e3
        assert _first_level(times[top - 1 :], sizes[top - 1 :], opening) == level_again(
            t[top - 1 :], p[top - 1 :], opening
        )
        flat = [x == p[top] for x in p[max(top - 3, 0) : top + 1]]
        assert at_scale_end(sizes, top) == (p[top] == max(p) and len(flat) == 4 and all(flat))


def test_whole_logs_found_again() -> None:
    """Each opening from its peak up to the next rise; clipped from 98.5 % of the range on, or on a flat top."""
    rng, seen = np.random.default_rng(12), 0
    for _ in range(260):
        t, p = walk(rng)
        full = None if rng.random() < 0.3 else max(p) * float(rng.choice([0.7, 1.0, 1.0 / 0.985, 1.02])) or 1.0
        wanted, begin = [], 0
        while (peak := peak_again(t, p, begin)) is not None:
            stop = rise_again(p, peak)
            flat = p[peak] == max(p) and p[max(peak - 3, 0) : peak + 1] == [p[peak]] * 4
            wanted.append(pop_again(t[peak:stop], p[peak:stop], flat or (full is not None and p[peak] >= 0.985 * full)))
            begin = stop
        found = pop_offs(np.array(t), np.array(p), full)
        assert len(found) == len(wanted)
        for one, again in zip(found, wanted, strict=True):
            close(one, again)
        seen += len(found)
    assert seen > 100


def test_falls_after_closing_found_again() -> None:
    """A level of 60 kPa that dribbles, dies out, is pumped or let out; from twelve readings and one second on."""
    rng, kinds = np.random.default_rng(13), set()
    for case in range(150):
        n, first = int(rng.integers(10, 40)), int(rng.integers(0, 3))
        t = np.arange(first + n) * float(rng.choice([1.0 / 11.0, 0.0625, 0.125, 0.5]))
        slope = float(rng.choice([0.0, 0.005, 0.02, -0.008, -0.0125, -0.03]))
        p = 60e3 * (1.0 - slope * t) + rng.choice([0.0, 1e3]) * np.exp(-t / 0.5)
        p = p + rng.normal(0.0, rng.choice([0.01, 5.0, 150.0]), p.size)
        if case % 3 == 0:  # let out or pumped on, about as far as counts
            p[int(rng.integers(first + 1, p.size)) :] += rng.choice([-4.7e3, -4.9e3, -9e3, 1.1e3, 1.3e3, 5e3])
        found, again = _fall_per_s(t, p, first, 60e3), fall_per_s_again(list(t), list(p), first, 60e3)
        assert found == pytest.approx(again, rel=1e-5, abs=1e-8)
        kinds.add((found == UNWATCHED, found[0] > 0.0))
    assert len(kinds) == 3


def test_the_edges_that_chance_does_not_meet() -> None:
    """Three times four readings are watched, eleven are not; a second is long enough; -1 % a second is no pump yet."""
    t = np.arange(33) * 0.0625
    p = 60e3 - 600.0 * t
    assert _fall_per_s(t[:11], p[:11], 0, 60e3) == UNWATCHED and _fall_per_s(t[:12], p[:12], 0, 60e3) != UNWATCHED
    assert _fall_per_s(t[:16], p[:16], 0, 60e3)[0] == 0.0 < _fall_per_s(t[:17], p[:17], 0, 60e3)[0]
    for per_s, watched in ((-0.0099, True), (-0.0101, False)):
        rising = 60e3 * (1.0 - per_s * t)
        assert (_fall_per_s(t, rising, 0, 60e3) != UNWATCHED) is watched
    # by exactly a turn of 1200 Pa, or exactly the 4800 Pa of an opening, it is neither pumped nor let out
    for step, stops in ((1200.0, False), (1201.0, True), (-4800.0, False), (-4801.0, True)):
        moved = np.where(np.arange(33) < 10, 60e3, 60e3 + step)
        assert (_fall_per_s(t, moved, 0, 60e3) == UNWATCHED) is stops
    # empty is below 12 % of the opening; seated a turn below the last reading is pumped on
    for low, seated in ((12.0e3, False), (12.1e3, True)):
        assert (_pop(np.arange(3) * 0.1, np.array([100e3, 50e3, low]), False).reseat_pa is not None) is seated
    for end, seated in ((41.9e3, True), (42e3, False)):
        assert (_pop(np.arange(3) * 0.1, np.array([100e3, 40e3, end]), False).reseat_pa is not None) is seated
    t2 = np.arange(6) * 0.3
    for first, found in ((96e3, None), (95.9e3, (1, 3))):
        assert _first_level(t2, np.array([100e3, *[first] * 5]), 100e3) == found
    for second, found in ((60e3 - 1799.0, (1, 3)), (60e3 - 1801.0, None)):
        assert _first_level(t2[:3], np.array([100e3, 60e3, second]), 100e3) == found
    assert _first_level(t2[:3], np.array([100e3, 12e3, 12e3]), 100e3) == (1, 3)
    # half of a fall of 10 kPa is enough: 5.5 up, not 4.9
    for up, stop in ((95.5e3, 2), (94.9e3, 3)):
        assert _next_rise(np.array([100e3, 90e3, up]), 0) == stop
    assert math.isinf(UNWATCHED[1]) and UNWATCHED[0] == 0.0
