"""The log-rank statistic and its permutation distribution, against other ways to reckon them."""

from __future__ import annotations

import itertools
import math
import random

import pytest
from scipy import stats

from leakdown.runs.logrank import chance, chance_in_blocks, statistic
from leakdown.runs.median import median_time

# Freireich et al., Blood 21 (1963) 699: weeks of remission under 6-MP and placebo, the worked example of many
# textbooks (values from memory): 9 seen in the treated group against 19.25 expected, chi2 = 16.79.
TREATED = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
RELAPSED = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def _by_the_tables(times, events, second):
    """Deaths seen less expected in the second group, table by table: no scores."""
    total = 0.0
    for at in {t for t, e in zip(times, events, strict=True) if e}:
        risk = [s for t, s in zip(times, second, strict=True) if t >= at]
        dead = [s for t, e, s in zip(times, events, second, strict=True) if e and t == at]
        total += sum(dead) - len(dead) * sum(risk) / len(risk)
    return total


def _enumerated(times, events, second):
    seen = _by_the_tables(times, events, second)
    found = []
    for pick in itertools.combinations(range(len(times)), sum(second)):
        found.append(_by_the_tables(times, events, [k in pick for k in range(len(times))]))
    return sum(x <= seen + 1e-9 for x in found) / len(found), sum(x >= seen - 1e-9 for x in found) / len(found)


def test_the_permutation_is_that_of_an_independent_enumeration():
    rng = random.Random(4)
    for _ in range(40):
        n = rng.randint(2, 9)
        times = [rng.choice([0, 30, 30, 45, 60, 120, rng.uniform(10, 300)]) for _ in range(n)]
        events = [rng.random() < 0.7 for _ in range(n)]
        second = [True, False] + [rng.random() < 0.5 for _ in range(n - 2)]
        got = chance(times, events, second)
        assert (got.longer, got.shorter) == pytest.approx(_enumerated(times, events, second), abs=1e-12)
        assert not got.sampled


@pytest.mark.parametrize("n, least", [(2, 1 / 6), (3, 1 / 20), (4, 1 / 70), (6, 1 / 924)])
def test_the_smallest_p_of_so_many_against_as_many(n, least):
    """1 over n of 2n: 0.17, 0.05, 0.014, 0.0011, by the binomial coefficient."""
    times = [*range(1, n + 1), *[500] * n]
    got = chance(times, [True] * n + [False] * n, [False] * n + [True] * n)
    assert got.longer == pytest.approx(least, abs=1e-12)


def test_the_statistic_is_that_of_scipy():
    rng = random.Random(7)
    for _ in range(10):
        x, y = ([(rng.randint(1, 12), rng.random() < 0.7) for _ in range(6)] for _ in range(2))
        sides = [stats.CensoredData.right_censored([t for t, _ in s], [not e for _, e in s]) for s in (x, y)]
        both = x + y
        seen, variance = statistic([t for t, _ in both], [e for _, e in both], [False] * 6 + [True] * 6)
        if variance > 0:
            assert abs(seen / math.sqrt(variance)) == pytest.approx(abs(stats.logrank(*sides).statistic), rel=1e-9)


def test_a_published_example():
    events = [bool(e) for e in RELAPSED] + [True] * 21
    seen, variance = statistic(TREATED + PLACEBO, events, [True] * 21 + [False] * 21)
    assert 9 - seen == pytest.approx(19.25, abs=0.005)
    assert seen**2 / variance == pytest.approx(16.79, abs=0.005)


def test_with_too_many_ways_labels_are_drawn_and_that_is_said():
    events = [bool(e) for e in RELAPSED] + [True] * 21
    got = chance(TREATED + PLACEBO, events, [True] * 21 + [False] * 21)
    assert got.sampled and 0.0 < got.longer < 0.001
    assert chance(TREATED + PLACEBO, events, [True] * 21 + [False] * 21) == got
    rng = random.Random(1)
    times, second = [rng.lognormvariate(0, 1) + (k >= 13) * 0.3 for k in range(26)], [k >= 13 for k in range(26)]
    drawn = chance(times, [True] * 26, second)
    normal = stats.norm.cdf(statistic(times, [True] * 26, second)[0] / statistic(times, [True] * 26, second)[1] ** 0.5)
    assert drawn.sampled and drawn.longer == pytest.approx(normal, abs=0.03)  # normal for 13 a side: to about 0.02


def test_blocks_change_labels_within_each_alone():
    """2 against 2 twice, each parted cleanly: 1/6 times 1/6."""
    block = ([1.0, 2.0, 8.0, 9.0], [True] * 4, [False, False, True, True])
    assert chance_in_blocks([block, block]).longer == pytest.approx(1 / 36)


def test_the_interval_of_the_median_covers_as_often_as_it_says():
    """Exponential lives, some stopped: the true median is ln 2; coverage of the sign test from scipy's binomial."""
    rng = random.Random(3)
    for n in (3, 5, 8):
        inside, cases = 0, 1500
        for _ in range(cases):
            lives, stops = ([rng.expovariate(1.0) for _ in range(n)], [rng.expovariate(0.3) for _ in range(n)])
            pairs = list(zip(lives, stops, strict=True))
            found = median_time([min(pair) for pair in pairs], [life <= stop for life, stop in pairs])
            inside += found.low_s <= math.log(2) and (found.high_s is None or math.log(2) <= found.high_s)
        assert found.coverage == pytest.approx(1 - 2 * stats.binom.cdf(0, n, 0.5))
        assert inside / cases > found.coverage - 3 * math.sqrt(0.25 * 0.5 / cases)


def test_the_median_is_open_ended_where_runs_were_stopped():
    found = median_time([240.0, 250.0, 260.0], [False] * 3)
    assert (found.value_s, found.low_s, found.high_s, found.coverage) == (None, 240.0, None, 0.75)
    assert median_time([28.0, 41.0, 33.0], [True] * 3).value_s == 33.0
    assert median_time([28.0, 41.0], [True] * 2).value_s == 34.5
    assert median_time([], []) is None
