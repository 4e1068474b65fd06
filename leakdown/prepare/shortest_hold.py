"""The shortest hold that decides a limit, and proof that half of it does not, by simulated tests.

A hold is begun with that the slopes of the gas's balance suggest, and moved by how far the intervals of a few
simulated tests stay clear of the limit. Next to the shortest hold the verdict does not improve evenly: four readings
may leave more open than three, because the fourth can show that the first three did not fit. So what is found is
proved with fresh tests, climbing where they miss, and half of it and longer holds are looked at before the answer.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace

from leakdown.errors import LeakdownError
from leakdown.physics.leak import Leak
from leakdown.prepare.gas import doubt
from leakdown.prepare.planned_test import PlannedTest
from leakdown.prepare.simulate import HALF, TWICE, Batch, Count, Simulator, limit_leak, simulated
from leakdown.tuned import tuned

_T = tuned("prepare")
CLEARLY_FEWER: float = _T.clearly_fewer
_STRIDE: int = _T.stride
_MAY_MISS = 2  # tests of those that prove a hold, both times together


@dataclass(frozen=True)
class ShortestHold:
    """A hold (None: none decides), its tests, those of half of it, a longer hold that leaves more open."""

    hold_s: float | None = None
    count: Count = Count()
    half_s: float = 0.0
    half_count: Count = Count()
    open_s: float | None = None


def shortest(simulator: Simulator, longest_s: float) -> ShortestHold:
    """The shortest hold up to `longest_s` that decides the limit of the simulator's test."""
    holds = holds_worth_trying(simulator.test, longest_s)
    found = _proved(simulator, holds, _first(simulator, holds))
    if found.hold_s is None:
        return found
    return _surer(simulator, holds, found)


def begun_with_the_valve(simulator: Simulator, hold_s: float, longest_s: float) -> tuple[float | None, Count]:
    """How long a sheet that begins with the valve must be read to be as sure as `hold_s` after the steps.

    Reckoned from the slopes of the gas's own balance, then simulated a few times. None where none is as sure.
    """
    test = simulator.test
    leaks = _leaks_of(test)
    wanted = _T.as_sure * doubt(test, leaks, hold_s, "watch")
    holds = [hold for hold in holds_worth_trying(test, longest_s) if hold >= hold_s - 1e-9]
    found = next((hold for hold in holds if doubt(test, leaks, hold, "valve") <= wanted), None)
    return found, simulator.counts([Batch(found or hold_s, _T.valve_rounds, 401, begin="valve")])[0]


def _leaks_of(test: PlannedTest) -> list[Leak]:
    """Half and twice the limit's leak, by each of the flow laws that are simulated."""
    return [_with_start(test, size, share) for size in (HALF, TWICE) for share in _T.viscous_shares]


def _with_start(test: PlannedTest, size: float, share: float) -> Leak:
    leak = limit_leak(test, share)
    start = test.barometer_pa + test.sign * test.start_pa
    return Leak(size * leak.viscous, size * leak.orifice, start, back=leak.back)


def holds_worth_trying(test: PlannedTest, longest_s: float) -> list[float]:
    """Holds worth trying, each a whole number of readings, a first and a second at least."""
    holds, readings = [], 1
    while readings == 1 or readings * test.every_s <= longest_s:
        holds.append(round(readings * test.every_s, 9))
        readings = max(math.ceil(readings * _T.hold_step), readings + 1)
    return holds


def detection_pa_s(test: PlannedTest, hold_s: float) -> float:
    """The smallest loss rate that such a hold sees 95 times in 100 (infinite when it sees nothing)."""
    try:
        leak = simulated(test, 0.0, hold_s, seed=3).leak
    except LeakdownError:
        return math.inf
    return math.inf if leak is None else leak.detection_rate_pa_s


def _first(simulator: Simulator, holds: list[float]) -> int:
    """Index of the first hold that looks decided; how many holds there are when none does."""
    low, high, at, before = -1, len(holds), _guess(simulator.test, holds), None
    while True:
        reach = simulator.counts([Batch(holds[at], _T.look_rounds, 2 + at, tight=False)])[0].reach
        aim = _aimed(holds, at, reach, before)
        low, high = (low, at) if reach <= 1.0 else (at, high)
        if high - low <= _STRIDE or at - _STRIDE <= aim <= at:
            return high
        at, before = min(max(aim, low + 1), high - 1), (at, reach)


def _guess(test: PlannedTest, holds: list[float]) -> int:
    """Index of the first hold whose linear doubt is small enough, or as small as it becomes."""
    leaks = _leaks_of(test)
    enough = max(_T.begin_doubt, _T.begin_doubt_over_least * doubt(test, leaks, holds[-1], "watch"))
    at = bisect_left(holds, -enough, key=lambda hold: -doubt(test, leaks, hold, "watch"))
    return min(at, len(holds) - 1)


def _aimed(holds: list[float], at: int, reach: float, before: tuple[int, float] | None) -> int:
    """Index of the hold at which an unlucky test should just be decided, by how it reaches at one and one before."""
    power = _T.narrows_with_time
    if before is not None:
        fell = math.log(before[1] / reach) / math.log(holds[at] / holds[before[0]])
        bump = fell < -_T.narrows_least  # passed step by step
        power = power if bump else min(max(fell, _T.narrows_least), power)
    return bisect_left(holds, holds[at] * reach ** (1.0 / power))


def _proved(simulator: Simulator, holds: list[float], begin: int) -> ShortestHold:
    """The first hold from `begin` on that decides, tested with fresh scatter, and its half.

    One of which half decides as often is no answer: time is not what is short. Where several in a row do not decide,
    the longest is asked whether any will.
    """
    for tried, at in enumerate(_climb(begin, len(holds))):
        count = _proof(simulator, holds[at])
        if count is None:
            if tried == _T.in_vain and _proof(simulator, holds[-1]) is None:
                break
            continue
        found = ShortestHold(holds[at], count, *_half(simulator, holds[at]))
        if found.half_count.share <= CLEARLY_FEWER:
            return found
        return _lower(simulator, holds[:at], found) or found
    return ShortestHold()


def _climb(begin: int, end: int) -> Iterator[int]:
    """Every index at first, then in ever longer strides: what takes so long needs no fine answer."""
    at, tried = begin, 0
    while at < end:
        yield at
        at, tried = at + 1 + tried // 3, tried + 1


def _proof(simulator: Simulator, hold_s: float) -> Count | None:
    """The tests of a hold of which next to none misses and none passes by a hair; None for any other.

    What these leave open is tested once more.
    """
    count = _tests(simulator, hold_s, 101)
    if not _decides(count) and count.missed <= _MAY_MISS and count.reach <= _T.doubtful_reach:
        count = count.plus(_tests(simulator, hold_s, 151, _MAY_MISS - count.missed))
    return count if _decides(count) else None


def _decides(count: Count) -> bool:
    return sum(count.decided) >= _T.proven_share * sum(count.tried) and count.reach <= 1.0


def _tests(simulator: Simulator, hold_s: float, seed: int, most_missed: int = _MAY_MISS) -> Count:
    """The tests that prove a hold, with scatter that the way up did not see. Of sheets more: each rounding counts."""
    rounds = _T.proof_rounds_by_hand if simulator.test.by_hand else _T.proof_rounds
    return simulator.counts([Batch(hold_s, rounds, seed, most_missed)])[0]


def _lower(simulator: Simulator, holds: list[float], found: ShortestHold) -> ShortestHold | None:
    """Half of the hold found, or one between, that decides nine in ten and whose half does not."""
    between = [hold for hold in holds if hold > found.half_s + 1e-9][::_STRIDE]
    halves = [(found.half_s, found.half_count)] if _decides(found.half_count) else []
    for hold_s, count in itertools.chain(halves, ((hold, _tests(simulator, hold, 101)) for hold in between)):
        if _decides(count):
            half_s, half = _half(simulator, hold_s)
            if half.share <= CLEARLY_FEWER:
                return ShortestHold(hold_s, count, half_s, half)
    return None


def _half(simulator: Simulator, hold_s: float) -> tuple[float, Count]:
    """Half of a hold as far as there are readings, and its tests."""
    every = simulator.test.every_s
    half_s = round(math.floor(0.5 * hold_s / every + 1e-9) * every, 9)
    batch = Batch(half_s, _T.half_rounds, 201, _T.half_missed_for_sure, tight=False)
    count = simulator.counts([batch])[0]
    if count.share > CLEARLY_FEWER:  # so near to deciding that twice as many tests have to tell
        count = count.plus(simulator.counts([replace(batch, seed=251)])[0])
    return half_s, count


def _surer(simulator: Simulator, holds: list[float], found: ShortestHold) -> ShortestHold:
    """`found`, or a longer hold when those between leave more open and its half decides too little."""
    hold_s, every = float(found.hold_s or 0.0), simulator.test.every_s
    if not simulator.test.by_hand and hold_s / every >= _T.few_readings:
        return found
    longer = [math.ceil(f * hold_s / every - 1e-9) * every for f in _T.longer_holds]
    longer = [h for h in longer if h <= holds[-1]]
    counts = simulator.counts([Batch(h, _T.longer_rounds, 301, most_missed=1) for h in longer])
    still_open = [h for h, count in zip(longer, counts, strict=True) if count.missed > 1]
    if not still_open:
        return found
    if still_open[-1] == longer[-1]:  # no end to it in sight
        return replace(found, open_s=still_open[0])
    beyond = next((k for k, h in enumerate(holds) if h > still_open[-1]), len(holds))
    top = next((k for k, h in enumerate(holds) if h > _T.longer_holds[-1] * hold_s), len(holds))
    later = _proved(simulator, holds[:top], beyond)
    if (later.hold_s or 0.0) > hold_s and later.half_count.share <= CLEARLY_FEWER:
        return later
    return replace(found, open_s=still_open[0])
