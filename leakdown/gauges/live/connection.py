"""Proof that the gauge sees the engine: a blank opened and the reading fell, or the strokes fit. Pure."""

from __future__ import annotations

import re

from leakdown.gauges.live.marks import OPENED
from leakdown.gauges.live.strokes import STROKE_M3, volume_by_strokes_m3
from leakdown.quantities import PRESSURE_PA, significant

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
