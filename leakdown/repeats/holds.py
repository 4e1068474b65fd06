"""Every hold of a recording analysed by itself: a log may hold, vent and pump up again."""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.estimate.analysis import Settings, analyse
from leakdown.estimate.hold import every_hold
from leakdown.estimate.inputs import resolution_of
from leakdown.estimate.readings import without_spikes
from leakdown.recording import Recording


def analysed_holds(recording: Recording, quote_pa: float) -> list[Analysis]:
    """One analysis a hold, in order; of the whole recording when it has one. Raises what `analyse` does."""
    settings = Settings(quote_pa=quote_pa)
    resolution = resolution_of(recording).value or 0.0
    spans = every_hold(without_spikes(recording, resolution)[0], resolution)
    if len(spans) < 2:
        return [analyse(recording, settings)]
    return [analyse(recording, Settings(quote_pa=quote_pa, hold_s=span)) for span in spans]
