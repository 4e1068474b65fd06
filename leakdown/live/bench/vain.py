"""A circuit that does not build up while it is pumped: the strokes counted, and the leak that takes them. Pure."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from leakdown.circuits import circuit
from leakdown.hold.strokes import pumping_in_vain
from leakdown.judge.pumping import FAR_BELOW, pace_of, pump_stroke, pumped_leak
from leakdown.judge.settings import Settings
from leakdown.quantities import ATMOSPHERE_PA, show_pressure, significant, standard_cm3_per_min
from leakdown.recording import Conditions
from leakdown.tuned import tuned

_T = tuned("live.bench")


@dataclass(frozen=True)
class Vain:
    """Pumping that gains nothing: strokes, the level that they held (gauge, signed), the leak and its hole in words."""

    strokes: int
    held: str
    leak: str
    hole: str


class VainWatch:
    """Feed readings; `look`, at most about once a second, tells whether the last strokes gained nothing."""

    def __init__(self, conditions: Conditions, settings: Settings) -> None:
        self._conditions = conditions
        self._stroke = pump_stroke(conditions, settings)
        self._readings: deque[tuple[float, float]] = deque()

    def feed(self, time_s: float, pressure_pa: float) -> None:
        """Take a reading (gauge, signed); a hand pump's strokes are seen with fewer than a quick gauge sends."""
        if self._readings and 0.0 <= time_s - self._readings[-1][0] < _T.thinned_s:
            return
        self._readings.append((time_s, pressure_pa))
        while self._readings[0][0] < time_s - _T.strokes_kept_s:
            self._readings.popleft()

    def look(self, unit: str) -> Vain | None:
        """What the strokes of the last minute came to; None when the last one is a while ago or they gained."""
        times, pressures = np.array(self._readings or [(0.0, 0.0)]).T
        sign = 1.0 if pressures.sum() >= 0.0 else -1.0
        found = pumping_in_vain(times, np.maximum(sign * pressures, 0.0), 0.0)
        table = circuit(self._conditions.circuit)
        target_pa = table.target_pa("pressure" if sign > 0.0 else "vacuum") or 0.0
        if found is None or found.held_pa > FAR_BELOW * target_pa:
            return None
        if times[-1] - found.end_s > _T.strokes_rest_s or sign * pressures[-1] > FAR_BELOW * target_pa:
            return None
        ambient_pa = self._conditions.barometer_pa or ATMOSPHERE_PA
        leak = pumped_leak(sign * found.through_pa, pace_of(found.per_s), self._stroke, ambient_pa)
        flow = standard_cm3_per_min(leak.throughput_pa_m3_s.value or 0.0)
        hole = significant((leak.hole_m.value or 0.0) * 1e3, 2)
        return Vain(found.strokes, show_pressure(found.held_pa, unit, 2), significant(flow, 2), hole)
