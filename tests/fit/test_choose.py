"""Shapes weighed by their evidence: against quadrature, against closed forms, and by what the choice does."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from leakdown.fit import choose as choosing
from leakdown.fit import rivals
from leakdown.fit.choose import choose
from leakdown.fit.evidence import log_volume
from leakdown.fit.leak import Vessel
from leakdown.fit.least_squares import least_squares
from leakdown.fit.rivals import prior_of
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval, mixed
from tests.fit import truth
from tests.fit.test_search import plain_model

VESSEL = Vessel(250e-6, None, 293.15, 0.61)


def _linear(design: np.ndarray, data: np.ndarray, low, high):
    """The fit of a linear problem in a box, and its residuals as a function."""

    def residuals(x):
        return design @ x - data, design

    fit = least_squares(residuals, 0.5 * (low + high), low, high, 1e-12)
    return fit, lambda x: float(np.sum(np.square(design @ x - data)))


@pytest.mark.parametrize("best", [(0.5, 0.5), (-0.3, 0.5), (0.02, 0.5), (-2.0, 1.4), (0.5, -0.05)])
def test_the_volume_in_a_box_is_that_of_quadrature(best):
    """Two linear parameters, correlated; the best of all is inside, near a bound, or beyond one or two.

    Nested adaptive quadrature (QUADPACK through scipy) of the likelihood over the box.
    """
    design = np.array([[9.0, 3.0], [0.0, 7.0], [2.0, -1.0]])
    low, high = np.zeros(2), np.ones(2)
    fit, chi2 = _linear(design, design @ np.array(best), low, high)
    height = chi2(fit.parameters)
    exact, _ = dblquad(lambda y, x: math.exp(-0.5 * (chi2(np.array([x, y])) - height)), 0.0, 1.0, 0.0, 1.0, epsrel=1e-7)
    found = log_volume(fit.residuals, fit.jacobian, fit.parameters, low, high)
    assert found == pytest.approx(math.log(exact), abs=0.25)  # a quarter: odds of 1.28, far below what decides


def test_a_parameter_that_nothing_feels_counts_with_its_box():
    design = np.array([[5.0, 0.0], [1.0, 1e-9]])
    low, high = np.array([-1.0, 0.0]), np.array([1.0, 3.0])
    fit, _ = _linear(design, np.zeros(2), low, high)
    found = log_volume(fit.residuals, fit.jacobian, fit.parameters, low, high)
    along, _ = quad(lambda x: math.exp(-0.5 * 26.0 * x * x), -1.0, 1.0)
    assert found == pytest.approx(math.log(along * 3.0), abs=0.5)


def test_prior_odds():
    """They are probabilities, and the plain leak is by far the likeliest; sizes are asked for per octave."""
    odd = tuned("fit").odd_shapes
    assert sum(prior_of(shape) for shape in ("plain", *odd)) == pytest.approx(1.0)
    assert prior_of("plain") > 0.7 and all(0.01 <= share <= 0.1 for share in odd.values())
    assert 5.0 < tuned("fit").rate_scale_pa_s < 117.0  # below the usual limit, 7 kPa in 60 s


def test_the_plain_leak_keeps_its_name(monkeypatch):
    """Until it has no more than a tenth left; the interval is the mixture's all the same."""
    case = truth.dense(np.random.default_rng([107, 3]))
    model = plain_model(case, case.ambient_pa)
    monkeypatch.setattr(choosing, "worth_a_look", lambda found: True)
    monkeypatch.setattr(rivals, "_least_weight", lambda *_: -1.0)  # nothing falls out on the way
    names = []
    for plain in (0.3, 0.02):
        rest = 1.0 - plain
        weights = dict(plain=plain, opening=0.6 * rest, growth=0.1 * rest, pressed=0.2 * rest, creep=0.1 * rest)
        monkeypatch.setattr(choosing, "weights_of", lambda fits, jump, weights=weights: weights)
        found = choose(model, 35e3, VESSEL)
        names.append(found.odd.name if found.odd else "plain")
        assert sum(one.weight for one in found.alike) == pytest.approx(1.0)
        ends = [one.sized.estimate.rate_pa_s for one in found.alike]
        rate = found.sized.estimate.rate_pa_s
        assert min(end.low for end in ends) <= rate.low and rate.high <= max(end.high for end in ends)
    assert names == ["plain", "opening"]


def test_the_interval_is_the_mixtures():
    """Two normal densities by their closed form; a part with little weight moves little."""
    one, two = Interval(10.0, 10.0 - 1.96, 10.0 + 1.96), Interval(14.0, 14.0 - 3.92, 14.0 + 3.92)
    found = mixed([(0.7, one), (0.3, two)])

    def below(x):
        z = lambda mean, sd: 0.5 * math.erfc((mean - x) / sd / math.sqrt(2.0))  # noqa: E731
        return 0.7 * z(10.0, 1.0) + 0.3 * z(14.0, 2.0)

    assert below(found.low) == pytest.approx(0.025, abs=1e-4) and below(found.high) == pytest.approx(0.975, abs=1e-4)
    assert found.value == 10.0
    hardly = mixed([(1.0 - tuned("fit").least_weight, one), (tuned("fit").least_weight, two)])
    assert hardly.high == pytest.approx(one.high, rel=0.03)


def test_a_mixture_with_no_leak_in_it_has_no_lower_end():
    found = mixed([(0.6, Interval(100.0, 80.0, 120.0)), (0.4, Interval(None, 0.0, 30.0))])
    assert found.value is None and found.low == 0.0 and 110.0 < found.high < 120.0


def test_the_readings_scatter_is_that_of_the_best_shape(monkeypatch):
    """A plain fit far off must not excuse itself with the scatter that it makes."""
    fits = {name: SimpleNamespace(name=name) for name in ("plain", "opening")}
    asked = []
    monkeypatch.setattr(rivals, "scatter_of", lambda fit: {"plain": 40.0, "opening": 1.2}[fit.name])
    monkeypatch.setattr(rivals, "log_evidence", lambda fit, scatter: asked.append(scatter) or 0.0)
    rivals.weights_of(fits, None)
    assert asked == [1.2, 1.2]
