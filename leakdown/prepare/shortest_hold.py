"""The shortest hold that decides a limit, and proof that half of it does not, by simulated tests.

Next to the shortest hold the verdict does not improve evenly: four readings may leave more open than three,
because the fourth can show that the first three did not fit. So the search climbs from below, reading by
reading, and looks at half of what it found and at longer holds before it answers.
"""

from __future__ import annotations

import itertools
import math
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


@dataclass(frozen=True)
class ShortestHold:
    """A hold (None: none decides), its tests, those of half of it, a longer hold that leaves more open."""

    hold_s: float | None = None
    count: Count = Count()
    half_s: float = 0.0
    half_count: Count = Count()
    open_s: float | None = None


def shortest(simulator: Simulator, longest_s: float, allowed_pa_s: float) -> ShortestHold:
    """The shortest hold up to `longest_s` that decides the limit of the simulator's test."""
    holds = holds_worth_trying(simulator.test, longest_s)
    at = _first(simulator, holds, _begin(simulator.test, holds, allowed_pa_s))
    found = _proved(simulator, holds, at)
    if found.hold_s is None:
        return found
    return _surer(simulator, holds, found)


def begun_with_the_valve(simulator: Simulator, hold_s: float, longest_s: float) -> tuple[float | None, Count]:
    """How long a sheet that begins with the valve must be read to be as sure as `hold_s` after the steps.

    Reckoned from the slopes of the gas's own balance, then simulated a few times. None where none is as sure.
    """
    test = simulator.test
    leaks = [_with_start(test, size, share) for size in (HALF, TWICE) for share in _T.viscous_shares]
    wanted = _T.as_sure * doubt(test, leaks, hold_s, "watch")
    holds = [hold for hold in holds_worth_trying(test, longest_s) if hold >= hold_s - 1e-9]
    found = next((hold for hold in holds if doubt(test, leaks, hold, "valve") <= wanted), None)
    batches = [Batch(found or hold_s, _T.valve_rounds, 401 + 1000 * k, 99, "valve") for k in (0, 1)]
    first, second = simulator.counts(batches)
    return found, first.plus(second)


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


def _begin(test: PlannedTest, holds: list[float], allowed_pa_s: float) -> int:
    """Index below which no hold can decide, by the detection limit or because the limit is read off."""
    low, high = -1, len(holds) - 1
    if test.limit.kind == "drop":
        high = min(high, next((k for k, hold in enumerate(holds) if hold > 0.5 * test.limit.time_s), high))
    while high - low > 1:
        middle = (low + high) // 2
        if detection_pa_s(test, holds[middle]) > _T.begin_detection_over_limit * allowed_pa_s:
            low = middle
        else:
            high = middle
    return high


def _first(simulator: Simulator, holds: list[float], begin: int) -> int:
    """Index of the first hold that looks decided on the way up, less the step that was passed over."""
    for at in range(begin, len(holds), _STRIDE):
        if _count(simulator, holds[at], _T.look_rounds, 2 + at, most_missed=1).missed <= 2:
            return max(at - _STRIDE + 1, begin)
    return len(holds)


def _proved(simulator: Simulator, holds: list[float], begin: int) -> ShortestHold:
    """The first hold from `begin` on that decides, tested with fresh scatter, and its half.

    One that now and then does not, where half of it does as often, is no answer: time is not what is short.
    """
    for at in _climb(begin, len(holds)):
        count = _proof(simulator, holds[at])
        if count is None:
            continue
        found = ShortestHold(holds[at], count, *_half(simulator, holds[at]))
        if found.half_count.share <= CLEARLY_FEWER:
            return found
        return _lower(simulator, holds[:at], found) or (found if count.missed <= 1 else ShortestHold())
    return ShortestHold()


def _climb(begin: int, end: int) -> Iterator[int]:
    """Every index at first, then in ever longer strides: what takes so long needs no fine answer."""
    at, tried = begin, 0
    while at < end:
        yield at
        at, tried = at + 1 + tried // 3, tried + 1


def _proof(simulator: Simulator, hold_s: float) -> Count | None:
    """The tests of a hold that misses next to none; None for any other. Sheets need more tests to tell."""
    count = _tests(simulator, hold_s, most_missed=1)
    if count.missed <= 1 and simulator.test.by_hand:
        count = count.plus(_count(simulator, hold_s, _T.proof_rounds_by_hand, 151, most_missed=2))
        return count if count.missed <= _T.few_missed else None
    return count if count.missed <= 1 else None


def _tests(simulator: Simulator, hold_s: float, most_missed: int) -> Count:
    """The tests that prove a hold, with scatter that the way up did not see."""
    rounds = _T.proof_rounds_by_hand if simulator.test.by_hand else _T.proof_rounds
    return _count(simulator, hold_s, rounds, 101, most_missed)


def _lower(simulator: Simulator, holds: list[float], found: ShortestHold) -> ShortestHold | None:
    """Half of the hold found, or one between, that decides nine in ten and whose half does not."""
    between = [hold for hold in holds if hold > found.half_s + 1e-9][::_STRIDE]
    halves = [(found.half_s, found.half_count)] if found.half_count.share >= _T.decided_share else []
    for hold_s, count in itertools.chain(halves, ((hold, _tests(simulator, hold, 2)) for hold in between)):
        of_all = 1.0 - count.missed / max(sum(count.tried), 1)  # tight circuits among them
        if min(count.share, of_all) >= _T.decided_share:
            half_s, half = _half(simulator, hold_s)
            if half.share <= CLEARLY_FEWER:
                return ShortestHold(hold_s, count, half_s, half)
    return None


def _half(simulator: Simulator, hold_s: float) -> tuple[float, Count]:
    """Half of a hold as far as there are readings, and its tests."""
    every = simulator.test.every_s
    half_s = round(math.floor(0.5 * hold_s / every + 1e-9) * every, 9)
    count = _count(simulator, half_s, _T.half_rounds, 201, most_missed=_T.half_missed_for_sure)
    if count.share > CLEARLY_FEWER:  # so near to deciding that twice as many tests have to tell
        more = _count(simulator, half_s, _T.half_rounds, 251, most_missed=_T.half_missed_for_sure)
        count = count.plus(more)
    return half_s, count


def _count(simulator: Simulator, hold_s: float, rounds: int, seed: int, most_missed: int) -> Count:
    """Twice `rounds`, in two processes; more misses than `most_missed` in either end that one early."""
    first, second = simulator.counts([Batch(hold_s, rounds, seed + 1000 * k, most_missed) for k in (0, 1)])
    return first.plus(second)


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
