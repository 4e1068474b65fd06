"""Odd shapes found from far: leaks that grow many times over, whose plain fit is no place to begin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from leakdown.analysis import Analysis
from leakdown.fit import choose as choosing
from leakdown.fit.choose import choose
from leakdown.fit.leak import Vessel
from leakdown.fit.model import LOG_TAU, OPENING, RATE, WARMTH
from leakdown.fit.rivals import begun, plain_beside, scatter_of
from leakdown.fit.search import first_look, search
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from tests.fit.helpers import codes
from tests.fit.test_tuned import NOISE, T, leaking, model_of
from tests.study.circuit import Truth, played, pressed, weep
from tests.study.regimes import _recording

VESSEL = Vessel(250e-6, None, 293.15, 0.61)
GROWS = 40e3 * np.exp(-T / 150.0 - (T / 60.0) ** 2)


def virtual(**of: object) -> Analysis:
    """The analysis of a virtual test with the physics of the study: `tests.study.circuit`, integrated by scipy."""
    truth = Truth(target_pa=43e3, hold_s=75.0, **of)  # type: ignore[arg-type]
    return analyse(_recording(truth, played(truth)), Settings())


@pytest.mark.parametrize("vacuum", [False, True])
@pytest.mark.parametrize(
    ("rate_pa_s", "grown_in_s", "volume_m3"), [(60.0, 5.0, 250e-6), (87.0, 9.0, 120e-6), (112.0, 6.0, 500e-6)]
)
def test_a_leak_that_grows_is_sized_by_what_it_was(rate_pa_s, grown_in_s, volume_m3, vacuum):
    """It grows by its own size every few seconds: the rate of the first moment, not one several times as large."""
    found = virtual(rate_pa_s=rate_pa_s, grows_per_s=1.0 / grown_in_s, volume_m3=volume_m3, vacuum=vacuum, seed=4)
    assert "leak-grows" in codes(found)
    assert found.leak is not None
    assert found.leak.rate_pa_s.value == pytest.approx(rate_pa_s, rel=0.15)
    assert found.leak.growth_per_min == pytest.approx(60.0 / grown_in_s, rel=0.25)


def test_a_leak_that_pressure_shuts_does_not_pass_for_one_that_grows():
    found = virtual(rate_pa_s=300.0, law=pressed(weep, -8e-5), seed=7)
    assert "shut-by-pressure" in codes(found) and "leak-grows" not in codes(found)
    assert found.leak is not None and found.leak.rate_pa_s.value == pytest.approx(300.0, rel=0.2)


def test_a_hopeless_plain_fit_is_not_brought_to_its_end(monkeypatch):
    """Nor is one begun that is good: its odd shapes are nobody's business."""
    searched = []
    monkeypatch.setattr(
        choosing, "search", lambda model, *args, **more: searched.append(1) or search(model, *args, **more)
    )
    found = choose(model_of(GROWS + NOISE), 35e3, VESSEL)
    assert found.odd is not None and found.odd.name == "growth" and not searched
    monkeypatch.setattr(choosing, "begun", lambda *_: pytest.fail("a plain leak has no rivals"))
    found = choose(model_of(leaking(100.0) + NOISE), 35e3, VESSEL)
    assert found.odd is None and searched


def test_a_shape_that_explains_nothing_falls_out():
    """What grows so is neither hose nor a valve that closes; what closes is found, its opening near the truth."""
    model = model_of(GROWS + NOISE)
    assert set(begun(model, first_look(model), whole=False)) == {"plain", "growth"}
    model = model_of(12e3 + 28e3 * np.exp(-T / 40.0) + NOISE)
    shapes = begun(model, search(model))
    assert scatter_of(shapes["opening"]) < 1.5
    assert 9e3 < shapes["opening"].fit.parameters[OPENING] < 15e3


def test_a_plain_leak_in_a_false_valley_is_found_by_way_of_its_rivals():
    """A look that ended on purpose with a gas far too slow; as the best shape sees the gas, the leak is plain."""
    model = model_of(leaking(300.0) + NOISE)
    good = search(model)
    astray = good.fit.parameters.copy()
    astray[[LOG_TAU, WARMTH, RATE]] += 3.0, 0.05, 300.0
    residuals, jacobian = model(astray)
    fit = replace(
        good.fit, parameters=astray, residuals=residuals, jacobian=jacobian, chi2=float(residuals @ residuals)
    )
    looked = replace(good, fit=fit, misfit=fit.chi2 / good.dof)
    assert looked.cost > good.cost + 1e4
    assert plain_beside(begun(model, looked, whole=False)).cost < good.cost + 1.0
