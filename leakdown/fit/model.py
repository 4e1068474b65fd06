"""The decay of one hold as a least-squares problem: which numbers are sought, and what is known of them.

Sought, in the order of `NAMES`: the settled loss rate at the quoted pressure (the answer), the share of
it that flows viscously, the starting pressure, the gas's start temperature, its thermal time constant,
the gauge's zero, a slow drift of the wall temperature, and for odd shapes the opening pressure of a
reseating leak and the growth of the leak. Every prior is physics or said to be practice.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.hold.readings import Readings
from leakdown.physics.air import isentropic_temperature_ratio
from leakdown.physics.balance import PARAMETERS, Balance, Leak, NotSolved, Path, throughput_per_volume

Array = NDArray[np.float64]

NAMES = (
    "rate",
    "share",
    "start",
    "warmth",
    "log_tau",
    "zero",
    "drift",
    "opening",
    "growth",
    "creep_0",
    "creep_1",
    "creep_2",
    "creep_3",
    "creep_4",
    "creep_5",
)
RATE, SHARE, START, WARMTH, LOG_TAU, ZERO, DRIFT, OPENING, GROWTH, CREEP = range(10)

# Common practice, no source, unless said otherwise.
_TAU_AT_200_CM3_S = 1.5  # small metal crankcase: 0.5 to 5 s; grows with size as V^(1/3)
_LOG_TAU_SD = 0.7
_LOG_TAU_SD_NO_VOLUME = 1.0
_LOG_TAU_SD_BELOW = 3.0  # next to no lag is physics too (wet walls, thin gaps): let the data say so
# Whatever else settles (hose, rubber, the sensor itself) as a spectrum of relaxations, linear in the fit.
_CREEP_S = np.array([0.7, 1.5, 3.0, 6.0, 15.0, 40.0])
_CREEP_SD_PA = (450.0, 450.0, 450.0, 350.0, 40.0, 10.0)
SOFT_CREEP_SD_PA = (450.0, 450.0, 450.0, 700.0, 700.0, 700.0)
"""For soft hose and wet rubber: seconds to a minute, kPa instead of a fraction (common practice)."""
_WARMTH_SHARE = 0.2  # of the isentropic bound that is left when the valve closes (sd)
_WRONG_SIGN = 0.3
_DRIFT_SD_1_S = 0.02 / 60.0 / 293.15  # a cold engine at rest: 0.02 K/min
_SHARE_SD = 1.0  # only keeps a hold too short to tell the flow law from being singular


_KNOWN = np.array([SHARE, WARMTH, LOG_TAU, ZERO, DRIFT, *range(CREEP, len(NAMES))])  # have a prior


@dataclass(frozen=True)
class Priors:
    """Centre and standard deviation of the nuisance numbers; `zero` in Pa, `drift` in 1/s."""

    zero_pa: float = 0.0
    zero_sd_pa: float = 150.0
    log_tau: float = math.log(_TAU_AT_200_CM3_S)
    log_tau_sd: float = _LOG_TAU_SD
    warmth_sd: float = 0.013
    drift: float = 0.0
    drift_sd: float = _DRIFT_SD_1_S
    creep_sd_pa: tuple[float, ...] = _CREEP_SD_PA

    def for_volume(self, volume_m3: float | None) -> Priors:
        """tau scales with V^(1/3) (gas per wall area); an unknown volume leaves more doubt."""
        if volume_m3 is None:
            return replace(self, log_tau_sd=_LOG_TAU_SD_NO_VOLUME)
        return replace(self, log_tau=math.log(_TAU_AT_200_CM3_S * (volume_m3 / 200e-6) ** (1.0 / 3.0)))


def warmth_sd(start_pa_gauge: float, ambient_pa: float) -> float:
    """Start-temperature doubt (of T/T_w - 1): a part of what filling without heat loss would give.

    At most 2.5 % (7 K): a high test pressure is pumped up slowly.
    """
    isentropic = abs(isentropic_temperature_ratio(1.0 + start_pa_gauge / ambient_pa) - 1.0)
    return min(max(_WARMTH_SHARE * isentropic, 1e-4), 0.025)


class HoldModel:
    """Residuals of `readings` (time from the start of the hold) and their Jacobian, priors included.

    ambient_pa: abs. inward: air flows in (vacuum). quote_pa: magnitude of the quoted gauge pressure.
    Remembers its last solution, because the next one is always near it.
    """

    def __init__(
        self, readings: Readings, ambient_pa: float, inward: bool, quote_pa: float, priors: Priors
    ) -> None:
        self.readings = readings
        self.ambient_pa = ambient_pa
        self.inward = inward
        self.sign = -1.0 if inward else 1.0
        self.quote_pa = quote_pa
        self.priors = priors
        self.balance = Balance(readings.time_s, ambient_pa, inward)
        unit = [Leak(1.0, 0.0, ambient_pa, back=ambient_pa), Leak(0.0, 1.0, ambient_pa, back=ambient_pa)]
        at = np.array([ambient_pa + self.sign * quote_pa])
        self._viscous_at_quote, self._orifice_at_quote = (
            float(throughput_per_volume(at, leak, inward)[0]) for leak in unit
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
        """Lower and upper bounds (14,); opening and growth are held at zero unless `shape` names them."""
        opening, growth = shape == "opening", shape == "growth"
        p = self.readings.pressure_pa
        hot = abs(isentropic_temperature_ratio(1.0 + abs(p[0]) / self.ambient_pa) - 1.0)
        fastest = 50.0 * max(abs(p[0]), 1e3)  # empties within 20 ms
        end = max(float(self.sign * p[-1]), 0.0)
        top = min(0.999 * end, 0.97 * abs(float(p[0]))) if opening else 0.0
        low = [
            0.0,
            0.0,
            0.02 * self.ambient_pa,
            -hot,
            math.log(0.05),
            -5e3,
            -1e-4,
            0.0,
            -1.0 / self._span if growth else 0.0,
        ] + [-5e3] * _CREEP_S.size
        high = [
            fastest,
            1.0,
            50.0 * self.ambient_pa,
            hot,
            math.log(300.0),
            5e3,
            1e-4,
            top,
            50.0 / self._span if growth else 0.0,
        ] + [5e3] * _CREEP_S.size
        return np.array(low), np.array(high)

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
        guess[[LOG_TAU, ZERO, DRIFT]] = self.priors.log_tau, self.priors.zero_pa, self.priors.drift
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
        centre = np.array([0.5, 0.0, k.log_tau, k.zero_pa, k.drift, *[0.0] * _CREEP_S.size])
        sd = np.array([_SHARE_SD, warm_sd, tau_sd, k.zero_sd_pa, k.drift_sd, *k.creep_sd_pa])
        jac = np.zeros((sd.size, len(NAMES)))
        jac[np.arange(sd.size), _KNOWN] = 1.0 / sd
        return (x[_KNOWN] - centre) / sd, jac

    @staticmethod
    def creep(time_s: Array) -> Array:
        """(n, 5) the relaxation spectrum at times after the valve was shut."""
        return np.exp(-np.asarray(time_s)[:, None] / _CREEP_S)

    def at_times(self, time_s: Array) -> HoldModel:
        """The same problem seen at other times from the start of the hold (for curves; no readings there)."""
        filler = np.full_like(time_s, self.readings.pressure_pa[0])
        readings = Readings(
            time_s,
            filler,
            np.ones_like(time_s),
            np.ones_like(time_s),
            self.readings.noise_pa,
            self.readings.resolution_pa,
        )
        other = HoldModel(readings, self.ambient_pa, self.inward, self.quote_pa, self.priors)
        if other._span == self._span:
            other._last = self._last
        return other

    def with_soft_creep(self) -> HoldModel:
        """The same problem with room for the slow creep of soft hose and rubber."""
        other = copy.copy(self)
        other.priors = replace(self.priors, creep_sd_pa=SOFT_CREEP_SD_PA)
        return other

    def with_sigma(self, factor: float) -> HoldModel:
        """The same problem with every reading's standard deviation times `factor`."""
        other = copy.copy(self)
        other.readings = replace(self.readings, sigma_pa=self.readings.sigma_pa * factor)
        return other
