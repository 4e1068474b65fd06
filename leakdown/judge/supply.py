"""A pump or regulator that may still feed the circuit: where that could hide the leak, and what is said then."""

from __future__ import annotations

from leakdown.analysis import Analysis, Flag
from leakdown.circuits import circuit


def pump_unsaid(analysis: Analysis) -> tuple[Flag, ...]:
    """The flag of a test that holds although nobody said that the pump was off; none where it would not matter.

    A reading that falls, a part that is meant to pass air and a pump that is known to be off leave nothing to ask.
    """
    if analysis.recording.conditions.pump_off is not None:
        return ()
    hold, way, leak = analysis.hold, circuit(analysis.circuit).way(analysis.direction), analysis.leak
    holds = way is None or way.question == "holds"
    fell = abs(hold.start_pa) - abs(hold.end_pa) > (analysis.used.resolution_pa.value or 0.0)
    seen = leak is not None and leak.detected and not any(flag.code == "pressure-rises" for flag in analysis.flags)
    return () if not holds or fell or seen else (Flag.of("judge", "pump-off-unsaid"),)
