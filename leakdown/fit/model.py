"""The decay of one hold as a least-squares problem: which numbers are sought, and what is known of them.

Sought, in the order of `NAMES`: the settled loss rate at the quoted pressure (the answer), the share of
it that flows viscously, the starting pressure, the gas's start temperature, its thermal time constant,
the gauge's zero, a slow drift of the wall temperature, and for odd shapes the opening pressure of a
reseating leak and the growth of the leak; what pressure does to the leak's gap (lips that lift, other flow
laws), the share of free convection, rubber that gives way equally in each octave of time; last whatever else
settles (hose, the sensor itself) as a spectrum of relaxations, linear in the fit.
"""

from __future__ import annotations

import copy
import math
from dataclasses import replace

import numpy as np

from leakdown.analysis import Array
from leakdown.fit.priors import Priors
from leakdown.hold.readings import Readings
from leakdown.physics.air import isentropic_temperature_ratio
from leakdown.physics.balance import Balance, NotSolved, Path
from leakdown.physics.leak import PARAMETERS, Leak, flow_per_geometry, pressing, throughput_per_volume
from leakdown.tuned import tuned

_T = tuned("fit")
_CREEP_S = np.array(_T.creep_s)
_RUBBER_FROM_S: float = _T.rubber_from_s
_LOG_TAU_SD_BELOW: float = _T.log_tau_sd_below
_SHARE_SD: float = _T.share_sd

NAMES = (
    *("rate", "share", "start", "warmth", "log_tau", "zero", "drift", "opening", "growth"),
    *("pressed", "convection", "rubber"),
    *(f"creep_{k}" for k in range(_CREEP_S.size)),
)
RATE, SHARE, START, WARMTH, LOG_TAU, ZERO, DRIFT, OPENING, GROWTH, PRESSED, CONVECTION, RUBBER, CREEP = range(13)
KNOWN = np.array([SHARE, WARMTH, LOG_TAU, ZERO, DRIFT, PRESSED, CONVECTION, *range(RUBBER, len(NAMES))])
"""Parameters with a prior, in the order of the prior rows."""


_SELDOM = np.flatnonzero(np.isin(KNOWN, (DRIFT, PRESSED, RUBBER)))
_CORE = 0.1


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
        self._pressed_at_quote = pressing(np.array([quote_pa]), inward, ambient_pa)[0].item()
        self._creep = self._settling(readings.time_s)
        self._last: tuple[Array, Path] | None = None

    def leak(self, x: Array) -> Leak:
        """The physical leak of a parameter vector."""
        rate = x[RATE] * math.exp(-x[PRESSED])  # its gap is counted from no pressure, its rate from the quoted one
        return Leak(
            viscous=rate * x[SHARE] / self._viscous_at_quote,
            orifice=rate * (1.0 - x[SHARE]) / self._orifice_at_quote,
            start=x[START],
            warmth=x[WARMTH],
            relaxation=math.exp(-x[LOG_TAU]),
            back=self.ambient_pa + self.sign * x[OPENING],
            drift=x[DRIFT],
            growth=x[GROWTH],
            pressed=x[PRESSED] / self._pressed_at_quote,
            convection=x[CONVECTION],
        )

    def bounds(self, shape: str = "plain") -> tuple[Array, Array]:
        """Lower and upper bounds (18,); opening and growth are held at zero unless `shape` names them."""
        p = self.readings.pressure_pa
        first, end = abs(float(p[0])), max(float(self.sign * p[-1]), 0.0)
        low, high = np.zeros(len(NAMES)), np.zeros(len(NAMES))
        high[RATE] = _T.rate_most_1_s * max(first, 1e3)
        high[SHARE] = 1.0
        low[START], high[START] = 0.02 * self.ambient_pa, 50.0 * self.ambient_pa
        ends = 1.0 + self.sign * min(first, 0.9 * self.ambient_pa) / self.ambient_pa
        high[WARMTH] = _T.warmth_most * abs(isentropic_temperature_ratio(ends) - 1.0)
        low[LOG_TAU], high[LOG_TAU] = (math.log(tau_s) for tau_s in _T.tau_range_s)
        high[ZERO] = _T.offset_most_pa
        high[RUBBER:] = 3.0 * _T.offset_most_pa
        high[DRIFT] = _T.drift_most_1_s
        high[PRESSED] = _T.pressed_most * self.priors.pressed_sd
        for both_ways in (WARMTH, ZERO, DRIFT, PRESSED, slice(RUBBER, None)):
            low[both_ways] = -high[both_ways]
        high[CONVECTION] = _T.convection_most
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
        guess[[LOG_TAU, ZERO, CONVECTION]] = self.priors.log_tau, self.priors.zero_pa, _T.convection
        guess[WARMTH] = self.priors.warmth.likeliest(self.priors.log_tau)
        return guess

    def start_tight(self) -> Array:
        """A first guess without any leak."""
        guess = self.start()
        guess[RATE] = 0.0
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
        return max(throughput_per_volume(at, law, self.inward).item(), 1e-6)

    def predict(self, x: Array) -> tuple[Array, Array]:
        """Readings (n,) the gauge would give, gauge Pa, and their Jacobian (n, 18). Raises NotSolved."""
        p, by = self.balance.at_readings(self._solve(x))
        jac = by @ self._chain(x)
        jac[:, ZERO] = 1.0
        jac[:, RUBBER:] = self._creep
        return p - self.ambient_pa + x[ZERO] + self._creep @ x[RUBBER:], jac

    def _chain(self, x: Array) -> Array:
        """(10, 18) slopes of the `Leak` by the parameters sought."""
        opened = math.exp(-x[PRESSED])
        viscous, orifice = opened / self._viscous_at_quote, opened / self._orifice_at_quote
        by = np.zeros((len(PARAMETERS), len(NAMES)))
        by[:2, RATE] = x[SHARE] * viscous, (1.0 - x[SHARE]) * orifice
        by[:2, SHARE] = x[RATE] * viscous, -x[RATE] * orifice
        by[2, START] = by[3, WARMTH] = by[6, DRIFT] = by[7, GROWTH] = 1.0
        by[4, LOG_TAU] = -math.exp(-x[LOG_TAU])
        by[5, OPENING] = self.sign
        by[:2, PRESSED] = -x[RATE] * x[SHARE] * viscous, -x[RATE] * (1.0 - x[SHARE]) * orifice
        by[8, PRESSED], by[9, CONVECTION] = 1.0 / self._pressed_at_quote, 1.0
        return by

    def _solve(self, x: Array) -> Path:
        leak = self.leak(x)
        values = leak.array()
        path = None
        if self._last is not None:
            before, old = self._last
            if np.array_equal(values, before):
                return old
            guess = old.moved(values - before)
            if np.isfinite(guess[0]).all() and (guess[0] > 0).all():
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

    def along(self, x: Array, step: Array, lower: Array, upper: Array) -> Array:
        """x moved by a step. What readings tell of a growing leak is how fast its loss grows, rate times growth.

        So that takes the step, and the growth follows from it: the valley of slow leaks that grow many times over
        bends as 1/rate.
        """
        moved = x + step
        if upper[GROWTH] > lower[GROWTH] and moved[RATE] > 0.0:
            gained = x[RATE] * x[GROWTH] + x[GROWTH] * step[RATE] + x[RATE] * step[GROWTH]
            moved[GROWTH] = min(max(gained / moved[RATE], lower[GROWTH]), upper[GROWTH])
        return moved

    def prior_sd(self, x: Array) -> Array:
        """Standard deviations of the priors, in the order of `KNOWN`."""
        k = self.priors
        tau_sd = k.log_tau_sd if x[LOG_TAU] > k.log_tau else _LOG_TAU_SD_BELOW
        # a turbulent path, a C_d that grows and a lip that lifts all pass more under more pressure; and
        # what rubber gives way is lost; a little the other way after a higher pressure before
        pressed = k.pressed_sd if x[PRESSED] >= 0.0 else _T.pressed_other_share * k.pressed_sd
        rubber = _T.rubber_sd_pa if x[RUBBER] * self.sign >= 0.0 else _T.rubber_back_sd_pa
        before = [_SHARE_SD, k.warmth.deviation(float(x[LOG_TAU])), tau_sd, k.zero_sd_pa, k.drift_sd, pressed]
        return np.array([*before, _T.convection_sd, rubber, *k.creep_sd_pa])

    def _prior_rows(self, x: Array) -> tuple[Array, Array]:
        k, sd = self.priors, self.prior_sd(x)
        centre = np.array([0.5, 0.0, k.log_tau, k.zero_pa, 0.0, 0.0, _T.convection, 0.0, *[0.0] * _CREEP_S.size])
        rows = (x[KNOWN] - centre) / sd
        slope = 1.0 / sd
        # most rigs drift and creep little, a few much: tails of exp(-x/sd), rounded off at a tenth of it
        ends = np.sqrt(np.square(rows[_SELDOM]) + _CORE**2)
        cost = np.sqrt(2.0 * (ends - _CORE))
        at_zero = cost < 1e-6
        slope[_SELDOM] *= np.where(
            at_zero, 1.0 / math.sqrt(_CORE), np.abs(rows[_SELDOM]) / ends / np.where(at_zero, 1.0, cost)
        )
        rows[_SELDOM] = np.sign(rows[_SELDOM]) * cost
        jac = np.zeros((sd.size, len(NAMES)))
        jac[np.arange(sd.size), KNOWN] = slope
        rows[1], jac[1, WARMTH], jac[1, LOG_TAU] = k.warmth.at(float(x[LOG_TAU]), float(x[WARMTH]))
        return rows, jac

    @staticmethod
    def creep(time_s: Array) -> Array:
        """(n, 6) the relaxation spectrum at times after the valve was shut."""
        return np.asarray(np.exp(-np.asarray(time_s)[:, None] / _CREEP_S))

    @classmethod
    def _settling(cls, time_s: Array) -> Array:
        """(n, 7) what gives way at times after the valve was shut: log-time, then the relaxations."""
        return np.column_stack((-np.log1p(np.asarray(time_s) / _RUBBER_FROM_S), cls.creep(time_s)))

    def at_times(self, time_s: Array) -> HoldModel:
        """The same problem seen at other times from the start of the hold (for curves; no readings there)."""
        one, start = np.ones_like(time_s), np.full_like(time_s, self.readings.pressure_pa[0])
        readings = replace(self.readings, time_s=time_s, pressure_pa=start, sigma_pa=one, count=one)
        other = HoldModel(readings, self.ambient_pa, self.inward, self.quote_pa, self.priors)
        if other._span == self._span:
            other._last = self._last
        return other

    def in_shape(self, shape: str) -> HoldModel:
        """The same problem with the room that an odd shape asks for beyond its own parameter.

        "creep": soft hose and rubber, under vacuum fuel vapour too. "pressed": a gap that the pressure opens
        or shuts many times over.
        """
        soft = _T.soft_creep_sd_vacuum_pa if self.inward else _T.soft_creep_sd_pa
        wider = {"creep": {"creep_sd_pa": tuple(soft)}, "pressed": {"pressed_sd": _T.pressed_sd_of_shape}}.get(shape)
        if wider is None:
            return self
        other = copy.copy(self)
        other.priors = replace(self.priors, **wider)
        return other

    def with_sigma(self, factor: float) -> HoldModel:
        """The same problem with every reading's standard deviation times `factor`."""
        other = copy.copy(self)
        other.readings = replace(self.readings, sigma_pa=self.readings.sigma_pa * factor)
        return other
