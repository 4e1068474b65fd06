"""The directional ratio: how much larger a leak is under vacuum than under pressure.

The volume cancels because both tests are of one circuit on the same blanks; what cannot cancel (another
gauge, the walls warming) widens the interval or is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from leakdown.fit.inputs import temperature_k
from leakdown.fit.model import DRIFT, ZERO
from leakdown.fit.ratio import JointHold, compared, fixed_flow
from leakdown.judge.judged import FittedTest
from leakdown.tuned import tuned
from leakdown.uncertainty import widened
from leakdown.where.located import Ratio
from leakdown.where.measured import MOVING, mean_rate_pa_s

_T = tuned("where")


def directional(pressure: Sequence[FittedTest], vacuum: Sequence[FittedTest]) -> Ratio | None:
    """Vacuum over pressure from tests of one circuit on the same blanks; None when no test can be used.

    A hold that moves away from zero is vapour or warming and says nothing of a leak.
    """
    steady = [[h for h in tests if not h.has("pressure-rises")] for tests in (pressure, vacuum)]
    seen_p, seen_v = ([h for h in tests if h.detected] for tests in steady)
    tight_p, tight_v = ([h for h in tests if h.tight] for tests in steady)
    if seen_p and seen_v:
        return _measured(seen_p, seen_v)
    if tight_p and seen_v:
        return _bounded(tight_p, seen_v, vacuum_leaks=True)
    if seen_p and tight_v:
        return _bounded(tight_v, seen_p, vacuum_leaks=False)
    return Ratio(None, 0.0, None) if tight_p and tight_v else None


def _measured(pressure: list[FittedTest], vacuum: list[FittedTest]) -> Ratio | None:
    found = compared([_part(h, pressure[0]) for h in (*pressure, *vacuum)])
    if found is None or found.ratio.value is None:
        return None
    every = (*pressure, *vacuum)
    doubt = math.hypot(unshared_doubt(every), *map(_moving_doubt, every), _lip_doubt(pressure[0], vacuum[0]))
    ratio = widened(found.ratio, math.hypot(doubt, other_laws(pressure[0].found.model.quote_pa)), doubt)
    warming = _warming(pressure[0], vacuum[0])
    return Ratio(ratio.value, ratio.low, ratio.high, None, found.same_law, warming)


def _part(one: FittedTest, reference: FittedTest) -> JointHold:
    """The engine's temperature moves alike in all tests; one gauge has one zero error."""
    assumed = all(h.analysis.hold.zero.source == "assumed" for h in (one, reference))
    tied = (DRIFT, ZERO) if assumed and not other_gauge([one, reference]) else (DRIFT,)
    return JointHold(one.found, one.inward, volume_scale(reference, one), tied)


def one_volume(one: FittedTest, other: FittedTest) -> bool:
    """The two tests state one volume, or leave it open."""
    a, b = one.volume_m3, other.volume_m3
    return a is None or b is None or bool(abs(a / b - 1.0) < _T.same_volume)


def volume_scale(one: FittedTest, other: FittedTest) -> float:
    """Volume of one test over that of the other; 1 where they are one."""
    return 1.0 if one_volume(one, other) else (one.volume_m3 or 1.0) / (other.volume_m3 or 1.0)


def other_gauge(tests: Sequence[FittedTest]) -> bool:
    """More than one gauge was named."""
    named = {h.analysis.recording.conditions.gauge for h in tests}
    return len(named - {None}) > 1


def unshared_doubt(tests: Sequence[FittedTest]) -> float:
    """Half-width of the logarithm (95 %) of what the fits cannot see: other gauges, volumes not in common."""
    doubt = _T.gauge_class if other_gauge(tests) else 0.0
    other = next((h for h in tests[1:] if not one_volume(h, tests[0])), None)
    for h in () if other is None else (other, tests[0]):
        doubt = math.hypot(doubt, (h.analysis.used.volume_u_m3.value or 0.0) / (h.volume_m3 or 1.0))
    return float(doubt)


def other_laws(at_pa: float) -> float:
    """How much (95 %, of the logarithm) the ratio of a fixed hole may lie above 1 at a gauge magnitude.

    Long turbulent paths (q ~ sqrt(p1^2 - p2^2)), sharp edges whose C_d grows, and slip in fine gaps all pass more
    inward than the two laws of the fit say, and more so at higher pressure.
    """
    at_kpa, above = _T.other_laws_at_kpa, _T.other_laws_above
    return math.log1p(float(np.interp(at_pa / 1e3, at_kpa, above)))


def _moving_doubt(h: FittedTest) -> float:
    """Half-width of the logarithm (95 %) for a leak that moves with the pressure: at one pressure against at all."""
    if h.rate_pa_s.value is None or not any(h.has(code) for code in MOVING):
        return 0.0
    return abs(math.log(mean_rate_pa_s(h) / h.rate_pa_s.value))


def _lip_doubt(pressure: FittedTest, vacuum: FittedTest) -> float:
    """The same for a lip that the pressure moves a little: a weep may look like a hole, and a hole like a weep.

    The law that the fit sees may then be the wrong one, and with it what a fixed leak would pass the other way.
    """
    weep, hole = _fixed(pressure, vacuum)
    return float(_T.lip_law * abs(math.log(weep / hole)))


def _warming(pressure: FittedTest, vacuum: FittedTest) -> float:
    """Shift of log ratio per K/min of warming that both tests share: dp/dt = p T'/T on each loss."""
    total = 0.0
    for one in (pressure, vacuum):
        model = one.found.model
        at = model.ambient_pa + model.sign * model.quote_pa
        rate = one.rate_pa_s.value or math.inf
        total += at / (60.0 * temperature_k(one.analysis.used) * rate)
    return total


def _bounded(tight: list[FittedTest], leaking: list[FittedTest], vacuum_leaks: bool) -> Ratio:
    """The smallest leak that one direction allows against the largest that the tight one allows."""
    upper = min(tight, key=lambda h: h.rate_pa_s.high)
    lower = min(leaking, key=lambda h: h.rate_pa_s.low)
    if vacuum_leaks:
        bound = lower.rate_pa_s.low / max(upper.rate_pa_s.high, 1e-9) / max(_fixed(upper, lower))
        return Ratio(None, bound, None, at_least=bound)
    bound = upper.rate_pa_s.high / max(lower.rate_pa_s.low, 1e-9) / min(_fixed(lower, upper))
    return Ratio(None, 0.0, bound)


def _fixed(pressure: FittedTest, vacuum: FittedTest) -> tuple[float, float]:
    """Loss under vacuum over loss under pressure of one fixed hole: weep-like, hole-like."""
    return fixed_flow(pressure.found.model, vacuum.found.model, volume_scale(pressure, vacuum))
