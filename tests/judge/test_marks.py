"""What a mark during a hold did to the leak."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.judge.analyse import analyse, fitted
from leakdown.judge.marks import moved, touched
from leakdown.where.locate import locate
from leakdown.where.tests import sort_tests
from tests.where.engines import Engine, Leak, marked

ENGINE = Engine((Leak(500.0, 0.3),))


@pytest.mark.parametrize("factor", [0.38, 1.0, 1.8])
def test_change_at_a_mark(factor: float) -> None:
    rng = np.random.default_rng(int(10 * factor))
    (effect,) = moved(fitted(marked(ENGINE, rng, factor, "pushed boot")))
    ratio = effect.effect.after_over_before
    assert ratio.value == pytest.approx(factor, rel=0.03)
    assert effect.changed == (factor != 1.0) and effect.steady == (factor == 1.0)
    assert effect.place == "intake-boot"


def test_analysis_takes_the_effects() -> None:
    recording = marked(ENGINE, np.random.default_rng(1), 0.4, "pushed boot")
    (effect,) = analyse(recording).marks
    assert effect.text == "pushed boot" and effect.after_over_before.high < 0.6


@pytest.mark.slow
def test_a_leak_that_changes_with_the_boot_points_at_it() -> None:
    changed = locate([marked(ENGINE, np.random.default_rng(2), 0.4, "pushed boot")])
    steady = locate([marked(ENGINE, np.random.default_rng(3), 1.0, "pushed boot")])
    share = [{g.group: g.probability for g in found.groups}["intake-boot"] for found in (changed, steady)]
    assert share[0] > 0.5 > 0.2 > share[1]
    reasons = next(g.reasons for g in changed.groups if g.group == "intake-boot")
    assert any("after 'pushed boot' the leak fell by" in reason for reason in reasons)


def test_marks_too_near_the_end_say_nothing() -> None:
    recording = marked(ENGINE, np.random.default_rng(4), 0.4, "boot", at_s=88.0)
    assert moved(fitted(recording)) == ()


def test_words_of_marks() -> None:
    assert touched("B: boot pushed left") == "intake-boot"
    assert touched("turned crank 30 deg") == "shaft-seal"
    assert touched("grease flywheel seal") == "seal-flywheel-side"
    assert touched("smeared the clutch side seal") == "seal-drive-side"
    assert touched("coffee") is None


def test_readings_given_twice_count_once() -> None:
    one = fitted(marked(ENGINE, np.random.default_rng(4), 1.0, "pushed boot"))
    tests = sort_tests([one, one])
    assert len(tests.all) == 1 and tests.left_out[0].code == "same-readings"
