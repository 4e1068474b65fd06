"""Leaks that close at a pressure, whatever their law beyond it: the truth is the law itself, by scipy.

Three laws that no model here has in just that form: a valve whose flow grows with the pressure beyond its
opening, a weep and a hole from the opening pressure. All invented.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Recording

pytestmark = pytest.mark.slow

AIR = 101_325.0


def _law(kind, sign, top_pa, opens_pa, tau_s):
    """Speed of the reading (Pa/s) at a magnitude; about (top - opens) / tau at the top."""

    def weep(size):
        return abs((AIR + sign * size) ** 2 - (AIR + sign * opens_pa) ** 2)

    first = (top_pa - opens_pa) / tau_s
    return {
        "valve": lambda size: max(size - opens_pa, 0.0) / tau_s,
        "weep": lambda size: first * weep(size) / weep(top_pa) if size > opens_pa else 0.0,
        "hole": lambda size: first * np.sqrt(max(size - opens_pa, 0.0) / (top_pa - opens_pa)),
    }[kind]


def _case(seed):
    """A log and the quoted pressure, with the true speed there."""
    rng = np.random.default_rng(seed)
    sign, top = float(rng.choice([1, -1])), rng.uniform(38e3, 50e3)
    opens, tau = rng.uniform(0.1, 0.8) * top, np.exp(rng.uniform(np.log(5), np.log(60)))
    speed = _law(rng.choice(["valve", "weep", "hole"]), sign, top, opens, tau)
    t = np.arange(0.0, rng.choice([40.0, 60.0, 90.0]), rng.choice([0.1, 0.5, 1.0]))
    run = solve_ivp(lambda _, y: [-speed(y[0])], (0, t[-1]), [top], t_eval=t, rtol=1e-8, atol=1e-2, max_step=0.5)
    # pumped up slowly, so that the gas is known to be settled
    fill = np.arange(-30.0, 0.0, t[1])
    t, size = np.concatenate((fill, t)), np.concatenate((np.maximum((fill + 25.0) / 25.0, 0.0) * top, run.y[0]))
    p = sign * (size + rng.normal(0.0, rng.uniform(10, 40), t.size))
    told = Conditions("crankcase", "pressure" if sign > 0 else "vacuum", 250e-6, 10e-6, AIR)
    at = rng.uniform(0.3, 1.0) * (top - opens) + opens
    return Recording(t, np.round(p / 10) * 10, conditions=told), at, speed(at)


@pytest.mark.slow
def test_the_interval_holds_and_the_shape_is_said(full):
    held, said, errors, widths, count = 0, 0, [], [], 240 if full else 24
    for seed in range(count):
        recording, at, true = _case(seed)
        result = analyse(recording, Settings(quote_pa=at))
        codes = {flag.code for flag in result.flags}
        said += bool(codes & {"levels-off", "leak-shrinks", "opened-by-pressure", "creep", "no-fit"})
        if result.leak is None:
            held += 1  # no size is no wrong size
            continue
        rate = result.leak.rate_pa_s
        held += rate.low <= true <= rate.high
        if rate.value:
            errors.append(abs(rate.value / true - 1.0))
            widths.append((rate.high - rate.low) / rate.value)
    print(f"\nclosing leaks: held {held} of {count}, said {said}, sized {len(errors)}, ", end="")
    print(f"median error {np.median(errors):.3f}, width {np.median(widths):.2f}")
    assert held >= 0.9 * count
    assert said >= 0.9 * count
