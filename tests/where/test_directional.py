"""The directional ratio under other flow laws than the fit's: the truth is the law itself, by scipy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from leakdown.judge.analyse import fitted
from leakdown.recording import Conditions, Recording
from leakdown.where.directional import directional, other_laws
from tests.study.circuit import AIR_PA, Law, Truth, hole, long_turbulent, played, pressed, weep

pytestmark = pytest.mark.slow
QUOTED_PA = 35e3


def _log(truth: Truth) -> Recording:
    log = played(truth)
    told = Conditions("crankcase", "vacuum" if truth.vacuum else "pressure", truth.volume_m3, None, AIR_PA, 293.15)
    return Recording(log.time_s, log.pressure_pa, conditions=told)


def _both_ways(law: Law, seed: int):
    """A fixed geometry under pressure and under vacuum."""
    out = Truth(target_pa=46e3, rate_pa_s=200.0, law=law, fill_s=8.0, strokes=8, seed=seed)
    inward = 200.0 * law(AIR_PA, AIR_PA - QUOTED_PA) / law(AIR_PA + QUOTED_PA, AIR_PA)
    back = replace(out, vacuum=True, rate_pa_s=inward, seed=seed + 100)
    return directional([fitted(_log(out))], [fitted(_log(back))])


@pytest.mark.parametrize("law", [long_turbulent, hole, weep])
@pytest.mark.parametrize("seed", range(3))
def test_a_fixed_hole_of_another_law_is_still_one(law, seed):
    ratio = _both_ways(law, seed)
    assert ratio is not None and ratio.low is not None and ratio.high is not None
    assert ratio.low <= 1.0 <= ratio.high


def test_other_flow_laws_move_the_ratio_up():
    """Isothermal pipe flow against an orifice, by their formulas: within what is allowed, at every pressure."""

    def psi(r):
        return math.sqrt(7.0 * (r ** (2 / 1.4) - r ** (2.4 / 1.4)))

    for kpa in (20.0, 30.0, 40.0, 45.0):
        high, low = 101.325 + kpa, 101.325 - kpa
        turbulent = math.sqrt(101.325**2 - low**2) / math.sqrt(high**2 - 101.325**2)
        orifice = 101.325 * psi(max(low / 101.325, 0.528)) / (high * psi(101.325 / high))
        above = turbulent / orifice - 1.0
        assert 0.3 * above < math.expm1(other_laws(1e3 * kpa)) < 3.0 * above + 0.01
        assert math.expm1(other_laws(1e3 * kpa)) > 0.95 * above
    assert np.all(np.diff([other_laws(1e3 * kpa) for kpa in range(0, 55, 5)]) >= 0.0)


def test_lips_that_move_are_within_the_ratio(full):
    """Gaps that the pressure opens or shuts by 5 to 20 % in 10 kPa, each direction its own way."""
    held, count = 0, 60 if full else 6
    for seed in range(count):
        rng = np.random.default_rng([seed, 4])
        moves = rng.choice([-1.0, 1.0], 2) * rng.uniform(0.5e-5, 2e-5, 2)
        law, true = (weep, hole)[seed % 2], float(np.exp(0.5 * rng.normal()))
        fixed = law(AIR_PA, AIR_PA - QUOTED_PA) / law(AIR_PA + QUOTED_PA, AIR_PA)
        out = Truth(rate_pa_s=200.0, law=pressed(law, moves[0]), fill_s=6.0, strokes=8, seed=seed)
        back = replace(out, vacuum=True, rate_pa_s=200.0 * fixed * true, law=pressed(law, moves[1]), seed=seed + 100)
        ratio = directional([fitted(_log(out))], [fitted(_log(back))])
        held += ratio is not None and ratio.high is not None and ratio.low <= true <= ratio.high
    assert held >= (0.85 if full else 0.66) * count
