"""The decay of one hold as a least-squares problem: which numbers are sought, and what is known of them.

Sought, in the order of `NAMES`: the settled loss rate at the quoted pressure (the answer), the share of
it that flows viscously, the starting pressure, the gas's start temperature, its thermal time constant,
the gauge's zero, a slow drift of the wall temperature, and for odd shapes the opening pressure of a
reseating leak and the growth of the leak; last whatever else settles (hose, rubber, the sensor itself) as
a spectrum of relaxations, linear in the fit.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Array
from leakdown.hold.readings import Readings
from leakdown.physics.air import isentropic_temperature_ratio
from leakdown.physics.balance import (
    PARAMETERS,
    Balance,
    Leak,
    NotSolved,
    Path,
    flow_per_geometry,
    throughput_per_volume,
)
from leakdown.quantities import REFERENCE_TEMPERATURE_K
from leakdown.tuned import tuned

_T = tuned("fit")
_CREEP_S = np.array(_T.creep_s)
_WRONG_SIGN: float = _T.warmth_of_the_other_sign
_LOG_TAU_SD_BELOW: float = _T.log_tau_sd_below
_SHARE_SD: float = _T.share_sd

NAMES = (
    *("rate", "share", "start", "warmth", "log_tau", "zero", "drift", "opening", "growth"),
    *(f"creep_{k}" for k in range(_CREEP_S.size)),
)
RATE, SHARE, START, WARMTH, LOG_TAU, ZERO, DRIFT, OPENING, GROWTH, CREEP = range(10)
KNOWN = np.array([SHARE, WARMTH, LOG_TAU, ZERO, DRIFT, *range(CREEP, len(NAMES))])
"""Parameters with a prior, in the order of the prior rows."""


@dataclass(frozen=True)
class Priors:
    """Centre and standard deviation of the nuisance numbers.

    zero in Pa; log_tau: logarithm of the gas's time constant in s; warmth: of T/T_w - 1; drift in 1/s;
    creep_sd_pa: one for each relaxation of the spectrum.
    """

    zero_pa: float
    zero_sd_pa: float
    warmth_sd: float
    log_tau: float
    log_tau_sd: float
    drift_sd: float = _T.drift_sd_k_per_min / 60.0 / REFERENCE_TEMPERATURE_K
    creep_sd_pa: tuple[float, ...] = tuple(_T.creep_sd_pa)


def priors_for(
    zero_pa: float, zero_sd_pa: float, warmth_sd: float, volume_m3: float | None, drift_1_s: float = 0.0
) -> Priors:
    """What is known before a hold is looked at.

    volume_m3: tau scales with V^(1/3) (gas per wall area); None leaves it less certain. drift_1_s: standard
    deviation of a further drift, relative to the absolute pressure.
    """
    tau_s, log_tau_sd = _T.tau_at_200_cm3_s, _T.log_tau_sd_no_volume
    if volume_m3 is not None:
        tau_s, log_tau_sd = tau_s * (volume_m3 / 200e-6) ** (1.0 / 3.0), _T.log_tau_sd
    known = Priors(zero_pa, zero_sd_pa, warmth_sd, math.log(tau_s), log_tau_sd)
    return replace(known, drift_sd=math.hypot(known.drift_sd, drift_1_s))


def warmth_sd(start_pa_gauge: float, ambient_pa: float) -> float:
    """Standard deviation of the start temperature (of T/T_w - 1): a part of filling without heat loss.

    No more than a few kelvin: a high test pressure is pumped up slowly.
    """
    isentropic = abs(isentropic_temperature_ratio(1.0 + start_pa_gauge / ambient_pa) - 1.0)
    return float(min(max(_T.warmth_share * isentropic, 1e-4), _T.warmth_most))


class HoldModel:
    """Residuals of `readings` (time from the start of the hold) and their Jacobian, priors included.

    ambient_pa: abs. inward: air flows in (vacuum). quote_pa: magnitude of the quoted gauge pressure.
    Remembers its last solution, because the next one is always near it.
    """

    def __init__(self, readings: Readings, ambient_pa: float, inward: bool, quote_pa: float, priors: Priors) -> None:
        self.readings = readings
        self.ambient_pa = ambient_pa
        self.inward = inward
        self.sign = -1.0 if inward else 1.0
        self.quote_pa = quote_pa
        self.priors = priors
        self.balance = Balance(readings.time_s, ambient_pa, inward)
        self._viscous_at_quote, self._orifice_at_quote = flow_per_geometry(
            ambient_pa + self.sign * quote_pa, ambient_pa, inward
        )
        self._creep = self.creep(readings.time_s)
        self._last: tuple[Array, Path] | None = None

    def leak(self, x: Array) -> Leak:
        """The physical leak of a parameter vector."""
        return Leak(
            viscous=x[RATE] * x[SHARE] / self._viscous_at_quote,
            orifice=x[RATE] * (1.0 - x[SHARE]) / self._orifice_at_quote,
            start=x[START],
            warmth=x[WARMTH],
            relaxation=math.exp(-x[LOG_TAU]),
            back=self.ambient_pa + self.sign * x[OPENING],
            drift=x[DRIFT],
            growth=x[GROWTH],
        )

    def bounds(self, shape: str = "plain") -> tuple[Array, Array]:
        """Lower and upper bounds (15,); opening and growth are held at zero unless `shape` names them."""
        p = self.readings.pressure_pa
        first, end = abs(float(p[0])), max(float(self.sign * p[-1]), 0.0)
        low, high = np.zeros(len(NAMES)), np.zeros(len(NAMES))
        high[RATE] = _T.rate_most_1_s * max(first, 1e3)
        high[SHARE] = 1.0
        low[START], high[START] = 0.02 * self.ambient_pa, 50.0 * self.ambient_pa
        high[WARMTH] = abs(isentropic_temperature_ratio(1.0 + first / self.ambient_pa) - 1.0)
        low[LOG_TAU], high[LOG_TAU] = (math.log(tau_s) for tau_s in _T.tau_range_s)
        high[ZERO] = high[CREEP:] = _T.offset_most_pa
        high[DRIFT] = _T.drift_most_1_s
        for both_ways in (WARMTH, ZERO, DRIFT, slice(CREEP, None)):
            low[both_ways] = -high[both_ways]
        if shape == "opening":
            high[OPENING] = min(0.999 * end, 0.97 * first)
        if shape == "growth":
            low[GROWTH], high[GROWTH] = -1.0 / self._span, _T.growth_most_per_hold / self._span
        return low, high

    @property
    def _span(self) -> float:
        return float(self.readings.time_s[-1])

    def start(self, share: float = 0.5) -> Array:
        """A first guess for one viscous share: the exponential's speed in the middle of its fall."""
        p = np.maximum(self.sign * (self.readings.pressure_pa - self.priors.zero_pa), 1.0)
        t = self.readings.time_s
        use = p > 0.2 * p[0]
        if use.sum() < 2:
            use[:2] = True
        slope = np.polyfit(t[use], np.log(p[use]), 1)[0]
        middle = 0.6 * float(p[0])
        rate = max(-slope * middle, 1e-2) / self._relative_flow(middle, share)
        opened = self.readings.pressure_pa[0] - self.priors.zero_pa + self.ambient_pa
        guess = np.zeros(len(NAMES))
        guess[[RATE, SHARE, START]] = rate, share, opened
        guess[[LOG_TAU, ZERO]] = self.priors.log_tau, self.priors.zero_pa
        return guess

    def start_closing(self, opening_pa: float, share: float = 0.5) -> Array:
        """A first guess for a leak that closes at a gauge magnitude, from the first half of the fall."""
        p = self.sign * (self.readings.pressure_pa - self.priors.zero_pa)
        t, fall = self.readings.time_s, float(p[0] - p.min())
        half = max(int(np.argmax(p <= p[0] - 0.5 * fall)), 1)
        above = max(float(p[0]) - 0.25 * fall - opening_pa, 100.0)
        guess = self.start(share)
        speed = float(p[0] - p[half]) / float(t[half] - t[0])
        guess[RATE] = max(speed, 1e-2) / self._relative_flow(above, share)
        guess[OPENING] = opening_pa
        return guess

    def _relative_flow(self, gauge_pa: float, share: float) -> float:
        """Loss rate at a gauge magnitude over that at the quoted pressure, for one viscous share."""
        at = np.array([max(self.ambient_pa + self.sign * gauge_pa, 0.01 * self.ambient_pa)])
        law = Leak(
            share / self._viscous_at_quote,
            (1.0 - share) / self._orifice_at_quote,
            self.ambient_pa,
            back=self.ambient_pa,
        )
        return max(float(throughput_per_volume(at, law, self.inward)[0]), 1e-6)

    def predict(self, x: Array) -> tuple[Array, Array]:
        """Readings (n,) the gauge would give, gauge Pa, and their Jacobian (n, 15). Raises NotSolved."""
        p, by = self.balance.at_readings(self._solve(x))
        jac = by @ self._chain(x)
        jac[:, ZERO] = 1.0
        jac[:, CREEP:] = self._creep
        return p - self.ambient_pa + x[ZERO] + self._creep @ x[CREEP:], jac

    def _chain(self, x: Array) -> Array:
        """(8, 15) slopes of the `Leak` by the parameters sought."""
        viscous, orifice = 1.0 / self._viscous_at_quote, 1.0 / self._orifice_at_quote
        by = np.zeros((len(PARAMETERS), len(NAMES)))
        by[:2, RATE] = x[SHARE] * viscous, (1.0 - x[SHARE]) * orifice
        by[:2, SHARE] = x[RATE] * viscous, -x[RATE] * orifice
        by[2, START] = by[3, WARMTH] = by[6, DRIFT] = by[7, GROWTH] = 1.0
        by[4, LOG_TAU] = -math.exp(-x[LOG_TAU])
        by[5, OPENING] = self.sign
        return by

    def _solve(self, x: Array) -> Path:
        leak = self.leak(x)
        values = leak.array()
        path = None
        if self._last is not None:
            before, old = self._last
            guess = old.state + old.state_by @ (values - before)
            if np.isfinite(guess).all() and (guess > 0).all():
                try:
                    path = self.balance.solve(leak, guess)
                except NotSolved:
                    path = None
        if path is None:
            path = self.balance.solve(leak)
        self._last = (values, path)
        return path

    def __call__(self, x: Array) -> tuple[Array, Array]:
        """Residuals over their standard deviations, priors appended, and the Jacobian."""
        value, jac = self.predict(x)
        sigma = self.readings.sigma_pa
        known, known_jac = self._prior_rows(x)
        r = np.concatenate(((value - self.readings.pressure_pa) / sigma, known))
        return r, np.concatenate((jac / sigma[:, None], known_jac))

    def _prior_rows(self, x: Array) -> tuple[Array, Array]:
        k = self.priors
        # filling warms the gas and evacuating cools it; the other sign needs a leak that ran before
        warm_sd = k.warmth_sd * (1.0 if x[WARMTH] * self.sign >= 0 else _WRONG_SIGN)
        tau_sd = k.log_tau_sd if x[LOG_TAU] > k.log_tau else _LOG_TAU_SD_BELOW
        centre = np.array([0.5, 0.0, k.log_tau, k.zero_pa, 0.0, *[0.0] * _CREEP_S.size])
        sd = np.array([_SHARE_SD, warm_sd, tau_sd, k.zero_sd_pa, k.drift_sd, *k.creep_sd_pa])
        jac = np.zeros((sd.size, len(NAMES)))
        jac[np.arange(sd.size), KNOWN] = 1.0 / sd
        return (x[KNOWN] - centre) / sd, jac

    @staticmethod
    def creep(time_s: Array) -> Array:
        """(n, 6) the relaxation spectrum at times after the valve was shut."""
        return np.asarray(np.exp(-np.asarray(time_s)[:, None] / _CREEP_S))

    def at_times(self, time_s: Array) -> HoldModel:
        """The same problem seen at other times from the start of the hold (for curves; no readings there)."""
        one = np.ones_like(time_s)
        readings = replace(
            self.readings, time_s=time_s, pressure_pa=self.readings.pressure_pa[0] * one, sigma_pa=one, count=one
        )
        other = HoldModel(readings, self.ambient_pa, self.inward, self.quote_pa, self.priors)
        if other._span == self._span:
            other._last = self._last
        return other

    def with_soft_creep(self) -> HoldModel:
        """The same problem with room for the slow creep of soft hose and rubber."""
        other = copy.copy(self)
        other.priors = replace(self.priors, creep_sd_pa=tuple(_T.soft_creep_sd_pa))
        return other

    def with_sigma(self, factor: float) -> HoldModel:
        """The same problem with every reading's standard deviation times `factor`."""
        other = copy.copy(self)
        other.readings = replace(self.readings, sigma_pa=self.readings.sigma_pa * factor)
        return other
