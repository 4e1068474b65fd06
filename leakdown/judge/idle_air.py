"""Big enough? A leak beside the air that the engine breathes at idle: rough, and apart from the limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from leakdown.analysis import Analysis, Figure, Finding
from leakdown.circuits import circuit
from leakdown.errors import UsageError
from leakdown.physics.flow import DISCHARGE_COEFFICIENT, orifice_throughput
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K, parse_volume
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval
from leakdown.words.numbers import small_share_words

_T = tuned("judge")
IDLE_PER_MIN: float = _T.idle_per_min
FACTOR: float = _T.idle_factor
_LEAST = 1e-4  # shares below this are not worth a figure

Word = Literal["too small", "may be", "big enough"]


@dataclass(frozen=True)
class IdleShare:
    """Leak over idle air, with a factor of three either way, and what that means for the complaint."""

    share: Interval
    leak_m3_s: float
    idle_m3_s: float
    word: Word
    sentence: str


def idle_air_m3_s(swept_m3: float, idle_per_min: float = IDLE_PER_MIN) -> float:
    """Ambient air breathed at idle: swept volume x turns x delivery ratio 0.2."""
    return float(swept_m3 * idle_per_min / 60.0 * _T.delivery_ratio)


def idle_share(
    hole_m: float, swept_m3: float, idle_per_min: float = IDLE_PER_MIN, ambient_pa: float = ATMOSPHERE_PA
) -> IdleShare:
    """Share of the idle air that an equivalent hole of diameter `hole_m` lets in; not for the fuel side."""
    return share_of_hole(Interval(hole_m, hole_m, hole_m), swept_m3, idle_per_min, ambient_pa)


def share_of_hole(
    hole_m: Interval,
    swept_m3: float,
    idle_per_min: float = IDLE_PER_MIN,
    ambient_pa: float = ATMOSPHERE_PA,
    how: str = "",
) -> IdleShare:
    """The same for a hole with its interval; `value` None is a leak that was not seen. how: of the size."""
    idle = idle_air_m3_s(swept_m3, idle_per_min)
    low, high = (_drawn_m3_s(d, ambient_pa) / idle for d in (hole_m.low, hole_m.high))
    seen = hole_m.value is not None
    leak = _drawn_m3_s(hole_m.high if hole_m.value is None else hole_m.value, ambient_pa)
    share = leak / idle
    word: Word = "big enough" if share >= _T.matters else "too small" if share < _T.no_matter else "may be"
    if not seen and word != "too small":
        word = "may be"
    rough = f"rough, to a factor of {FACTOR:g}" + (f"; {how}" if how else "")
    about = "" if share < _LEAST else "about " if seen else "at most "
    sentence = f"{_MEANING[word]}: {about}{small_share_words(share)} of the idle air ({rough})."
    value = share if seen else None
    return IdleShare(Interval(value, low / FACTOR if seen else 0.0, high * FACTOR), leak, idle, word, sentence)


_MEANING = {
    "big enough": "Big enough to upset the mixture at idle",
    "may be": "It may explain the complaint, or be wear that does not matter",
    "too small": "Too small at rest to explain a lean or high idle (a worn seal opens further at speed: practice)",
}


def _drawn_m3_s(hole_m: float, ambient_pa: float) -> float:
    """Ambient air per second through a sharp-edged hole at the mean vacuum of idling."""
    area = DISCHARGE_COEFFICIENT * math.pi / 4.0 * hole_m**2
    inside = ambient_pa - _T.idle_vacuum_pa
    return orifice_throughput(ambient_pa, inside, area, REFERENCE_TEMPERATURE_K) / ambient_pa


def idle_share_of(analysis: Analysis, swept_m3: float | None = None) -> Finding | None:
    """The finding, or None where it says nothing: other circuits, a pass, no idea of hole or engine.

    swept_m3: as given; else the file's "displacement", else reckoned from a crankcase's volume.
    """
    hole = _hole_m(analysis)
    if not circuit(analysis.circuit).breathed or hole is None:
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
    size = volume / _T.crankcase_over_swept
    return size, f"a {size * 1e6:.0f} cm3 engine reckoned from the volume"
