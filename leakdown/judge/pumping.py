"""A leak that will not pump up is a full result: it takes all that the pump delivers.

Strokes per second times stroke volume times ambient pressure is the most that leaks; full strokes and a
tight pump assumed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from leakdown.analysis import Analysis, Figure, Finding, Flag, Limit, Verdict
from leakdown.circuits import circuit
from leakdown.errors import UsageError
from leakdown.hold.parts import Parts
from leakdown.hold.strokes import Pumping
from leakdown.judge.judged import Judged, without_size
from leakdown.judge.settings import Settings
from leakdown.physics.flow import DISCHARGE_COEFFICIENT, equivalent_hole_m
from leakdown.quantities import (
    ATMOSPHERE_PA,
    REFERENCE_TEMPERATURE_K,
    parse_volume,
    show_pressure,
    significant,
    standard_cm3_per_min,
)
from leakdown.recording import Conditions, Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import InputQuantity, Interval, assumed, propagate

_T = tuned("judge")
STROKE_M3: float = _T.stroke_m3
FAR_BELOW: float = _T.far_below


@dataclass(frozen=True)
class PumpedLeak:
    """Throughput (Pa m3/s) at the pressure that was not exceeded, and the equivalent hole (m); both 95 %."""

    held_pa: float
    throughput_pa_m3_s: Interval
    hole_m: Interval
    formula: str
    inputs: tuple[InputQuantity, ...]


def usual_stroke() -> InputQuantity:
    """The stroke of a common hand pump."""
    why = "stroke assumed 15 cm3 +/- 20 % (a common hand pump, practice)"
    return assumed("stroke", STROKE_M3, _T.stroke_half * STROKE_M3, why)


def stroke_of(volume_m3: float) -> InputQuantity:
    """A stated stroke volume, with the doubt of what a hand pump really delivers."""
    note = f"stroke {volume_m3 * 1e6:g} cm3, assumed delivered to +/- 20 % (practice)"
    return assumed("stroke", volume_m3, _T.stroke_half * volume_m3, note)


def pace_of(strokes_per_s: float) -> InputQuantity:
    """A stated pace, with the doubt of a counted one. Raises UsageError when it is not above zero."""
    if not strokes_per_s > 0.0:
        raise UsageError("the pace of pumping must be above zero", remedy='Give strokes and a time, "10" in "10 s".')
    note = f"{strokes_per_s:.3g} strokes a second, assumed kept to +/- 15 % (practice)"
    return assumed("pace", strokes_per_s, _T.pace_half * strokes_per_s, note)


def pumped_leak(
    held_pa: float, pace: InputQuantity, stroke: InputQuantity, ambient_pa: float = ATMOSPHERE_PA
) -> PumpedLeak:
    """The leak at the signed gauge pressure `held_pa` that pumping would not exceed. Raises UsageError."""
    if held_pa == 0.0 or held_pa <= -ambient_pa:
        raise UsageError(
            f"{held_pa / 1e3:g} kPa is no pressure that pumping was held at",
            remedy="Give the highest reading while pumping; vacuum is negative.",
        )
    high, low = max(ambient_pa + held_pa, ambient_pa), min(ambient_pa + held_pa, ambient_pa)
    delivered_at = low  # of room air into a pressure, of the thin air out of a vacuum
    found = propagate(lambda n, v: n * v * delivered_at, (pace, stroke))

    def hole(q: float) -> float:
        return equivalent_hole_m(q, high, low, REFERENCE_TEMPERATURE_K, DISCHARGE_COEFFICIENT)

    q = found.interval
    formula = (
        f"{pace.value:.3g} strokes/s x {stroke.value * 1e6:g} cm3 x {delivered_at / 1e3:.4g} kPa "
        f"= {found.value:.3g} Pa m3/s"
    )
    holes = Interval(hole(found.value), hole(q.low), hole(q.high))
    return PumpedLeak(held_pa, q, holes, formula, (pace, stroke))


def judged_pumping(
    recording: Recording, parts: Parts, limit: Limit | None, settings: Settings, held: Judged | None
) -> Judged | None:
    """The recording judged as one that would not pump up; None when it did, or was not pumped in the log.

    held: as its hold was judged, None when it has none.
    """
    pumping, limit = parts.pumping, limit or Limit("it must pump up", "words", "practice")
    if pumping is None or pumping.held_pa > FAR_BELOW * _wanted_pa(recording, limit):
        return None
    ambient = recording.conditions.barometer_pa or ATMOSPHERE_PA
    stroke = pump_stroke(recording.conditions, settings)
    leak = pumped_leak(parts.recording.sign * pumping.through_pa, pace_of(pumping.per_s), stroke, ambient)
    verdict = Verdict("fail", limit, None, "reading", _reason(recording, pumping, leak, stroke))
    sized = held is not None and _fits(held.analysis, leak)
    finding = _finding(leak, stroke, not sized)
    if held is None or not sized:
        flag = Flag("pump-assumed", "; ".join(x.note for x in leak.inputs) + ".")
        span = pumping.start_s, pumping.end_s
        result = without_size(recording, parts.resolution, span, verdict, (finding,), (flag,))
        return Judged(result, None if held is None else held.fit)
    findings = (finding, *held.analysis.findings)
    return Judged(replace(held.analysis, verdict=verdict, findings=findings), held.fit)


def _fits(result: Analysis, leak: PumpedLeak) -> bool:
    """Whether the fall after pumping tells the same leak: it is over in a second, and easily misread."""
    hole = result.leak.hole_m if result.leak else None
    if hole is None or hole.value is None:
        return False
    return bool(hole.value / _T.same_hole < leak.hole_m.high and leak.hole_m.low < hole.value * _T.same_hole)


def _wanted_pa(recording: Recording, limit: Limit) -> float:
    """The pressure that the test is meant to reach."""
    return limit.start_pa or circuit(recording.circuit).target_pa(recording.direction) or 0.0


def pump_stroke(conditions: Conditions, settings: Settings) -> InputQuantity:
    """The pump's stroke: from the file's head ("pump: 15 cm3"), else the shop's, else a common one."""
    said = conditions.other("pump")
    if said:
        try:
            return stroke_of(parse_volume(said, "pump"))
        except UsageError:  # "pump: the small one"
            pass
    shop = None if settings.shop is None else settings.shop.pump_stroke_m3
    return usual_stroke() if shop is None else stroke_of(shop)


def _reason(recording: Recording, pumping: Pumping, leak: PumpedLeak, stroke: InputQuantity) -> str:
    level = show_pressure(pumping.held_pa, recording.conditions.show_unit)
    flow = significant(standard_cm3_per_min(leak.throughput_pa_m3_s.value or 0.0), 2)
    hole = significant((leak.hole_m.value or 0.0) * 1e3, 2)
    return (
        f"It would not build above {level} at {significant(pumping.per_s, 2)} strokes a second "
        f"({stroke.value * 1e6:g} cm3 pump): about {flow} cm3/min leaks there, like a hole of {hole} mm. "
        "Find it by ear or soap first."
    )


def _finding(leak: PumpedLeak, stroke: InputQuantity, instead: bool) -> Finding:
    flow = leak.throughput_pa_m3_s.scaled(standard_cm3_per_min(1.0))
    rows = (
        Figure("pumped_leak_cm3_per_min", "Leak while pumping", "cm3/min", flow),
        Figure("pumped_hole_mm", "Like one hole of", "mm", leak.hole_m.scaled(1e3)),
    )
    sentence = f"Reckoned from the strokes: {leak.formula}; {stroke.note}."
    return Finding("would-not-build", "It would not pump up", sentence, rows, instead)
