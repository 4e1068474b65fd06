"""When a live test may stop: the verdict is certain, looked at a few times, at no higher error rate.

The looks are spaced geometrically and their number is bounded; at each, the 95 % interval is widened
from 1.96 to the normal quantile of 0.025 / looks (Bonferroni), so that all looks together err no more
often than one look at the end. A pass also needs a hold of 25 s (practice: 20 to 30 s).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from leakdown.errors import LeakdownError
from leakdown.estimate.analysis import Settings, analyse
from leakdown.estimate.result import Analysis, Interval, Limit
from leakdown.gauges.capture.session import Row
from leakdown.recording import Conditions, Recording

FIRST_LOOK_S = 8.0
SPACING = 1.3
LOOKS = 16
WIDENING = 2.955 / 1.960
"""Normal quantiles of 1 - 0.025/16 and of 0.975 (8 s to 7 minutes in steps of 1.3 are 16 looks)."""

MIN_PASS_S = 25.0
MIN_FAIL_S = 5.0


def certain_word(measured: Interval | None, limit: Limit, hold_s: float) -> str | None:
    """ "pass" or "fail" when the widened interval lies on one side of the limit, else None."""
    if measured is None:
        return None
    allowed = limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s
    centre = measured.value if measured.value is not None else 0.0
    high = centre + WIDENING * (measured.high - centre)
    low = centre - WIDENING * (centre - measured.low)
    if high <= allowed and hold_s >= MIN_PASS_S:
        return "pass"
    return "fail" if low > allowed and hold_s >= MIN_FAIL_S else None


@dataclass
class Decider:
    """Feed rows; `due` tells when a look is worth its time, `look` takes it."""

    conditions: Conditions
    settings: Settings
    _time_s: list[float] = field(default_factory=list)
    _pressure_pa: list[float] = field(default_factory=list)
    _looks: int = 0
    _next_s: float = FIRST_LOOK_S

    def feed(self, row: Row) -> None:
        """Take a reading."""
        if row.pressure_pa is not None:
            self._time_s.append(row.time_s)
            self._pressure_pa.append(row.pressure_pa)

    def due(self, hold_s: float) -> bool:
        """True when a hold that has lasted `hold_s` is long enough for the next look."""
        return self._looks < LOOKS and hold_s >= self._next_s

    def look(self, hold_s: float) -> tuple[str | None, Analysis | None]:
        """The certain verdict ("pass", "fail") or None, and the analysis it rests on."""
        self._looks += 1
        self._next_s = hold_s * SPACING
        recording = Recording(np.array(self._time_s), np.array(self._pressure_pa), conditions=self.conditions)
        try:
            result = analyse(recording, self.settings)
        except LeakdownError:
            return None, None
        if result.verdict is None:
            return None, result
        length_s = result.hold.end_s - result.hold.start_s
        return certain_word(result.verdict.measured, result.verdict.limit, length_s), result
