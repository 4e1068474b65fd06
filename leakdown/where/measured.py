"""What each test says in one figure that every story can be held against: its loss, signed, with its doubt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.fit.model import HoldModel
from leakdown.fit.ratio import fixed_flow
from leakdown.judge.judged import FittedTest
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95
from leakdown.where.tests import RIG

_T = tuned("where")
_GIVEN_BACK = ("levels-off", "not-settled", "creep")
"""Flags of a test whose first loss is over before its end: what vapour does, and some leaks."""
MOVING = ("leak-grows", "leak-shrinks", "levels-off")
"""Flags of a leak that is another one at another pressure."""


@dataclass(frozen=True)
class Measured:
    """One test. Losses in Pa/s of the reference volume, at the test's quoted pressure, positive towards zero.

    below, above: standard deviations on either side; a test that saw no leak bounds it from above alone.
    weep, hole: its loss over that of the first test, for one fixed weep and one fixed hole.
    hole_like: chance that its decay is a hole's, 0.5 where it cannot tell. gave_back: it lost at first what it did
    not go on losing. warming: its loss, Pa/s, by walls that warm 1 K/min. inside: the sections it contained.
    """

    source: str
    inward: bool
    inside: frozenset[str]
    loss: float
    below: float
    above: float
    weep: float
    hole: float
    hole_like: float
    gave_back: bool
    warming: float
    tight: bool
    of_rig: bool

    def fits(self, predicted: Array, surprise: float) -> Array:
        """Likelihood of the test, up to a factor that no story changes, where this loss is predicted (any shape).

        surprise: how far a story allows that the test is something else than it looks.
        """
        away = predicted - self.loss
        width = np.where(away < 0.0, self.below, self.above)
        return np.asarray(surprise + np.exp(-0.5 * np.square(away / width)))


def measured(tests: Sequence[FittedTest], inside: Sequence[frozenset[str]]) -> tuple[Measured, ...]:
    """Every test that says something of a leak; tests on the same sections have the same volume, whatever is stated."""
    usable = [(h, s) for h, s in zip(tests, inside, strict=True) if h.analysis.leak is not None]
    if not usable:
        return ()
    volumes, doubts = _volumes(usable)
    first = usable[0][0].found.model
    return tuple(
        _measured(h, s, first, volume, doubt) for (h, s), volume, doubt in zip(usable, volumes, doubts, strict=True)
    )


def _measured(h: FittedTest, inside: frozenset[str], first: HoldModel, volume: float, doubt: float) -> Measured:
    rate, model = h.rate_pa_s, h.found.model
    loss, below, above = rate.value or 0.0, math.inf, rate.high / Z_95
    if rate.value is not None:
        below, above = (rate.value - rate.low) / Z_95, (rate.high - rate.value) / Z_95
        if any(h.has(code) for code in MOVING):
            loss, below, above = _moving(h)
    elif h.has("pressure-rises"):
        loss, below = _slope(model)
        above = below
    scatter = math.hypot(_T.repeat_scatter, doubt) * abs(loss)
    weep, hole = fixed_flow(first, model)
    at_pa = model.ambient_pa + model.sign * model.quote_pa
    warming = -model.sign * at_pa / (60.0 * (h.analysis.used.temperature_k.value or 293.15))
    return Measured(
        source=h.analysis.recording.source,
        inward=h.inward,
        inside=inside,
        loss=loss * volume,
        below=math.hypot(below, scatter) * volume,
        above=math.hypot(max(above, 1e-3), scatter) * volume,
        weep=weep,
        hole=hole,
        hole_like=hole_like(h),
        gave_back=_gave_back(h),
        warming=warming * volume,
        tight=h.tight,
        of_rig=h.analysis.circuit == RIG,
    )


def mean_rate_pa_s(h: FittedTest) -> float:
    """The loss at the quoted pressure that the whole hold would have, were its leak the same at every pressure."""
    hold = h.analysis.hold
    start, end = abs(hold.start_pa), max(abs(hold.end_pa), 100.0)
    return h.found.model.quote_pa * math.log(max(start / end, 1.0 + 1e-6)) / max(hold.end_s - hold.start_s, 1e-3)


def _moving(h: FittedTest) -> tuple[float, float, float]:
    """Loss and its doubts where the leak moves with the pressure: from what it is at one to what it is at all."""
    rate = h.rate_pa_s
    ends = sorted((rate.value or 0.0, rate.low, rate.high, mean_rate_pa_s(h)))
    centre = math.sqrt(max(ends[0], 1e-3) * ends[-1])
    return centre, (centre - ends[0]) / Z_95, (ends[-1] - centre) / Z_95


def hole_like(one: FittedTest) -> float:
    """Chance that less than half of the flow is viscous, from the share's interval; 0.5 where it cannot tell."""
    share = one.analysis.leak.viscous_share if one.analysis.leak is not None else None
    if share is None or share.value is None or share.high - share.low > _T.share_too_wide:
        return 0.5
    sd = max((share.high - share.low) / (2.0 * Z_95), _T.share_least_sd)
    z = (0.5 - share.value) / sd
    return float(min(max(0.5 + _T.hole_per_sigma * z, 0.0), 1.0))


def _gave_back(h: FittedTest) -> bool:
    lost = abs(h.analysis.hold.start_pa) - abs(h.analysis.hold.end_pa)
    went_on = (h.rate_pa_s.value or 0.0) * (h.analysis.hold.end_s - h.analysis.hold.start_s)
    return any(h.has(code) for code in _GIVEN_BACK) and lost - went_on > _T.given_back_pa


def _slope(model: HoldModel) -> tuple[float, float]:
    """Loss (negative: it moves away from zero) over the last half of a hold, and its standard deviation, Pa/s."""
    readings = model.readings
    late = readings.time_s >= 0.5 * float(readings.time_s[-1])
    t, p = readings.time_s[late], model.sign * readings.pressure_pa[late]
    t = t - t.mean()
    curvature = max(float(t @ t), 1e-9)
    slope = float(t @ p) / curvature
    sd = float(np.median(readings.sigma_pa[late])) / math.sqrt(curvature)
    return -slope, math.hypot(sd, _T.rising_doubt * abs(slope))


def _volumes(usable: Sequence[tuple[FittedTest, frozenset[str]]]) -> tuple[list[float], list[float]]:
    """Each test's volume over that of the first, and its doubt (relative sd); the same sections share one error."""
    stated: dict[frozenset[str], list[float]] = {}
    for h, s in usable:
        stated.setdefault(s, []).extend([h.volume_m3] if h.volume_m3 else [])
    most = max(len(s) for s in stated)
    known = {s: sum(v) / len(v) for s, v in stated.items() if v}
    reference = next(iter(known.values()), 1.0)  # the first test's, where it is stated
    volumes, doubts = [], []
    for h, s in usable:
        if s in known:
            volumes.append(known[s] / reference)
            own = (h.analysis.used.volume_u_m3.value or 0.0) / known[s] / Z_95
            doubts.append(own if len(known) > 1 else 0.0)
        else:
            full = len(s) == most
            volumes.append(1.0 if full else _T.blanked_volume)
            doubts.append(0.0 if full and not known else _T.unknown_volume_log_sd)
    return volumes, doubts
