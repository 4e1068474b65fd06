"""The log-rank statistic of two groups of lifetimes, and its exact permutation distribution.

Mantel, Cancer Chemother. Rep. 50 (1966) 163; as a linear rank statistic Peto & Peto, J. R. Stat. Soc. A 135
(1972) 185: every run has a score, and the statistic (deaths seen less deaths expected) is the sum of the scores
of one group. Scores are kept as whole numbers over one denominator, so ties are exact ties.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from leakdown.tuned import tuned

_T = tuned("runs")
_SEED = 20_260_101  # any fixed one: the same runs give the same answer


@dataclass(frozen=True)
class Chance:
    """How likely the labels alone give at least what was seen.

    longer: one-sided p of "the second group lasts longer"; shorter: of the opposite. least: the smallest p that
    these runs could have given in either direction. sampled: by drawing labels, since there are too many.
    """

    longer: float
    shorter: float
    least: float
    sampled: bool


def scores(times_s: Sequence[float], events: Sequence[bool]) -> tuple[Fraction, ...]:
    """Each run's log-rank score: 1 for an event, less the sum of deaths over runs at risk up to its time.

    times_s: (n,) >= 0; events: (n,), False where it was stopped (censored: at risk up to and at its time). They
    sum to zero, and the score of one that lasts is negative.
    """
    ends = sorted({t for t, event in zip(times_s, events, strict=True) if event})
    steps = [(t, Fraction(_dead(t, times_s, events), sum(u >= t for u in times_s))) for t in ends]
    return tuple(
        Fraction(int(event)) - sum((step for at, step in steps if at <= t), Fraction(0))
        for t, event in zip(times_s, events, strict=True)
    )


def _dead(at: float, times_s: Sequence[float], events: Sequence[bool]) -> int:
    return sum(event and t == at for t, event in zip(times_s, events, strict=True))


def statistic(times_s: Sequence[float], events: Sequence[bool], second: Sequence[bool]) -> tuple[float, float]:
    """(deaths seen less expected in the second group, its hypergeometric variance).

    The first over the root of the second is the standard normal form of the tables.
    """
    variance = Fraction(0)
    for at in sorted({t for t, event in zip(times_s, events, strict=True) if event}):
        risk = sum(t >= at for t in times_s)
        own = sum(t >= at and s for t, s in zip(times_s, second, strict=True))
        dead = _dead(at, times_s, events)
        if risk > 1:
            variance += Fraction(dead * own * (risk - own) * (risk - dead), risk * risk * (risk - 1))
    seen = sum((c for c, s in zip(scores(times_s, events), second, strict=True) if s), Fraction(0))
    return float(seen), float(variance)


def chance(times_s: Sequence[float], events: Sequence[bool], second: Sequence[bool]) -> Chance:
    """The permutation distribution of the sum of scores: every way to name as many runs "second"."""
    return chance_in_blocks([(times_s, events, second)])


def chance_in_blocks(blocks: Sequence[tuple[Sequence[float], Sequence[bool], Sequence[bool]]]) -> Chance:
    """The same with the labels changed within each block alone: (times, events, second) a block."""
    return _chance(tuple((tuple(t), tuple(e), tuple(s)) for t, e, s in blocks))


@lru_cache(maxsize=512)
def _chance(blocks: tuple[tuple[tuple[float, ...], tuple[bool, ...], tuple[bool, ...]], ...]) -> Chance:
    parts = [(scores(t, e), s) for t, e, s in blocks]
    denominator = math.lcm(*(c.denominator for cs, _ in parts for c in cs))
    whole = [([int(c * denominator) for c in cs], s) for cs, s in parts]
    seen = sum(c for cs, s in whole for c, own in zip(cs, s, strict=True) if own)
    ways = math.prod(math.comb(len(cs), sum(s)) for cs, s in whole)
    if ways > _T.most_ways or denominator > 2**50:
        return _sampled(whole, seen)
    sums = _all_sums(whole)
    at_most, at_least = int(np.sum(sums <= seen)), int(np.sum(sums >= seen))
    least = min(int(np.sum(sums == sums.min())), int(np.sum(sums == sums.max())))
    return Chance(at_most / ways, at_least / ways, least / ways, False)


def _all_sums(blocks: list[tuple[list[int], tuple[bool, ...]]]) -> NDArray[np.int64]:
    """The sum of the second group's scores for every way to label the runs."""
    total = np.zeros(1, dtype=np.int64)
    for cs, second in blocks:
        by_size: list[NDArray[np.int64]] = [np.zeros(1, dtype=np.int64)]
        for c in cs:  # sums of every subset by its size, one run more at a time
            longer = [part + c for part in by_size]
            none = np.zeros(0, dtype=np.int64)
            by_size = [
                np.concatenate([kept, taken]) for kept, taken in zip([*by_size, none], [none, *longer], strict=True)
            ][: sum(second) + 1]
        total = np.add.outer(total, by_size[sum(second)]).ravel()
    return total


def _sampled(blocks: list[tuple[list[int], tuple[bool, ...]]], seen: int) -> Chance:
    """Labels drawn at random; what was seen counts as one of them, so p is never too small (Phipson & Smyth 2010)."""
    rng, draws = np.random.default_rng(_SEED), int(_T.label_draws)
    scale = float(max((abs(c) for cs, _ in blocks for c in cs), default=1) or 1)
    sums = np.zeros(draws)
    for cs, second in blocks:
        order = rng.random((draws, len(cs))).argsort(axis=1)[:, : sum(second)]
        sums += np.array([c / scale for c in cs])[order].sum(axis=1)
    own, slack = seen / scale, 1e-9
    longer, shorter = (int(np.sum(s <= slack)) for s in (sums - own, own - sums))
    return Chance((1 + longer) / (1 + draws), (1 + shorter) / (1 + draws), 0.0, True)
