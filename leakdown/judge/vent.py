"""Tank vent: air must get in, easily; what it does outward depends on its kind."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Figure, Finding, Flag, Limit, Verdict
from leakdown.errors import InputError
from leakdown.hold.parts import Parts, on_span
from leakdown.judge.settings import Settings, VentKind
from leakdown.judge.tightness import Judged, judged_tightness
from leakdown.judge.unsized import unsized
from leakdown.judge.vent_alone import Passed, passed
from leakdown.judge.verdict import frozen_verdict
from leakdown.quantities import ATMOSPHERE_PA, significant
from leakdown.recording import Recording
from leakdown.uncertainty import Interval

Array = NDArray[np.float64]

_STRETCHES = (0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6)  # of the level, above it and below it
_DITHERED = 1.7  # noise of half a step, in standard deviations of rounding: it averages the rounding out
_SIGMAS = 2.5  # the best of several stretches: a little more than 95 % of one


def speed_at(level_pa: float, seen: Passed) -> Interval | None:
    """Pa/s at which the reading comes back through `level_pa` (95 %); high may be infinite.

    value None where only bounds are known; low 0 when it never came down to the level. None when it
    started below.
    """
    if seen.start_pa <= level_pa:
        return None
    size = seen.size_pa
    above = np.flatnonzero(size > level_pa - seen.u_pa)
    if int(above[-1]) + 1 >= size.size:
        return Interval(None, 0.0, _speed_at_end(seen))
    low, high = _slowest(level_pa, seen, int(above[-1]) + 1), _fastest(level_pa, seen)
    if not low < high:  # the readings contradict a passive vent: both bounds count
        low, high = high, low
    value = math.sqrt(low * high) if low > 0.0 and high < math.inf else None
    return Interval(value, low, high)


def air_m3_s(speed: Interval, volume_m3: float, half_m3: float, ambient_pa: float) -> Interval:
    """Ambient air per second for a speed of the reading; half_m3: doubt of the volume (95 %)."""
    scaled, doubt = speed.scaled(volume_m3 / ambient_pa), half_m3 / volume_m3
    if scaled.value is None or scaled.high == math.inf:
        return Interval(scaled.value, scaled.low * (1.0 - doubt), scaled.high * (1.0 + doubt))
    down = math.hypot(1.0 - scaled.low / scaled.value, doubt)
    up = math.hypot(scaled.high / scaled.value - 1.0, doubt)
    return Interval(scaled.value, scaled.value * max(1.0 - down, 0.0), scaled.value * (1.0 + up))


def _speed_at_end(seen: Passed) -> float:
    """The most that it can still move at its end (95 %): it never came down to the level.

    Any stretch up to the end moved faster on the mean; the one is taken that says most.
    """
    n = seen.time_s.size
    bounds = []
    for last in {max(3, n // 3), max(3, n // 2), n}:
        fall, u = _fall_per_s(seen, slice(max(n - last, 0), n))
        bounds.append(max(fall, 0.0) + _SIGMAS * u)
    return min(bounds)


def _fastest(level_pa: float, seen: Passed) -> float:
    """Upper bound of the speed at the level, from the stretches above it.

    Readings at the top do not count: somebody may still have been pumping.
    """
    size = seen.size_pa
    shut = int(np.flatnonzero(size >= seen.start_pa - 3.0 * seen.u_pa)[-1])
    stop = int(np.argmax(size < level_pa + seen.u_pa))
    bounds = []
    for share in _STRETCHES:
        inside = np.flatnonzero(size[shut:stop] < (1.0 + share) * level_pa)
        if inside.size > 1:
            fall, u = _fall_per_s(seen, slice(shut + int(inside[0]), stop))
            bounds.append(max(fall, 0.0) + _SIGMAS * u)
    return min(bounds, default=math.inf)


def _slowest(level_pa: float, seen: Passed, first: int) -> float:
    """Lower bound of the speed at the level: from `first`, the first reading surely below it, on.

    The gap across the level counts from the level.
    """
    t, size = seen.time_s, seen.size_pa
    last_above = int(np.flatnonzero(size > level_pa + seen.u_pa)[-1])
    gap = float(t[first] - t[last_above]) + seen.clock_s
    bounds = [(level_pa - float(size[first]) - _SIGMAS * seen.u_pa) / gap]
    for share in _STRETCHES:
        inside = np.flatnonzero(size[first:] > (1.0 - share) * level_pa)
        if inside.size and inside[-1] > 0:
            fall, u = _fall_per_s(seen, slice(first, first + int(inside[-1]) + 1))
            bounds.append(fall - _SIGMAS * u)
    return max(*bounds, 0.0)


def _fall_per_s(seen: Passed, part: slice) -> tuple[float, float]:
    """Fall per second of a stretch by least squares, and its standard deviation.

    Readings rounded alike err alike, so rounding counts once for the stretch however many there are, unless
    the scatter is wider than the gauge's step.
    """
    t, size = seen.time_s[part], seen.size_pa[part]
    centred = t - t.mean()
    spread = float(np.sum(np.square(centred)))
    span = float(t[-1] - t[0])
    scattered = seen.noise_pa > _DITHERED * seen.rounding_pa
    white = (seen.u_pa if scattered else seen.noise_pa) / math.sqrt(spread)
    rounded = 0.0 if scattered else math.sqrt(2.0) * seen.rounding_pa / span
    fall = -float(np.sum(centred * size)) / spread
    return fall, math.hypot(white, rounded, fall * seen.clock_s / span)


Word = Literal["pass", "fail", "undecided"]
# Common practice, no source: 2 L/h of fuel leave room for 33 cm3/min of air, at 3 to 5 kPa at most.
NEEDED_M3_S = 33e-6 / 60.0
AT_PA = 5_000.0
USUAL_M3 = (200e-6, 1000e-6)  # of the tanks of small engines (common practice)
_RELIEF_PA = (5_000.0, 35_000.0)
_STILL_PA_S = 15.0  # slower than 1 kPa a minute is at rest
_HELD = 0.85  # of the start pressure left at the end
_VOLUME_SHARE = 0.10  # doubt (95 %) of a volume given without one


@dataclass(frozen=True)
class VentWay:
    """One direction of a vent test.

    flow_m3_s: ambient air per second at `at_pa`, 95 % (high may be infinite); None when the reading never
    was beyond `at_pa`. levels_pa: where the reading came to rest, None when it was still moving.
    start_s, end_s: the readings that count, on the recording's clock.
    """

    at_pa: float
    flow_m3_s: Interval | None
    levels_pa: float | None
    end_pa: float
    start_pa: float
    start_s: float
    end_s: float


def way(parts: Parts) -> VentWay:
    """What one direction shows. Raises InputError for a recording without a decay."""
    seen = passed(parts)
    return VentWay(
        at_pa=AT_PA,
        flow_m3_s=_flow(parts.recording, seen),
        levels_pa=seen.rest_pa(_STILL_PA_S),
        end_pa=seen.end_pa,
        start_pa=seen.start_pa,
        start_s=seen.start_s,
        end_s=seen.end_s,
    )


def _flow(recording: Recording, seen: Passed) -> Interval | None:
    """Ambient air per second at AT_PA; for tanks of any usual size when the volume is not given."""
    speed = speed_at(AT_PA, seen)
    if speed is None:
        return None
    c = recording.conditions
    ambient = c.barometer_pa or ATMOSPHERE_PA
    if c.volume_m3 is None:
        small, large = USUAL_M3
        return Interval(None, speed.low * small / ambient, speed.high * large / ambient)
    return air_m3_s(speed, c.volume_m3, c.volume_u_m3 or _VOLUME_SHARE * c.volume_m3, ambient)


def judged_in(way: VentWay, needed_m3_s: float = NEEDED_M3_S) -> tuple[Word, str]:
    """Does air enough get in? The word and the sentence for it."""
    needed, at = f"{needed_m3_s * 6e7:.0f} cm3/min", f"{AT_PA / 1e3:g} kPa of vacuum"
    flow = way.flow_m3_s
    if flow is None:
        return "undecided", (
            f"The vacuum never passed {AT_PA / 1e3:g} kPa: draw a little more, 10 kPa at most. If steady "
            "pumping cannot, air gets in freely: a healthy vent, or the tank or its cap leaks."
        )
    if flow.high < needed_m3_s:
        rest = "" if way.levels_pa is None else f" (it stands at {way.levels_pa / 1e3:.2g} kPa)"
        return "fail", (
            f"BLOCKED: {_flow_words(flow)} of air gets in at {at}{rest}; the engine needs {needed}."
        )
    if flow.low >= needed_m3_s:
        return "pass", f"Air gets in: {_flow_words(flow)} at {at}; {needed} is enough."
    return "undecided", f"{_flow_words(flow)} of air gets in at {at}, about the {needed} needed."


def judged_out(way: VentWay, kind: VentKind = "unknown") -> tuple[Word, str]:
    """Does it hold, relieve or breathe outward, and is that right for its kind?"""
    low, high = _RELIEF_PA
    if way.end_pa >= _HELD * way.start_pa and way.levels_pa is not None:
        return "pass", f"Outward it holds {way.end_pa / 1e3:.3g} kPa."
    if way.levels_pa is not None and low <= way.levels_pa <= high:
        return "pass", f"Outward it relieves down to {way.levels_pa / 1e3:.3g} kPa, as some vents do."
    if way.end_pa >= low:
        return "undecided", f"Outward it was still falling at {way.end_pa / 1e3:.3g} kPa: hold longer."
    fell = f"from {way.start_pa / 1e3:.3g} to {max(way.end_pa, 0.0) / 1e3:.2g} kPa"
    if kind == "breather":
        return "pass", f"It breathes both ways ({fell} outward), as a felt or labyrinth vent does."
    wanted = f"a vent valve holds or relieves above {low / 1e3:g} kPa"
    reason = f"LEAKS OUTWARD: {fell}, where {wanted}; it spills fuel."
    if kind == "valve":
        return "fail", reason
    return (
        "fail",
        f"{reason} Felt and labyrinth vents breathe both ways by design: then say --vent-kind breather.",
    )


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
        small, large = (v * 1e6 for v in USUAL_M3)
        text = (
            f"No volume given: judged for any tank of {small:g} to {large:g} cm3 of air space (common "
            "practice). Give --volume (air space with hoses) for a figure."
        )
        return (Flag("tank-volume-assumed", text),)
    if c.volume_u_m3 is None:
        text = "The tank's air volume was taken as good to 10 % (95 %)."
        return (Flag("volume-uncertainty-assumed", text),)
    return ()


def judged_inward(recording: Recording, parts: Parts, limit: Limit | None, settings: Settings) -> Judged:
    """A tank under vacuum judged by the air that its vent lets in; a limit of its own wins."""
    seen = way(parts)
    span = settings.hold_s or (seen.start_s, seen.end_s)
    shop = settings.shop.air_needed_m3_s if settings.shop is not None else None
    needed = settings.air_needed_m3_s or shop or NEEDED_M3_S
    finding, verdict = _air_in(seen), _inflow_verdict(recording, seen, needed)
    try:
        found = judged_tightness(recording, on_span(parts, span), limit, settings, of_leak=False)
    except InputError:
        return Judged(unsized(recording, span, verdict, (finding,), volume_flags(recording)), None)
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


def judged_outward(parts: Parts, found: Judged, settings: Settings) -> Judged:
    """A tank under pressure: what its vent does outward, where common practice is the limit."""
    result = found.analysis
    verdict = result.verdict
    if verdict is None or verdict.limit.source != "practice" or verdict.word == "pass":
        return found
    word, reason = judged_out(way(parts), settings.vent_kind)
    if word == "undecided":
        return found
    flags = result.flags if word == "fail" else tuple(f for f in result.flags if f.code != "levels-off")
    verdict = replace(verdict, word=word, measured=None, basis="reading", reason=reason, remedy="")
    return Judged(replace(result, verdict=verdict, flags=flags), found.fit)


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


def _inflow_verdict(recording: Recording, seen: VentWay, needed_m3_s: float) -> Verdict:
    ambient = recording.conditions.barometer_pa or ATMOSPHERE_PA
    source: Literal["given", "practice"] = "practice" if needed_m3_s == NEEDED_M3_S else "given"
    text = f"{needed_m3_s * 6e7:.0f} cm3/min of air in at {AT_PA / 1e3:g} kPa of vacuum"
    limit = Limit(text, "inflow", source, rate_pa_m3_s=needed_m3_s * ATMOSPHERE_PA)
    word, reason = judged_in(seen, needed_m3_s)
    flow = seen.flow_m3_s
    measured = None if flow is None or not math.isfinite(flow.high) else flow.scaled(ambient)
    remedy = ""
    if word == "undecided":
        remedy = "Repeat with more readings near there, a finer gauge, or the air space as --volume."
    return Verdict(word, limit, measured, "none" if measured is None else "reading", reason, remedy)
