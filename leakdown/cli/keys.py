"""Single keys from the keyboard, on POSIX terminals and on Windows. Arrows and function keys are dropped."""

from __future__ import annotations

import codecs
import contextlib
import os
import re
import select
import sys
from typing import Any, Protocol

# What a terminal sends for arrows, function keys and the like: ESC [ ... letter, ESC O letter, Alt and a key.
_NO_KEY = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1bO.|\x1b[^\x1b\[O]")
_WINDOWS_NO_KEY = ("\x00", "\xe0")


class Keys(Protocol):
    """Context manager: `pressed` gives the keys since the last call, the terminal is put back on leaving.

    active: a keyboard is there.
    """

    active: bool

    def __enter__(self) -> Keys:
        """Take keys one by one, unseen."""

    def __exit__(self, *_: object) -> None:
        """Put the terminal back."""

    def pressed(self) -> str:
        """Keys pressed since the last call."""


class NoKeys:
    """Nobody is at the keyboard, or it must not be asked."""

    active = False

    def __enter__(self) -> NoKeys:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def pressed(self) -> str:
        """None, ever."""
        return ""


class PosixKeys:
    """A terminal on Linux or macOS. `termios`, `tty`: the modules of these names; fd: the terminal."""

    def __init__(self, termios: Any, tty: Any, fd: int) -> None:
        self.active = False
        self._termios, self._tty, self._fd = termios, tty, fd
        self._before: Any = None
        self._text = codecs.getincrementaldecoder("utf-8")("replace")

    def __enter__(self) -> PosixKeys:
        with contextlib.suppress(OSError, self._termios.error):
            self._before = self._termios.tcgetattr(self._fd)
            self._tty.setcbreak(self._fd)
            self.active = True
        return self

    def __exit__(self, *_: object) -> None:
        if self._before is not None:
            with contextlib.suppress(OSError, self._termios.error):
                self._termios.tcsetattr(self._fd, self._termios.TCSADRAIN, self._before)

    def pressed(self) -> str:
        """Keys pressed since the last call; a terminal that is gone gives none any more."""
        keys = ""
        try:
            while self.active and select.select([self._fd], [], [], 0)[0]:
                data = os.read(self._fd, 1024)
                self.active = bool(data)
                keys += self._text.decode(data)
        except (OSError, ValueError):
            self.active = False
        return _NO_KEY.sub("", keys)


class WindowsKeys:
    """A console on Windows. msvcrt: the module of this name."""

    active = True

    def __init__(self, msvcrt: Any) -> None:
        self._msvcrt = msvcrt

    def __enter__(self) -> WindowsKeys:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def pressed(self) -> str:
        """Keys pressed since the last call."""
        keys = ""
        while self._msvcrt.kbhit():
            key = self._msvcrt.getwch()
            if key in _WINDOWS_NO_KEY:
                self._msvcrt.getwch()  # the second half of an arrow or a function key
            else:
                keys += key
        return keys


def keys_of_terminal(wanted: bool) -> Keys:
    """The keyboard, where one is wanted and standard input is one."""
    if not wanted or not sys.stdin or not sys.stdin.isatty():
        return NoKeys()
    try:
        import termios
        import tty
    except ImportError:
        return _windows_keys()
    return PosixKeys(termios, tty, sys.stdin.fileno())


def _windows_keys() -> Keys:
    try:
        import msvcrt
    except ImportError:
        return NoKeys()
    return WindowsKeys(msvcrt)
