"""Is `locate` as right as it is sure on engines of the independent workshop? `python -m tests.workshop` in short."""

from __future__ import annotations

import numpy as np
import pytest

from tests.workshop.__main__ import TESTED, seen
from tests.workshop.scores import brier
from tests.workshop.strange import STRANGE, told

# What the full run must reach (first group right at least, Brier's score at most), by what was tested.
WANTED = {"both directions": (0.36, 0.72), "both, boot blocked": (0.50, 0.56)}


@pytest.mark.slow
def test_the_first_group_is_as_often_right_as_it_claims(full: bool) -> None:
    rows = [seen(seed) for seed in range(160 if full else 4)]
    assert all(row.advice.ended for row in rows)  # no loop, always an end
    assert all(len(set(row.advice.steps)) == len(row.advice.steps) for row in rows)  # nothing twice
    for name in TESTED:
        given = [row.given[name] for row in rows]
        sure = [g for g in given if g.claimed >= 0.8]
        assert sum(g.right for g in sure) >= 0.75 * len(sure) - 1, name
        if full and name in WANTED:
            right, claimed = (float(np.mean([getattr(g, key) for g in given])) for key in ("right", "claimed"))
            least, most = WANTED[name]
            assert right >= least and brier(given) <= most and abs(right - claimed) < 0.08, name
    if full:
        advice, fixed = ([getattr(row, which) for row in rows] for which in ("advice", "fixed"))
        assert np.mean([a.right for a in advice]) >= np.mean([f.right for f in fixed]) - 0.02
        assert np.mean([a.minutes for a in advice]) < np.mean([f.minutes for f in fixed])


@pytest.mark.slow
@pytest.mark.parametrize("kind", list(STRANGE))
def test_what_does_not_belong_together_is_told(kind: str, full: bool) -> None:
    rows = [told(kind, seed) for seed in range(7000, 7000 + (60 if full else 2))]
    assert not [row for row in rows if row.sure_wrong and kind != "honest"]
    named = np.mean([row.named for row in rows])
    least = {"mixed": 0.7, "cooled": 0.9, "wet": 0.65, "copied": 0.95, "mismeasured": 0.95}
    assert named <= 0.03 if kind == "honest" else named >= (least[kind] if full else 0.4)
