"""An `Analysis` of a recording that has something to say but no leak to size: no hold, or none wanted."""

from __future__ import annotations

import numpy as np

from leakdown.analysis import Analysis, Finding, Flag, Hold, Phase, Verdict, Zero
from leakdown.fit.inputs import inputs_of
from leakdown.hold.parts import resolution_of
from leakdown.physics.flow import DISCHARGE_COEFFICIENT
from leakdown.recording import Recording


def unsized(
    recording: Recording,
    span_s: tuple[float, float],
    verdict: Verdict,
    findings: tuple[Finding, ...],
    flags: tuple[Flag, ...] = (),
) -> Analysis:
    """span_s: the part that the findings rest on, on the recording's clock. Raises UsageError."""
    start_s, end_s = span_s
    part = recording.between(start_s, end_s)
    hold = Hold(
        closed_s=start_s,
        start_s=start_s,
        end_s=end_s,
        readings=int(part.time_s.size),
        start_pa=float(part.pressure_pa[0]),
        end_pa=float(part.pressure_pa[-1]),
        phases=(Phase("other", start_s, end_s),),
        zero=Zero(0.0, 0.0, "assumed"),
    )
    return Analysis(
        recording=recording,
        circuit=recording.circuit,
        direction=recording.direction,
        hold=hold,
        used=inputs_of(recording, DISCHARGE_COEFFICIENT, resolution_of(recording)),
        time_constant_s=None,
        half_life_s=None,
        leak=None,
        curve=None,
        residual_time_s=np.zeros(0),
        residual_pa=np.zeros(0),
        verdict=verdict,
        flags=flags,
        findings=findings,
    )
