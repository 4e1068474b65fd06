"""What a live view shows at one moment, gathered from the log's events. No terminal in here. Pure."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from leakdown.gauges.capture.session import Remark, Row
from leakdown.gauges.live.curve import curve
from leakdown.gauges.live.digits import big
from leakdown.gauges.live.phase import PhaseNow, PhaseWatch
from leakdown.quantities import PRESSURE_PA, significant

CAUTION_PA = 55_000.0
"""Above about 8 psi shaft seals can be pushed out (common practice, no source)."""


@dataclass(frozen=True)
class View:
    """One frame: numbers and short texts, ready to be laid out."""

    digits: str
    unit: str
    phase: str
    phase_s: float
    lost: str
    readings: int
    unreadable: int
    remark: str
    caution: str


class LiveState:
    """Feed events, ask for frames. Keeps at most `keep` readings for the curve."""

    def __init__(self, unit: str = "kPa", keep: int = 6000) -> None:
        self._unit = unit
        self._values: deque[float] = deque(maxlen=keep)
        self._phases = PhaseWatch()
        self._phase: PhaseNow | None = None
        self._last: Row | None = None
        self._remark = ""
        self._counts = [0, 0]

    def feed(self, event: Row | Remark) -> None:
        """Take one event of the log."""
        if isinstance(event, Remark):
            self._remark = event.text
        elif event.pressure_pa is not None:
            self._last = event
            self._values.append(event.pressure_pa)
            self._phase = self._phases.feed(event.time_s, event.pressure_pa)
            self._counts[0] += 1
        elif event.raw:
            self._counts[1] += 1

    def view(self) -> View:
        """The present frame; "----" before the first reading."""
        if self._last is None or self._last.pressure_pa is None or self._phase is None:
            return View(
                "----", self._unit, "waiting", 0.0, "", self._counts[0], self._counts[1], self._remark, ""
            )
        pressure_pa = self._last.pressure_pa
        in_phase_s = self._last.time_s - self._phase.since_s
        return View(
            self._shown(pressure_pa),
            self._unit,
            self._phase.phase,
            in_phase_s,
            self._lost(pressure_pa),
            self._counts[0],
            self._counts[1],
            self._remark,
            self._caution(pressure_pa),
        )

    def big_digits(self, unicode: bool = True) -> list[str]:
        """The reading as text art."""
        return big(self.view().digits, unicode)

    def curve(self, width: int, height: int, unicode: bool = True) -> list[str]:
        """The readings so far as a small curve."""
        return curve(list(self._values), width, height, unicode)

    def _shown(self, pressure_pa: float) -> str:
        value = pressure_pa / PRESSURE_PA[self._unit]
        return f"{value:.{2 if abs(value) < 20 else 1}f}"

    def _lost(self, pressure_pa: float) -> str:
        """Loss since the hold began, and per minute."""
        if self._phase is None or self._phase.phase != "hold" or self._last is None:
            return ""
        lost_pa = abs(self._phase.start_pa) - abs(pressure_pa)
        seconds = self._last.time_s - self._phase.since_s
        if seconds < 2.0:
            return ""
        factor = PRESSURE_PA[self._unit]
        per_minute = lost_pa / factor / seconds * 60.0
        return (
            f"{significant(lost_pa / factor, 2)} {self._unit} in {seconds:.0f} s, "
            f"{significant(per_minute, 2)} {self._unit}/min"
        )

    def _caution(self, pressure_pa: float) -> str:
        if pressure_pa <= CAUTION_PA:
            return ""
        return "over 55 kPa: shaft seals can be pushed out unless the maker says otherwise"
