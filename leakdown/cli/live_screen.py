"""The live view of `leakdown log`: big digits, phase, small curve; or one plain line now and then."""

from __future__ import annotations

import os
import shutil
import sys
import time

from leakdown.cli.console import say
from leakdown.gauges.capture.session import Remark, Row
from leakdown.gauges.live.marks import legend
from leakdown.gauges.live.view import LiveState

FRAME_S = 0.2
PLAIN_S = 10.0
_CURVE_ROWS = 5


class Screen:
    """Draws on standard error. Redraws in place on a terminal, else says a line every ten seconds."""

    def __init__(self, state: LiveState, quiet: bool, keys: bool) -> None:
        self._state, self._quiet, self._keys = state, quiet, keys
        self._terminal = sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        encoding = (sys.stderr.encoding or "").lower().replace("-", "")
        self._unicode = encoding.startswith("utf")
        self._drawn = 0
        self._next_s = 0.0
        self.typing = ""

    def refresh(self) -> None:
        """Draw if it is time to."""
        now = time.monotonic()
        if self._quiet or now < self._next_s:
            return
        if self._terminal:
            self._next_s = now + FRAME_S
            self._draw(self._frame())
        else:
            first, self._next_s = self._next_s == 0.0, now + PLAIN_S
            if not first:
                say(self._plain())

    def feed(self, event: Row | Remark) -> None:
        """Take one event of the log."""
        self._state.feed(event)

    def note(self, text: str) -> None:
        """A line that stays."""
        if not self._quiet:
            self._erase()
            say(text)

    def done(self) -> None:
        """Leave the last frame standing."""
        self._drawn = 0

    def _plain(self) -> str:
        view = self._state.view()
        parts = [f"{view.digits} {view.unit}", f"{view.phase} {view.phase_s:.0f} s", view.lost, view.caution]
        return "  ".join(part for part in parts if part)

    def _frame(self) -> list[str]:
        view = self._state.view()
        width = max(20, min(80, shutil.get_terminal_size((80, 24)).columns - 2))
        lines = [*self._state.big_digits(self._unicode), ""]
        lines.append(f"{view.unit}   {view.phase} {view.phase_s:.0f} s   {view.lost}")
        lines += self._state.curve(width, _CURVE_ROWS, self._unicode)
        unread = f", {view.unreadable} lines without one" if view.unreadable else ""
        lines.append(f"{view.readings} readings{unread}   {view.caution}")
        if self._keys:
            lines.append(f"note: {self.typing}_" if self.typing else f"{legend()}  q end")
        return [line[:width] for line in lines]

    def _erase(self) -> None:
        if self._terminal and self._drawn:
            sys.stderr.write(f"\x1b[{self._drawn}F\x1b[J")
            self._drawn = 0

    def _draw(self, lines: list[str]) -> None:
        self._erase()
        sys.stderr.write("\n".join(lines) + "\n")
        sys.stderr.flush()
        self._drawn = len(lines)
