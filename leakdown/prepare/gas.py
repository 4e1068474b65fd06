"""The gas that settles in a rehearsed sheet, and how much longer one must be read that begins with the valve.

Pumping warms the gas and evacuating cools it. A sheet that follows the steps of `circuits.procedure` has waited for
that and topped up; one whose first row is read a second after the valve has the settling in its first rows.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from leakdown.analysis import Array
from leakdown.circuits import procedure
from leakdown.physics.air import isentropic_temperature_ratio
from leakdown.physics.balance import Balance
from leakdown.physics.leak import Leak, flow_per_geometry, settled_pressure
from leakdown.prepare.planned_test import PlannedTest
from leakdown.tuned import tuned

_T = tuned("prepare")
Begin = Literal["watch", "valve"]
"""A sheet begun with the watch, after the steps of the procedure, or with the valve."""
_USED = ("viscous", "orifice", "start", "warmth", "relaxation", "drift")


def most_warmth(test: PlannedTest, from_pa: float = 0.0) -> float:
    """Start temperature over the wall's, minus one, of a fill from a gauge magnitude with no heat lost; signed."""
    one, two = (test.barometer_pa + test.sign * size for size in (from_pa, test.start_pa))
    return isentropic_temperature_ratio(two / one) - 1.0


def settling_kpa(test: PlannedTest) -> tuple[float, float]:
    """The most by which the gas settles, kPa, once the watch has started, and from the valve on."""
    whole = _T.most_settling_share * most_warmth(test) * (test.barometer_pa + test.sign * test.start_pa) / 1e3
    waited_s = procedure().wait_s[0]
    return abs(0.1 * whole * math.exp(-waited_s / _T.settling_taus_s[1])), abs(whole)


def drawn(test: PlannedTest, begin: Begin, rng: np.random.Generator) -> tuple[float, float, float]:
    """(warmth at the valve's closing, thermal time constant s, seconds from there to the first row) of one sheet."""
    tau_s = float(np.exp(rng.uniform(*np.log(_T.settling_taus_s))))
    share = float(rng.uniform(0.0, _T.most_settling_share))
    if begin == "valve":
        return share * most_warmth(test), tau_s, _T.after_valve_s
    steps = procedure()
    wait_s = float(rng.uniform(*steps.wait_s))
    fell_pa = share * abs(most_warmth(test)) * (test.barometer_pa + test.sign * test.start_pa)
    return most_warmth(test, test.start_pa - fell_pa), tau_s, wait_s


def path_pa(test: PlannedTest, leak: Leak, time_s: Array, begin: Begin, rng: np.random.Generator) -> Array:
    """Absolute pressures (n,) at the rows of one sheet, the gas settling as it was pumped and waited for."""
    warmth, tau_s, late_s = drawn(test, begin, rng)
    path = Leak(leak.viscous, leak.orifice, leak.start, warmth, 1.0 / tau_s, leak.back)
    balance = Balance(np.asarray(time_s) + late_s, test.barometer_pa, test.inward)
    return balance.at_readings(balance.solve(path))[0]


def doubt(test: PlannedTest, leaks: list[Leak], hold_s: float, begin: Begin) -> float:
    """Standard deviation of the settled loss that the limit asks for, over its distance from the limit: the worst.

    Linear: the balance's own slopes at the true leak, readings as good as their rounding, and what is known of
    gas and wall beforehand as further readings.
    """
    time_s = np.arange(0.0, hold_s + 1e-6, test.every_s)
    late_s = _T.after_valve_s if begin == "valve" else sum(procedure().wait_s) / 2.0
    balance = Balance(time_s + late_s, test.barometer_pa, test.inward)
    return max(_doubt_of(test, balance, leak, begin) for leak in leaks)


def _doubt_of(test: PlannedTest, balance: Balance, leak: Leak, begin: Begin) -> float:
    low, high = _T.settling_taus_s
    tau_s = math.sqrt(low * high)
    left = most_warmth(test) * (1.0 if begin == "valve" else 0.1)  # a top-up warms by a tenth of a fill
    guess = Leak(leak.viscous, leak.orifice, leak.start, 0.5 * _T.most_settling_share * left, 1.0 / tau_s, leak.back)
    slopes = balance.at_readings(balance.solve(guess))[1]
    rows = slopes[:, [0, 1, 2, 3, 4, 6]]
    # known beforehand: no leak is below zero, so each law is known to the size of the leak; half of the bound of
    # the warmth; the range of time constants; a wall that drifts a tenth of a degree a minute
    weep, hole = _unit_losses(test)
    whole = leak.viscous / weep + leak.orifice / hole
    known = (whole * weep, whole * hole, test.start_pa, 0.5 * _T.most_settling_share * abs(left) + 1e-6,
             0.5 * math.log(high / low) / tau_s, 0.1 / 60.0 / test.temperature_k)  # fmt: skip
    sigma = test.resolution_pa * math.hypot(1.0 / math.sqrt(12.0), 0.5 * _T.scatter_most)
    precision = rows.T @ rows / sigma**2 + np.diag(1.0 / np.square(known))
    lost, by = _lost(test, leak)
    spread = math.sqrt(max(float(by @ np.linalg.solve(precision, by)), 0.0))
    return spread / max(abs(_allowed(test) - lost), 1e-9)


def _unit_losses(test: PlannedTest) -> tuple[float, float]:
    """Viscous and orifice geometry that lose 1 Pa/s each at the quoted pressure."""
    weep, hole = flow_per_geometry(test.barometer_pa + test.sign * test.quote_pa, test.barometer_pa, test.inward)
    return 1.0 / weep, 1.0 / hole


def _allowed(test: PlannedTest) -> float:
    return test.limit.drop_pa if test.limit.kind == "drop" else test.limit.rate_pa_m3_s / test.volume_m3


def _lost(test: PlannedTest, leak: Leak) -> tuple[float, Array]:
    """What the limit compares of a settled leak (Pa, or Pa/s), and its slopes by the parameters in use."""

    def of(viscous: float, orifice: float) -> float:
        one = Leak(viscous, orifice, leak.start, back=leak.back)
        if test.limit.kind != "drop":
            return viscous / weep + orifice / hole
        start_pa = test.limit.start_pa or test.start_pa
        end = settled_pressure(np.array([test.limit.time_s]), one, test.inward, leak.back + test.sign * start_pa)[0]
        return float(start_pa - abs(end - leak.back))

    weep, hole = _unit_losses(test)
    whole = leak.viscous / weep + leak.orifice / hole
    steps = (1e-3 * whole * weep, 1e-3 * whole * hole)
    lost = of(leak.viscous, leak.orifice)
    by = np.zeros(len(_USED))
    by[0] = (of(leak.viscous + steps[0], leak.orifice) - lost) / steps[0]
    by[1] = (of(leak.viscous, leak.orifice + steps[1]) - lost) / steps[1]
    return lost, by
