"""The words of a result: short pieces that terminal, page and picture share. Plain ASCII."""

from __future__ import annotations

import math

from leakdown.estimate.result import Analysis, Figure, Finding, Interval, LeakEstimate
from leakdown.quantities import (
    PRESSURE_PA,
    REFERENCE_TEMPERATURE_K,
    show_pressure,
    significant,
    standard_cm3_per_min,
)

VERDICT_WORDS = {"pass": "PASS", "fail": "FAIL", "undecided": "CANNOT SAY YET"}
STANDARD_AIR = "air at 20 degC, 101.325 kPa"
_CIRCUITS = {
    "crankcase": "crankcase",
    "intake": "intake tract",
    "impulse": "impulse line",
    "fuel-line": "fuel line",
    "carburettor-inlet": "carburettor inlet",
    "float-inlet": "float-bowl inlet",
    "tank": "tank and vent",
    "rig": "test rig",
}
_WIDE_SHARE = 0.6  # of the way from hole to weep: wider than this tells nothing


def circuit_words(circuit: str) -> str:
    """The circuit as a person says it."""
    return _CIRCUITS.get(circuit, circuit.replace("-", " "))


def verdict_word(analysis: Analysis) -> str:
    """PASS, FAIL, CANNOT SAY YET, or NO LIMIT when there was nothing to judge against."""
    return VERDICT_WORDS[analysis.verdict.word] if analysis.verdict else "NO LIMIT"


def verdict_sentence(analysis: Analysis) -> str:
    """Why, in one sentence, and what would decide it when undecided."""
    verdict = analysis.verdict
    if verdict is None:
        return (
            "There is no common-practice limit for this circuit in this direction; "
            'give the maker\'s figure with --limit, such as "7 kPa in 60 s".'
        )
    return f"{verdict.reason} {verdict.remedy}".strip()


def interval_words(interval: Interval, factor: float, unit: str, digits: int = 3) -> tuple[str, str]:
    """(value, range) with unit; ("none seen", "at most X") when only an upper limit is known.

    `factor` turns the interval's own unit into `unit`.
    """
    low, high = significant(interval.low * factor, digits), significant(interval.high * factor, digits)
    if interval.value is None:
        return "none seen", f"at most {high} {unit}"
    return f"{significant(interval.value * factor, digits)} {unit}", f"{low} to {high}"


def figure_words(figure: Figure) -> tuple[str, str]:
    """(value, range) of a finding's figure, with its unit."""
    interval, unit = figure.interval, figure.unit
    if not math.isfinite(interval.high):
        return f"at least {significant(interval.low)} {unit}", ""
    if interval.value is None and interval.low > 0.0:
        return f"{significant(interval.low)} to {significant(interval.high)} {unit}", ""
    if interval.value is None:
        return f"at most {significant(interval.high)} {unit}", ""
    if interval.low == interval.high:
        return f"{significant(interval.value)} {unit}", ""
    return interval_words(interval, 1.0, unit)


def hole_words(hole_m: Interval) -> tuple[str, str]:
    """Diameter and range in mm, to a micrometre below 1 mm."""
    return interval_words(hole_m, 1e3, "mm", 2 if hole_m.high < 1e-4 else 3)


def flow_factor(analysis: Analysis) -> float:
    """Standard cm3/min per Pa m3/s at this test's gas temperature."""
    return standard_cm3_per_min(1.0, analysis.used.temperature_k.value or REFERENCE_TEMPERATURE_K)


def loss_factor(analysis: Analysis) -> float:
    """User's pressure unit per minute, per Pa/s."""
    return 60.0 / PRESSURE_PA[analysis.recording.conditions.unit]


def at_words(analysis: Analysis) -> str:
    """The quoted pressure: "at 35 kPa of vacuum", with the user's own unit first."""
    at_pa = abs(analysis.leak.at_pa) if analysis.leak else 0.0
    unit = analysis.recording.conditions.unit
    kpa = f"{at_pa / 1e3:g} kPa"
    text = kpa if unit == "kPa" else f"{show_pressure(at_pa, unit)} ({kpa})"
    return f"at {text} of {analysis.direction}"


def seen_above(analysis: Analysis) -> str:
    """The smallest leak that this test would have shown, "0.21 cm3/min (0.09 kPa/min)"; "" without a fit."""
    leak = analysis.leak
    if leak is None:
        return ""
    rate_pa_s = leak.detection_rate_pa_s
    flow = leak.detection_pa_m3_s
    if not leak.detected:
        # the readings themselves may leave room for more than the test's nominal limit
        rate_pa_s = max(rate_pa_s, leak.rate_pa_s.high)
        if flow is not None and leak.throughput_pa_m3_s is not None:
            flow = max(flow, leak.throughput_pa_m3_s.high)
    loss = f"{significant(rate_pa_s * loss_factor(analysis), 2)} {analysis.recording.conditions.unit}/min"
    if flow is None:
        return loss
    return f"{significant(flow * flow_factor(analysis), 2)} cm3/min ({loss})"


def kind_words(leak: LeakEstimate) -> str:
    """Weep-like, hole-like, in between, or that the hold cannot tell."""
    share = leak.viscous_share
    if share.value is None or share.high - share.low > _WIDE_SHARE:
        return "the hold cannot tell a weep from a hole"
    if share.low >= 0.5:
        return "weep-like: a long tight path, such as a seal lip, gasket or thread"
    if share.high <= 0.5:
        return "hole-like: a short open hole, such as a torn boot, a crack or a loose plug"
    return "in between, or a weep and a hole together"


def sure_words(interval: Interval) -> str:
    """How well the size is known, from how wide its interval is."""
    if interval.value is None or interval.low <= 0:
        return "only an upper limit is known"
    ratio = interval.high / interval.low
    if ratio <= 1.25:
        return "well known"
    if ratio <= 2.0:
        return "roughly known"
    return "hardly more than an order of size" if ratio > 5.0 else "poorly known"


def duration_words(seconds: float) -> str:
    """A time a person can picture: "8.2 s", "4 min 30 s", "2.4 h"."""
    if seconds < 99.5:
        return f"{significant(seconds, 2)} s"
    if seconds < 3600.0:
        minutes, rest = divmod(round(seconds / 5.0) * 5, 60)
        return f"{minutes} min {rest} s" if rest and minutes < 10 else f"{round(seconds / 60.0)} min"
    return f"{significant(seconds / 3600.0, 2)} h"


def size_title(analysis: Analysis) -> str:
    """Heading of the size: it carries the pressure at which everything below is quoted."""
    if instead := _instead(analysis):
        return instead.title
    return f"Size, {at_words(analysis)}" if analysis.leak else "Size"


def _instead(analysis: Analysis) -> Finding | None:
    """The finding that stands in the place of a leak's size, if there is one."""
    return next((finding for finding in analysis.findings if finding.instead), None)


def size_sentence(analysis: Analysis) -> str:
    """What was found, in one or two plain sentences."""
    leak, unit = analysis.leak, analysis.recording.conditions.unit
    if instead := _instead(analysis):
        return instead.sentence
    if leak is None:
        start, end = (show_pressure(p, unit) for p in (analysis.hold.start_pa, analysis.hold.end_pa))
        return f"No size: no leak model fits this hold ({start} at its start, {end} at its end)."
    where = at_words(analysis)
    flow = leak.throughput_pa_m3_s
    if not leak.detected and any(finding.name == "rig" for finding in analysis.findings):
        return (
            f"Nothing is left beside the rig's own leak; more than {seen_above(analysis)} {where} would show."
        )
    closes = leak.opening_pa
    if not leak.detected and closes is not None and abs(leak.at_pa) <= abs(closes):
        return f"No leak {where}: what leaks closes near {show_pressure(abs(closes), unit)}, above that."
    if not leak.detected:
        seen = f"anything above {seen_above(analysis)} {where} would have been seen"
        fall_pa = abs(analysis.hold.start_pa) - abs(analysis.hold.end_pa)
        if fall_pa > 0.9 * max(analysis.used.resolution_pa.value or 0.0, 4.0 * analysis.used.noise_pa):
            fall = show_pressure(fall_pa, unit)
            return f"No leak seen for certain: the fall of {fall} may be the readings' doubt; {seen}."
        return f"No leak seen; {seen}."
    loss, loss_span = interval_words(leak.rate_pa_s, loss_factor(analysis), f"{unit}/min")
    if flow is None:
        return (
            f"It loses {loss} ({loss_span}) {where} in this volume; the volume is not known, so no leak rate."
        )
    value, span = interval_words(flow, flow_factor(analysis), "cm3/min")
    hole = hole_words(leak.hole_m)[0] if leak.hole_m else ""
    like = f", like one round hole of {hole}" if hole else ""
    return f"The leak is {value} ({span}) {where}{like}."


def size_brief(analysis: Analysis) -> str:
    """The size in one breath, for a chart's subtitle."""
    leak = analysis.leak
    if instead := _instead(analysis):
        return "; ".join(
            f"{figure.label.lower()} {' '.join(figure_words(figure)).strip()}"
            for figure in instead.figures[:2]
        )
    if leak is None:
        return "no leak size: no model fits this hold"
    if not leak.detected:
        return f"no leak seen; above {seen_above(analysis)} it would have been"
    if leak.throughput_pa_m3_s is not None:
        value, span = interval_words(leak.throughput_pa_m3_s, flow_factor(analysis), "cm3/min")
    else:
        unit = f"{analysis.recording.conditions.unit}/min"
        value, span = interval_words(leak.rate_pa_s, loss_factor(analysis), unit)
    return f"leak {value} ({span}) {at_words(analysis)}"
