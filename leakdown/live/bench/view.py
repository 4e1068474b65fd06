"""What a live view shows at one moment, gathered from the log's events: words, digits, a curve. Pure.

Digits and curve are text; no terminal in here.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from leakdown.circuits import CIRCUITS, circuit
from leakdown.live.bench.prompts import HOLD_S, Aim, Moment, PhaseNow, PhaseWatch, lead, step_done
from leakdown.live.capture.session import Remark, Row
from leakdown.live.texts import DIGITS
from leakdown.quantities import PRESSURE_PA, show_pressure

NO_AIM = Aim(None, None, HOLD_S, "kPa")
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
    leak: str


class LiveState:
    """Feed events, ask for frames. Keeps the last readings for the curve.

    decided: the verdict is certain. leak: the leak so far in words. typing: the note being typed.
    """

    def __init__(self, unit: str = "kPa", aim: Aim = NO_AIM, circuit: str = CIRCUITS[0]) -> None:
        self.phase: PhaseNow | None = None
        self.decided = False
        self.leak = self.typing = ""
        self._unit, self._aim, self._circuit = unit, aim, circuit
        self._values: deque[float] = deque(maxlen=KEEP)
        self._phases = PhaseWatch(aim.tops_up)
        self._last = (0.0, 0.0)
        self._held = False
        self._told: PhaseNow | None = None
        self._readings = self._unreadable = 0

    def step(self) -> str:
        """What to write down of the step that was just done, once; "" else."""
        done = step_done(self.phase, self._last[0], self._unit) if self.phase and self._aim.tops_up else ""
        if not done or self._told == self.phase:
            return ""
        self._told = self.phase
        return done

    def feed(self, event: Row | Remark) -> None:
        """Take one event of the log."""
        if isinstance(event, Remark):
            return
        if event.pressure_pa is None:
            self._unreadable += bool(event.raw)
            return
        self._last = (event.time_s, event.pressure_pa)
        self._values.append(event.pressure_pa)
        before, self.phase = self.phase, self._phases.feed(event.time_s, event.pressure_pa)
        left_hold = before is not None and before.phase == "hold" and self.phase.phase != "hold"
        self._held = self.phase.phase != "fill" and (self._held or left_hold)
        self._readings += 1

    def view(self) -> View:
        """The present frame; "----" before the first reading."""
        time_s, pressure_pa = self._last
        phase, phase_s = (self.phase.phase, time_s - self.phase.since_s) if self.phase else ("waiting", 0.0)
        digits, lost, caution = self._digits(), self._lost(pressure_pa, phase_s), self._caution(pressure_pa)
        topped_up = self.phase is not None and self.phase.topped_up
        led = lead(Moment(phase, phase_s, pressure_pa, self._held, self.decided, topped_up), self._aim)
        counts = (self._readings, self._unreadable)
        return View(digits, self._unit, phase, phase_s, lost, led, *counts, caution, self.leak)

    def big_digits(self, unicode: bool = True, width: int = 2) -> list[str]:
        """The reading as text art."""
        return big(self._digits(), unicode, width)

    def curve(self, width: int, height: int, unicode: bool = True) -> list[str]:
        """The readings so far as a small curve."""
        return curve(list(self._values), width, height, unicode, LEAST_PA)

    def _digits(self) -> str:
        if self.phase is None:
            return "----"
        unit_pa = PRESSURE_PA[self._unit]
        return f"{self._last[1] / unit_pa:.{max(0, math.ceil(math.log10(unit_pa / STEP_PA)))}f}"

    def _lost(self, pressure_pa: float, phase_s: float) -> str:
        """Loss since the hold began."""
        if self.phase is None or self.phase.phase != "hold" or phase_s < 2.0:
            return ""
        lost_pa = abs(self.phase.start_pa) - abs(pressure_pa)
        return f"{show_pressure(lost_pa, self._unit, 2)} lost in {phase_s:.0f} s"

    def _caution(self, pressure_pa: float) -> str:
        table = circuit(self._circuit)
        bound_pa = table.caution_pa("vacuum" if pressure_pa < 0 else "pressure")
        high = abs(pressure_pa) > bound_pa
        return f"TOO HIGH, over {show_pressure(bound_pa, self._unit, 2)}: {table.harm}" if high else ""


HEIGHT = 5


def big(number: str, unicode: bool = True, width: int = 2) -> list[str]:
    """Five lines of text art for a number; solid blocks, or # where the terminal has no Unicode.

    `width` repeats every stroke sideways so that digits are not thin. Characters without a shape are
    left out.
    """
    ink = "\u2588" if unicode else "#"
    glyphs = [DIGITS[char] for char in number if char in DIGITS]
    rows = [" ".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT)]
    return ["".join(char * width for char in row).replace("#", ink).rstrip() for row in rows]


_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BLANK = 0x2800


def curve(values: Sequence[float], width: int, height: int, unicode: bool = True, least: float = 0.0) -> list[str]:
    """`height` lines of `width` characters: the values from oldest to newest, scaled to fill the box.

    An empty series gives blank lines. The scale always contains zero, so that a steady hold looks steady,
    and is at least `least` high, so that noise around zero looks like nothing.
    """
    across = width * (2 if unicode else 1)
    up = height * (4 if unicode else 2)
    heights = _heights(_columns(values, across), up, least)
    return _braille(heights, width, height) if unicode else _ascii(heights, width, height)


def _columns(values: Sequence[float], count: int) -> list[float]:
    """At most one value for each dot column: the mean of what falls into it."""
    if len(values) <= count:
        return list(values)
    edges = [i * len(values) // count for i in range(count + 1)]
    return [sum(values[a:b]) / (b - a) for a, b in zip(edges, edges[1:], strict=False)]


def _heights(columns: list[float], up: int, least: float) -> list[int]:
    """Dot rows from the bottom, 0 to up - 1."""
    if not columns:
        return []
    low, high = min(0.0, *columns), max(0.0, *columns)
    span = max(high - low, least) or 1.0
    return [round((value - low) / span * (up - 1)) for value in columns]


def _braille(heights: list[int], width: int, height: int) -> list[str]:
    cells = [[0] * width for _ in range(height)]
    for x, y in enumerate(heights):
        row = height - 1 - y // 4
        cells[row][x // 2] |= _DOTS[x % 2][3 - y % 4]
    return ["".join(chr(_BLANK + cell) for cell in row) for row in cells]


def _ascii(heights: list[int], width: int, height: int) -> list[str]:
    rows = [[" "] * width for _ in range(height)]
    for x, y in enumerate(heights):
        rows[height - 1 - y // 2][x] = "." if y % 2 == 0 else "'"
    return ["".join(row) for row in rows]
