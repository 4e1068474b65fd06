"""Pump strokes by Boyle's law, marks by key, and the proof that the gauge sees the engine. Pure."""

from __future__ import annotations

import math
import re

from leakdown.errors import UsageError
from leakdown.physics.volume import stroke_rise_pa
from leakdown.quantities import PRESSURE_PA, significant

STROKE_M3 = 15e-6
"""A common hand pump moves about 15 cm3 a stroke (common practice, no source)."""


def strokes_to(target_pa: float, volume_m3: float, ambient_pa: float, stroke_m3: float = STROKE_M3) -> float:
    """Strokes from ambient to a gauge pressure, fractions included.

    Pressure: n = V p / (p_a v). Vacuum: each stroke multiplies the absolute pressure by V / (V + v), so
    n = ln(p_a / (p_a + p)) / ln(1 + v/V). Raises UsageError for a target below a perfect vacuum.
    """
    if target_pa <= -ambient_pa:
        raise UsageError(f"{target_pa / 1e3:g} kPa is below a perfect vacuum")
    if target_pa >= 0:
        return target_pa / stroke_rise_pa(stroke_m3, volume_m3, ambient_pa)
    return math.log(ambient_pa / (ambient_pa + target_pa)) / math.log1p(stroke_m3 / volume_m3)


def volume_by_strokes_m3(
    strokes: float, reached_pa: float, ambient_pa: float, stroke_m3: float = STROKE_M3
) -> float:
    """The volume that a counted number of strokes filled (Boyle): proof that the gauge sees the engine."""
    if strokes <= 0 or reached_pa == 0 or reached_pa <= -ambient_pa:
        raise UsageError("a stroke count above zero and a pressure other than zero are needed")
    if reached_pa > 0:
        return strokes * stroke_m3 * ambient_pa / reached_pa
    return stroke_m3 / math.expm1(math.log(ambient_pa / (ambient_pa + reached_pa)) / strokes)


def fill_warning(target_pa: float, volume_m3: float, ambient_pa: float, stroke_m3: float = STROKE_M3) -> str:
    """A warning when a single stroke adds more than half the target, else ""."""
    rise_pa = stroke_rise_pa(stroke_m3, volume_m3, ambient_pa)
    if target_pa <= 0 or rise_pa <= 0.5 * target_pa:
        return ""
    return (
        f"one full stroke of {stroke_m3 * 1e6:g} cm3 adds {rise_pa / 1e3:.0f} kPa in "
        f"{volume_m3 * 1e6:g} cm3: pump in small parts of a stroke"
    )


OPENED = "blank cracked open"
MARKS: dict[str, str] = {
    "b": "boot moved",
    "t": "crank turned",
    "s": "soap",
    "g": "grease on a seal",
    "o": OPENED,
}


def mark_for(key: str) -> str | None:
    """The mark that `key` stands for, or None: then free text is asked for."""
    return MARKS.get(key.strip().lower())


def legend(width: int = 200) -> list[str]:
    """The keys in as few lines of `width` as they need."""
    words = [*(f"{key} {text}" for key, text in MARKS.items()), "other key: a note", "q end"]
    lines = [""]
    for word in words:
        longer = f"{lines[-1]}   {word}" if lines[-1] else word
        if len(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


WITHIN_S = 6.0
FALLEN = 0.5
FEW_PA = 2_000.0
FIT = 1.5
"""A counted volume within this factor of the given one fits: strokes are rarely whole (practice)."""

_STROKES = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:pump\s*)?strokes?\b", re.IGNORECASE)


class ConnectionWatch:
    """Feed marks and readings; each answer comes once."""

    def __init__(self, volume_m3: float | None, ambient_pa: float, unit: str) -> None:
        self._volume_m3, self._ambient_pa, self._unit = volume_m3, ambient_pa, unit
        self._pressure_pa = self._peak_pa = 0.0
        self._opened: tuple[float, float] | None = None

    def mark(self, time_s: float, text: str) -> str:
        """A mark: an opened blank starts the watch, "12 strokes" is reckoned at once."""
        if text == OPENED and abs(self._pressure_pa) > FEW_PA:
            self._opened = (time_s, self._pressure_pa)
        match = _STROKES.search(text)
        return self._by_strokes(float(match.group(1).replace(",", "."))) if match else ""

    def feed(self, time_s: float, pressure_pa: float) -> str:
        """A reading: whether the fall that was waited for has come, or has not in time."""
        self._pressure_pa = pressure_pa
        if abs(pressure_pa) > abs(self._peak_pa):
            self._peak_pa = pressure_pa
        if self._opened is None:
            return ""
        since_s, before_pa = self._opened
        if abs(pressure_pa) < FALLEN * abs(before_pa):
            self._opened = None
            return (
                f"connection proven: {self._shown(before_pa)} fell to {self._shown(pressure_pa)} "
                "when the blank was opened"
            )
        if time_s - since_s > WITHIN_S:
            self._opened = None
            return "the reading did not fall: a kinked hose, a shut valve, or not connected?"
        return ""

    def _by_strokes(self, count: float) -> str:
        if count <= 0 or abs(self._peak_pa) < FEW_PA:
            return ""
        volume = volume_by_strokes_m3(count, self._peak_pa, self._ambient_pa)
        found = (
            f"{count:g} strokes of {STROKE_M3 * 1e6:g} cm3 to {self._shown(self._peak_pa)}: "
            f"about {significant(volume * 1e6, 2)} cm3"
        )
        if self._volume_m3 is None:
            return found
        fits = self._volume_m3 / FIT < volume < self._volume_m3 * FIT
        word = "fits, connected" if fits else "does not fit: leak, kinked hose or wrong volume?"
        return f"{found}; given {self._volume_m3 * 1e6:g} cm3: {word}"

    def _shown(self, pressure_pa: float) -> str:
        return f"{significant(pressure_pa / PRESSURE_PA[self._unit])} {self._unit}"
