"""Tank vent: air must get in, easily; what it does outward depends on its kind.

The tank is drawn to a little vacuum and shut: the reading comes back as fast as the vent lets air in,
q = V dp/dt at the pressure that the engine can bear. A healthy one-way vent is strongly directional, so
"directional" is health here and a fault on a crankcase.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import UsageError
from leakdown.estimate.result import Flag, Interval
from leakdown.oneway.result import VentResult, VentWay, Word
from leakdown.quantities import ATMOSPHERE_PA
from leakdown.recording import Recording
from leakdown.sizing.gum import propagate
from leakdown.sizing.written import Written

Array = NDArray[np.float64]
Kind = Literal["valve", "breather", "unknown"]

# Common practice, no source: 2 L/h of fuel leave room for 33 cm3/min of air, at 3 to 5 kPa at most.
NEEDED_M3_S = 33e-6 / 60.0
AT_PA = 5_000.0
_RELIEF_PA = (5_000.0, 35_000.0)
_WINDOW = (0.6, 1.5)  # of AT_PA: readings between these give the slope there
_STILL_PER_S = 0.004  # of the start pressure: slower than this is at rest
_HELD = 0.85  # of the start pressure left at the end
_VOLUME_SHARE = 0.10  # doubt (95 %) of a volume given without one
_NO_LEVEL_S = 2.0


def vent(
    inward: Recording,
    outward: Recording | None = None,
    kind: Kind = "unknown",
    needed_m3_s: float = NEEDED_M3_S,
) -> VentResult:
    """Judge a vent by a vacuum recording of its tank and, if there is one, a pressure recording.

    The volume comes from the recordings' conditions. Raises UsageError when a direction is the wrong way.
    """
    if inward.direction != "vacuum":
        raise UsageError(
            "the first recording of a vent test is the vacuum one", remedy="Give the vacuum test first."
        )
    if outward is not None and outward.direction != "pressure":
        raise UsageError(
            "the second recording of a vent test is the pressure one", remedy="Give the vacuum test first."
        )
    into, out = _way(inward), None if outward is None else _way(outward)
    word, reason = _judged_in(into, needed_m3_s)
    if word == "pass" and out is not None:
        word, reason = _with_outward(out, kind, reason)
    return VentResult(into, out, word, reason, _flags(inward, into, out))


def _way(recording: Recording) -> VentWay:
    sign = -1.0 if recording.direction == "vacuum" else 1.0
    size, t = sign * recording.pressure_pa, recording.time_s
    top = int(np.argmax(size))
    size, t = size[top:], t[top:] - t[top]
    tail = max(3, size.size // 5)
    slope = float(np.polyfit(t[-tail:], size[-tail:], 1)[0]) if size.size >= 3 else 0.0
    at_rest = size.size >= 3 and t[-1] > _NO_LEVEL_S and abs(slope) < _STILL_PER_S * size[0]
    end = float(np.mean(size[-min(3, size.size) :]))
    return VentWay(
        at_pa=AT_PA,
        flow_m3_s=_flow(recording, t, size),
        levels_pa=end if at_rest else None,
        end_pa=end,
        start_pa=float(size[0]),
    )


def _flow(recording: Recording, t: Array, size: Array) -> Interval | None:
    """Ambient air per second at AT_PA; a bound where the readings are on one side of it only."""
    volume = recording.conditions.volume_m3
    if volume is None or size.size < 2:
        return None
    ambient = recording.conditions.barometer_pa or ATMOSPHERE_PA
    speed = _speed_at(t, size, recording.conditions.resolution_pa or 0.0)
    if speed is None:
        return None
    half = recording.conditions.volume_u_m3 or _VOLUME_SHARE * volume
    known = Written("volume", volume, half / 1.96, "given", "")
    if speed.value > 0.0:
        found = propagate(lambda v, p: v * p / ambient, (known, speed)).interval
        return found if size[-1] <= AT_PA else Interval(None, 0.0, found.high)  # it flows less nearer to zero
    return Interval(None, 0.0, 1.96 * speed.u * (volume + half) / ambient)


def _speed_at(t: Array, size: Array, resolution_pa: float) -> Written | None:
    """Pa per second (positive when the reading goes to zero) at AT_PA, or at the end when above it."""
    near = (size > _WINDOW[0] * AT_PA) & (size < _WINDOW[1] * AT_PA)
    if size[-1] > AT_PA:  # never got there: the last part is the nearest
        near = np.arange(size.size) >= size.size - max(3, size.size // 3)
    if near.sum() < 3:  # it fell through at a bound: between the readings on both sides
        below = int(np.argmax(size <= AT_PA))
        near = (np.arange(size.size) == below) | (np.arange(size.size) == max(below - 1, 0))
    if near.sum() < 2:
        return None
    x, y = t[near], size[near]
    crossing = np.flatnonzero(size <= AT_PA)
    centre = float(t[crossing[0]]) if crossing.size else float(t[-1])
    return _slope(x - centre, y, max(resolution_pa, 1.0))


def _slope(x: Array, y: Array, resolution_pa: float) -> Written:
    """Fall per second at x = 0, by a parabola where there are readings enough, else a line."""
    terms = np.vander(x, 3 if x.size >= 6 and np.ptp(x) > 0 else 2, increasing=True)
    best = np.linalg.lstsq(terms, y, rcond=None)[0]
    spare = x.size - terms.shape[1]
    scatter = float(np.sqrt(np.sum(np.square(y - terms @ best)) / spare)) if spare > 0 else 0.0
    one = float(np.hypot(scatter, resolution_pa / np.sqrt(12.0)))
    u = one * float(np.sqrt(np.linalg.inv(terms.T @ terms)[1, 1]))
    return Written("speed", float(-best[1]), u, "assumed", "")


def _judged_in(way: VentWay, needed: float) -> tuple[Word, str]:
    want = f"{needed * 6e7:.0f} cm3/min at {AT_PA / 1e3:g} kPa"
    if way.start_pa < AT_PA:
        return "undecided", f"The vacuum never reached {AT_PA / 1e3:g} kPa: draw a little more (at most 10)."
    held = way.end_pa > AT_PA
    flow = way.flow_m3_s
    if flow is None:
        return _without_flow(way, held)
    seen = _flow_words(flow)
    if flow.high < needed:
        return "fail", f"BLOCKED: {seen} get in at {AT_PA / 1e3:g} kPa of vacuum, the engine needs {want}."
    if flow.low >= needed and not held:
        return "pass", f"Air gets in: {seen} at {AT_PA / 1e3:g} kPa of vacuum ({want} are enough)."
    return (
        "undecided",
        f"{seen} get in at {AT_PA / 1e3:g} kPa, around the {want} needed: hold longer, read finer.",
    )


def _without_flow(way: VentWay, held: bool) -> tuple[Word, str]:
    if held and way.levels_pa is not None:
        return "fail", f"BLOCKED: it holds {way.levels_pa / 1e3:.2g} kPa of vacuum and lets no more air in."
    return (
        "undecided",
        "Without the tank's volume the flow is not known: give --volume (air space, with hoses).",
    )


def _with_outward(way: VentWay, kind: Kind, reason: str) -> tuple[Word, str]:
    low, high = _RELIEF_PA
    if way.end_pa >= _HELD * way.start_pa:
        return "pass", f"{reason} Outward it holds {way.end_pa / 1e3:.3g} kPa."
    if way.end_pa >= low:
        if way.levels_pa is not None and way.levels_pa <= high:
            return (
                "pass",
                f"{reason} Outward it relieves down to {way.levels_pa / 1e3:.3g} kPa, as some vents do.",
            )
        return (
            "undecided",
            f"{reason} Outward it was still falling at {way.end_pa / 1e3:.3g} kPa: hold longer.",
        )
    fell = f"outward it falls to {way.end_pa / 1e3:.2g} kPa"
    if kind == "breather":
        return "pass", f"{reason} It breathes both ways ({fell}), as a felt or labyrinth vent does."
    if kind == "valve":
        should = "where a vent valve should hold or relieve above 5 kPa: it will spill fuel"
        return "fail", f"OPEN BOTH WAYS: {fell}, {should}."
    return (
        "undecided",
        f"{reason} Open both ways ({fell}): right for felt or a labyrinth, a fault of a valve. Say --kind.",
    )


def _flow_words(flow: Interval) -> str:
    if flow.value is None:
        return f"at most {flow.high * 6e7:.2g} cm3/min"
    return f"{flow.value * 6e7:.3g} ({flow.low * 6e7:.3g} to {flow.high * 6e7:.3g}) cm3/min"


def _flags(recording: Recording, into: VentWay, out: VentWay | None) -> tuple[Flag, ...]:
    flags = []
    if recording.conditions.volume_m3 is not None and recording.conditions.volume_u_m3 is None:
        flags.append(
            Flag("volume-uncertainty-assumed", "The tank's air volume was taken as good to 10 % (95 %).")
        )
    if out is None:
        flags.append(
            Flag("outward-not-tested", "Outward was not tested: a vent stuck open spills fuel when hot.")
        )
    if into.start_pa > 10.2e3:
        flags.append(Flag("over-caution-pressure", "More than 10 kPa of vacuum can pull a thin tank in."))
    return tuple(flags)
