"""A test with the rig's own leak taken off its size and its verdict."""

from __future__ import annotations

import math
from dataclasses import replace

from leakdown.analysis import Analysis, Figure, Finding, Flag, LeakEstimate, Verdict
from leakdown.errors import UsageError
from leakdown.estimate.verdict import decided_word
from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.rigs.result import Cleared, Rig
from leakdown.rigs.subtract import cleared, difference
from leakdown.uncertainty import Interval


def without_rig(analysis: Analysis, rig: Rig) -> Analysis:
    """The analysis less what `rig` leaks in this direction; only flagged where that is unknown."""
    if analysis.circuit == "rig":
        return analysis
    try:
        found = cleared(analysis, rig)
    except UsageError as error:
        text = f"The rig's leak was not taken off: {error.what}. {error.remedy}".strip()
        return replace(analysis, flags=(*analysis.flags, Flag("rig-not-subtracted", text)))
    leak = analysis.leak
    assert leak is not None
    rest = _rest(leak, found)
    verdict = None if analysis.verdict is None else _verdict(analysis.verdict, found)
    return replace(
        analysis,
        leak=rest,
        verdict=verdict,
        flags=(*analysis.flags, *found.flags),
        findings=(*analysis.findings, _finding(found)),
    )


def _rest(leak: LeakEstimate, found: Cleared) -> LeakEstimate:
    """Rate, hole and flow scaled to what is left."""
    left, whole = found.left_pa_m3_s, found.test_pa_m3_s
    volume_factor = _rate_per_throughput(leak)
    return replace(
        leak,
        detected=left.value is not None,
        throughput_pa_m3_s=left,
        rate_pa_s=difference(leak.rate_pa_s, found.rig_pa_m3_s.scaled(volume_factor)),
        hole_m=None if leak.hole_m is None else _hole(leak.hole_m, whole, left),
    )


def _rate_per_throughput(leak: LeakEstimate) -> float:
    flow = leak.throughput_pa_m3_s
    assert flow is not None
    return (leak.rate_pa_s.value or leak.rate_pa_s.high) / (flow.value or flow.high)


def _hole(hole_m: Interval, whole: Interval, left: Interval) -> Interval:
    """Diameters go with the root of the flow."""
    scale = (hole_m.value or hole_m.high) / math.sqrt(whole.value or whole.high)
    low, high = (scale * math.sqrt(x) for x in (left.low, left.high))
    return Interval(None if left.value is None else scale * math.sqrt(left.value), low, high)


def _verdict(verdict: Verdict, found: Cleared) -> Verdict:
    """The same comparison with the rig's part of the loss taken off; nothing to compare, nothing changed."""
    measured, whole = verdict.measured, found.test_pa_m3_s
    if measured is None or verdict.limit.kind not in ("drop", "rate"):
        return verdict
    share = (measured.value or measured.high) / (whole.value or whole.high)
    rest = difference(measured, found.rig_pa_m3_s.scaled(share))
    allowed = verdict.limit.drop_pa if verdict.limit.kind == "drop" else verdict.limit.rate_pa_m3_s
    if verdict.word == "undecided" and verdict.basis == "none":
        return verdict
    word = decided_word(rest, allowed)
    same = word == verdict.word
    off = f"{'Still so' if same else 'Different'} with the leak of the rig {found.rig} taken off"
    remedy = verdict.remedy if same else "Mend the rig and repeat." if word == "undecided" else ""
    meaning = {
        "pass": "within the limit",
        "fail": "over the limit",
        "undecided": "on both sides of the limit",
    }
    reason = f"{verdict.reason} {off}: {meaning[word]}."
    return replace(verdict, word=word, measured=rest, reason=reason, remedy=remedy)


def _finding(found: Cleared) -> Finding:
    factor = standard_cm3_per_min(1.0)
    test, own = (_words(x.scaled(factor)) for x in (found.test_pa_m3_s, found.rig_pa_m3_s))
    sentence = f"Taken off: the rig {found.rig} by itself leaks {own} of the {test} seen."
    rows = (
        Figure("seen_cm3_per_min", "Seen in the test", "cm3/min", found.test_pa_m3_s.scaled(factor)),
        Figure("rig_cm3_per_min", "The rig's own", "cm3/min", found.rig_pa_m3_s.scaled(factor)),
    )
    return Finding("rig", "The rig", sentence, rows)


def _words(flow: Interval) -> str:
    if flow.value is None:
        return f"at most {significant(flow.high, 2)} cm3/min"
    return f"{significant(flow.value, 2)} cm3/min"
