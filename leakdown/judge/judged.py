"""What a judge hands back: an analysis, and the fit of the hold that it rests on where there was a hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Analysis, Finding, Flag, Hold, Phase, Quantity, Verdict, Zero
from leakdown.errors import InputError
from leakdown.fit.inputs import inputs_of
from leakdown.fit.search import HoldFit
from leakdown.physics.flow import DISCHARGE_COEFFICIENT
from leakdown.recording import Recording
from leakdown.uncertainty import Interval


@dataclass(frozen=True)
class Judged:
    """What a judge says of a recording, and the fit of the hold that it rests on (None: no hold)."""

    analysis: Analysis
    fit: HoldFit | None


@dataclass(frozen=True)
class FittedTest:
    """A test that can be compared with others: its analysis and `found`, the fit of its hold."""

    analysis: Analysis
    found: HoldFit

    @property
    def inward(self) -> bool:
        """True for a vacuum test."""
        return self.found.model.inward

    @property
    def detected(self) -> bool:
        """A leak was seen and could be sized."""
        return self.analysis.leak is not None and self.analysis.leak.detected

    @property
    def tight(self) -> bool:
        """The test could be read and no leak was seen."""
        return self.analysis.leak is not None and not self.analysis.leak.detected

    @property
    def rate_pa_s(self) -> Interval:
        """Loss at the quoted pressure; 0 to no bound when no size could be given."""
        leak = self.analysis.leak
        return leak.rate_pa_s if leak is not None else Interval(None, 0.0, float("inf"))

    @property
    def volume_m3(self) -> float | None:
        """The volume under test as stated, or None."""
        return self.analysis.used.volume_m3.value

    def has(self, code: str) -> bool:
        """Whether the analysis raised this flag."""
        return any(flag.code == code for flag in self.analysis.flags)


def fitted_test(judged: Judged) -> FittedTest:
    """A recording that was judged, as a test. Raises InputError when it has no hold to compare."""
    if judged.fit is None:
        raise InputError(
            "there is no hold in it that could be compared",
            where=judged.analysis.recording.source,
            remedy="Leave it out: its own result stands.",
        )
    return FittedTest(judged.analysis, judged.fit)


def without_size(
    recording: Recording,
    resolution: Quantity,
    span_s: tuple[float, float],
    verdict: Verdict,
    findings: tuple[Finding, ...],
    flags: tuple[Flag, ...] = (),
) -> Analysis:
    """The analysis of a recording that says something but has no leak to size: no hold, or none wanted.

    resolution: the gauge's step, as `hold.parts` has it. span_s: the part that the findings rest on, on the
    recording's clock. Raises UsageError.
    """
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
    nothing = np.zeros(0)
    return Analysis(
        recording, recording.circuit, recording.direction, hold,
        used=inputs_of(recording, DISCHARGE_COEFFICIENT, resolution),
        time_constant_s=None, half_life_s=None, leak=None, curve=None,
        residual_time_s=nothing, residual_pa=nothing,
        verdict=verdict, flags=flags, findings=findings,
    )  # fmt: skip
