"""All looks together: the error by drawing orders at random, which the bounds were not made from."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from leakdown.runs.logrank import chance
from leakdown.runs.looks import bound
from tests.runs.false_words import decides


def test_what_can_never_decide():
    assert [bound(2, n) for n in (1, 2, 3, 4)] == [0.0] * 4
    assert bound(1, 12) == 0.0
    assert bound(3, 3) == pytest.approx(0.05) and bound(3, 3, longer=False) == pytest.approx(0.05)


def test_the_table_says_never_exactly_where_the_smallest_p_is_above_five_per_cent():
    for before, after in itertools.product(range(2, 7), repeat=2):
        smallest = min(1 / math.comb(before + n, n) for n in range(2, after + 1))  # the clearest labelling of all
        assert decides(before, after) is (smallest <= 0.05 and after >= 3), (before, after)


@pytest.mark.parametrize("before", [3, 5])
def test_all_looks_together_err_in_five_per_cent_at_most(before):
    """Every order of 4 before and 3 after and so on is equally likely: drawn, and looked at after each run."""
    rng, cases, crossed = np.random.default_rng(before), 500, 0
    for _ in range(cases):
        lives = rng.permutation(before + 5) + 1.0
        for n in range(3, 6):
            part, second = lives[: before + n], [False] * before + [True] * n
            if bound(before, n) and chance(part, [True] * part.size, second).longer <= bound(before, n) + 1e-12:
                crossed += 1
                break
    assert crossed / cases <= 0.05 + 2.5 * np.sqrt(0.05 * 0.95 / cases)


def test_the_bounds_of_four_before_by_every_order():
    """All 7!/4! orders of arrival counted one by one, for looks at 3."""
    crossed = 0
    for order in itertools.permutations(range(7), 3):
        rest = [k for k in range(7) if k not in order]
        p = chance([*rest, *order], [True] * 7, [False] * 4 + [True] * 3).longer
        crossed += p <= bound(4, 3) + 1e-12
    assert crossed / (7 * 6 * 5) <= 0.05
