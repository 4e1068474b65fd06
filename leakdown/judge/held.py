"""One test as the comparison of several tests needs it: its analysis and the fitted problem behind it."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.analysis import Analysis
from leakdown.errors import InputError
from leakdown.fit.inputs import ambient_pa, temperature_corrected, zero_corrected
from leakdown.fit.model import HoldModel, Priors
from leakdown.fit.search import HoldFit, search
from leakdown.hold.readings import Readings, prepare, without_spikes
from leakdown.judge.tightness import Judged
from leakdown.uncertainty import Interval


@dataclass(frozen=True)
class Held:
    """A test: `analysis`, and `found`, the best fit of its hold that the analysis rests on."""

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


def held_of(found: Judged) -> Held:
    """A recording that was judged, as a test. Raises InputError when it has no hold to compare."""
    if found.fit is None:
        raise InputError(
            "there is no hold in it that could be compared",
            where=found.analysis.recording.source,
            remedy="Leave it out: its own result stands.",
        )
    return Held(found.analysis, found.fit)


def part_of(whole: Held, start_s: float, end_s: float, span_s: tuple[float, float]) -> HoldFit:
    """The plain fit of a part of a recording, with the whole test's priors.

    start_s, end_s, and the span over which a temperature column is smoothed: the recording's clock.
    """
    model = whole.found.model
    readings = _readings(whole.analysis, start_s, end_s, span_s)
    return search(_model(whole.analysis, readings, model.quote_pa, model.priors))


def _readings(
    analysis: Analysis, start_s: float, end_s: float, span_s: tuple[float, float] | None = None
) -> Readings:
    recording, used = analysis.recording, analysis.used
    resolution = used.resolution_pa.value or 0.0
    clean, _ = without_spikes(recording, resolution)
    clean = zero_corrected(clean, analysis.hold)
    corrected, _ = temperature_corrected(clean.between(*(span_s or (start_s, end_s))), used)
    part = corrected.between(start_s, end_s)
    return prepare(part.time_s - start_s, part.pressure_pa, resolution, recording.by_hand)


def _model(analysis: Analysis, readings: Readings, quote_pa: float, priors: Priors) -> HoldModel:
    return HoldModel(readings, ambient_pa(analysis.used), analysis.direction == "vacuum", quote_pa, priors)
