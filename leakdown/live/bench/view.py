"""A live test at one moment, frozen: `LiveState` gathers the log's events, `View` is what there is to show. Pure.

What is shown is decided here and in `states`; how it looks, in `drawing` and on whatever draws.
"""

from __future__ import annotations

import math
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace

from leakdown.analysis import Analysis, Limit
from leakdown.circuits import CIRCUITS, circuit
from leakdown.live.bench.liveness import Liveness
from leakdown.live.bench.prompts import HOLD_S, Aim, Moment, PhaseNow, PhaseWatch, step_done
from leakdown.live.bench.so_far import SoFar, so_far
from leakdown.live.bench.states import ALARMING, Facts, PressureGuard, Said, State, said, state_of
from leakdown.live.bench.vain import Vain
from leakdown.live.capture.session import Remark, Row
from leakdown.quantities import PRESSURE_PA, show_pressure
from leakdown.recording import UNDONE
from leakdown.tuned import tuned

_T = tuned("live.bench")
NO_AIM = Aim(None, None, HOLD_S, "kPa")
KEEP = 3000
STEP_PA = 100.0
"""The digits show no less than this."""
PHASES = ("zero", "fill", "stabilise", "hold", "vent")
Point = tuple[float, float]


@dataclass(frozen=True)
class Picture:
    """What the curve shows, in seconds and the unit shown: readings, the limit's line, the band of the estimate as
    (second, low, high), marks as (second, letter), and when each phase began as (second, name)."""

    readings: tuple[Point, ...] = ()
    limit: tuple[Point, ...] = ()
    band: tuple[tuple[float, float, float], ...] = ()
    marks: tuple[tuple[float, str], ...] = ()
    phases: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True)
class View:
    """One moment: a state with its words, and what belongs to it. In an alarming state phase, lost, leak and so_far
    are empty. `typing`: the note being typed, None when none is. `notes`: the last lines that stay, after
    what is good to know before pumping while nothing was pumped yet.
    """

    said: Said
    digits: str
    unit: str
    phase: str
    phase_s: float
    lost: str
    so_far: SoFar
    leak: str
    readings: int
    unreadable: int
    notes: tuple[str, ...]
    typing: str | None
    picture: Picture

    @property
    def state(self) -> State:
        """The one state."""
        return self.said.state

    @property
    def alarming(self) -> bool:
        """Digits in alarm."""
        return self.state in ALARMING

    @property
    def dim(self) -> bool:
        """The reading shown is not of this moment."""
        return self.state in ("frozen", "lost")


class LiveState:
    """Feed events, ask for views. Keeps the last readings for the curve.

    decided: the verdict is certain. leak: the leak so far in words. typing: the note being typed, None when none is.
    result: the analysis of the readings up to now. before: what is good to know before pumping. vain: pumping that
    gains nothing. unit: shown.
    """

    def __init__(
        self,
        unit: str = "kPa",
        aim: Aim = NO_AIM,
        circuit_name: str = CIRCUITS[0],
        limit: Limit | None = None,
        clock: Callable[[], float] = time.monotonic,
        wait_s: float = 0.0,
    ) -> None:
        self.phase: PhaseNow | None = None
        self.decided = False
        self.leak = ""
        self.typing: str | None = None
        self.result: Analysis | None = None
        self.vain: Vain | None = None
        self.before: tuple[str, ...] = ()
        self.notes: deque[str] = deque(maxlen=8)
        self._aim, self._table = replace(aim, unit=unit), circuit(circuit_name)
        self._clock, self._wait_s = clock, wait_s
        self._readings: deque[Point] = deque(maxlen=KEEP)
        self._phases, self._alive, self._guard = PhaseWatch(aim.tops_up), Liveness(), PressureGuard(self._table, limit)
        self._began: list[tuple[float, str]] = []
        self._marks: list[tuple[float, str]] = []
        self._last = (0.0, 0.0)
        self._held = False
        self._told: PhaseNow | None = None
        self._count = self._unreadable = self._unread = 0
        self._heard_s: float | None = None
        self._gap_s = 0.0
        self._lost_s: float | None = None

    @property
    def unit(self) -> str:
        """The unit shown."""
        return self._aim.unit

    @unit.setter
    def unit(self, name: str) -> None:
        self._aim = replace(self._aim, unit=name)

    @property
    def state(self) -> State:
        """The one state at this moment."""
        return state_of(self._facts())

    @property
    def zero_read_again(self) -> bool:
        """The hold is over and the gauge was open to air long enough."""
        if self.phase is None or not self._held or self.phase.phase not in ("zero", "vent"):
            return False
        return bool(self._last[0] - self.phase.since_s >= _T.zero_again_s)

    def step(self) -> str:
        """What to write down of the step that was just done, once; "" else."""
        if self.phase is None or not self._aim.tops_up or self._told is self.phase:
            return ""
        done = step_done(self.phase, self._last[0], self.unit)
        if not done or self.state in ALARMING:
            return ""
        self._told = self.phase
        return done

    def feed(self, event: Row | Remark) -> None:
        """Take one event of the log."""
        if isinstance(event, Remark):
            if event.kind:
                self._lost_s = self._clock() if event.kind == "lost" else None
            return
        if event.mark:
            self._mark(event)
        elif event.pressure_pa is None:
            self._unreadable += bool(event.raw)
            self._unread += bool(event.raw)
        else:
            self._read(event.time_s, event.pressure_pa)

    def view(self) -> View:
        """The present moment; no digits before the first reading."""
        facts = self._facts()
        words = said(facts, self._table)
        calm = words.state not in ALARMING
        result = self.result if calm else None
        return View(
            words,
            self._digits(words.state),
            self.unit,
            facts.moment.phase if calm else "",
            facts.moment.phase_s,
            self._lost(facts.moment) if calm else "",
            so_far(result, self.unit),
            self.leak if calm else "",
            self._count,
            self._unreadable,
            (
                *(self.before if facts.moment.phase in ("waiting", "zero", "fill") and not self._held else ()),
                *self.notes,
            ),
            self.typing,
            self._picture(result, calm),
        )

    def _facts(self) -> Facts:
        time_s, pressure_pa = self._last
        now = self.phase
        phase, phase_s = (now.phase, time_s - now.since_s) if now else ("waiting", 0.0)
        moment = Moment(phase, phase_s, pressure_pa, self._held, self.decided, now is not None and now.topped_up)
        frozen = None if self._alive.since_s is None else time_s - self._alive.since_s
        unread = now is not None and self._unread >= _T.unread_lines
        return Facts(moment, self._aim, self._silent_s(), self._wait_s, unread, frozen, self._guard.now, self.vain)

    def _silent_s(self) -> float | None:
        """For how long the gauge has been lost, or silent far longer than it was between two readings before."""
        if self._lost_s is not None:
            return self._clock() - self._lost_s
        if self._heard_s is None:
            return None
        silent_s = self._clock() - self._heard_s
        return silent_s if silent_s > max(_T.silent_s, _T.silent_gaps * self._gap_s) else None

    def _read(self, time_s: float, pressure_pa: float) -> None:
        now_s = self._clock()
        if self._heard_s is not None:
            self._gap_s = max(now_s - self._heard_s, 0.9 * self._gap_s)
        self._heard_s, self._unread, self._lost_s = now_s, 0, None
        self._last = (time_s, pressure_pa)
        self._readings.append(self._last)
        self._count += 1
        self._alive.feed(time_s, pressure_pa)
        was_high = self._guard.now is not None
        self._guard.feed(pressure_pa)
        before, self.phase = self.phase, self._phases.feed(time_s, pressure_pa)
        if self._guard.now is None and was_high:
            self.phase = self._phases.shut_anew(time_s, pressure_pa)
        self._held = self.phase.phase != "fill" and (self._held or _was_held(before, self.phase, time_s))
        if before is None or before.phase != self.phase.phase:
            self._began.append((time_s, self.phase.phase))

    def _mark(self, event: Row) -> None:
        if event.mark.startswith(UNDONE):
            undone = event.mark.removeprefix(UNDONE)
            last = next((k for k in reversed(range(len(self._marks))) if self._marks[k][1] == undone), None)
            if last is not None:
                del self._marks[last]
        else:
            self._marks.append((event.time_s, event.mark))

    def _digits(self, state: State) -> str:
        if self.phase is None or state == "lost":
            return "--.-"
        unit_pa = PRESSURE_PA[self.unit]
        return f"{self._last[1] / unit_pa:.{max(0, math.ceil(math.log10(unit_pa / STEP_PA)))}f}"

    def _lost(self, moment: Moment) -> str:
        """Loss since the hold began."""
        if self.phase is None or moment.phase != "hold" or moment.phase_s < 2.0:
            return ""
        lost_pa = abs(self.phase.start_pa) - abs(moment.pressure_pa)
        return f"{show_pressure(lost_pa, self.unit, 2)} lost in {moment.phase_s:.0f} s"

    def _picture(self, result: Analysis | None, calm: bool) -> Picture:
        unit_pa = PRESSURE_PA[self.unit]
        stride = max(1, len(self._readings) // _T.curve_points)
        shown = list(self._readings)[::-stride][::-1]
        readings = tuple((t, p / unit_pa) for t, p in shown)
        marks = tuple((t, words[:1].upper()) for t, words in self._marks)
        began = tuple(self._began) if calm else ()
        return Picture(readings, self._limit_line(result), _band(result, unit_pa), marks, began)

    def _limit_line(self, result: Analysis | None) -> tuple[Point, ...]:
        """From where the hold began down to what the limit allows, where it is a drop in a time."""
        if result is None or result.verdict is None or result.verdict.limit.kind != "drop":
            return ()
        limit, unit_pa = result.verdict.limit, PRESSURE_PA[self.unit]
        start_s, size_pa = result.hold.start_s, abs(result.hold.start_pa)
        sign = -1.0 if result.hold.start_pa < 0.0 else 1.0
        end_pa = max(size_pa - limit.drop_pa, 0.0)
        return ((start_s, sign * size_pa / unit_pa), (start_s + limit.time_s, sign * end_pa / unit_pa))


def _was_held(before: PhaseNow | None, now: PhaseNow, time_s: float) -> bool:
    """A hold has just ended, or a settling long enough to be one: a leak that empties the circuit leaves no more."""
    if before is None or now.phase not in ("zero", "vent"):
        return False
    return before.phase == "hold" or (before.phase == "stabilise" and time_s - before.since_s >= _T.first_look_s)


def _band(result: Analysis | None, unit_pa: float) -> tuple[tuple[float, float, float], ...]:
    if result is None or result.curve is None:
        return ()
    c = result.curve
    stride = max(1, c.time_s.size // 100)
    rows = zip(c.time_s[::stride], c.low_pa[::stride], c.high_pa[::stride], strict=True)
    return tuple((float(t), float(low) / unit_pa, float(high) / unit_pa) for t, low, high in rows)
