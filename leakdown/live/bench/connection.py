"""Pump strokes by Boyle's law, marks by key, and the proof that the gauge sees the engine. Pure."""

from __future__ import annotations

import math
import re

from leakdown.errors import UsageError
from leakdown.live.texts import text
from leakdown.physics.volume import stroke_rise_pa
from leakdown.quantities import show_pressure, significant
from leakdown.recording import UNDONE
from leakdown.tuned import tuned

_T = tuned("live.bench")
STROKE_M3: float = _T.stroke_m3


def strokes_to(target_pa: float, volume_m3: float, ambient_pa: float) -> float:
    """Strokes from ambient to a gauge pressure, fractions included.

    Pressure: n = V p / (p_a v). Vacuum: each stroke multiplies the absolute pressure by V / (V + v), so
    n = ln(p_a / (p_a + p)) / ln(1 + v/V). Raises UsageError for a target below a perfect vacuum.
    """
    if target_pa <= -ambient_pa:
        raise UsageError(f"{target_pa / 1e3:g} kPa is below a perfect vacuum")
    if target_pa >= 0:
        return target_pa / stroke_rise_pa(STROKE_M3, volume_m3, ambient_pa)
    return math.log(ambient_pa / (ambient_pa + target_pa)) / math.log1p(STROKE_M3 / volume_m3)


def volume_by_strokes_m3(strokes: float, reached_pa: float, ambient_pa: float) -> float:
    """The volume that a counted number of strokes filled (Boyle): proof that the gauge sees the engine."""
    if strokes <= 0 or reached_pa == 0 or reached_pa <= -ambient_pa:
        raise UsageError("a stroke count above zero and a pressure other than zero are needed")
    if reached_pa > 0:
        return strokes * STROKE_M3 * ambient_pa / reached_pa
    return STROKE_M3 / math.expm1(math.log(ambient_pa / (ambient_pa + reached_pa)) / strokes)


def fill_warning(target_pa: float, volume_m3: float, ambient_pa: float) -> str:
    """A warning when a single stroke adds much of the target, else ""."""
    rise_pa = stroke_rise_pa(STROKE_M3, volume_m3, ambient_pa)
    if target_pa <= 0 or rise_pa <= _T.heavy_stroke * target_pa:
        return ""
    return text("heavy stroke", stroke_cm3=STROKE_M3 * 1e6, rise_kpa=rise_pa / 1e3, volume_cm3=volume_m3 * 1e6)


OPENED = "blank cracked open"
PUMP_OFF = "pump off the circuit"
MARKS: dict[str, str] = {
    "p": PUMP_OFF,
    "b": "boot moved",
    "t": "crank turned",
    "s": "soap",
    "g": "grease on a seal",
    "o": OPENED,
}


def mark_for(key: str) -> str | None:
    """The mark that `key` stands for, or None."""
    return MARKS.get(key.strip().lower())


_STROKES = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:pump\s*)?strokes?\b", re.IGNORECASE)


class ConnectionWatch:
    """Feed marks and readings; each answer comes once. `proven`: a blank was opened and the reading fell."""

    def __init__(self, volume_m3: float | None, ambient_pa: float, unit: str) -> None:
        self._volume_m3, self._ambient_pa, self.unit = volume_m3, ambient_pa, unit
        self._pressure_pa = self._peak_pa = 0.0
        self._opened: tuple[float, float] | None = None
        self.proven = False

    def mark(self, time_s: float, said: str) -> str:
        """A mark: an opened blank starts the watch, "12 strokes" is reckoned at once."""
        if said == UNDONE + OPENED:
            self._opened = None
        if said == OPENED and abs(self._pressure_pa) > _T.few_pa:
            self._opened = (time_s, self._pressure_pa)
        match = _STROKES.search(said)
        return self._by_strokes(float(match.group(1).replace(",", "."))) if match else ""

    def feed(self, time_s: float, pressure_pa: float) -> str:
        """A reading: whether the fall that was waited for has come, or has not in time."""
        self._pressure_pa = pressure_pa
        if abs(pressure_pa) > abs(self._peak_pa):
            self._peak_pa = pressure_pa
        if self._opened is None:
            return ""
        since_s, before_pa = self._opened
        if abs(pressure_pa) < _T.fallen_share * abs(before_pa):
            self._opened, self.proven = None, True
            return text("fell", before=show_pressure(before_pa, self.unit), now=show_pressure(pressure_pa, self.unit))
        if time_s - since_s > _T.fall_within_s:
            self._opened = None
            return text("did not fall")
        return ""

    def _by_strokes(self, count: float) -> str:
        if count <= 0 or abs(self._peak_pa) < _T.few_pa:
            return ""
        volume = volume_by_strokes_m3(count, self._peak_pa, self._ambient_pa)
        peak, rounded = show_pressure(self._peak_pa, self.unit), significant(volume * 1e6, 2)
        found = text("counted", count=count, stroke_cm3=STROKE_M3 * 1e6, peak=peak, volume=rounded)
        if self._volume_m3 is None:
            return found
        fits = self._volume_m3 / _T.volume_fit < volume < self._volume_m3 * _T.volume_fit
        return text("fits" if fits else "does not fit", found=found, volume_cm3=self._volume_m3 * 1e6)
