"""Flags about the gauge: its zero, the end of its range, a reading that stands still, too much pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Analysis, Flag, Hold, LeakEstimate, Used, Verdict
from leakdown.circuits import circuit
from leakdown.fit.shape import OddShape
from leakdown.hold.window import Window
from leakdown.quantities import show_pressure
from leakdown.recording import Doubt, Recording

_FAR_ABOVE = 6.0  # times the caution: common practice, no source; a point left out makes ten of it


@dataclass(frozen=True)
class FlagInputs:
    """Everything the flags look at."""

    recording: Recording
    window: Window
    hold: Hold
    used: Used
    leak: LeakEstimate | None
    odd: OddShape | None
    rising_sigmas: float
    settled: bool
    quote_pa: float
    fast: bool
    converged: bool
    spikes: int
    circuit_given: bool
    temperature_range_k: float | None
    verdict: Verdict | None


def about_gauge(seen: FlagInputs) -> list[Flag]:
    """Every flag about the gauge that applies."""
    flags = []
    unit = seen.recording.conditions.show_unit
    zero = seen.window.zero
    moved = zero.drift_pa
    if moved is not None and abs(moved) > max(2.0 * (seen.used.resolution_pa.value or 0.0), 200.0):
        flags.append(
            Flag(
                "zero-moved",
                f"The gauge's zero moved by {show_pressure(moved, unit)} between start and end: "
                "drift looks like a leak. It was taken off as if steady, and doubted. Warm the gauge up, "
                "zero it, repeat.",
            )
        )
    elif zero.source != "assumed" and abs(zero.offset_pa) > 1000.0:
        flags.append(
            Flag(
                "zero-offset",
                f"The gauge reads {show_pressure(zero.offset_pa, unit)} open to air; this was taken off.",
            )
        )
    flags += _standing(seen, unit)
    if seen.spikes:
        flags.append(Flag("spikes", f"{seen.spikes} lone readings far from their neighbours were left out."))
    caution = circuit(seen.recording.circuit).caution_pa(seen.recording.direction)
    highest = abs(seen.hold.start_pa)
    if highest > 1.02 * caution:
        flags.append(
            Flag(
                "over-caution-pressure",
                f"The test started at {show_pressure(highest, unit)}; above {show_pressure(caution, unit)} "
                "(common practice) this circuit can be damaged, seals pushed out, plugs thrown. "
                "Stay below unless the maker's manual says more.",
            )
        )
    return flags


def far_above_caution(result: Analysis) -> tuple[Doubt, ...]:
    """A doubt where the test started many times above what its circuit may be given: a slip, or a danger."""
    known, highest = circuit(result.circuit), abs(result.hold.start_pa)
    caution, unit = known.caution_pa(result.direction), result.recording.conditions.show_unit
    if known.needle or highest < _FAR_ABOVE * caution:
        return ()
    read, slip = show_pressure(highest, unit), show_pressure(highest / 10.0, unit)
    likely = f": a slip for {slip}?" if highest < 10.0 * 1.1 * caution else ": a slip, or another unit?"
    text = (
        f"{read} is {highest / caution:.0f} times the {show_pressure(caution, unit)} that this circuit may "
        f"be given{likely} If it is true, let it out at once and keep clear of plugs and plates; if not, "
        "correct the sheet."
    )
    return (Doubt("far-above-caution", text, True),)


def _standing(seen: FlagInputs, unit: str) -> list[Flag]:
    """A reading that stood still: at the end of the gauge's range, or dead."""
    flags = []
    readings = seen.recording.pressure_pa
    if seen.window.saturated_pa is not None:
        end = show_pressure(seen.window.saturated_pa, unit)
        flags.append(
            Flag(
                "saturated",
                f"The reading stood at {end}, its highest: the end of the gauge's range. Only what came "
                "after was used; pump up less, or use a gauge that reaches further.",
            )
        )
    if seen.window.frozen_s is not None:
        start_s, end_s = seen.window.frozen_s
        flags.append(
            Flag(
                "frozen",
                f"The gauge froze from {start_s:.0f} to {end_s:.0f} s: its reading stopped moving "
                "altogether, noise included. Nothing from then on counts.",
            )
        )
    elif readings.size > 60 and float(np.ptp(readings)) == 0.0:
        flags.append(
            Flag(
                "frozen",
                "Every reading is the same, to the last digit: is the gauge alive? Press on the hose.",
            )
        )
    return flags
