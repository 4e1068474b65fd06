"""The shortest hold that decides a limit, and proof that half of it does not, by rehearsed tests.

Next to the shortest hold the verdict does not improve evenly: four readings may leave more doubt than three,
because the fourth can show that the first three did not fit. So the search climbs from below, reading by
reading, and looks at half of what it found and at longer holds before it answers.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from leakdown.errors import LeakdownError
from leakdown.prepare.rehearsal import Bench, rehearsed
from leakdown.prepare.trials import Count, Crew, Job

DECIDED = 0.9  # of the tests with a leak, at least
CLEARLY_FEWER = 0.8  # of the tests at half the hold
_STEP = 1.12  # from one hold that is tried to the next
_STRIDE = 2  # steps at a time, on the way up
_BY_HAND_S, _FEW_READINGS = 2.0, 5  # read so slowly, or so few, that a longer hold may leave more doubt
_BEGIN = 2.0  # detection limit over limit: above it a leak of half the limit cannot pass
_LOOK_ROUNDS, _PROOF_ROUNDS, _HALF_ROUNDS, _LONGER_ROUNDS = 2, 5, 4, 3  # in each of two processes
_PROOF_ROUNDS_BY_HAND, _MORE_ROUNDS_BY_HAND = 6, 6  # the readings are few, so that each rounding counts
_FEW_MISSED = 2  # of 60
_LOW_FOR_SURE = 5  # misses in half the hold, in either process, that leave no doubt
_LONGER = (1.5, 3.0)


@dataclass(frozen=True)
class Proved:
    """A hold (None: none decides), its tests, those of half of it, a longer hold that leaves more open."""

    hold_s: float | None = None
    count: Count = Count()
    half_s: float = 0.0
    half_count: Count = Count()
    open_s: float | None = None


def shortest(crew: Crew, longest_s: float, allowed_pa_s: float) -> Proved:
    """The shortest hold up to `longest_s` that decides the limit of the crew's bench."""
    holds = ladder(crew.bench, longest_s)
    at = _first(crew, holds, _begin(crew.bench, holds, allowed_pa_s))
    found = _proved(crew, holds, at)
    if found.hold_s is None:
        return found
    return _surer(crew, holds, found)


def ladder(bench: Bench, longest_s: float) -> list[float]:
    """Holds worth trying, each a whole number of readings, a first and a second at least."""
    holds, readings = [], 1
    while readings == 1 or readings * bench.every_s <= longest_s:
        holds.append(round(readings * bench.every_s, 9))
        readings = max(math.ceil(readings * _STEP), readings + 1)
    return holds


def detection_pa_s(bench: Bench, hold_s: float) -> float:
    """The smallest loss rate that such a hold sees 95 times in 100 (infinite when it sees nothing)."""
    try:
        leak = rehearsed(bench, 0.0, hold_s, seed=3).leak
    except LeakdownError:
        return math.inf
    return math.inf if leak is None else leak.detection_rate_pa_s


def _begin(bench: Bench, holds: list[float], allowed_pa_s: float) -> int:
    """Index below which no hold can decide, by the detection limit or because the limit is read off."""
    low, high = -1, len(holds) - 1
    if bench.limit.kind == "drop":
        high = min(high, next((k for k, hold in enumerate(holds) if hold > 0.5 * bench.limit.time_s), high))
    while high - low > 1:
        middle = (low + high) // 2
        if detection_pa_s(bench, holds[middle]) > _BEGIN * allowed_pa_s:
            low = middle
        else:
            high = middle
    return high


def _first(crew: Crew, holds: list[float], begin: int) -> int:
    """Index of the first hold that looks decided on the way up, less the step that was passed over."""
    for at in range(begin, len(holds), _STRIDE):
        if _count(crew, holds[at], _LOOK_ROUNDS, 2 + at, most_missed=1).missed <= 2:
            return max(at - _STRIDE + 1, begin)
    return len(holds)


def _proved(crew: Crew, holds: list[float], begin: int) -> Proved:
    """The first hold from `begin` on that decides, tested with fresh scatter, and its half.

    One that now and then does not, where half of it does as often, is no answer: time is not what is short.
    """
    for at in _climb(begin, len(holds)):
        count = _proof(crew, holds[at])
        if count is None:
            continue
        found = Proved(holds[at], count, *_half(crew, holds[at]))
        if found.half_count.share <= CLEARLY_FEWER:
            return found
        return _lower(crew, holds[:at], found) or (found if count.missed <= 1 else Proved())
    return Proved()


def _climb(begin: int, end: int) -> Iterator[int]:
    """Every index at first, then in ever longer strides: what takes so long needs no fine answer."""
    at, tried = begin, 0
    while at < end:
        yield at
        at, tried = at + 1 + tried // 3, tried + 1


def _proof(crew: Crew, hold_s: float) -> Count | None:
    """The tests of a hold that misses next to none; None for any other. Sheets need more tests to tell."""
    count = _tests(crew, hold_s, most_missed=1)
    if count.missed <= 1 and crew.bench.every_s > _BY_HAND_S:
        count = count.plus(_count(crew, hold_s, _MORE_ROUNDS_BY_HAND, 151, most_missed=2))
        return count if count.missed <= _FEW_MISSED else None
    return count if count.missed <= 1 else None


def _tests(crew: Crew, hold_s: float, most_missed: int) -> Count:
    """The tests that prove a hold, with scatter that the way up did not see."""
    rounds = _PROOF_ROUNDS_BY_HAND if crew.bench.every_s > _BY_HAND_S else _PROOF_ROUNDS
    return _count(crew, hold_s, rounds, 101, most_missed)


def _lower(crew: Crew, holds: list[float], found: Proved) -> Proved | None:
    """Half of the hold found, or one between, that decides nine in ten and whose half does not."""
    between = [hold for hold in holds if hold > found.half_s + 1e-9][::_STRIDE]
    halves = [(found.half_s, found.half_count)] if found.half_count.share >= DECIDED else []
    for hold_s, count in itertools.chain(halves, ((hold, _tests(crew, hold, 2)) for hold in between)):
        if min(count.share, count.share_of_all) >= DECIDED:
            half_s, half = _half(crew, hold_s)
            if half.share <= CLEARLY_FEWER:
                return Proved(hold_s, count, half_s, half)
    return None


def _half(crew: Crew, hold_s: float) -> tuple[float, Count]:
    """Half of a hold as far as there are readings, and its tests."""
    every = crew.bench.every_s
    half_s = round(math.floor(0.5 * hold_s / every + 1e-9) * every, 9)
    count = _count(crew, half_s, _HALF_ROUNDS, 201, most_missed=_LOW_FOR_SURE)
    if count.share > CLEARLY_FEWER:  # so near to deciding that twice as many tests have to tell
        count = count.plus(_count(crew, half_s, _HALF_ROUNDS, 251, most_missed=_LOW_FOR_SURE))
    return half_s, count


def _count(crew: Crew, hold_s: float, rounds: int, seed: int, most_missed: int) -> Count:
    """Twice `rounds`, in two processes; more misses than `most_missed` in either end that one early."""
    first, second = crew.counts([Job(hold_s, rounds, seed + 1000 * k, most_missed) for k in (0, 1)])
    return first.plus(second)


def _surer(crew: Crew, holds: list[float], found: Proved) -> Proved:
    """`found`, or a longer hold when those between leave more open and its half decides too little."""
    hold_s, every = float(found.hold_s or 0.0), crew.bench.every_s
    if every <= _BY_HAND_S and hold_s / every >= _FEW_READINGS:
        return found
    longer = [h for h in (math.ceil(f * hold_s / every - 1e-9) * every for f in _LONGER) if h <= holds[-1]]
    counts = crew.counts([Job(h, _LONGER_ROUNDS, 301, most_missed=1) for h in longer])
    still_open = [h for h, count in zip(longer, counts, strict=True) if count.missed > 1]
    if not still_open:
        return found
    if still_open[-1] == longer[-1]:  # no end to it in sight
        return replace(found, open_s=still_open[0])
    beyond = next((k for k, h in enumerate(holds) if h > still_open[-1]), len(holds))
    top = next((k for k, h in enumerate(holds) if h > _LONGER[-1] * hold_s), len(holds))
    later = _proved(crew, holds[:top], beyond)
    if (later.hold_s or 0.0) > hold_s and later.half_count.share <= CLEARLY_FEWER:
        return later
    return replace(found, open_s=still_open[0])
