"""The smallest leak that a test would have shown: said once, the same everywhere."""

from __future__ import annotations

import math
from dataclasses import dataclass

from leakdown.analysis import Analysis, LeakEstimate
from leakdown.quantities import show_pressure
from leakdown.report.digits import number
from leakdown.report.flag_words import has_flag
from leakdown.report.quoted import at_words, flow_factor, loss_factor

_BLIND = {
    "frozen": "no leak can be read from a gauge that stands still",
    "saturated": "no leak can be read from a gauge at the end of its scale",
    "pressure-rises": "no leak can be read while the pressure moves away from zero",
}
_DIED_OUT = ("creep", "levels-off", "leak-shrinks", "not-settled")


@dataclass(frozen=True)
class Least:
    """A leak above this would have shown, at the quoted pressure. None without a volume."""

    rate_pa_s: float
    flow_pa_m3_s: float | None
    hole_m: float | None


def least_seen(analysis: Analysis) -> Least | None:
    """None without a fit, and for a hold too short or too coarse to show any leak.

    Where no leak was found it is the larger of what the test could show and what its readings leave room for.
    """
    leak = analysis.leak
    if leak is None:
        return None
    rate, flow, hole = leak.detection_rate_pa_s, leak.detection_pa_m3_s, None
    if not leak.detected:
        rate = max(rate, leak.rate_pa_s.high)
        if flow is not None and leak.throughput_pa_m3_s is not None:
            flow = max(flow, leak.throughput_pa_m3_s.high)
        if leak.hole_m is not None and leak.rate_pa_s.high > 0.0:
            hole = leak.hole_m.high * math.sqrt(rate / leak.rate_pa_s.high)  # flow goes with the area
    hold = analysis.hold
    most_pa = max(abs(hold.start_pa), abs(leak.at_pa))
    if rate * (hold.end_s - hold.start_s) >= most_pa:
        return None
    return Least(rate, flow, hole)


def seen_above(analysis: Analysis) -> str:
    """The smallest leak that this test would have shown, "0.21 cm3/min (0.09 kPa/min)"; "" where none."""
    least = least_seen(analysis)
    if least is None:
        return ""
    unit = analysis.recording.conditions.unit
    loss = f"{number(least.rate_pa_s * loss_factor(analysis), 2)} {unit}/min"
    if least.flow_pa_m3_s is None:
        return loss
    return f"{number(least.flow_pa_m3_s * flow_factor(analysis), 2)} cm3/min ({loss})"


def unseen_sentence(analysis: Analysis, leak: LeakEstimate) -> str:
    """What a test says in which no leak was found: never more than it can know."""
    blind, held_pa = _blind(analysis), abs(analysis.hold.start_pa)
    where, above, unit = at_words(analysis), seen_above(analysis), analysis.recording.conditions.unit
    if blind:
        return f"{blind.capitalize()}."
    if any(finding.name == "rig" for finding in analysis.findings):
        most = f": at most {above} {where}" if above else ""
        return f"What is left beside the rig's own leak cannot be told from none{most}."
    closes = leak.opening_pa
    if closes is not None:
        level = show_pressure(abs(closes), unit)
        if abs(leak.at_pa) <= abs(closes):
            return f"No leak seen {where}: what leaks above {level} closes near there."
        return f"What leaks closes near {level}; how much leaks above that is not known for certain."
    if has_flag(analysis, "fell-before-hold") and abs(leak.at_pa) > held_pa:
        return f"No leak seen at {show_pressure(held_pa, unit)} and below."
    if has_flag(analysis, "quoted-outside"):  # a valve may open up there
        return f"{_fall(analysis)}; nothing is known above {show_pressure(held_pa, unit)}."
    seen = f"anything above {above} {where} would have been seen"
    if has_flag(analysis, "too-short"):
        seen = f"only one above {above} {where} would have shown: hold longer, or use a finer gauge"
    if not above:
        seen = "the hold was too short, or the gauge too coarse, to show any"
    return f"{_fall(analysis)}; {seen}."


def unseen_brief(analysis: Analysis) -> str:
    """The same in one breath."""
    above = seen_above(analysis)
    if blind := _blind(analysis):
        return blind
    return f"no leak seen; above {above} it would have been" if above else "no leak seen, nor could it be"


def _blind(analysis: Analysis) -> str:
    return next((_BLIND[flag.code] for flag in analysis.flags if flag.code in _BLIND), "")


def _fall(analysis: Analysis) -> str:
    fall_pa = abs(analysis.hold.start_pa) - abs(analysis.hold.end_pa)
    if fall_pa <= 0.9 * max(analysis.used.resolution_pa.value or 0.0, 4.0 * analysis.used.noise_pa):
        return "No leak seen"
    fall = show_pressure(fall_pa, analysis.recording.conditions.unit)
    if has_flag(analysis, *_DIED_OUT):
        return f"No steady leak seen: the fall of {fall} died out during the hold"
    return f"No leak seen: the fall of {fall} may be settling, or the readings' doubt"
