"""Parts that must pass air one way: a tank's vent inward, its outward side, an inlet needle's openings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from leakdown.analysis import Analysis, Figure, Finding, Limit, Verdict
from leakdown.errors import InputError
from leakdown.judge.needle import REPEATS, SPREAD, needle
from leakdown.judge.one_way_results import NeedleResult, VentWay
from leakdown.judge.tightness import Settings, analyse
from leakdown.judge.unsized import unsized
from leakdown.judge.vent import AT_PA, NEEDED_M3_S, judged_in, judged_out, volume_flags, way
from leakdown.judge.verdict import frozen_verdict
from leakdown.quantities import ATMOSPHERE_PA, parse_pressure
from leakdown.recording import Recording
from leakdown.uncertainty import Interval

_INLETS = ("carburettor-inlet", "float-inlet")
_AS_A_LEAK = {  # flags about the size of a leak, which a vent's inflow is not
    "levels-off",
    "step",
    "fast-leak",
    "leak-shrinks",
    "leak-grows",
    "quoted-outside",
    "temperature-drift-possible",
    "not-settled",
    "creep",
    "volume-unknown",
    "volume-uncertainty-unknown",
    "several-holds",
    "too-short",
    "no-fit",
}


def is_inflow(recording: Recording) -> bool:
    """A tank under vacuum: air is meant to come in."""
    return recording.conditions.circuit == "tank" and recording.direction == "vacuum"


def sized_inflow(recording: Recording, settings: Settings) -> Analysis:
    """A tank under vacuum judged by the air that its vent lets in; a limit that was given wins."""
    seen = way(recording)
    span = settings.hold_s or (seen.start_s, seen.end_s)
    finding, verdict = _air_in(seen), _inflow_verdict(recording, seen)
    try:
        result = analyse(recording, replace(settings, hold_s=span))
    except InputError:
        return unsized(recording, span, verdict, (finding,), volume_flags(recording))
    flags = tuple(f for f in result.flags if f.code not in _AS_A_LEAK)
    hold = replace(result.hold, given=settings.hold_s is not None)
    result = replace(result, hold=hold, findings=(finding,), flags=(*flags, *volume_flags(recording)))
    if settings.limit is not None:
        return result
    # a tank that holds from the first reading on is blocked; one that moved and then froze is not known
    if np.ptp(recording.pressure_pa) > 0.0 and any(flag.code == "frozen" for flag in flags):
        verdict = frozen_verdict(verdict.limit)
    return replace(result, verdict=verdict)


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


def _inflow_verdict(recording: Recording, seen: VentWay) -> Verdict:
    ambient = recording.conditions.barometer_pa or ATMOSPHERE_PA
    text = f"{NEEDED_M3_S * 6e7:.0f} cm3/min of air in at {AT_PA / 1e3:g} kPa of vacuum"
    limit = Limit(text, "inflow", "practice", rate_pa_m3_s=NEEDED_M3_S * ATMOSPHERE_PA)
    word, reason = judged_in(seen)
    flow = seen.flow_m3_s
    measured = None if flow is None or not math.isfinite(flow.high) else flow.scaled(ambient)
    remedy = ""
    if word == "undecided":
        remedy = "Repeat with more readings near there, a finer gauge, or the air space as --volume."
    return Verdict(word, limit, measured, "none" if measured is None else "reading", reason, remedy)


def outward_judged(result: Analysis, settings: Settings) -> Analysis:
    """A tank under pressure: what its vent does outward, where common practice is the limit."""
    if result.circuit != "tank" or result.direction != "pressure" or result.verdict is None:
        return result
    if settings.limit is not None or result.verdict.word == "pass":
        return result
    seen = way(result.recording)
    word, reason = judged_out(seen)
    if word == "undecided":
        return result
    flags = result.flags if word == "fail" else tuple(f for f in result.flags if f.code != "levels-off")
    verdict = replace(result.verdict, word=word, measured=None, basis="reading", reason=reason, remedy="")
    return replace(result, verdict=verdict, flags=flags)


def openings(recording: Recording, settings: Settings) -> Analysis | None:
    """A log in which an inlet needle was pumped open, judged by its openings; None when it was not."""
    circuit = recording.conditions.circuit
    wanted = settings.limit is None and settings.hold_s is None
    if circuit not in _INLETS or recording.direction != "pressure" or not wanted:
        return None
    found = needle(recording, circuit, _range_pa(recording))  # type: ignore[arg-type]
    if not found.pops:
        return None
    limit = Limit(f"{REPEATS} openings within {100 * SPREAD:.0f} %, each closing again", "words", "practice")
    verdict = Verdict(found.word, limit, None, "reading", found.reason)
    span = float(recording.time_s[0]), float(recording.time_s[-1])
    return unsized(recording, span, verdict, (_opened(found),), found.flags)


def _range_pa(recording: Recording) -> float | None:
    """The end of the gauge's scale, where the file's head says it ("range: 100 kPa")."""
    said = recording.conditions.other("range")
    return abs(parse_pressure(said, "range").value_pa) if said else None


def _opened(found: NeedleResult) -> Finding:
    rows = [
        Figure(key, label, "kPa", interval.scaled(1e-3))
        for key, label, interval in (
            ("opening_kpa", "Opens at", found.opening_pa),
            ("reseat_kpa", "Closes at", found.reseat_pa),
        )
        if interval is not None
    ]
    if found.spread is not None:
        percent = 100.0 * found.spread
        rows.append(Figure("spread_percent", "Openings differ by", "%", Interval(percent, percent, percent)))
    sentence = ""
    if found.hold_at_pa is not None:
        sentence = f"Next: hold {found.hold_at_pa / 1e3:.3g} kPa (70 % of where it closes) for a minute."
    return Finding("openings", "Openings of the needle", sentence, tuple(rows), instead=True)
