"""A log from its first byte to its end: screen, keys, estimate and end watched while it records itself."""

from __future__ import annotations

import signal
import textwrap
import threading
import time
from dataclasses import dataclass

from leakdown.analysis import Analysis
from leakdown.cli.console import say, width
from leakdown.cli.live_plan import Run
from leakdown.cli.live_screen import PLAIN_S, Keys, Screen
from leakdown.errors import GaugeError, LeakdownError
from leakdown.live.bench.connection import ConnectionWatch, mark_for
from leakdown.live.bench.estimator import EVERY_S, Estimator, leak_so_far
from leakdown.live.bench.prompts import Aim, aim_of, before_pumping
from leakdown.live.bench.view import LiveState
from leakdown.live.capture.logger import Ended, LiveLog
from leakdown.live.capture.session import Remark, Row
from leakdown.quantities import ATMOSPHERE_PA

_TURN_S = 0.1


@dataclass(frozen=True)
class Counts:
    """What a log held: readings, lines that were none, seconds."""

    readings: int
    unreadable: int
    seconds: float

    def text(self) -> str:
        """The counts in words."""
        other = {0: "", 1: ", 1 other line"}.get(self.unreadable, f", {self.unreadable} other lines")
        return f"{self.readings} readings in {self.seconds:.1f} s{other}"


def record(run: Run) -> Counts:
    """Run to the planned end. Raises what ended it early, GaugeError when no reading came."""
    aim = aim_of(run.conditions, run.settings.given_limit)
    with LiveLog(run.plan) as live, Keys(run.prompt and not run.quiet) as keys:
        _stop_on_signals(live)
        _introduce(run, aim)
        state = LiveState(run.conditions.unit, aim, run.conditions.circuit or "crankcase")
        screen = Screen(state, run.quiet, keys.active, keys.active)
        every_s = EVERY_S if screen.terminal else PLAIN_S
        with Estimator(run.conditions, run.settings, run.until_decided, every_s) as estimator:
            error = _Watcher(run, live, keys, screen, state, estimator).run()
        screen.done()
        seconds = time.monotonic() - live.start_s
    if error is not None:
        raise error
    if live.session.readings == 0:
        raise GaugeError(
            f"no reading in {seconds:.0f} s; {live.session.unreadable} lines were no readings",
            where=run.plan.address,
            remedy=f"Look at them in {run.plan.out}; a profile (--gauge) can name the place.",
        )
    return Counts(live.session.readings, live.session.unreadable, seconds)


def _stop_on_signals(live: LiveLog) -> None:
    """Ctrl-C and a polite kill are planned ends."""
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), lambda *_: live.stop())


def _introduce(run: Run, aim: Aim) -> None:
    if run.quiet:
        return
    say(f"Recording {run.plan.address} to {run.plan.out}.")
    say("Low pressure only; eye protection; keep out of line with plugs and plates.")
    ambient_pa = run.conditions.barometer_pa or ATMOSPHERE_PA
    for line in before_pumping(aim, run.conditions.volume_m3, ambient_pa):
        say(textwrap.fill(line, width(), subsequent_indent="  "))


class _Watcher:
    """Looks at the events of a log: screen, keys, estimate, end."""

    def __init__(
        self, run: Run, live: LiveLog, keys: Keys, screen: Screen, state: LiveState, estimator: Estimator
    ) -> None:
        self._run, self._live, self._keys = run, live, keys
        self._screen, self._state, self._estimator = screen, state, estimator
        ambient_pa = run.conditions.barometer_pa or ATMOSPHERE_PA
        self._next_s = 0.0
        self._shown: Analysis | None = None
        self._connection = ConnectionWatch(run.conditions.volume_m3, ambient_pa, run.conditions.unit)

    def run(self) -> LeakdownError | None:
        """Until the log ends; the error that ended it, or None."""
        for event in self._live.events(_TURN_S):
            if isinstance(event, Ended):
                return event.error
            if event is not None:
                self._take(event)
            if time.monotonic() >= self._next_s:
                self._next_s = time.monotonic() + _TURN_S / 2
                self._turn()
        return None

    def _turn(self) -> None:
        """What is done a few times a second, however fast the gauge."""
        self._take_keys()
        self._look()
        self._screen.refresh()
        if self._over():
            self._live.stop()

    def _over(self) -> bool:
        duration_s = self._run.duration_s
        return duration_s is not None and time.monotonic() - self._live.start_s >= duration_s

    def _take(self, event: Row | Remark) -> None:
        self._state.feed(event)
        if isinstance(event, Remark):
            self._screen.note(event.text)
        elif event.mark:
            self._note(self._connection.mark(event.time_s, event.mark))
        elif event.pressure_pa is not None and self._state.phase is not None:
            self._note(self._connection.feed(event.time_s, event.pressure_pa))
            if not self._run.quiet or self._run.until_decided:
                self._estimator.feed(event.time_s, event.pressure_pa, self._state.phase)

    def _note(self, text: str) -> None:
        if text:
            self._screen.note(text)

    def _look(self) -> None:
        """What the estimate says by now."""
        if self._estimator.latest is not self._shown:
            self._shown = self._estimator.latest
            self._screen.leak = leak_so_far(self._shown)
        if self._estimator.decided and not self._state.decided:
            self._state.decided = True
            self._screen.beep()
            self._screen.note(f"decided: {self._estimator.decided}")
            self._live.stop()

    def _take_keys(self) -> None:
        for key in self._keys.pressed():
            if self._screen.typing:
                self._type(key)
            elif key in ("q", "\x04"):
                self._live.stop()
            elif mark := mark_for(key):
                self._mark(mark)
            elif key.isprintable() and key.strip():
                self._screen.typing = key

    def _type(self, key: str) -> None:
        if key in ("\r", "\n"):
            self._mark(self._screen.typing)
            self._screen.typing = ""
        elif key == "\x1b":
            self._screen.typing = ""
        elif key in ("\x7f", "\b"):
            self._screen.typing = self._screen.typing[:-1]
        elif key.isprintable():
            self._screen.typing += key

    def _mark(self, text: str) -> None:
        self._live.mark(text)
        self._screen.note(f"marked: {text}")
