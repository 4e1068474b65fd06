"""A log on the screen, in place and by single keys on a terminal, in lines elsewhere; until the log ends."""

from __future__ import annotations

import contextlib
import math
import os
import signal
import sys
import textwrap
import threading
import time
from collections.abc import Iterator
from types import TracebackType
from typing import Any

from leakdown.cli.console import poor_terminal, say, width
from leakdown.cli.keys import Keys, keys_of_terminal
from leakdown.errors import LeakdownError
from leakdown.live.bench.estimator import EVERY_S
from leakdown.live.bench.running import LiveTest, Recorded, RunningTest
from leakdown.live.bench.view import LiveState, View
from leakdown.live.capture.logger import Ended, LiveLog, LogPlan

_FRAME_S, _PLAIN_S, _ALARM_S, _TURN_S = 0.1, 10.0, 1.0, 0.1
_CORE_SHARE = 0.04  # of a core, at most, for drawing: large terminals are drawn less often
_BELLS = ("over", "lost")


class _Drawn:
    """rich's live view on the terminal's second screen; loaded only where there is one."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.live import Live

        from leakdown.cli.live_draw import Frame

        self._frame, self._console = Frame, Console(file=sys.stderr, highlight=False, markup=False)
        self.live = Live(console=self._console, screen=True, auto_refresh=False, redirect_stdout=False)

    def show(self, view: View, unicode: bool, keys: bool) -> None:
        """A frame in the place of the one before."""
        self.live.update(self._frame(view, unicode, keys), refresh=True)

    def bell(self) -> None:
        """Ring it."""
        self._console.bell()


class Screen:
    """Draws on standard error, on a screen of its own on a terminal; else says a line every ten seconds.

    keys: somebody is at the keyboard, to be led.
    """

    def __init__(self, state: LiveState, quiet: bool, keys: bool) -> None:
        self._state, self._quiet, self._keys = state, quiet, keys
        self._unicode = not poor_terminal(sys.stderr)
        self._drawn = _Drawn() if on_terminal() and not quiet else None
        self._next_s = self._alarm_s = 0.0
        self._said: list[str] = []
        self._before = ""
        self._decided = False

    def __enter__(self) -> Screen:
        if self._drawn:
            self._drawn.live.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        """Take the screen away; the lines that stay are said on the one below."""
        if self._drawn:
            self._drawn.live.stop()
            for line in self._said:
                say(_folded(line))

    def refresh(self) -> None:
        """Draw if it is time to."""
        now, begun_s = time.monotonic(), time.thread_time()
        if self._quiet or now < self._next_s:
            return
        view = self._state.view()
        if self._drawn:
            if view.state in _BELLS and now >= self._alarm_s:
                self._alarm_s = now + _ALARM_S
                self._drawn.bell()
            self._drawn.show(view, self._unicode, self._keys)
            self._next_s = now + max(_FRAME_S, (time.thread_time() - begun_s) / _CORE_SHARE)
        else:
            self._plain(view, now)

    def note(self, text: str) -> None:
        """A line that stays. The bell rings when the verdict is certain."""
        if self._quiet:
            return
        if self._drawn is None:
            say(_folded(text))
            return
        self._said.append(text)
        if self._state.decided and not self._decided:
            self._decided = True
            self._drawn.bell()

    def _plain(self, view: View, now: float) -> None:
        headline = f"{view.said.headline}. {view.said.lead}" if view.alarming else ""
        if headline and view.state != self._before:
            say(_folded(f"{view.digits} {view.unit}: {headline}"))
        self._before = view.state
        if self._next_s == 0.0:
            self._next_s = now
        if now - self._next_s < _PLAIN_S:
            return
        self._next_s = now
        phase = f"{view.phase} {view.phase_s:.0f} s" if view.phase else view.said.headline
        parts = [f"{view.digits} {view.unit}", phase, view.lost, view.leak, view.so_far.verdict]
        say("  ".join(part for part in parts if part))


def on_terminal() -> bool:
    """Whether standard error can be drawn upon."""
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


def record(plan: LogPlan, test: LiveTest, prompt: bool, quiet: bool) -> Recorded:
    """Run to the planned end; `prompt`: somebody may be at the keyboard.

    Raises what ended it early, GaugeError when no reading came.
    """
    every_s = math.inf if quiet else EVERY_S if on_terminal() else _PLAIN_S
    with (
        LiveLog(plan) as log,
        _stopped_by_signals(log, planned=test.duration_s is not None or test.until_decided),
        keys_of_terminal(prompt and not quiet) as keys,
        RunningTest(log, test, every_s) as running,
    ):
        if not quiet:
            say(f"Recording {plan.address} to {plan.out}.")
            say("Low pressure only; eye protection; keep out of line with plugs and plates.")
            for line in running.state.before:
                say(_folded(line))
        with Screen(running.state, quiet, keys.active) as screen:
            error = _watch(log, running, keys, screen)
    if error is not None:
        raise error
    return running.recorded()


def _watch(log: LiveLog, running: RunningTest, keys: Keys, screen: Screen) -> LeakdownError | None:
    """Show what happens until the log ends; the error that ended it, or None."""
    next_s = 0.0
    for event in log.events(_TURN_S):
        notes = running.take(event) if event is not None else []
        if isinstance(event, Ended):
            return event.error
        due = time.monotonic() >= next_s
        if due:
            next_s = time.monotonic() + _TURN_S / 2
            notes += running.turn(keys.pressed())
        for note in notes:
            screen.note(note)
        if due:
            screen.refresh()
    return None


@contextlib.contextmanager
def _stopped_by_signals(log: LiveLog, planned: bool) -> Iterator[None]:
    """Ctrl-C and a polite kill are planned ends; a terminal that is closed is one only where no other is planned."""
    before: list[tuple[int, Any]] = []
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                number = getattr(signal, name)
                ends: Any = signal.SIG_IGN if planned and name == "SIGHUP" else lambda *_: log.stop()
                before.append((number, signal.signal(number, ends)))
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def _folded(text: str) -> str:
    return textwrap.fill(text, width(), subsequent_indent="  ")
