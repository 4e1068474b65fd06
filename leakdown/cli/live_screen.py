"""The live view of `leakdown log`: big digits, what to do, leak so far, small curve; and single keys."""

from __future__ import annotations

import contextlib
import os
import select
import shutil
import sys
import textwrap
import time
from types import TracebackType
from typing import Any

from leakdown.cli.console import poor_terminal, say, style_for, width
from leakdown.live.bench.connection import legend
from leakdown.live.bench.view import LiveState, View


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

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.active:
            import termios

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


FRAME_S = 0.2
PLAIN_S = 10.0
ALARM_S = 1.0
_CURVE_ROWS = 6
_HIGH = 22
"""Rows of a terminal from which there is room for everything."""


class Screen:
    """Draws on standard error. Redraws in place on a terminal, else says a line every ten seconds.

    `leak`: the leak so far in words, set by whoever knows it. `typing`: the note being typed.
    """

    def __init__(self, state: LiveState, quiet: bool, lead: bool, keys: bool) -> None:
        self.typing = ""
        self.leak = ""
        self._state, self._quiet, self._lead, self._keys = state, quiet, lead, keys
        self.terminal = sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self._unicode = not poor_terminal(sys.stderr)
        self._style = style_for(sys.stderr)
        self._drawn = 0
        self._next_s = self._alarm_s = 0.0
        self._cautioned = False

    def refresh(self) -> None:
        """Draw if it is time to."""
        now = time.monotonic()
        if self._quiet or now < self._next_s:
            return
        view = self._state.view()
        if self.terminal:
            self._next_s = now + FRAME_S
            self._alarm(view, now)
            self._draw(self._frame(view))
        else:
            self._plain(view, now)

    def note(self, text: str) -> None:
        """A line that stays."""
        if not self._quiet:
            self._erase()
            say(textwrap.fill(text, width(), subsequent_indent="  "))

    def beep(self) -> None:
        """The terminal's bell, where there is one."""
        if self.terminal and not self._quiet:
            sys.stderr.write("\a")
            sys.stderr.flush()

    def done(self) -> None:
        """Take the frame away: what follows is the result."""
        self._erase()
        sys.stderr.flush()

    def _alarm(self, view: View, now: float) -> None:
        if view.caution and now >= self._alarm_s:
            self._alarm_s = now + ALARM_S
            self.beep()

    def _plain(self, view: View, now: float) -> None:
        if view.caution and not self._cautioned:
            self._cautioned = True
            say(f"{view.digits} {view.unit}: {view.caution}")
        if self._next_s == 0.0:
            self._next_s = now
        if now - self._next_s < PLAIN_S:
            return
        self._next_s = now
        parts = [f"{view.digits} {view.unit}", f"{view.phase} {view.phase_s:.0f} s", view.lost, self.leak]
        say("  ".join(part for part in parts if part))

    def _frame(self, view: View) -> list[str]:
        size = shutil.get_terminal_size((80, 24))
        across, roomy = max(20, min(96, size.columns - 2)), size.lines >= _HIGH
        digits = self._state.big_digits(self._unicode, 3 if across >= 70 and roomy else 2)
        facts = f"{view.unit}   {view.phase} {view.phase_s:.0f} s   {view.lost}"
        head = [line[:across] for line in [*digits, "", facts.rstrip()]]
        told = [self._style(view.caution[:across], "fail")] if view.caution else []
        told += [self._style(view.lead[:across], "strong")] if self._lead else []
        leak = [self.leak[:across]]
        foot = [self._counted(view)[:across], *self._legend(across)]
        rows = min(_CURVE_ROWS, size.lines - 2 - len(head) - len(told) - len(leak) - len(foot))
        drawn = self._state.curve(across, rows, self._unicode) if rows > 1 else []
        return [*head, *told, *leak, *drawn, *foot]

    def _counted(self, view: View) -> str:
        if not view.unreadable:
            return f"{view.readings} readings"
        return f"{view.readings} readings; {view.unreadable} other line{'s' if view.unreadable > 1 else ''}"

    def _legend(self, width: int) -> list[str]:
        if not self._keys:
            return ["Ctrl-C ends"]
        return [f"note: {self.typing}_"[-width:]] if self.typing else legend(width)

    def _erase(self) -> None:
        if self.terminal and self._drawn:
            sys.stderr.write(f"\x1b[{self._drawn}F\x1b[J")
            self._drawn = 0

    def _draw(self, lines: list[str]) -> None:
        up = f"\x1b[{self._drawn}F" if self._drawn else ""
        sys.stderr.write(up + "".join(f"{line}\x1b[K\n" for line in lines) + "\x1b[J")
        sys.stderr.flush()
        self._drawn = len(lines)
