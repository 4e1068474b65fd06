"""What a live view shows at one moment, gathered from the log's events. No terminal in here. Pure."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

from leakdown.circuits import CIRCUITS, circuit
from leakdown.live.bench.picture import big, curve
from leakdown.live.bench.prompts import Aim, Moment, PhaseNow, PhaseWatch, lead
from leakdown.live.capture.session import Remark, Row
from leakdown.quantities import PRESSURE_PA, significant

NO_AIM = Aim(None, None, 60.0, "kPa")
KEEP = 3000
LEAST_PA = 5_000.0
STEP_PA = 100.0
"""The digits show no less than this."""


@dataclass(frozen=True)
class View:
    """One frame: numbers and short texts, ready to be laid out."""

    digits: str
    unit: str
    phase: str
    phase_s: float
    lost: str
    lead: str
    readings: int
    unreadable: int
    caution: str


class LiveState:
    """Feed events, ask for frames. Keeps at most `keep` readings for the curve."""

    def __init__(
        self, unit: str = "kPa", aim: Aim = NO_AIM, circuit: str = CIRCUITS[0], keep: int = KEEP
    ) -> None:
        self.phase: PhaseNow | None = None
        self.decided = False
        self._unit, self._aim, self._circuit = unit, aim, circuit
        self._values: deque[float] = deque(maxlen=keep)
        self._phases = PhaseWatch()
        self._last = (0.0, 0.0)
        self._held = False
        self._counts = [0, 0]

    def feed(self, event: Row | Remark) -> None:
        """Take one event of the log."""
        if isinstance(event, Remark):
            return
        if event.pressure_pa is None:
            self._counts[1] += bool(event.raw)
            return
        self._last = (event.time_s, event.pressure_pa)
        self._values.append(event.pressure_pa)
        before, self.phase = self.phase, self._phases.feed(event.time_s, event.pressure_pa)
        self._held = self.phase.phase != "fill" and (
            self._held or before is not None and before.phase == "hold" and self.phase.phase != "hold"
        )
        self._counts[0] += 1

    def view(self) -> View:
        """The present frame; "----" before the first reading."""
        time_s, pressure_pa = self._last
        known = self.phase is not None
        phase, phase_s = (self.phase.phase, time_s - self.phase.since_s) if self.phase else ("waiting", 0.0)
        return View(
            self._shown(pressure_pa) if known else "----",
            self._unit,
            phase,
            phase_s,
            self._lost(pressure_pa, phase_s),
            lead(Moment(phase, phase_s, pressure_pa, self._held, self.decided), self._aim),
            self._counts[0],
            self._counts[1],
            self._caution(pressure_pa),
        )

    def big_digits(self, unicode: bool = True, width: int = 2) -> list[str]:
        """The reading as text art."""
        return big(self._shown(self._last[1]) if self.phase else "----", unicode, width)

    def curve(self, width: int, height: int, unicode: bool = True) -> list[str]:
        """The readings so far as a small curve."""
        return curve(list(self._values), width, height, unicode, LEAST_PA)

    def _shown(self, pressure_pa: float) -> str:
        value = pressure_pa / PRESSURE_PA[self._unit]
        decimals = max(0, math.ceil(math.log10(PRESSURE_PA[self._unit] / STEP_PA)))
        return f"{value:.{decimals}f}"

    def _lost(self, pressure_pa: float, phase_s: float) -> str:
        """Loss since the hold began."""
        if self.phase is None or self.phase.phase != "hold" or phase_s < 2.0:
            return ""
        lost_pa = abs(self.phase.start_pa) - abs(pressure_pa)
        return f"{significant(lost_pa / PRESSURE_PA[self._unit], 2)} {self._unit} lost in {phase_s:.0f} s"

    def _caution(self, pressure_pa: float) -> str:
        bound_pa = circuit(self._circuit).caution_pa("vacuum" if pressure_pa < 0 else "pressure")
        if abs(pressure_pa) <= bound_pa:
            return ""
        shown = f"{significant(bound_pa / PRESSURE_PA[self._unit], 2)} {self._unit}"
        return f"TOO HIGH, over {shown}: {circuit(self._circuit).harm}"
