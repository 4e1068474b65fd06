"""Before and after: change of one leak, bounds where a test was tight, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.errors import UsageError
from leakdown.where.compare import compare
from leakdown.words.objects import change_object
from tests.where.engines import Engine, Leak, run

LEAKING, HALF, TIGHT = Engine((Leak(400.0, 0.4),)), Engine((Leak(160.0, 0.4),)), Engine(())


def test_a_smaller_leak_has_its_factor() -> None:
    rng = np.random.default_rng(1)
    change = compare(run(LEAKING, rng, 1.0), run(HALF, rng, 1.0))
    value, low, high = change.after_over_before
    assert value == pytest.approx(0.4, rel=0.03) and high is not None and low < 0.4 < high
    assert change.word == "smaller" and change.sentence.startswith("The leak is 60")


def test_the_volume_that_changed_in_between_is_taken_out() -> None:
    """The same hole on a smaller volume loses faster; its size did not change."""
    rng = np.random.default_rng(2)
    before = run(LEAKING, rng, -1.0)
    after = run(LEAKING, rng, -1.0, sections=("case",))
    change = compare(before, after)
    assert change.after_over_before[0] == pytest.approx(1.0, rel=0.03) and change.word == "same"


def test_repeats_are_the_same() -> None:
    rng = np.random.default_rng(3)
    change = compare(run(LEAKING, rng, 1.0), run(LEAKING, rng, 1.0))
    value, low, high = change.after_over_before
    assert high is not None and low <= 1.0 <= high and change.word == "same"


def test_what_reseating_does_is_not_called_a_change() -> None:
    """15 % less is well measured on a log, and no more than blanks seated anew do (practice); 30 % less is more."""
    rng = np.random.default_rng(31)
    before = run(LEAKING, rng, 1.0)
    little, more = (compare(before, run(Engine((Leak(400.0 * x, 0.4),)), rng, 1.0)) for x in (0.85, 0.65))
    assert (little.after_over_before[2] or 2.0) < 1.0 and little.word == "same"
    assert "No change that counts" in little.sentence and "smaller" not in little.sentence
    assert more.word == "smaller"


def test_tight_sides_give_bounds_not_numbers() -> None:
    rng = np.random.default_rng(4)
    healed = compare(run(LEAKING, rng, 1.0), run(TIGHT, rng, 1.0))
    assert healed.after_over_before[0] is None and healed.after_over_before[1] == 0.0
    assert (healed.after_over_before[2] or 1.0) < 0.05 and healed.word == "smaller"
    assert healed.verdict_before == "fail" and healed.verdict_after == "pass"
    broken = compare(run(TIGHT, rng, 1.0), run(LEAKING, rng, 1.0))
    assert broken.after_over_before[2] is None and broken.word == "larger"
    both = compare(run(TIGHT, rng, 1.0), run(TIGHT, rng, 1.0))
    assert both.word == "unclear" and change_object(both)["after_over_before"] == {
        "value": None,
        "low": 0.0,
        "high": None,
    }


def test_what_cannot_be_compared_is_refused() -> None:
    rng = np.random.default_rng(5)
    with pytest.raises(UsageError, match="vacuum test"):
        compare(run(LEAKING, rng, 1.0), run(LEAKING, rng, -1.0))
    with pytest.raises(UsageError, match="tank"):
        compare(run(LEAKING, rng, 1.0), run(LEAKING, rng, 1.0, circuit="tank"))
    with pytest.raises(UsageError, match="after is None, not a Recording"):
        compare(run(LEAKING, rng, 1.0), None)  # type: ignore[arg-type]
