"""The words of a result: short pieces that terminal, page and picture share. Plain ASCII."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import PureWindowsPath

from leakdown.analysis import Analysis, Finding, LeakEstimate
from leakdown.circuits import CIRCUITS, circuit
from leakdown.quantities import show_pressure, significant
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval
from leakdown.words.flags import LAX, has_flag, may_be_vapour
from leakdown.words.numbers import at_words, figure_words, flow_factor, hole_words, interval_words, loss_factor, number
from leakdown.words.wrap import texts

VERDICT_WORDS = {"pass": "PASS", "fail": "FAIL", "undecided": "CANNOT SAY YET"}
_T = tuned("words")


def circuit_words(name: str) -> str:
    """The circuit as a person says it."""
    return circuit(name).words if name in CIRCUITS else name.replace("-", " ")


def verdict_word(analysis: Analysis) -> str:
    """PASS, FAIL, CANNOT SAY YET, or NO LIMIT when there was nothing to judge against.

    A pass that the strict practice would not give is never shown as a bare one, nor a fail that fuel vapour
    would give with no leak at all.
    """
    if analysis.verdict is None:
        return "NO LIMIT"
    word = VERDICT_WORDS[analysis.verdict.word]
    if word == "FAIL" and may_be_vapour(analysis):
        return "OVER THE LIMIT: DRY IT FIRST"
    return f"{word} BY A LAX LIMIT" if word == "PASS" and has_flag(analysis, LAX) else word


def verdict_role(analysis: Analysis) -> str:
    """How the verdict looks: pass, fail or undecided."""
    return analysis.verdict.word if analysis.verdict else "undecided"


def verdict_sentence(analysis: Analysis) -> str:
    """Why, in one sentence, and what would decide it when undecided."""
    verdict = analysis.verdict
    return f"{verdict.reason} {verdict.remedy}".strip() if verdict else texts("verdict")["no-limit"]


def file_name(analysis: Analysis) -> str:
    """The name of the file that was read, without its folders."""
    source = analysis.recording.source
    return PureWindowsPath(source).name or source  # it takes both kinds of slashes


def kind_words(leak: LeakEstimate) -> str:
    """Weep-like, hole-like, in between, or that the hold cannot tell."""
    share = leak.viscous_share
    if share.value is None or share.high - share.low > _T.wide_share:
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
    if ratio <= _T.well_known_ratio:
        return "well known"
    if ratio <= _T.roughly_known_ratio:
        return "roughly known"
    return "hardly known" if ratio > _T.poorly_known_ratio else "poorly known"


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
    leak, unit = analysis.leak, analysis.recording.conditions.show_unit
    if instead := _instead(analysis):
        return instead.sentence
    if leak is None:
        start, end = (show_pressure(p, unit) for p in (analysis.hold.start_pa, analysis.hold.end_pa))
        return f"No size: no leak model fits this hold ({start} at its start, {end} at its end)."
    return _leak_sentence(analysis, leak) if leak.detected else unseen_sentence(analysis, leak)


def _leak_sentence(analysis: Analysis, leak: LeakEstimate) -> str:
    where, size = at_words(analysis), _size(analysis, leak)
    if leak.throughput_pa_m3_s is None:
        return f"It loses {size} {where} in this volume; the volume is not known, so no leak rate."
    if may_be_vapour(analysis):
        return f"Taken for a leak it is {size} {where}."
    hole = hole_words(leak.hole_m)[0] if leak.hole_m else ""
    like = f", like one round hole of {hole}" if hole else ""
    return f"The leak is {size} {where}{like}."


def _size(analysis: Analysis, leak: LeakEstimate) -> str:
    """The leak rate, or the loss where there is no volume."""
    if leak.throughput_pa_m3_s is not None:
        interval, factor, unit = leak.throughput_pa_m3_s, flow_factor(analysis), "cm3/min"
    else:
        unit = f"{analysis.recording.conditions.show_unit}/min"
        interval, factor = leak.rate_pa_s, loss_factor(analysis)
    value, span = interval_words(interval, factor, unit)
    if span and interval.high > _T.roughly_known_ratio * interval.low:  # what is poorly known is its range
        return f"{span} {unit} (likeliest {value.removesuffix(unit).strip()})"
    return in_brackets(value, span)


def in_brackets(value: str, span: str) -> str:
    """ "17.0 cm3/min (16.3 to 17.9)"."""
    return f"{value} ({span})" if span else value


def size_brief(analysis: Analysis) -> str:
    """The size in one breath, for a chart's subtitle."""
    leak = analysis.leak
    if instead := _instead(analysis):
        return "; ".join(
            f"{figure.label.lower()} {in_brackets(*figure_words(figure))}" for figure in instead.figures[:2]
        )
    if leak is None:
        return "no leak size: no model fits this hold"
    if not leak.detected:
        return unseen_brief(analysis)
    word = "taken for a leak" if may_be_vapour(analysis) else "leak"
    return f"{word} {_size(analysis, leak)} {at_words(analysis)}"


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
    unit = analysis.recording.conditions.show_unit
    loss = f"{number(least.rate_pa_s * loss_factor(analysis), 2)} {unit}/min"
    if least.flow_pa_m3_s is None:
        return loss
    return f"{number(least.flow_pa_m3_s * flow_factor(analysis), 2)} cm3/min ({loss})"


def unseen_sentence(analysis: Analysis, leak: LeakEstimate) -> str:
    """What a test says in which no leak was found: never more than it can know."""
    blind, held_pa = _blind(analysis), abs(analysis.hold.start_pa)
    where, above, unit = at_words(analysis), seen_above(analysis), analysis.recording.conditions.show_unit
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
    said = texts("blind")
    return next((said[flag.code] for flag in analysis.flags if flag.code in said), "")


def _fall(analysis: Analysis) -> str:
    fall_pa = abs(analysis.hold.start_pa) - abs(analysis.hold.end_pa)
    step_pa, noise_pa = analysis.used.resolution_pa.value or 0.0, analysis.used.noise_pa
    if fall_pa <= _T.fall_in_steps * max(step_pa, _T.fall_in_noises * noise_pa):
        return "No leak seen"
    fall = show_pressure(fall_pa, analysis.recording.conditions.show_unit)
    if has_flag(analysis, *_DIED_OUT):
        return f"No steady leak seen: the fall of {fall} died out during the hold"
    return f"No leak seen: the fall of {fall} may be settling, or the readings' doubt"
