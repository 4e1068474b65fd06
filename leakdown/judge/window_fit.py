"""A window of a recording, its readings as they were fitted, and the fit that was chosen for them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import LeakEstimate, Used
from leakdown.errors import InputError
from leakdown.fit.choose import ChosenFit, choose, widened_by
from leakdown.fit.inputs import ambient_pa, priors_of, temperature_corrected, temperature_k, zero_corrected
from leakdown.fit.leak import Vessel
from leakdown.fit.model import HoldModel
from leakdown.hold.readings import DENSE_FROM, prepare
from leakdown.hold.window import Window, before_mark, longer_side, with_fall_before
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.tuned import tuned

_T = tuned("judge")
_CLIMBS_SIGMAS: float = tuned("fit").climbs_sigmas


@dataclass(frozen=True)
class WindowFit:
    """A window and its fit.

    part: the readings in the window, cleared of a drifting zero and of a measured temperature's changes.
    warmed_k: how far that temperature moved, None without one. chosen: the fit, its shape and size.
    """

    window: Window
    part: Recording
    used: Used
    warmed_k: float | None
    chosen: ChosenFit

    @property
    def recording(self) -> Recording:
        """The whole recording, without its lone spikes."""
        return self.window.recording

    @property
    def leak(self) -> LeakEstimate | None:
        """The size of the leak where one can be trusted."""
        return self.chosen.sized.estimate if self.chosen.sized else None

    @property
    def zero_pa(self) -> float:
        """The gauge's zero where it was measured or noted, else 0."""
        return self.window.zero.known_pa

    @property
    def size_pa(self) -> NDArray[np.float64]:
        """Magnitudes of `part` with the zero taken off."""
        size: NDArray[np.float64] = self.chosen.found.model.sign * (self.part.pressure_pa - self.zero_pa)
        return size

    @property
    def climbs(self) -> bool:
        """The reading moves away from zero by more than chance."""
        return self.chosen.rising_sigmas > _CLIMBS_SIGMAS

    @property
    def frozen(self) -> bool:
        """The gauge stood still inside the hold: what it shows is no pressure."""
        frozen_s = self.window.frozen_s
        return frozen_s is not None and frozen_s[0] < self.window.end_s - 1e-6


def fitted_window(recording: Recording, window: Window, used: Used, settings: Settings) -> WindowFit:
    """The window as found, cut at the first mark that changed the leak, or at steps that only a fit shows.

    recording: for its marks. Raises InputError for a hold of fewer than two readings.
    """
    fitted = _fitted(window, used, settings)
    unlike = fitted.chosen.odd is not None or fitted.chosen.sized is None
    as_found = before_mark(window, recording.marks) if unlike else None
    if as_found is not None:  # something done at a mark changed the leak: size it as it was found
        fitted = _fitted(as_found, used, settings)
    for _ in range(2):  # a step that only the residuals show: use the longer side of it
        odd = fitted.chosen.odd
        if odd is None or odd.name != "step" or fitted.part.time_s.size < DENSE_FROM:
            break
        fitted = _fitted(longer_side(fitted.window, fitted.part, odd.time_s, odd.size), used, settings)
    return fitted


def _fitted(window: Window, used: Used, settings: Settings) -> WindowFit:
    recording = window.recording
    window = with_fall_before(window, recording)
    steady = zero_corrected(recording, window)
    part, warmed_k = temperature_corrected(steady.between(window.closed_s, window.end_s), used)
    if part.time_s.size < 2:
        raise InputError(
            "the hold contains fewer than two readings",
            where=recording.source,
            remedy="Give --hold START..END, or take more readings with the valve shut.",
        )
    resolution = used.resolution_pa.value or 0.0
    readings = prepare(part.time_s - window.closed_s, part.pressure_pa, resolution, recording.by_hand)
    used = replace(used, noise_pa=readings.noise_pa)
    vessel = Vessel(used.volume_m3.value, used.volume_u_m3.value, temperature_k(used), settings.discharge_coefficient)

    def chosen(ambient: float, near: ChosenFit | None = None) -> ChosenFit:
        priors = priors_of(steady, window, used)
        inward = recording.direction == "vacuum"
        model = HoldModel(readings, ambient, inward, settings.quote_pa, priors)
        return choose(model, settings.quote_pa, vessel, near)

    found = chosen(ambient_pa(used))
    high_place: float = _T.high_place_pa
    if used.barometer_pa.source == "assumed" and part.pressure_pa.min() > -_T.deepest * high_place:
        found = widened_by(found, chosen(high_place, found), vessel, settings.quote_pa)
    fitted = WindowFit(window, part, used, warmed_k, found)
    return replace(fitted, chosen=replace(found, odd=None, sized=None)) if fitted.frozen else fitted
