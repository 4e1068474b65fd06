"""What is known of a hold before it is looked at: the gauge, the walls, the rubber, and how warm the gas is.

The gas's start temperature follows from the pressures before the hold. Filling warms the gas, evacuating cools
it, and the walls take that back in their own time; so for each time constant that the gas may have, the log of
the filling tells how warm it was left. Where nobody saw the filling, up to the whole isentropic warming is left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Array
from leakdown.physics.air import GAMMA, isentropic_temperature_ratio
from leakdown.quantities import REFERENCE_TEMPERATURE_K
from leakdown.tuned import tuned

_T = tuned("fit")
_SHORTEST_S, _LONGEST_S = _T.tau_range_s
_LOG_TAUS = np.linspace(math.log(_SHORTEST_S), math.log(_LONGEST_S), 33)
_MOST_STEPS = 200  # of the filling; more tell no more


@dataclass(frozen=True)
class StartWarmth:
    """Centre and standard deviation of T/T_w - 1 at the start of a hold, for each thermal time constant.

    (33,) arrays over `_LOG_TAUS`. unseen: the part of the deviation that nobody saw: it lies on the side to
    which filling moves the gas (`sign`), save for a small part.
    """

    centre: Array
    known: Array
    unseen: Array
    sign: float

    def at(self, log_tau: float, warmth: float) -> tuple[float, float, float]:
        """Residual of a warmth in standard deviations, and its slopes by the warmth and by log_tau."""
        centre, slope = _between(log_tau, self.centre)
        known, known_slope = _between(log_tau, self.known)
        unseen, unseen_slope = _between(log_tau, self.unseen)
        away = warmth - centre
        part = 1.0 if away * self.sign >= 0.0 else _T.warmth_of_the_other_sign
        deviation = math.hypot(known, part * unseen)
        by_tau = (known * known_slope + part * part * unseen * unseen_slope) / deviation
        return away / deviation, 1.0 / deviation, -(slope + away * by_tau / deviation) / deviation

    def likeliest(self, log_tau: float) -> float:
        """The centre for one time constant."""
        return _between(log_tau, self.centre)[0]

    def deviation(self, log_tau: float) -> float:
        """Standard deviation on the likelier side."""
        return math.hypot(_between(log_tau, self.known)[0], _between(log_tau, self.unseen)[0])


def _between(log_tau: float, values: Array) -> tuple[float, float]:
    """A quantity at one time constant, and its slope, between those of the grid."""
    at = min(max((log_tau - _LOG_TAUS[0]) / (_LOG_TAUS[1] - _LOG_TAUS[0]), 0.0), _LOG_TAUS.size - 1.001)
    k, part = int(at), at % 1.0
    step = float(values[k + 1] - values[k])
    return float(values[k]) + part * step, step / float(_LOG_TAUS[1] - _LOG_TAUS[0])


def start_warmth(time_s: Array, pressure_pa_abs: Array, closed_s: float, ambient_pa: float, sign: float) -> StartWarmth:
    """The gas at `closed_s`, from the readings before it (n,) and the first of the hold, times ascending.

    sign: +1 when the circuit was filled, -1 when it was evacuated. The readings give the pressure; at each step
    the first law gives what came in through the pump (at the room's temperature, warmed by a part of its own
    compression) or went out, and what the walls took.
    """
    t, p = _thinned(time_s, pressure_pa_abs, closed_s)
    first = isentropic_temperature_ratio(max(float(p[0]), 1e3) / ambient_pa) - 1.0
    theta = np.ones_like(_LOG_TAUS)
    taus = np.exp(_LOG_TAUS)
    left = np.full_like(theta, _T.warmth_unseen * max(sign * first, 0.0))
    for dt, before, after in zip(np.diff(t), p[:-1], p[1:], strict=True):
        middle, step = 0.5 * (before + after), (after - before) / (0.5 * (before + after))
        heat = ambient_pa / middle / taus  # 1/s per unit of theta
        supply = 1.0 + _T.pump_warmth * max(isentropic_temperature_ratio(middle / ambient_pa) - 1.0, 0.0)
        entered = step > heat * (1.0 - theta) * dt
        per = np.where(entered, theta / supply, 1.0) / GAMMA
        fading = np.exp(-heat * dt / GAMMA)
        # an exponential step, so that gas quick to follow its walls does not ring
        theta = theta + step * (1.0 - per) * theta + per * theta * GAMMA * (1.0 - fading) * (1.0 - theta)
        left = left * np.exp(-heat * dt)
    left = left * np.exp(-(closed_s - float(t[-1])) / taus)
    known = np.hypot(_T.warmth_known_share * (theta - 1.0), _T.warmth_least)
    return StartWarmth(theta - 1.0, known, left, sign)


def waited_warmth(
    start_pa_gauge: float, ambient_pa: float, waited_s: float, sign: float, share: float = 1.0
) -> StartWarmth:
    """The gas of a hold whose filling nobody logged, some time after the valve was shut.

    share: of the whole filling's warming that the last one left, such as after topping up.
    """
    start = np.array([ambient_pa + start_pa_gauge])
    whole = start_warmth(np.array([-waited_s]), start, 0.0, ambient_pa, sign)
    return replace(whole, unseen=share * whole.unseen)


def _thinned(time_s: Array, pressure_pa_abs: Array, closed_s: float) -> tuple[Array, Array]:
    """The readings up to the start of the hold, averaged to a few hundred."""
    upto = time_s <= closed_s + 1e-9
    t, p = time_s[upto], pressure_pa_abs[upto]
    late = t >= closed_s - _T.filling_within_s
    t, p = t[late], p[late]
    per = -(-t.size // _MOST_STEPS)
    starts = np.arange((t.size - 1) % per, t.size, per)  # the last reading stays alone
    size = np.diff(np.append(starts, t.size))
    return np.add.reduceat(t, starts) / size, np.add.reduceat(p, starts) / size


@dataclass(frozen=True)
class Priors:
    """Centre and standard deviation of the nuisance numbers.

    zero in Pa; log_tau: logarithm of the gas's time constant in s; drift in 1/s; creep_sd_pa: one for each
    relaxation of the spectrum; pressed_sd: of the logarithm of a gap's size, over the quoted pressure.
    """

    zero_pa: float
    zero_sd_pa: float
    warmth: StartWarmth
    log_tau: float
    log_tau_sd: float
    drift_sd: float
    creep_sd_pa: tuple[float, ...] = tuple(_T.creep_sd_pa)
    pressed_sd: float = _T.pressed_sd


def priors_for(
    zero_pa: float,
    zero_sd_pa: float,
    warmth: StartWarmth,
    volume_m3: float | None,
    drift_1_s: float = 0.0,
    thermometer: bool = False,
) -> Priors:
    """What is known before a hold is looked at.

    volume_m3: tau scales with V^(1/3) (gas per wall area); None leaves it less certain. drift_1_s: standard
    deviation of the gauge's own drift, relative to the absolute pressure. thermometer: what the walls drift was
    read beside the pressure and taken off.
    """
    tau_s, log_tau_sd = _T.tau_at_200_cm3_s, _T.log_tau_sd_no_volume
    if volume_m3 is not None:
        tau_s, log_tau_sd = tau_s * (volume_m3 / 200e-6) ** (1.0 / 3.0), _T.log_tau_sd
    k_per_min = _T.drift_sd_watched_k_per_min if thermometer else _T.drift_sd_k_per_min
    walls = k_per_min / 60.0 / REFERENCE_TEMPERATURE_K
    return Priors(zero_pa, zero_sd_pa, warmth, math.log(tau_s), log_tau_sd, math.hypot(walls, drift_1_s))
