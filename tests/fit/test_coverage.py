"""Do the intervals hold the truth as often as they say? Simulation; seeds are fixed, so nothing flakes.

The default run is a short form; `pytest --full` runs the sizes whose figures the README quotes.
Bounds of the short form are the goal widened by the sampling error of so few cases.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.fit import truth
from tests.fit.helpers import analysed_case

pytestmark = pytest.mark.slow

ONE_HOUR_RATE_PA_S = 35e3 / 3600.0


def _run(make, count: int, seed: int) -> dict[str, float]:
    errors, held, widths = [], [], []
    for k in range(count):
        case = make(np.random.default_rng([seed, k]))
        leak = analysed_case(case).leak
        assert leak is not None and leak.rate_pa_s.value is not None, f"case {k} of seed {seed} was not sized"
        rate = leak.rate_pa_s
        errors.append(abs(rate.value / case.rate_pa_s - 1.0))
        held.append(rate.low <= case.rate_pa_s <= rate.high)
        widths.append((rate.high - rate.low) / rate.value)
    return {
        "median": float(np.median(errors)),
        "p95": float(np.quantile(errors, 0.95)),
        "held": float(np.mean(held)),
        "width": float(np.median(widths)),
    }


@pytest.mark.slow
def test_dense_logs(full: bool) -> None:
    got = _run(truth.dense, 400 if full else 60, 101)
    print("\ndense logs", got)
    assert got["median"] <= (0.003 if full else 0.004)
    assert got["p95"] <= 0.06
    assert (0.91 if full else 0.87) <= got["held"] <= 1.0


@pytest.mark.slow
def test_needle_sheets(full: bool) -> None:
    got = _run(truth.sheet, 400 if full else 60, 102)
    print("\nneedle sheets", got)
    assert got["median"] <= 0.04
    assert got["held"] >= (0.91 if full else 0.87)
    assert got["width"] <= 0.25


@pytest.mark.slow
def test_leaks_that_empty_the_circuit_in_seconds(full: bool) -> None:
    got = _run(truth.fast, 200 if full else 40, 103)
    print("\nfast leaks", got)
    assert got["median"] <= (0.01 if full else 0.013)
    assert got["held"] >= (0.90 if full else 0.85)
    assert got["width"] <= (0.10 if full else 0.12)


@pytest.mark.slow
def test_tight_circuits_are_never_given_a_leak(full: bool) -> None:
    count = 200 if full else 40
    seen, highs = 0, []
    for k in range(count):
        leak = analysed_case(truth.dense(np.random.default_rng([104, k]), tight=True)).leak
        assert leak is not None and leak.rate_pa_s.low >= 0.0
        seen += leak.detected
        highs.append(leak.rate_pa_s.high)
    print("\ntight circuits", seen, "of", count, "median upper limit", np.median(highs))
    assert seen <= 0.05 * count
    assert np.median(highs) < ONE_HOUR_RATE_PA_S
