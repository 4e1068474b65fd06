"""Tank vent: air must get in, easily; what it does outward depends on its kind.

The tank is drawn to a little vacuum and shut: the reading comes back as fast as the vent lets air in,
q = V dp/dt at the pressure that the engine can bear. A healthy one-way vent is strongly directional, so
"directional" is health here and a fault on a crankcase.
"""

from __future__ import annotations

import math
from typing import Literal

from leakdown.analysis import Flag
from leakdown.errors import UsageError
from leakdown.estimate.limits import caution_pa
from leakdown.oneway.flow_in import air_m3_s, speed_at
from leakdown.oneway.passed import Passed, passed
from leakdown.oneway.result import VentResult, VentWay, Word
from leakdown.quantities import ATMOSPHERE_PA, significant
from leakdown.recording import Recording
from leakdown.uncertainty import Interval

Kind = Literal["valve", "breather", "unknown"]

# Common practice, no source: 2 L/h of fuel leave room for 33 cm3/min of air, at 3 to 5 kPa at most.
NEEDED_M3_S = 33e-6 / 60.0
AT_PA = 5_000.0
USUAL_M3 = (200e-6, 1000e-6)  # of the tanks of small engines (common practice)
_RELIEF_PA = (5_000.0, 35_000.0)
_STILL_PA_S = 15.0  # slower than 1 kPa a minute is at rest
_HELD = 0.85  # of the start pressure left at the end
_VOLUME_SHARE = 0.10  # doubt (95 %) of a volume given without one


def vent(
    inward: Recording,
    outward: Recording | None = None,
    kind: Kind = "unknown",
    needed_m3_s: float = NEEDED_M3_S,
) -> VentResult:
    """Judge a vent by a vacuum recording of its tank and, if there is one, a pressure recording.

    The volume comes from the recordings' conditions. Raises UsageError when a direction is the wrong way,
    InputError for a recording without a decay.
    """
    if inward.direction != "vacuum":
        raise UsageError(
            "the first recording of a vent test is the vacuum one", remedy="Give the vacuum test first."
        )
    if outward is not None and outward.direction != "pressure":
        raise UsageError(
            "the second recording of a vent test is the pressure one", remedy="Give the vacuum test first."
        )
    into, out = way(inward), None if outward is None else way(outward)
    word, reason = judged_in(into, needed_m3_s)
    if word == "pass" and out is not None:
        word, outward_reason = judged_out(out, kind)
        reason = f"{reason} {outward_reason}"
    return VentResult(into, out, word, reason, _flags(inward, into, out))


def way(recording: Recording) -> VentWay:
    """What one direction shows."""
    seen = passed(recording)
    return VentWay(
        at_pa=AT_PA,
        flow_m3_s=_flow(recording, seen),
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


def judged_out(way: VentWay, kind: Kind = "unknown") -> tuple[Word, str]:
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
    return "fail", f"{reason} Felt and labyrinth vents breathe both ways by design: then say --kind breather."


def _flow_words(flow: Interval) -> str:
    low, high = (significant(x * 6e7, 2) if math.isfinite(x) else "" for x in (flow.low, flow.high))
    if flow.value is not None:
        return f"{significant(flow.value * 6e7, 2)} ({low} to {high}) cm3/min"
    if not high:
        return f"at least {low} cm3/min"
    return f"at most {high} cm3/min" if flow.low <= 0.0 else f"{low} to {high} cm3/min"


def _flags(recording: Recording, into: VentWay, out: VentWay | None) -> tuple[Flag, ...]:
    flags = list(volume_flags(recording))
    if out is None:
        flags.append(
            Flag("outward-not-tested", "Outward was not tested: a vent stuck open spills fuel when hot.")
        )
    if into.start_pa > 1.02 * caution_pa("tank", "vacuum"):
        flags.append(Flag("over-caution-pressure", "More than 10 kPa of vacuum can pull a thin tank in."))
    return tuple(flags)


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
