"""A test while it records itself: what its readings, marks and keys give rise to, and when it ends."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace

from leakdown.analysis import Analysis
from leakdown.circuits import CIRCUITS
from leakdown.errors import GaugeError
from leakdown.judge.settings import Settings
from leakdown.live.bench.connection import ConnectionWatch
from leakdown.live.bench.estimator import Estimator, leak_so_far
from leakdown.live.bench.keyboard import Keyboard, Pressed
from leakdown.live.bench.prompts import PhaseNow, aim_of, before_pumping
from leakdown.live.bench.vain import VainWatch
from leakdown.live.bench.view import LiveState
from leakdown.live.capture.logger import Ended, Event, LiveLog
from leakdown.live.capture.session import Remark
from leakdown.live.texts import told
from leakdown.quantities import ATMOSPHERE_PA, PRESSURE_PA
from leakdown.recording import UNDONE, Conditions
from leakdown.tuned import tuned

_T = tuned("live.bench")


@dataclass(frozen=True)
class LiveTest:
    """What a test is, how it is judged, and when its log ends by itself (None and False: it does not).

    until_zero: it ends once the zero was read again after the hold. show_unit: of the screen; None takes the gauge's.
    """

    conditions: Conditions
    settings: Settings
    duration_s: float | None = None
    until_decided: bool = False
    until_zero: bool = False
    show_unit: str | None = None


@dataclass(frozen=True)
class Recorded:
    """What a log held: readings, lines that were none, seconds; whether the connection was proven while it ran."""

    readings: int
    unreadable: int
    seconds: float
    proven: bool = False

    def text(self) -> str:
        """The counts in words."""
        return f"{self.readings} readings in {self.seconds:.1f} s{other_lines(self.unreadable, ', ')}"


def other_lines(count: int, mark: str) -> str:
    """`mark` and the count of lines that were no readings, "" for none."""
    return f"{mark}{count} other line{'s' if count > 1 else ''}" if count else ""


class RunningTest:
    """Use as a context manager. Give each event of the log to `take`, and the keys pressed to `turn` a few
    times a second, however fast the gauge: both return lines to say. `state` holds what to show.
    """

    def __init__(self, log: LiveLog, test: LiveTest, estimate_every_s: float) -> None:
        """`estimate_every_s` is infinite when nobody looks on."""
        self._log, self._test = log, test
        self._ended_s = log.start_s
        conditions, settings = test.conditions, test.settings
        ambient_pa = conditions.barometer_pa or ATMOSPHERE_PA
        limit = settings.told_limit
        unit = test.show_unit or conditions.show_unit
        aim = aim_of(conditions, limit, unit)
        self._aim, self._ambient_pa = aim, ambient_pa
        self.state = LiveState(unit, aim, conditions.circuit or CIRCUITS[0], limit, wait_s=log.plan.wait_s)
        self.state.before = self._before_pumping(unit)
        self.connection = ConnectionWatch(conditions.volume_m3, ambient_pa, unit)
        self._vain = VainWatch(conditions, settings)
        self._keyboard = Keyboard()
        self._marked: list[str] = []
        self._estimator = Estimator(conditions, settings, test.until_decided, estimate_every_s)
        self._estimating = test.until_decided or math.isfinite(estimate_every_s)
        self._shown: Analysis | None = None
        self._looked_s = 0.0

    def __enter__(self) -> RunningTest:
        self._estimator.__enter__()
        return self

    def __exit__(self, *_: object) -> None:
        self._estimator.__exit__()

    def take(self, event: Event) -> list[str]:
        """One event of the log."""
        if isinstance(event, Ended):
            self._ended_s = time.monotonic()
            return []
        self.state.feed(event)
        if isinstance(event, Remark):
            return self._noted([event.text])
        said = ""
        if event.mark:
            said = self.connection.mark(event.time_s, event.mark)
        elif event.pressure_pa is not None and self.state.phase is not None:
            said = self.connection.feed(event.time_s, event.pressure_pa)
            self._read(event.time_s, event.pressure_pa, self.state.phase)
        return self._noted([line for line in (said, self.state.step()) if line])

    def turn(self, keys: str) -> list[str]:
        """What the keys say, what the estimate says by now, and whether it is time to end."""
        now_s = time.monotonic()
        said = [text for key in keys for text in self._done(self._keyboard.press(key, now_s))]
        self.state.typing = self._keyboard.typing
        self._unit_of_the_gauge()
        if now_s - self._looked_s >= 1.0:
            self._looked_s = now_s
            self.state.vain = self._vain.look(self.state.unit)
        if self._estimator.latest is not self._shown:
            self._shown = self.state.result = self._estimator.latest
            self.state.leak = leak_so_far(self._shown, self.state.unit)
        said += self._endings(now_s)
        return self._noted(said)

    def _read(self, time_s: float, pressure_pa: float, phase: PhaseNow) -> None:
        """A reading for what reckons with it. Above the caution no hold is judged, and none from a frozen gauge."""
        self._vain.feed(time_s, pressure_pa)
        if not self._estimating:
            return
        state = self.state.state
        if state != "frozen":
            shown = PhaseNow("fill", time_s, pressure_pa) if state == "over" else phase
            self._estimator.feed(time_s, pressure_pa, shown)

    def _unit_of_the_gauge(self) -> None:
        """The gauge's own unit is shown where nobody set or said another."""
        named = self._log.session.unit_name
        named = "kPa" if named == "Pa" else named
        if self._test.show_unit is None and named in PRESSURE_PA and named != self.state.unit:
            self.state.unit = self.connection.unit = named
            self.state.before = self._before_pumping(named)

    def _before_pumping(self, unit: str) -> tuple[str, ...]:
        return before_pumping(replace(self._aim, unit=unit), self._test.conditions.volume_m3, self._ambient_pa)

    def _endings(self, now_s: float) -> list[str]:
        said = []
        if self._estimator.decided and not self.state.decided:
            self.state.decided = True
            said.append(f"decided: {self._estimator.decided}")
            if self._test.until_decided and not self._test.until_zero:
                self._log.stop()
        duration_s = self._test.duration_s
        if duration_s is not None and now_s - self._log.start_s >= duration_s:
            self._log.stop()
        if self._test.until_zero and self.state.zero_read_again:
            self._log.stop()
        return said

    def _noted(self, lines: list[str]) -> list[str]:
        self.state.notes.extend(lines)
        return lines

    def recorded(self) -> Recorded:
        """The counts of an ended log. Raises GaugeError when no reading came."""
        session, seconds = self._log.session, self._ended_s - self._log.start_s
        if session.readings == 0:
            facts = {"seconds": seconds, "unreadable": session.unreadable, "out": self._log.plan.out}
            raise GaugeError(**told("no reading", **facts), where=self._log.plan.address)
        return Recorded(session.readings, session.unreadable, seconds, self.connection.proven)

    def _done(self, pressed: Pressed | None) -> list[str]:
        if pressed is None:
            return []
        if pressed.does == "end":
            self._log.stop()
            return []
        if pressed.does == "mark":
            self._marked.append(pressed.text)
            self._log.mark(pressed.text)
            return [f"marked: {pressed.text}"]
        if not self._marked:
            return ["no mark to take back"]
        undone = UNDONE + self._marked.pop()
        self._log.mark(undone)
        return [undone]
