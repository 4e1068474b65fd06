"""A vent's decay and its speed reckoned a second time: each rule written once more from its words, over random logs.

The readings stand on a grid that meets the levels and their doubts exactly.
"""

from __future__ import annotations

import math
import statistics
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Phase
from leakdown.errors import InputError
from leakdown.judge import vent_decay as room
from leakdown.judge.vent_decay import VentDecay, speed_at, vent_decay
from leakdown.uncertainty import Interval

SHARES = (0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6)  # how far above or below the level a stretch may reach
AMBIENT = 100e3
Numbers = list[float]


def slope_again(t: Numbers, size: Numbers) -> tuple[float, float]:
    """Least squares by the sums of a text book: fall per second, and the sum of squares about the mean time."""
    middle, mean = statistics.fmean(t), statistics.fmean(size)
    spread = math.fsum((x - middle) ** 2 for x in t)
    return -math.fsum((x - middle) * (y - mean) for x, y in zip(t, size, strict=True)) / spread, spread


def fall_again(d: VentDecay, first: int, last: int) -> tuple[float, float]:
    """White noise by the spread; rounding once over the span unless noise is wider than 1.7 of it; the watch."""
    t, size = list(d.time_s[first:last]), list(d.size_pa[first:last])
    fall, spread = slope_again(t, size)
    span = t[-1] - t[0]
    if d.noise_pa > 1.7 * d.rounding_pa:
        squares = (d.noise_pa**2 + d.rounding_pa**2) / spread
    else:
        squares = d.noise_pa**2 / spread + 2.0 * (d.rounding_pa / span) ** 2
    return fall, math.sqrt(squares + (fall * d.clock_s / span) ** 2)


def most_again(d: VentDecay, first: int, last: int) -> float:
    """Two and a half standard deviations above a fall that is no rise."""
    fall, u = fall_again(d, first, last)
    return max(fall, 0.0) + 2.5 * u


def air_again(d: VentDecay, fall: float, half: float, first: int, last: int) -> float:
    """Less what gas (0.3 to 15 s, cooled by the pumping) and wall (0.3 to 150 s, a millionth a pascal) may feign."""
    begin = d.time_s[min(d.shut, first)]
    start, end = float(d.time_s[first] - begin), float(d.time_s[last] - begin)
    least = math.inf
    for k in range(30):
        tau = 0.3 * (15.0 / 0.3) ** (k / 29.0)
        gone = (math.exp(-start / tau) - math.exp(-end / tau)) / (end - start)
        pumped = max(d.fill_s, 1e-3) / tau
        warming = 0.4 / 1.4 * float(d.size_pa[0]) * (1.0 - math.exp(-pumped)) / pumped * gone
        least = min(least, (fall - warming) / (1.0 + 0.4 * math.exp(-start / tau)))
    creep = 0.0
    for k in range(30):
        tau = 0.3 * (150.0 / 0.3) ** (k / 29.0)
        creep = max(creep, (math.exp(-start / tau) - math.exp(-end / tau)) / (end - start))
    return fall - math.sqrt((fall - least) ** 2 + (AMBIENT * 1e-6 * float(d.size_pa[0]) * creep) ** 2 + half**2)


def speed_again(d: VentDecay, level: float) -> Interval | None:
    """Bounds from the stretches above the level and below it; room for 3e-6 of air a pascal in a wall that gives."""
    size, n, u = [float(x) for x in d.size_pa], d.size_pa.size, math.hypot(d.noise_pa, d.rounding_pa)
    if size[0] <= level + u:
        return None
    gives = 1.0 + (AMBIENT - level) * 3e-6
    first = 1 + max(k for k in range(n) if size[k] > level - u)
    if first >= n:
        lasts = {n, max(3, n // 2), max(3, n // 3)}
        return Interval(None, 0.0, gives * min(most_again(d, max(n - k, 0), n) for k in lasts))
    shut = max(k for k in range(n) if size[k] >= size[0] - 3.0 * u) + (1 if d.fill_s > 0.0 else 0)
    stop = min(k for k in range(n) if size[k] < level + u)
    highs = [math.inf]
    for share in SHARES:
        inside = [k for k in range(shut, stop) if size[k] < (1.0 + share) * level]
        if len(inside) > 1:
            highs.append(most_again(d, inside[0], stop))
    above = max(k for k in range(n) if size[k] > level + u)
    gap = float(d.time_s[first] - d.time_s[above]) + d.clock_s
    falls = [((level - size[first]) / gap, u / gap, above, first)]
    for share in SHARES:
        inside = [k for k in range(first, n) if size[k] > (1.0 - share) * level]
        if inside and inside[-1] > first:
            falls.append((*fall_again(d, first, inside[-1] + 1), first, inside[-1]))
    low = max(0.0, *(fall - 2.5 * one for fall, one, *_ in falls))
    of_air = max(0.0, *(air_again(d, fall, 2.5 * one, a, b) for fall, one, a, b in falls))
    high = min(highs)
    if low >= high:
        low, high = high, low
        of_air = min(of_air, low)  # no more air than the lesser bound
    value = math.sqrt(low * high) if low > 0.0 and math.isfinite(high) else None
    return Interval(value, of_air, gives * high)


def test_speeds_reckoned_again() -> None:
    rng, kinds = np.random.default_rng(21), set()
    for _ in range(250):
        n, every = int(rng.integers(2, 26)), float(rng.choice([0.5, 2.0, 5.0]))
        t = np.cumsum(every * rng.choice([1.0, 1.0, 2.0], n))
        steps = 50.0 * rng.integers(0, int(rng.choice([3, 10, 30])), n)
        size = float(rng.choice([5050.0, 6e3, 8e3])) - np.concatenate((np.zeros(2), np.cumsum(steps)))[:n]
        noise, rounding, clock = (float(rng.choice(x)) for x in ((0.0, 30.0), (50.0, 10.0), (0.0, 1.0)))
        size = size + (50.0 * rng.integers(-1, 2, n) if rng.random() < 0.3 else 0.0)
        fill = float(rng.choice([0.0, 0.5, 10.0]))
        d = VentDecay(t - t[0], size, noise, rounding, clock, 0.0, float(t[-1]), fill)
        found, again = speed_at(5e3, d, AMBIENT), speed_again(d, 5e3)
        if again is None:
            assert found is None
        else:
            assert found is not None and (found.value is None) is (again.value is None)
            assert (found.low, found.high) == pytest.approx((again.low, again.high), rel=1e-9, abs=1e-9)
            assert found.value is None or found.value == pytest.approx(again.value, rel=1e-9)
        kinds.add("none" if again is None else (again.value is None, again.low > 0.0, math.isinf(again.high)))
    assert len(kinds) >= 5


def test_the_ends_of_a_decay_reckoned_again() -> None:
    """Mean of a tenth, three readings at most; at rest when a fifth, three at least, moves by less than 15 Pa/s."""
    rng, rests = np.random.default_rng(22), set()
    for n in [*range(1, 46)] * 3:
        t = np.cumsum(rng.choice([0.5, 1.0, 2.0], n)) + 100.0
        size = 5e3 - np.cumsum(rng.integers(-30, 40, n)) * 1.0
        d = VentDecay(t, size, 3.0, 4.0, 0.0, 0.0, 1.0)
        assert d.u_pa == 5.0 and d.start_pa == size[0]
        assert d.shut == max(k for k in range(n) if size[k] >= size[0] - 15.0)
        assert d.end_pa == pytest.approx(statistics.fmean(size[-(1 if n < 20 else 2 if n < 30 else 3) :]))
        last = 3 if n < 20 else n // 5
        if n < 3:
            assert d.rest_pa(15.0) is None
            continue
        fall, _ = slope_again(list(t[-last:]), list(size[-last:]))
        rests.add(abs(fall) < 15.0)
        assert d.rest_pa(15.0) == (pytest.approx(statistics.fmean(size[-last:])) if abs(fall) < 15.0 else None)
    assert rests == {True, False}
    assert VentDecay(np.arange(3.0), np.array([60.0, 45.0, 30.0]), 1.0, 1.0, 0.0, 0.0, 1.0).rest_pa(15.0) is None
    assert VentDecay(np.arange(3.0), np.zeros(3), 1.0, 1.0, 0.0, 0.0, 1.0).fill_s == 0.0


def stop_again(t: Numbers, size: Numbers, u: float) -> int:
    """Up to a step of more than a fifth of the start and six u, three times as fast as the three steps before."""
    for k in range(2, len(t) - 1):
        fall = size[k] - size[k + 1]
        before = [(size[j] - size[j + 1]) / (t[j + 1] - t[j]) for j in range(max(k - 3, 0), k)]
        calm = max(*before, 2.0 * u / (t[k] - t[k - 1]))
        deep = fall > 6.0 * u and fall > 0.2 * size[0]
        if deep and fall / (t[k + 1] - t[k]) > 3.0 * calm and t[k] - t[0] >= 10.0:
            return k + 1
    return len(t)


def test_decays_found_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the first reading within 2 u of the highest, until a hand lets it out; how long it was filled before."""
    rng, kinds = np.random.default_rng(23), set()
    monkeypatch.setattr(room, "white_noise_pa", lambda p: 64.0)
    monkeypatch.setattr(room, "DENSE_FROM", 20)
    for _ in range(250):
        sign, zero = float(rng.choice([1.0, -1.0])), float(rng.choice([0.0, 100.0]))
        rise, n = int(rng.integers(0, 5)), int(rng.integers(1, 22))
        up = np.linspace(0.0, 8e3, rise + 1)[:rise] + 100.0 * rng.integers(0, 3, rise)
        down = 8e3 - np.cumsum(100.0 * rng.integers(0, int(rng.choice([3, 9])), n))
        if n > 6:
            down[int(rng.integers(4, n)) :] -= float(rng.choice([0.0, 1600.0, 1700.0, 3000.0]))
        size = np.concatenate((up, down))
        t = np.cumsum(rng.choice([1.0, 2.0], size.size)) + 50.0
        step, by_hand = (None, 100.0, 48.0 * math.sqrt(12.0))[int(rng.integers(0, 3))], bool(rng.random() < 0.5)
        closed, end = float(t[0]), float(t[-1] - rng.integers(0, 9))
        phases = (Phase("vent", end + float(rng.choice([-1.0, 0.0, 1.0])), float(t[-1])),) if rng.random() < 0.5 else ()
        window = SimpleNamespace(zero=SimpleNamespace(known_pa=zero), closed_s=closed, end_s=end, phases=phases)
        recording = SimpleNamespace(time_s=t, pressure_pa=zero + sign * size, sign=sign, by_hand=by_hand, source="a")
        dense = size.size >= 20
        rounding = 1.0 if step is None else step / math.sqrt(12.0)
        u = math.hypot(64.0 if dense else 0.0, rounding)
        opened = any(p.start_s >= end for p in phases) and end - closed >= 10.0
        stop = sum(1 for x in t if x <= end) if opened else size.size
        parts: Any = SimpleNamespace(recording=recording, window=window, resolution=SimpleNamespace(value=step))
        top = min(k for k in range(stop) if size[k] >= max(size[:stop]) - 2.0 * u)
        count = stop_again(list(t[top:stop]), list(size[top:stop]), u)
        if count < 2 or size[top] <= 0.0:
            with pytest.raises(InputError, match="not two readings"):
                vent_decay(parts)
            continue
        found, empty = vent_decay(parts), [k for k in range(top) if size[k] < 0.1 * size[top]]
        assert found.time_s.tolist() == [x - t[top] for x in t[top : top + count]]
        assert found.size_pa == pytest.approx(size[top : top + count])
        assert (found.noise_pa, found.rounding_pa) == (64.0 if dense else 0.0, pytest.approx(rounding))
        assert found.clock_s == (1.0 if by_hand and not dense else 0.0)
        assert (found.start_s, found.end_s) == (t[top], t[top + count - 1])
        assert found.fill_s == (t[top] - t[empty[-1]] if empty else 0.0)
        kinds.add((count < stop - top, stop < size.size, bool(empty), dense))
    assert len(kinds) >= 8


def test_quickening_at_its_bounds() -> None:
    """40 Pa a second before, by 1 s: three times that is not quicker, a fifth of 8 kPa is not far, from 10 s on."""
    for step, u, every, stops in (
        (1600.0, 1.0, 1.0, False), (1601.0, 1.0, 1.0, True), (1800.0, 300.0, 1.0, False), (1801.0, 300.0, 1.0, True),
        (1801.0, 301.0, 1.0, False), (3200.0, 1.0, 10.0, True), (2400.0, 1.0, 20.0, False), (2401.0, 1.0, 20.0, True),
    ):  # fmt: skip
        size = 8e3 - 40.0 * every * np.arange(12)
        size[11] = size[10] - step
        t = every * np.arange(12)
        assert (room._before_quickening(t, size, u) == 11) is stops, (step, u, every)
        assert room._before_quickening(t[:12] * 0.99 / every, size, u) == 12  # at 9.9 s
    flat = np.array([8e3, 8e3, 8e3, 1e3])  # the third step of three counts, the second does not
    assert room._before_quickening(10.0 * np.arange(4), flat, 1.0) == 3
    assert room._before_quickening(10.0 * np.arange(3), flat[1:], 1.0) == 3


def test_a_step_after_readings_close_together() -> None:
    """2 u over half a second, 800 Pa/s of 200, three times that: 2400 Pa in a second; 6 u where they are far apart."""
    for before_s, u, step, stops in (
        (0.5, 200.0, 2399.0, False), (0.5, 200.0, 2401.0, True),
        (2.0, 300.0, 1800.0, False), (2.0, 300.0, 1801.0, True),
    ):  # fmt: skip
        t = np.array([0.0, 5.0, 10.0, 12.0, 12.0 + before_s, 13.0 + before_s])
        size = np.array([8e3, 8e3, 8e3, 8e3, 8e3, 8e3 - step])
        assert (room._before_quickening(t, size, u) == 5) is stops


def test_the_top_at_its_bound_and_noise_at_its() -> None:
    """48 Pa of rounding: 96 Pa below the highest is the top still. 17 of 10 Pa is not yet wider than 1.7 of it."""
    for first, start_s in ((7904.0, 1.0), (7903.0, 2.0), (7881.0, 2.0)):
        recording = SimpleNamespace(time_s=np.arange(5.0), pressure_pa=np.array([0.0, first, 8e3, 6e3, 5e3]), sign=1.0,
                                    by_hand=False, source="a")  # fmt: skip
        parts: Any = SimpleNamespace(recording=recording, window=None,
                                     resolution=SimpleNamespace(value=48.0 * math.sqrt(12.0)))  # fmt: skip
        assert vent_decay(parts).start_s == start_s
    recording.pressure_pa = np.zeros(5)
    with pytest.raises(InputError, match="not two readings"):
        vent_decay(parts)
    t = np.arange(11.0)
    for noise in (17.0, 17.1):
        d = VentDecay(t, 8e3 - 50.0 * t, noise, 10.0, 0.5, 0.0, 10.0)
        assert room._fall_per_s(d, slice(0, 11)) == pytest.approx(fall_again(d, 0, 11))
