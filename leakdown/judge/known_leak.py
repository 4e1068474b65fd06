"""A leak of known size tested through the whole chain: what proves size and ratio outside simulation.

A calibrated leak, a drilled hole or a capillary in the rig's cap, in either direction: the size that the analysis
finds against the one that its certificate or its dimensions state.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from leakdown.analysis import Analysis, KnownLeak, RigSeen
from leakdown.errors import UsageError
from leakdown.fit.inputs import ambient_pa, temperature_k
from leakdown.physics.flow import DISCHARGE_COEFFICIENT, orifice_throughput, viscous_throughput
from leakdown.quantities import REFERENCE_TEMPERATURE_K, parse_flow, parse_length, parse_pressure
from leakdown.tuned import tuned
from leakdown.uncertainty import InputQuantity, Interval, read_input

_T = tuned("judge")
Kind = Literal["flow", "hole", "capillary"]


@dataclass(frozen=True)
class Stated:
    """What a known leak is said to be: its kind, the text, and the sizes in it (SI, with doubt).

    at_pa: magnitude of the gauge pressure of a stated flow; None for dimensions, which hold at any.
    """

    kind: Kind
    text: str
    sizes: tuple[InputQuantity, ...]
    at_pa: float | None = None
    coefficient: float = DISCHARGE_COEFFICIENT


def stated_flow(text: str) -> Stated:
    """ "12.0 cm3/min +/- 3 % at 35 kPa" (20 degC, 101.325 kPa). Raises UsageError, also where the doubt is missing."""
    size, found, at = text.partition(" at ")
    if not found:
        raise UsageError(f"--flow {text!r} names no pressure", remedy='Write "12.0 cm3/min +/- 3 % at 35 kPa".')
    return Stated("flow", text, (_sized(size, "flow", parse_flow),), abs(parse_pressure(at, "--flow").value_pa))


def stated_hole(text: str, coefficient: float = DISCHARGE_COEFFICIENT) -> Stated:
    """ "0.30 mm +/- 0.01 mm", the diameter of a hole. Raises UsageError."""
    return Stated("hole", text, (_sized(text, "hole", parse_length),), coefficient=coefficient)


def stated_capillary(text: str) -> Stated:
    """ "0.10 mm +/- 2 % x 50 mm +/- 1 mm", bore and length. Raises UsageError."""
    parts = re.split(r"\s+(?:x|\u00d7|by)\s+", text.strip())
    if len(parts) != 2:
        remedy = 'Write bore and length, "0.10 mm +/- 2 % x 50 mm +/- 1 mm".'
        raise UsageError(f"--capillary {text!r} has no bore and length", remedy=remedy)
    return Stated("capillary", text, tuple(_sized(part, "capillary", parse_length) for part in parts))


def stated_as(flow: str | None, hole: str | None, capillary: str | None, coefficient: float) -> Stated:
    """The one of the three that was given. Raises UsageError for none or several."""
    given = [text for text in (flow, hole, capillary) if text]
    if len(given) != 1:
        remedy = 'Give one of --flow "12.0 cm3/min +/- 3 % at 35 kPa", --hole and --capillary.'
        raise UsageError(
            "the size of the known leak is not said" if not given else "the known leak has two sizes", remedy=remedy
        )
    if flow:
        return stated_flow(flow)
    return stated_hole(hole, coefficient) if hole else stated_capillary(capillary or "")


def _sized(text: str, name: str, parse: object) -> InputQuantity:
    found = read_input(text, name, parse)  # type: ignore[arg-type]
    if found.source != "given" or not found.value > 0.0:
        remedy = 'Give it with the size, "+/- 3 %" (95 %), from the certificate or the drawing.'
        what = f"--{name} {text.strip()!r} has no doubt: without it nothing can agree or disagree"
        raise UsageError(what, remedy=remedy)
    return found


def known_leak(analysis: Analysis, stated: Stated, source: str, date: str | None = None) -> KnownLeak:
    """The test of a known leak, to be kept. Raises UsageError for one that shows no size, or at another pressure."""
    leak = analysis.leak
    if leak is None or leak.throughput_pa_m3_s is None or leak.throughput_pa_m3_s.value is None:
        remedy = 'Give --volume "112 cm3", and a leak that shows.'
        raise UsageError("this test shows no leak of a size", where=analysis.recording.source, remedy=remedy)
    if not source.strip():
        remedy = 'Say where its size comes from: --source "certificate 4711".'
        raise UsageError("the known leak has no source", remedy=remedy)
    if stated.at_pa is not None and abs(stated.at_pa - abs(leak.at_pa)) > _T.same_pressure * stated.at_pa:
        what = f"the flow is stated at {stated.at_pa / 1e3:g} kPa, the test is quoted at {abs(leak.at_pa) / 1e3:g}"
        raise UsageError(what, remedy="Quote it at the same pressure with --quote-at.")
    day = date or analysis.recording.conditions.started or datetime.date.today().isoformat()
    if _day(day) is None:
        raise UsageError(f"{day!r} is no date", remedy="Give --date as in 2026-01-31.")
    to_reference = REFERENCE_TEMPERATURE_K / temperature_k(analysis.used)
    return KnownLeak(
        direction=analysis.direction,
        at_pa=leak.at_pa,
        kind=stated.kind,
        text=" ".join(stated.text.split()),
        source=" ".join(source.split()),
        measured_on=day[:10],
        stated_pa_m3_s=_stated(stated, ambient_pa(analysis.used), leak.at_pa),
        measured_pa_m3_s=leak.throughput_pa_m3_s.scaled(to_reference),
        rate_pa_s=leak.rate_pa_s,
        volume_m3=analysis.used.volume_m3.value,
        file=analysis.recording.source,
    )


def _stated(stated: Stated, back_pa: float, at_pa: float) -> Interval:
    """Flow at 20 degC of what is stated, 95 %; the model's doubt of a hole or a capillary is in it."""
    first = stated.sizes[0]
    high, low = max(back_pa, back_pa + at_pa), min(back_pa, back_pa + at_pa)
    relative = [1.96 * size.u / size.value for size in stated.sizes]
    if stated.kind == "flow":
        return _about(first.value, relative[0])
    if stated.kind == "hole":
        area = stated.coefficient * math.pi / 4.0 * first.value**2
        flow = orifice_throughput(high, low, area, REFERENCE_TEMPERATURE_K)
        return _about(flow, math.hypot(2.0 * relative[0], _T.coefficient_half))
    per_square = math.pi * first.value**4 / (256.0 * _T.air_viscosity_pa_s * stated.sizes[1].value)
    doubt = math.hypot(4.0 * relative[0], relative[1], _T.capillary_half)
    return _about(viscous_throughput(high, low, per_square), doubt)


def _about(value: float, half: float) -> Interval:
    """A value with a 95 % half-width of its logarithm."""
    return Interval(value, value * math.exp(-half), value * math.exp(half))


def _halves(interval: Interval) -> tuple[float, float]:
    value = interval.value or interval.high
    return math.log(value / max(interval.low, 1e-6 * value)), math.log(interval.high / value)


def over(one: Interval, other: Interval) -> Interval:
    """one / other for two independent 95 % intervals with values, doubts of the logarithms in quadrature."""
    value = (one.value or 0.0) / (other.value or 1.0)
    down, up = (math.hypot(a, b) for a, b in zip(_halves(one), reversed(_halves(other)), strict=True))
    return Interval(value, value * math.exp(-down), value * math.exp(up))


def ratio_of(known: KnownLeak) -> Interval:
    """Measured over stated, 95 %: 1 where gauge, volume and sums are right."""
    return over(known.measured_pa_m3_s, known.stated_pa_m3_s)


def agrees(ratio: Interval) -> bool:
    """Whether 1 lies in the interval of measured over stated."""
    return ratio.low <= 1.0 <= ratio.high


def last_of(known: Sequence[KnownLeak], direction: str) -> KnownLeak | None:
    """The latest test of a direction."""
    return next((one for one in reversed(known) if one.direction == direction), None)


def both_ways(known: Sequence[KnownLeak]) -> Interval | None:
    """How the two directions agree: measured over stated under vacuum over the same under pressure; 1 is right.

    One volume in both falls out, and so do the dimensions of one hole or capillary.
    """
    vacuum, pressure = last_of(known, "vacuum"), last_of(known, "pressure")
    if vacuum is None or pressure is None:
        return None
    alike = vacuum.volume_m3 == pressure.volume_m3
    sizes = [one.rate_pa_s if alike else one.measured_pa_m3_s for one in (vacuum, pressure)]
    stated = over(_exact(vacuum.stated_pa_m3_s), _exact(pressure.stated_pa_m3_s))
    ratio = over(over(sizes[0], sizes[1]), stated)
    same = vacuum.kind != "flow" and (vacuum.kind, vacuum.text) == (pressure.kind, pressure.text)
    doubts = [] if same else [max(_halves(one.stated_pa_m3_s)) for one in (vacuum, pressure)]
    more = math.hypot(_T.known_ratio_half, *doubts)
    down, up = (math.hypot(half, more) for half in _halves(ratio))
    value = ratio.value or 1.0
    return Interval(value, value * math.exp(-down), value * math.exp(up))


def _exact(interval: Interval) -> Interval:
    value = interval.value or interval.high
    return Interval(value, value, value)


def rig_seen(analysis: Analysis, name: str, tested: Sequence[KnownLeak]) -> Analysis:
    """The analysis with what the rig's known leak says of it: that of its direction, else of the other one."""
    known = last_of(tested, analysis.direction) or next(reversed(tested), None)
    seen = RigSeen(name, known, None if known is None else _age_days(known, analysis), both_ways(tested))
    return replace(analysis, rig=seen)


def _age_days(known: KnownLeak, analysis: Analysis) -> int:
    """Days from the known leak's test to this one, which is dated by its file, else today."""
    tested = _day(analysis.recording.conditions.started or "") or datetime.date.today()
    measured = _day(known.measured_on) or tested
    return (tested - measured).days


def _day(text: str) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(text.strip()[:10])
    except ValueError:
        return None
