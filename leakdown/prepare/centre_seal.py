"""Several cylinders: what leaks past the centre seal shows as a rise on the neighbour's gauge.

The neighbour is closed and at ambient at first; its rise times its volume is what came through the seal
between them, not outside air: q = V_2 dp_2/dt. Valid while the neighbour stays near ambient (a tenth of the
test pressure), and for a neighbour that is itself tight: otherwise the figure is a lower bound.
"""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.uncertainty import Interval, Written, propagate

_NEAR_AMBIENT = 0.1  # of the test pressure


@dataclass(frozen=True)
class CentreSeal:
    """Throughput past the centre seal (Pa m3/s, 95 %); share: of the whole leak, if that is known."""

    throughput_pa_m3_s: Interval
    share: Interval | None
    formula: str
    notes: tuple[str, ...]


def centre_seal(
    rise: Written,
    time: Written,
    volume: Written,
    test_pa: float,
    whole_leak: Interval | None = None,
) -> CentreSeal:
    """From the neighbour's rise (Pa) in a time (s) and its volume (m3). Raises UsageError for no rise."""
    if rise.value * test_pa <= 0.0 or time.value <= 0.0:
        raise UsageError(
            "the neighbour's reading must move the way of the tested cylinder's pressure",
            remedy="A neighbour that does not move has a tight centre seal (within the gauge's step).",
        )
    found = propagate(lambda p, t, v: abs(p) * v / t, (rise, time, volume))
    notes = ["This part of the loss goes to the neighbour; it is not air drawn from outside."]
    if abs(rise.value) > _NEAR_AMBIENT * abs(test_pa):
        notes.append(
            "The neighbour rose by more than a tenth of the test pressure: the seal leaks more than this."
        )
    share = None
    if whole_leak is not None and whole_leak.value:
        ratio = found.value / whole_leak.value
        share = Interval(
            ratio, found.interval.low / whole_leak.high, found.interval.high / max(whole_leak.low, 1e-12)
        )
    formula = (
        f"q = V2 dp2/dt = {volume.value * 1e6:.4g} cm3 x {abs(rise.value) / 1e3:.3g} kPa / {time.value:g} s "
        f"= {found.value:.3g} Pa m3/s"
    )
    return CentreSeal(found.interval, share, formula, tuple(notes))
