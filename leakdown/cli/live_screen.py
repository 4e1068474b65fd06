"""A log on the screen: big digits, what to do, leak so far, small curve; single keys; until the log ends."""

from __future__ import annotations

import contextlib
import math
import os
import select
import shutil
import signal
import sys
import textwrap
import threading
import time
from typing import Any

from leakdown.cli.console import poor_terminal, say, style_for, width
from leakdown.errors import LeakdownError
from leakdown.live.bench.connection import legend
from leakdown.live.bench.estimator import EVERY_S
from leakdown.live.bench.running import LiveTest, Recorded, RunningTest, other_lines
from leakdown.live.bench.view import LiveState, View
from leakdown.live.capture.logger import Ended, LiveLog, LogPlan


class Keys:
    """Context manager: `pressed` gives the keys since the last call. The terminal is put back on leaving."""

    def __init__(self, wanted: bool) -> None:
        self.active = False
        self._wanted = wanted and sys.stdin.isatty()
        self._before: Any = None

    def __enter__(self) -> Keys:
        if self._wanted:
            with contextlib.suppress(ImportError, OSError):
                import termios
                import tty

                self._before = termios.tcgetattr(sys.stdin)
                tty.setcbreak(sys.stdin)
                self.active = True
        return self

    def __exit__(self, *_: object) -> None:
        if self.active:
            import termios

            with contextlib.suppress(termios.error, OSError, ValueError):  # the terminal may be gone
                termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)

    def pressed(self) -> str:
        """Keys pressed since the last call."""
        keys = ""
        while self.active and select.select([sys.stdin], [], [], 0)[0]:
            key = sys.stdin.read(1)
            if not key:
                self.active = False
            keys += key
        return keys


_FRAME_S, _PLAIN_S, _ALARM_S, _TURN_S = 0.2, 10.0, 1.0, 0.1
_CURVE_ROWS = 6
_HIGH = 22
"""Rows of a terminal from which there is room for everything."""


class Screen:
    """Draws on standard error. Redraws in place on a terminal, else says a line every ten seconds.

    `keys`: somebody is at the keyboard, to be led.
    """

    def __init__(self, state: LiveState, quiet: bool, keys: bool) -> None:
        self._state, self._quiet, self._keys = state, quiet, keys
        self._terminal = on_terminal()
        self._unicode = not poor_terminal(sys.stderr)
        self._style = style_for(sys.stderr)
        self._drawn = 0
        self._next_s = self._alarm_s = 0.0
        self._cautioned = self._decided = False

    def refresh(self) -> None:
        """Draw if it is time to."""
        now = time.monotonic()
        if self._quiet or now < self._next_s:
            return
        view = self._state.view()
        if self._terminal:
            self._next_s = now + _FRAME_S
            if view.caution and now >= self._alarm_s:
                self._alarm_s = now + _ALARM_S
                self._beep()
            self._draw(self._frame(view))
        else:
            self._plain(view, now)

    def note(self, text: str) -> None:
        """A line that stays. The bell rings when the verdict is certain."""
        if not self._quiet:
            if self._state.decided and not self._decided:
                self._decided = True
                self._beep()
            self._erase()
            say(_folded(text))

    def _beep(self) -> None:
        if self._terminal:
            print("\a", end="", file=sys.stderr, flush=True)

    def done(self) -> None:
        """Take the frame away: what follows is the result."""
        self._erase()
        sys.stderr.flush()

    def _plain(self, view: View, now: float) -> None:
        if view.caution and not self._cautioned:
            self._cautioned = True
            say(f"{view.digits} {view.unit}: {view.caution}")
        if self._next_s == 0.0:
            self._next_s = now
        if now - self._next_s < _PLAIN_S:
            return
        self._next_s = now
        parts = [f"{view.digits} {view.unit}", f"{view.phase} {view.phase_s:.0f} s", view.lost, view.leak]
        say("  ".join(part for part in parts if part))

    def _frame(self, view: View) -> list[str]:
        size = shutil.get_terminal_size((80, 24))
        across, roomy = max(20, min(96, size.columns - 2)), size.lines >= _HIGH
        digits = self._state.big_digits(self._unicode, 3 if across >= 70 and roomy else 2)
        facts = f"{view.unit}   {view.phase} {view.phase_s:.0f} s   {view.lost}"
        head = [line[:across] for line in [*digits, "", facts.rstrip()]]
        told = [self._style(view.caution[:across], "fail")] if view.caution else []
        told += [self._style(view.lead[:across], "strong")] if self._keys else []
        counted = f"{view.readings} readings{other_lines(view.unreadable, '; ')}"
        foot = [counted[:across], *self._legend(across)]
        rows = min(_CURVE_ROWS, size.lines - 2 - len(head) - len(told) - 1 - len(foot))
        drawn = self._state.curve(across, rows, self._unicode) if rows > 1 else []
        return [*head, *told, view.leak[:across], *drawn, *foot]

    def _legend(self, width: int) -> list[str]:
        if not self._keys:
            return ["Ctrl-C ends"]
        typing = self._state.typing
        return [f"note: {typing}_"[-width:]] if typing else legend(width)

    def _erase(self) -> None:
        if self._terminal and self._drawn:
            sys.stderr.write(f"\x1b[{self._drawn}F\x1b[J")
            self._drawn = 0

    def _draw(self, lines: list[str]) -> None:
        up = f"\x1b[{self._drawn}F" if self._drawn else ""
        print(up + "".join(f"{line}\x1b[K\n" for line in lines) + "\x1b[J", end="", file=sys.stderr, flush=True)
        self._drawn = len(lines)


def on_terminal() -> bool:
    """Whether standard error can be drawn upon."""
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


def record(plan: LogPlan, test: LiveTest, prompt: bool, quiet: bool) -> Recorded:
    """Run to the planned end; `prompt`: somebody may be at the keyboard.

    Raises what ended it early, GaugeError when no reading came.
    """
    every_s = math.inf if quiet else EVERY_S if on_terminal() else _PLAIN_S
    with LiveLog(plan) as log, Keys(prompt and not quiet) as keys, RunningTest(log, test, every_s) as running:
        _stop_on_signals(log, planned=test.duration_s is not None or test.until_decided)
        if not quiet:
            say(f"Recording {plan.address} to {plan.out}.")
            say("Low pressure only; eye protection; keep out of line with plugs and plates.")
            for line in running.before:
                say(_folded(line))
        screen = Screen(running.state, quiet, keys.active)
        error = _watch(log, running, keys, screen)
        screen.done()
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


def _stop_on_signals(log: LiveLog, planned: bool) -> None:
    """Ctrl-C and a polite kill are planned ends; a terminal that is closed is one only where no other is planned."""
    if threading.current_thread() is not threading.main_thread():
        return
    for name in ("SIGINT", "SIGTERM"):
        signal.signal(getattr(signal, name), lambda *_: log.stop())
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, signal.SIG_IGN if planned else lambda *_: log.stop())


def _folded(text: str) -> str:
    return textwrap.fill(text, width(), subsequent_indent="  ")
