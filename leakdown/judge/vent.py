"""Tank vent: air must get in, easily; what it does outward depends on its kind."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Figure, Finding, Flag, Limit, Verdict, VerdictWord
from leakdown.errors import InputError
from leakdown.hold.parts import Parts, on_span
from leakdown.judge.judged import Judged, without_size
from leakdown.judge.limits import WHOSE, Source
from leakdown.judge.settings import Settings, VentKind
from leakdown.judge.tightness import judged_tightness
from leakdown.judge.vent_decay import VentDecay, speed_at, vent_decay
from leakdown.judge.verdict import frozen_verdict
from leakdown.quantities import ATMOSPHERE_PA, significant
from leakdown.recording import Recording
from leakdown.tuned import texts, tuned
from leakdown.uncertainty import Interval

_T = tuned("judge")
NEEDED_M3_S: float = _T.air_needed_cm3_min / 1e6 / 60.0
AT_PA: float = _T.vent_at_pa
_USUAL_CM3: tuple[float, float] = tuple(_T.usual_tank_cm3)


@dataclass(frozen=True)
class VentWay:
    """One direction of a vent test.

    flow_m3_s: ambient air per second at AT_PA, 95 % (high may be infinite); None when the reading never
    was beyond it. levels_pa: where the reading came to rest, None when it was still moving.
    start_s, end_s: the readings that count, on the recording's clock.
    """

    flow_m3_s: Interval | None
    levels_pa: float | None
    end_pa: float
    start_pa: float
    start_s: float
    end_s: float


def way(parts: Parts) -> VentWay:
    """What one direction shows. Raises InputError for a recording without a decay."""
    seen = vent_decay(parts)
    return VentWay(
        flow_m3_s=_flow(parts.recording, seen),
        levels_pa=seen.rest_pa(_T.still_pa_s),
        end_pa=seen.end_pa,
        start_pa=seen.start_pa,
        start_s=seen.start_s,
        end_s=seen.end_s,
    )


def _flow(recording: Recording, seen: VentDecay) -> Interval | None:
    """Ambient air per second at AT_PA; for tanks of any usual size when the volume is not given."""
    c = recording.conditions
    ambient = c.barometer_pa or ATMOSPHERE_PA
    speed = speed_at(AT_PA, seen, ambient)
    if speed is None:
        return None
    if c.volume_m3 is None:
        small, large = (v / 1e6 for v in _USUAL_CM3)
        return Interval(None, speed.low * small / ambient, speed.high * large / ambient)
    return air_m3_s(speed, c.volume_m3, c.volume_u_m3 or _T.volume_half * c.volume_m3, ambient)


def air_m3_s(speed: Interval, volume_m3: float, half_m3: float, ambient_pa: float) -> Interval:
    """Ambient air per second for a speed of the reading; half_m3: doubt of the volume (95 %)."""
    scaled, doubt = speed.scaled(volume_m3 / ambient_pa), half_m3 / volume_m3
    if scaled.value is None or scaled.high == math.inf:
        return Interval(scaled.value, scaled.low * (1.0 - doubt), scaled.high * (1.0 + doubt))
    down = math.hypot(1.0 - scaled.low / scaled.value, doubt)
    up = math.hypot(scaled.high / scaled.value - 1.0, doubt)
    return Interval(scaled.value, scaled.value * max(1.0 - down, 0.0), scaled.value * (1.0 + up))


def judged_in(way: VentWay, needed_m3_s: float = NEEDED_M3_S, whose: Source = "practice") -> tuple[VerdictWord, str]:
    """Does air enough get in? The word and the sentence for it, which names whose figure the need is."""
    needed, at = _needed_words(needed_m3_s, whose), f"{AT_PA / 1e3:g} kPa of vacuum"
    flow = way.flow_m3_s
    if flow is None:
        return "undecided", (
            f"The vacuum never passed {AT_PA / 1e3:g} kPa: draw a little more, 10 kPa at most. If steady "
            "pumping cannot, air gets in freely: a healthy vent, or the tank or its cap leaks."
        )
    if flow.high < needed_m3_s:
        rest = "" if way.levels_pa is None else f" (it stands at {way.levels_pa / 1e3:.2g} kPa)"
        return "fail", (f"BLOCKED: {_flow_words(flow)} of air gets in at {at}{rest}; the engine needs {needed}.")
    if flow.low >= needed_m3_s:
        return "pass", f"Air gets in: {_flow_words(flow)} at {at}; {needed} is enough."
    return "undecided", f"{_flow_words(flow)} of air gets in at {at}, about the {needed} needed."


def judged_out(way: VentWay, kind: VentKind = "unknown") -> tuple[VerdictWord, str]:
    """Does it hold, relieve or breathe outward, and is that right for its kind?"""
    low, high = _T.relief_pa
    if way.end_pa >= _T.held_outward * way.start_pa and way.levels_pa is not None:
        return "pass", f"Outward it holds {way.end_pa / 1e3:.3g} kPa."
    if way.levels_pa is not None and low <= way.levels_pa <= high:
        return "pass", f"Outward it relieves down to {way.levels_pa / 1e3:.3g} kPa, as some vents do."
    if way.start_pa < low:
        return "undecided", f"Outward it began at {way.start_pa / 1e3:.2g} kPa: fill to 10 kPa or more."
    if way.end_pa >= low:
        return "undecided", f"Outward it was still falling at {way.end_pa / 1e3:.3g} kPa: hold longer."
    fell = f"from {way.start_pa / 1e3:.3g} to {max(way.end_pa, 0.0) / 1e3:.2g} kPa"
    if kind == "breather":
        return "pass", f"It breathes both ways ({fell} outward), as a felt or labyrinth vent does."
    wanted = f"a vent valve holds or relieves above {low / 1e3:g} kPa"
    reason = f"LEAKS OUTWARD: {fell}, where {wanted}; it spills fuel."
    if kind == "valve":
        return "fail", reason
    return "fail", f"{reason} {texts('judge')['breather']}"


def _needed_words(needed_m3_s: float, whose: Source) -> str:
    """The need and whose figure it is: another engine's is another."""
    by = texts("judge")["air-needed"] if whose == "practice" else WHOSE[whose]
    return f"{_cm3_min(needed_m3_s)} ({by})"


def _cm3_min(flow_m3_s: float) -> str:
    return f"{significant(flow_m3_s * 6e7, 2)} cm3/min"


def _flow_words(flow: Interval) -> str:
    low, high = (significant(x * 6e7, 2) if math.isfinite(x) else "" for x in (flow.low, flow.high))
    if flow.value is not None:
        return f"{significant(flow.value * 6e7, 2)} ({low} to {high}) cm3/min"
    if not high:
        return f"at least {low} cm3/min"
    return f"at most {high} cm3/min" if flow.low <= 0.0 else f"{low} to {high} cm3/min"


def volume_flags(recording: Recording) -> tuple[Flag, ...]:
    """What was assumed of the air space."""
    c = recording.conditions
    if c.volume_m3 is None:
        small, large = _USUAL_CM3
        return (Flag.of("judge", "tank-volume-assumed", small=small, large=large),)
    if c.volume_u_m3 is None:
        return (Flag.of("judge", "volume-uncertainty-assumed"),)
    return ()


def judged_inward(recording: Recording, parts: Parts, limit: Limit | None, settings: Settings) -> Judged:
    """A tank under vacuum judged by the air that its vent lets in; a limit of its own wins."""
    seen = way(parts)
    span = settings.hold_s or (seen.start_s, seen.end_s)
    finding, verdict = _air_in(seen), _inflow_verdict(recording, seen, *settings.air_for(recording))
    try:
        found = judged_tightness(recording, on_span(parts, span), limit, settings, of_leak=False)
    except InputError:
        return Judged(
            without_size(recording, parts.resolution, span, verdict, (finding,), volume_flags(recording)), None
        )
    result = found.analysis
    hold = replace(result.hold, given=settings.hold_s is not None)
    flags = (*result.flags, *volume_flags(recording))
    result = replace(result, hold=hold, findings=(finding,), flags=flags)
    if limit is not None and limit.source != "practice":
        return Judged(result, found.fit)
    # a tank that holds from the first reading on is blocked; one that moved and then froze is not known
    if np.ptp(recording.pressure_pa) > 0.0 and any(flag.code == "frozen" for flag in flags):
        verdict = frozen_verdict(verdict.limit)
    return Judged(replace(result, verdict=verdict), found.fit)


def judged_outward(parts: Parts, found: Judged | None, limit: Limit | None, settings: Settings) -> Judged | None:
    """A tank under pressure: what its vent does outward, where common practice is the limit.

    found: as its hold was judged; None when it has none, and None back where nothing can be said without.
    Raises InputError for too few readings of the vent alone.
    """
    if limit is None or limit.source != "practice" or (found is not None and _stands(found)):
        return found
    seen = way(parts)
    word, reason = judged_out(seen, settings.vent_kind)
    verdict = Verdict(word, limit, None, "reading", reason)
    if found is None:
        sentence = f"Left alone it fell from {seen.start_pa / 1e3:.3g} to {max(seen.end_pa, 0.0) / 1e3:.2g} kPa."
        finding = Finding("outward", "What the vent does outward", sentence, instead=True)
        span, flags = (seen.start_s, seen.end_s), volume_flags(parts.recording)
        return Judged(without_size(parts.recording, parts.resolution, span, verdict, (finding,), flags), None)
    result = found.analysis
    flags = tuple(f for f in result.flags if word == "fail" or f.code != "levels-off")
    return Judged(replace(result, verdict=verdict, flags=flags), found.fit)


def _stands(found: Judged) -> bool:
    """Whether the hold's own verdict stays: a pass, or a gauge that froze or a reading that rose."""
    verdict = found.analysis.verdict
    blind = any(flag.code in ("frozen", "pressure-rises") for flag in found.analysis.flags)
    return blind or (verdict is not None and verdict.word == "pass")


def judged_filling(found: Judged, held_pa: float, kind: VentKind) -> Judged:
    """A tank that would not build up under pressure: its vent may be made for that."""
    verdict, low = found.analysis.verdict, _T.relief_pa[0]
    word: VerdictWord = "pass"
    at = f"while it was pumped, at {held_pa / 1e3:.2g} kPa"
    if verdict is None or verdict.limit.source != "practice":
        return found
    if held_pa >= low:
        reason = f"Outward it relieves {at}, as some vents do."
    elif kind == "breather":
        reason = f"It breathes outward {at}, as a felt or labyrinth vent does."
    else:
        word, reason = "fail", verdict.reason + ("" if kind == "valve" else f" {texts('judge')['breather']}")
    return replace(found, analysis=replace(found.analysis, verdict=replace(verdict, word=word, reason=reason)))


def _air_in(seen: VentWay) -> Finding:
    if seen.levels_pa is not None and seen.levels_pa > AT_PA:
        sentence = ""  # the verdict says where it stands
    elif seen.levels_pa is not None:
        sentence = f"Left alone it comes to rest at {max(seen.levels_pa, 0.0) / 1e3:.2g} kPa of vacuum."
    else:
        sentence = f"It was still coming back at the end, at {max(seen.end_pa, 0.0) / 1e3:.2g} kPa of vacuum."
    flow = seen.flow_m3_s
    rows = () if flow is None else (Figure("air_in_cm3_per_min", "Air gets in", "cm3/min", flow.scaled(6e7)),)
    return Finding("air-in", f"Air in, at {AT_PA / 1e3:g} kPa of vacuum", sentence, rows, instead=True)


def _inflow_verdict(recording: Recording, seen: VentWay, needed_m3_s: float, whose: Source) -> Verdict:
    ambient = recording.conditions.barometer_pa or ATMOSPHERE_PA
    text = f"{_cm3_min(needed_m3_s)} of air in at {AT_PA / 1e3:g} kPa of vacuum"
    limit = Limit(text, "inflow", whose, rate_pa_m3_s=needed_m3_s * ATMOSPHERE_PA)
    word, reason = judged_in(seen, needed_m3_s, whose)
    flow = seen.flow_m3_s
    measured = None if flow is None or not math.isfinite(flow.high) else flow.scaled(ambient)
    remedy = ""
    if word == "undecided":
        remedy = "Repeat: draw slowly, read often near there, with a finer gauge or the air space as --volume."
    return Verdict(word, limit, measured, "none" if measured is None else "reading", reason, remedy)
