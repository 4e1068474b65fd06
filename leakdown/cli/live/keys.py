"""Single key presses from a terminal, without waiting; nothing at all where there is no terminal."""

from __future__ import annotations

import contextlib
import select
import sys
from types import TracebackType
from typing import Any


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
