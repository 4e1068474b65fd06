"""Chart units: the user's pressure unit, seconds or minutes, each test's time origin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from leakdown.analysis import Analysis
from leakdown.quantities import PRESSURE_PA
from leakdown.report.chart_data import Array

MOST_POINTS = 1200


class Axes:
    """Chart units of one chart: the user's pressure unit, seconds or minutes, each test's time origin."""

    def __init__(self, analyses: Sequence[Analysis]) -> None:
        self.unit = analyses[0].recording.conditions.unit
        self.alone = len(analyses) == 1
        self.most_points = MOST_POINTS if self.alone else max(60, MOST_POINTS // (2 * len(analyses)))
        ends = [
            float(a.recording.time_s[-1] if self.alone else a.hold.end_s - a.hold.closed_s) for a in analyses
        ]
        self.minutes = max(ends) > 900.0
        self.direction = {a.direction for a in analyses}

    def origin_s(self, analysis: Analysis) -> float:
        """Alone, a test keeps its own clock; together, all start when the valve was shut."""
        return 0.0 if self.alone else analysis.hold.closed_s

    def x(self, time_s: Array | float, analysis: Analysis) -> Array:
        return (np.asarray(time_s, dtype=float) - self.origin_s(analysis)) / (60.0 if self.minutes else 1.0)

    def y(self, pressure_pa: Array | float) -> Array:
        return np.asarray(pressure_pa, dtype=float) / PRESSURE_PA[self.unit]

    @property
    def x_title(self) -> str:
        unit = "min" if self.minutes else "s"
        return f"Time ({unit})" if self.alone else f"Time since the valve was shut ({unit})"

    @property
    def y_title(self) -> str:
        return f"Gauge pressure ({self.unit})"
