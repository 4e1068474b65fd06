"""The words of a result: short pieces that terminal, page and picture share. Plain ASCII."""

from __future__ import annotations

from pathlib import PureWindowsPath

from leakdown.analysis import Analysis, Finding, LeakEstimate
from leakdown.quantities import show_pressure, significant
from leakdown.report.digits import figure_words, hole_words, interval_words
from leakdown.report.flag_words import may_be_vapour
from leakdown.report.quoted import at_words, flow_factor, loss_factor
from leakdown.report.seen import unseen_brief, unseen_sentence
from leakdown.uncertainty import Interval

VERDICT_WORDS = {"pass": "PASS", "fail": "FAIL", "undecided": "CANNOT SAY YET"}
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


def file_name(analysis: Analysis) -> str:
    """The name of the file that was read, without its folders."""
    source = analysis.recording.source
    return PureWindowsPath(source).name or source  # it takes both kinds of slashes


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
    return "hardly known" if ratio > 5.0 else "poorly known"


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
    return _leak_sentence(analysis, leak) if leak.detected else unseen_sentence(analysis, leak)


def _leak_sentence(analysis: Analysis, leak: LeakEstimate) -> str:
    where, flow = at_words(analysis), leak.throughput_pa_m3_s
    vapour = may_be_vapour(analysis)
    if flow is None:
        unit = analysis.recording.conditions.unit
        loss = _in_brackets(*interval_words(leak.rate_pa_s, loss_factor(analysis), f"{unit}/min"))
        return f"It loses {loss} {where} in this volume; the volume is not known, so no leak rate."
    size = _in_brackets(*interval_words(flow, flow_factor(analysis), "cm3/min"))
    if vapour:
        return f"Taken for a leak it is {size} {where}."
    hole = hole_words(leak.hole_m)[0] if leak.hole_m else ""
    like = f", like one round hole of {hole}" if hole else ""
    return f"The leak is {size} {where}{like}."


def _in_brackets(value: str, span: str) -> str:
    return f"{value} ({span})" if span else value


def size_brief(analysis: Analysis) -> str:
    """The size in one breath, for a chart's subtitle."""
    leak = analysis.leak
    if instead := _instead(analysis):
        return "; ".join(
            f"{figure.label.lower()} {_in_brackets(*figure_words(figure))}" for figure in instead.figures[:2]
        )
    if leak is None:
        return "no leak size: no model fits this hold"
    if not leak.detected:
        return unseen_brief(analysis)
    if leak.throughput_pa_m3_s is not None:
        size = interval_words(leak.throughput_pa_m3_s, flow_factor(analysis), "cm3/min")
    else:
        unit = f"{analysis.recording.conditions.unit}/min"
        size = interval_words(leak.rate_pa_s, loss_factor(analysis), unit)
    word = "taken for a leak" if may_be_vapour(analysis) else "leak"
    return f"{word} {_in_brackets(*size)} {at_words(analysis)}"
