"""A test while it records itself: what its readings, marks and keys give rise to, and when it ends."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

from leakdown.analysis import Analysis
from leakdown.errors import GaugeError
from leakdown.judge.settings import Settings
from leakdown.live.bench.connection import ConnectionWatch, mark_for
from leakdown.live.bench.estimator import Estimator, leak_so_far
from leakdown.live.bench.prompts import aim_of, before_pumping
from leakdown.live.bench.view import LiveState
from leakdown.live.capture.logger import Ended, Event, LiveLog
from leakdown.live.capture.session import Remark
from leakdown.live.texts import told
from leakdown.quantities import ATMOSPHERE_PA
from leakdown.recording import Conditions


@dataclass(frozen=True)
class LiveTest:
    """What a test is, how it is judged, and when its log ends by itself (None and False: it does not)."""

    conditions: Conditions
    settings: Settings
    duration_s: float | None = None
    until_decided: bool = False


@dataclass(frozen=True)
class Recorded:
    """What a log held: readings, lines that were none, seconds."""

    readings: int
    unreadable: int
    seconds: float

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
        self._log, self._duration_s = log, test.duration_s
        self._ended_s = log.start_s
        conditions, settings = test.conditions, test.settings
        ambient_pa = conditions.barometer_pa or ATMOSPHERE_PA
        aim = aim_of(conditions, settings.given_limit)
        self.before = before_pumping(aim, conditions.volume_m3, ambient_pa)
        self.state = LiveState(conditions.unit, aim, conditions.circuit or "crankcase")
        self._connection = ConnectionWatch(conditions.volume_m3, ambient_pa, conditions.unit)
        self._estimator = Estimator(conditions, settings, test.until_decided, estimate_every_s)
        self._estimating = test.until_decided or math.isfinite(estimate_every_s)
        self._shown: Analysis | None = None

    def __enter__(self) -> RunningTest:
        self._estimator.__enter__()
        return self

    def __exit__(self, *_: object) -> None:
        self._estimator.__exit__()

    def take(self, event: Event) -> list[str]:
        """One event of the log."""
        if isinstance(event, Remark):
            return [event.text]
        if isinstance(event, Ended):
            self._ended_s = time.monotonic()
            return []
        self.state.feed(event)
        said = ""
        if event.mark:
            said = self._connection.mark(event.time_s, event.mark)
        elif event.pressure_pa is not None and self.state.phase is not None:
            said = self._connection.feed(event.time_s, event.pressure_pa)
            if self._estimating:
                self._estimator.feed(event.time_s, event.pressure_pa, self.state.phase)
        return [line for line in (said, self.state.step()) if line]

    def turn(self, keys: str) -> list[str]:
        """What the keys say, what the estimate says by now, and whether it is time to end."""
        said = [text for key in keys for text in self._pressed(key)]
        if self._estimator.latest is not self._shown:
            self._shown = self._estimator.latest
            self.state.leak = leak_so_far(self._shown)
        if self._estimator.decided and not self.state.decided:
            self.state.decided = True
            said.append(f"decided: {self._estimator.decided}")
            self._log.stop()
        if self._duration_s is not None and time.monotonic() - self._log.start_s >= self._duration_s:
            self._log.stop()
        return said

    def recorded(self) -> Recorded:
        """The counts of an ended log. Raises GaugeError when no reading came."""
        session, seconds = self._log.session, self._ended_s - self._log.start_s
        if session.readings == 0:
            facts = {"seconds": seconds, "unreadable": session.unreadable, "out": self._log.plan.out}
            raise GaugeError(**told("no reading", **facts), where=self._log.plan.address)
        return Recorded(session.readings, session.unreadable, seconds)

    def _pressed(self, key: str) -> list[str]:
        typed = self.state.typing
        if not typed:
            if key in ("q", "\x04"):
                self._log.stop()
            elif mark := mark_for(key):
                return self._mark(mark)
            elif key.isprintable() and key.strip():
                self.state.typing = key
        elif key in ("\r", "\n"):
            self.state.typing = ""
            return self._mark(typed)
        elif key == "\x1b":
            self.state.typing = ""
        elif key in ("\x7f", "\b"):
            self.state.typing = typed[:-1]
        elif key.isprintable():
            self.state.typing = typed + key
        return []

    def _mark(self, text: str) -> list[str]:
        self._log.mark(text)
        return [f"marked: {text}"]
