"""A leak that will not pump up is a full result: at the pressure that is not exceeded, all that the pump
delivers leaks away.

Pressure: each stroke pushes a stroke volume of ambient air in, q = n V_s p_a. Vacuum: each stroke takes a
stroke volume out at the vessel's own pressure, q = n V_s p. Isothermal, ideal gas, pump with no dead space;
a worn pump delivers less, so the leak is that much smaller.
"""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.physics.flow import DISCHARGE_COEFFICIENT, equivalent_hole_m
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K
from leakdown.uncertainty import Interval, Written, assumed, propagate

STROKE_M3 = 15e-6  # a common hand pump (common practice, no source)
_STROKE_HALF = 0.20  # doubt (95 %) of what a hand pump really delivers per stroke (common practice)
_PACE_HALF = 0.15  # doubt (95 %) of a counted pace (common practice)


@dataclass(frozen=True)
class PumpedLeak:
    """Throughput (Pa m3/s) at the pressure that was not exceeded, and the equivalent hole (m); both 95 %."""

    held_pa: float
    throughput_pa_m3_s: Interval
    hole_m: Interval
    formula: str
    inputs: tuple[Written, ...]


def usual_stroke() -> Written:
    """The stroke of a common hand pump."""
    why = "stroke assumed 15 cm3 +/- 20 % (a common hand pump, practice)"
    return assumed("stroke", STROKE_M3, _STROKE_HALF * STROKE_M3, why)


def stroke_of(volume_m3: float) -> Written:
    """A stated stroke volume, with the doubt of what a hand pump really delivers."""
    note = f"stroke {volume_m3 * 1e6:g} cm3, assumed delivered to +/- 20 % (practice)"
    return assumed("stroke", volume_m3, _STROKE_HALF * volume_m3, note)


def pace_of(strokes_per_s: float) -> Written:
    """A stated pace, with the doubt of a counted one. Raises UsageError when it is not above zero."""
    if not strokes_per_s > 0.0:
        raise UsageError(
            "the pace of pumping must be above zero", remedy='Give strokes and a time, "10" in "10 s".'
        )
    note = f"{strokes_per_s:.3g} strokes a second, assumed kept to +/- 15 % (practice)"
    return assumed("pace", strokes_per_s, _PACE_HALF * strokes_per_s, note)


def pumped_leak(
    held_pa: float, pace: Written, stroke: Written, ambient_pa: float = ATMOSPHERE_PA
) -> PumpedLeak:
    """The leak at the signed gauge pressure `held_pa` that pumping would not exceed. Raises UsageError."""
    if held_pa == 0.0 or held_pa <= -ambient_pa:
        raise UsageError(
            f"{held_pa / 1e3:g} kPa is no pressure that pumping was held at",
            remedy="Give the highest reading while pumping; vacuum is negative.",
        )
    delivered_at = ambient_pa if held_pa > 0.0 else ambient_pa + held_pa
    found = propagate(lambda n, v: n * v * delivered_at, (pace, stroke))
    high, low = max(ambient_pa + held_pa, ambient_pa), min(ambient_pa + held_pa, ambient_pa)

    def hole(q: float) -> float:
        return equivalent_hole_m(q, high, low, REFERENCE_TEMPERATURE_K, DISCHARGE_COEFFICIENT)

    q = found.interval
    formula = (
        f"{pace.value:.3g} strokes/s x {stroke.value * 1e6:g} cm3 x {delivered_at / 1e3:.4g} kPa "
        f"= {found.value:.3g} Pa m3/s"
    )
    holes = Interval(hole(found.value), hole(q.low), hole(q.high))
    return PumpedLeak(held_pa, q, holes, formula, (pace, stroke))
