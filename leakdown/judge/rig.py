"""A rig's own leak: kept from its capped test, taken off later tests, checked with a known orifice."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from leakdown.analysis import Analysis, Figure, Finding, Flag, KnownLeak, LeakEstimate, Verdict
from leakdown.circuits import Direction
from leakdown.errors import UsageError
from leakdown.judge.known_leak import rig_seen
from leakdown.judge.limits import decided_word
from leakdown.physics.flow import DISCHARGE_COEFFICIENT
from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.tuned import tuned
from leakdown.uncertainty import InputQuantity, Interval


@dataclass(frozen=True)
class RigLeak:
    """What the capped rig leaked in one direction: throughput at a gauge pressure (signed), 95 %.

    Kept as a leak, not as kPa: the rig's little volume makes a tiny leak look large. measured: a date.
    """

    direction: Direction
    at_pa: float
    throughput_pa_m3_s: Interval
    measured: str
    source: str = ""


@dataclass(frozen=True)
class Rig:
    """A rig by name: its volume, its own leak and its tests of a leak of known size, as far as they were measured."""

    name: str
    volume_m3: float | None = None
    volume_u_m3: float | None = None
    leaks: tuple[RigLeak, ...] = field(default=())
    known: tuple[KnownLeak, ...] = field(default=())

    def leak(self, direction: Direction) -> RigLeak | None:
        """The latest result of a direction."""
        return next((x for x in reversed(self.leaks) if x.direction == direction), None)


@dataclass(frozen=True)
class Cleared:
    """A test with the rig's leak taken off; `value` None and `low` 0 when nothing is left that stands out."""

    rig: str
    direction: Direction
    at_pa: float
    test_pa_m3_s: Interval
    rig_pa_m3_s: Interval
    left_pa_m3_s: Interval
    flags: tuple[Flag, ...]


@dataclass(frozen=True)
class OrificeCheck:
    """The whole chain (gauge, volume, sums) against a known hole: measured over known area, 95 %."""

    ratio: Interval
    agrees: bool
    sentence: str


_T = tuned("judge")


def rig_leak(analysis: Analysis, measured: str) -> RigLeak:
    """The result to keep from a test of the capped rig. Raises UsageError when it has no leak rate."""
    throughput = _throughput(analysis)
    return RigLeak(analysis.direction, _at_pa(analysis), throughput, measured, analysis.recording.source)


def with_leak(rig: Rig, leak: RigLeak, volume_m3: float | None = None, volume_u_m3: float | None = None) -> Rig:
    """The rig with one more result; it replaces the earlier one of the same direction."""
    others = tuple(x for x in rig.leaks if x.direction != leak.direction)
    known = rig if volume_m3 is None else replace(rig, volume_m3=volume_m3, volume_u_m3=volume_u_m3)
    return replace(known, leaks=(*others, leak))


def cleared(analysis: Analysis, rig: Rig) -> Cleared:
    """The test's leak less the rig's, doubts in quadrature. Raises UsageError when they do not match."""
    test = _throughput(analysis)
    own = rig.leak(analysis.direction)
    if own is None:
        raise UsageError(
            f"the own leak of the rig {rig.name!r} was never tested under {analysis.direction}",
            remedy="Cap its hose, run that test, and keep it.",
        )
    if abs(own.at_pa - _at_pa(analysis)) > _T.same_pressure * abs(own.at_pa):
        raise UsageError(
            f"the rig's leak is known at {own.at_pa / 1e3:g} kPa, the test's at {_at_pa(analysis) / 1e3:g}",
            remedy="Quote both at the same pressure with --quote-at.",
        )
    left = difference(test, own.throughput_pa_m3_s)
    flags = _flags(analysis, rig, own, test)
    return Cleared(rig.name, analysis.direction, own.at_pa, test, own.throughput_pa_m3_s, left, flags)


def difference(test: Interval, rig: Interval) -> Interval:
    """test - rig for two independent 95 % intervals; not below zero.

    An undetected rig leak counts as zero with its upper limit as doubt; an undetected test stays a bound.
    """
    if test.value is None:
        return Interval(None, 0.0, max(test.high - rig.low, 0.0))
    own = rig.low if rig.value is None else rig.value
    value = test.value - own
    low = value - math.hypot(test.value - test.low, rig.high - own)
    high = value + math.hypot(test.high - test.value, own - rig.low)
    if low <= 0.0:
        return Interval(None, 0.0, max(high, 0.0))
    return Interval(value, low, high)


def orifice_check(
    analysis: Analysis, diameter: InputQuantity, coefficient: float = DISCHARGE_COEFFICIENT
) -> OrificeCheck:
    """Compare a test of the rig with a known hole in its cap (diameter in m). Raises UsageError.

    The measured equivalent hole is referred to the known hole's discharge coefficient.
    """
    leak = analysis.leak
    if leak is None or leak.hole_m is None or leak.hole_m.value is None:
        raise UsageError("this test shows no leak of a known size", remedy="Give --volume, and a hole that leaks.")
    used = analysis.used.discharge_coefficient.value or DISCHARGE_COEFFICIENT
    scale = used / coefficient / diameter.value**2
    value = leak.hole_m.value**2 * scale
    known = math.hypot(2.0 * 1.96 * diameter.u / diameter.value, _T.coefficient_half)
    down = math.hypot(math.log(value / max(leak.hole_m.low**2 * scale, 1e-12)), known)
    up = math.hypot(math.log(leak.hole_m.high**2 * scale / value), known)
    ratio = Interval(value, value * math.exp(-down), value * math.exp(up))
    agrees = ratio.low <= 1.0 <= ratio.high
    shown = f"{value:.2f} ({ratio.low:.2f} to {ratio.high:.2f})"
    verdict = (
        "it agrees: gauge, volume and sums hold together."
        if agrees
        else "it does NOT agree: check the volume, the gauge, the barometer, and the rig for leaks."
    )
    sentence = f"The chain sees {shown} times the known hole of {diameter.value * 1e3:.3g} mm; {verdict}"
    return OrificeCheck(ratio, agrees, sentence)


def _throughput(analysis: Analysis) -> Interval:
    leak = analysis.leak
    if leak is None or leak.throughput_pa_m3_s is None:
        raise UsageError(
            "this test has no leak rate to keep or subtract",
            where=analysis.recording.source,
            remedy='Give its volume, such as --volume "12 cm3".',
        )
    return leak.throughput_pa_m3_s


def _at_pa(analysis: Analysis) -> float:
    assert analysis.leak is not None
    return analysis.leak.at_pa


def _flags(analysis: Analysis, rig: Rig, own: RigLeak, test: Interval) -> tuple[Flag, ...]:
    flags = ["blanks-not-covered"]
    if test.value and own.throughput_pa_m3_s.high > _T.much_of_rig * test.value:
        flags.append("rig-leaks-much")
    volume = analysis.used.volume_m3.value
    if rig.volume_m3 and volume and rig.volume_m3 > _T.much_of_rig * volume:
        flags.append("rig-volume")
    return tuple(Flag.of("judge", code) for code in flags)


def without_rig(analysis: Analysis, rig: Rig) -> Analysis:
    """The analysis less what `rig` leaks in this direction; only flagged where that is unknown."""
    if analysis.circuit == "rig":
        return analysis
    analysis = rig_seen(analysis, rig.name, rig.known)
    try:
        found = cleared(analysis, rig)
    except UsageError as error:
        flag = Flag.of("judge", "rig-not-subtracted", why=f"{error.what}. {error.remedy}".strip())
        return replace(analysis, flags=(*analysis.flags, flag))
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
    if measured is None or verdict.basis == "none" or verdict.limit.kind not in ("drop", "rate"):
        return verdict
    share = (measured.value or measured.high) / (whole.value or whole.high)
    rest = difference(measured, found.rig_pa_m3_s.scaled(share))
    allowed = verdict.limit.drop_pa if verdict.limit.kind == "drop" else verdict.limit.rate_pa_m3_s
    word = decided_word(rest, allowed)
    same = word == verdict.word
    off = f"{'Still so' if same else 'Different'} with the leak of the rig {found.rig} taken off"
    remedy = verdict.remedy if same else "Mend the rig and repeat." if word == "undecided" else ""
    meaning = {"pass": "within the limit", "fail": "over the limit", "undecided": "on both sides of the limit"}
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
