"""The joint problem of two holds, and its ratio against known truths."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.fit.model import DRIFT, LOG_TAU, RATE, WARMTH, ZERO
from leakdown.fit.ratio import Joint, JointHold, _by_equal_flow, _mean, compared, fixed_flow
from leakdown.judge.analyse import fitted
from leakdown.judge.judged import FittedTest
from leakdown.where.directional import directional
from tests.where.engines import Engine, Leak, run


def _pair(ratio: float, share: float, seed: int, **more: object) -> list[FittedTest]:
    rng = np.random.default_rng(seed)
    engine = Engine((Leak(35e3 / rng.uniform(40, 200), share, ratio),), rng.uniform(82e3, 102e3))
    return [fitted(run(engine, rng, sign, **more)) for sign in (1.0, -1.0)]  # type: ignore[arg-type]


def test_jacobian_matches_finite_differences() -> None:
    p, v = _pair(2.0, 0.5, 1)
    fading = np.linspace(0.1, 0.6, len(p.found.fit.parameters) - 9)
    joint = Joint([JointHold(p.found, False), JointHold(v.found, True, 1.1, (DRIFT, ZERO, LOG_TAU), fading)])
    z = joint.start()
    _, jac = joint(z)
    for k in range(joint.size):
        step = 1e-4 * max(abs(z[k]), 1e-3)
        if k >= 3 and np.abs(jac[:, k]).max() > 1e6:  # drift and warmth act at 1e-5 and kink at zero
            step = 1e-7
        up, down = z.copy(), z.copy()
        up[k] += step
        down[k] -= step
        numeric = (joint(up)[0] - joint(down)[0]) / (2 * step)
        assert np.abs(numeric - jac[:, k]).max() < 0.02 * np.abs(jac[:, k]).max(), k
    assert WARMTH == 3


def test_shared_unknowns_have_one_prior() -> None:
    """Two holds that share the zero carry one zero prior; their own, two."""
    p, v = _pair(1.0, 0.5, 2)
    rows = [
        Joint([JointHold(p.found, False), JointHold(v.found, True, 1.0, tied)])(
            Joint([JointHold(p.found, False), JointHold(v.found, True, 1.0, tied)]).start()
        )[0].size
        for tied in ((), (ZERO,))
    ]
    assert rows[0] - rows[1] == 1


@pytest.mark.parametrize(("ratio", "share"), [(1.0, 0.0), (1.0, 1.0), (3.0, 0.8), (0.3, 0.2)])
def test_ratio_is_that_of_geometry(ratio: float, share: float) -> None:
    """Truth: the same hole, or one made `ratio` times as large, in an independent integration."""
    p, v = _pair(ratio, share, 5)
    found = directional([p], [v])
    assert found is not None and found.value is not None and found.high is not None
    assert found.value == pytest.approx(ratio, rel=0.02)
    assert found.low < found.value < found.high


def test_exponentials_would_blame_the_intake() -> None:
    """One plain hole at +/-45 kPa: time constants differ by a fifth or more, the geometry by nothing."""
    p, v = _pair(1.0, 0.0, 8, start_pa=45e3)
    assert p.analysis.time_constant_s is not None and v.analysis.time_constant_s is not None
    assert p.analysis.time_constant_s / v.analysis.time_constant_s < 0.9
    found = directional([p], [v])
    assert found is not None and found.value == pytest.approx(1.0, rel=0.02)


@pytest.mark.slow
def test_repeats_narrow_the_interval_and_two_gauges_widen_it() -> None:
    rng = np.random.default_rng(3)
    engine = Engine((Leak(300.0, 0.5),))
    p1, p2 = (fitted(run(engine, rng, 1.0)) for _ in range(2))
    v1, v2 = (fitted(run(engine, rng, -1.0)) for _ in range(2))
    one, two = directional([p1], [v1]), directional([p1, p2], [v1, v2])
    assert one is not None and two is not None and one.high is not None and two.high is not None
    assert np.log(two.high / two.low) < np.log(one.high / one.low)
    q, w = (fitted(run(engine, np.random.default_rng(4), s, gauge=g)) for s, g in ((1.0, "A"), (-1.0, "B")))
    other = directional([q], [w])
    assert other is not None and other.value is not None and other.high is not None
    assert np.log(other.high / other.low) > 2 * 0.025


@pytest.mark.slow
def test_different_laws_are_said() -> None:
    """A weep under pressure, a hole under vacuum: no one geometry fits both."""
    rng = np.random.default_rng(6)
    weep, hole = Engine((Leak(400.0, 1.0),)), Engine((Leak(400.0, 0.0),))
    found = directional([fitted(run(weep, rng, 1.0))], [fitted(run(hole, rng, -1.0))])
    assert found is not None and found.value is not None and found.high is not None
    assert not found.same_law
    assert found.high / found.low > 1.1


def test_tight_directions_give_bounds() -> None:
    rng = np.random.default_rng(7)
    tight, leaking = Engine(()), Engine((Leak(300.0, 0.5),))
    p, v = fitted(run(tight, rng, 1.0)), fitted(run(leaking, rng, -1.0))
    found = directional([p], [v])
    assert found is not None and found.value is None and found.at_least is not None and found.at_least > 5.0
    back = directional([fitted(run(leaking, rng, 1.0))], [fitted(run(tight, rng, -1.0))])
    assert back is not None and back.value is None and back.at_least is None
    assert back.high is not None and back.high < 0.2
    both = directional([p], [fitted(run(tight, rng, -1.0))])
    assert both is not None and both.value is None and both.high is None


def test_warming_is_weighed_by_the_leak_size() -> None:
    """Handbook figure: on a true 1 kPa/min, +1 K/min turns the ratio into 2.5 and -2 K/min into 0.19."""
    rng = np.random.default_rng(9)
    small = Engine((Leak(1e3 / 60.0, 0.5),))
    found = directional([fitted(run(small, rng, 1.0, hold_s=90.0))], [fitted(run(small, rng, -1.0, hold_s=90.0))])
    assert found is not None and found.warming_log_per_k_min == pytest.approx(0.69, rel=0.3)


def test_what_is_shared_has_one_prior() -> None:
    """Of two holds: each reading once, every prior of the first, and the second's but for law and tied numbers."""
    p, v = _pair(2.0, 0.5, 1)
    one, other = (len(h.found.model(h.found.fit.parameters)[0]) for h in (p, v))
    for tied in ((), (DRIFT,), (DRIFT, ZERO, LOG_TAU)):
        joint = Joint([JointHold(p.found, False), JointHold(v.found, True, 1.0, tied)])
        assert len(joint(joint.start())[0]) == one + other - 1 - len(tied)


@pytest.mark.parametrize("ratio", [0.5, 3.0])
def test_by_equal_flow_it_is_the_ratio_of_the_rates(ratio: float) -> None:
    """Rates over what one fixed hole would give; of one law nearly what the joint fit says, and never narrower."""
    p, v = _pair(ratio, 0.5, 3)
    parts = [JointHold(p.found, False), JointHold(v.found, True)]
    found, joint = _by_equal_flow(parts), compared(parts)
    assert found is not None and joint is not None and found.value == pytest.approx(ratio, rel=0.25)
    assert found.low <= ratio <= found.high and found.value**2 == pytest.approx(found.low * found.high)
    back = _by_equal_flow([JointHold(v.found, False), JointHold(p.found, True)])
    assert back is not None and back.value == pytest.approx(1.0 / found.value, rel=0.02)
    # its doubt: both rates' and half of what the two laws differ by for a fixed leak
    law = 0.5 * abs(np.diff(np.log(fixed_flow(p.found.model, v.found.model)))[0])
    rates = [h.found.profile(RATE) for h in (p, v)]
    halves = [0.5 * np.log(one.high / one.low) for one in rates]
    assert np.log(found.high / found.value) == pytest.approx(np.sqrt(law**2 + np.sum(np.square(halves))), rel=1e-6)


def test_the_mean_of_repeats_is_no_surer_than_they_scatter() -> None:
    """1.0(1) and 1.2(1): by hand 1.1(0.0707), and 0.1 by their scatter; 1(1) and 4(2): weights 1 and 1/4."""
    assert _mean([(1.0, 0.1), (1.2, 0.1)]) == pytest.approx((1.1, 0.1))
    assert _mean([(1.0, 1.0), (4.0, 2.0)]) == pytest.approx((1.6, 1.5))
    assert _mean([(2.0, 0.3)]) == pytest.approx((2.0, 0.3))
