"""Big enough? A leak beside the air that the engine breathes at idle: rough, and apart from the limit."""

from __future__ import annotations

from leakdown.analysis import Analysis, Figure, Finding
from leakdown.errors import UsageError
from leakdown.quantities import ATMOSPHERE_PA, parse_volume
from leakdown.sums.idle_air import IDLE_PER_MIN, share_of_hole
from leakdown.uncertainty import Interval

_CIRCUITS = ("crankcase", "intake")
_CRANKCASE_OVER_SWEPT = 3.8  # 3.1 to 4.5 with ducts and rig (common practice); the share is rougher anyway


def idle_share_of(analysis: Analysis, swept_m3: float | None = None) -> Finding | None:
    """The finding, or None where it says nothing: other circuits, a pass, no idea of hole or engine.

    swept_m3: as given; else the file's "displacement", else reckoned from a crankcase's volume.
    """
    hole = _hole_m(analysis)
    if analysis.circuit not in _CIRCUITS or hole is None:
        return None
    size, how = _swept(analysis, swept_m3)
    if size is None:
        return None
    ambient = analysis.used.barometer_pa.value or ATMOSPHERE_PA
    found = share_of_hole(hole, size, IDLE_PER_MIN, ambient, how)
    if found.word == "too small" and analysis.verdict is not None and analysis.verdict.word == "pass":
        return None  # nobody asks whether a leak that passes is big enough
    percent = Figure("share_of_idle_air_percent", "Of the idle air", "%", found.share.scaled(100.0))
    return Finding("idle-air", "Big enough to matter?", found.sentence, (percent,), answers=True)


def _hole_m(analysis: Analysis) -> Interval | None:
    """The equivalent hole, of the hold or of a circuit that would not pump up."""
    if analysis.leak is not None and analysis.leak.hole_m is not None:
        return analysis.leak.hole_m
    figures = (figure for finding in analysis.findings for figure in finding.figures)
    return next((f.interval.scaled(1e-3) for f in figures if f.key == "pumped_hole_mm"), None)


def _swept(analysis: Analysis, given_m3: float | None) -> tuple[float | None, str]:
    """Swept volume and how it is known."""
    if given_m3 is not None:
        return given_m3, ""
    said = analysis.recording.conditions.other("displacement")
    if said:
        try:
            return parse_volume(said, "displacement"), ""
        except UsageError:
            pass  # a note of the file's own that is no volume
    volume = analysis.used.volume_m3.value
    if analysis.circuit != "crankcase" or volume is None:
        return None, ""
    size = volume / _CRANKCASE_OVER_SWEPT
    return size, f"a {size * 1e6:.0f} cm3 engine reckoned from the volume"
