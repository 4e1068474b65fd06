"""Questions to the person at the keyboard, asked again until the answer fits. Never without a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TypeVar

from leakdown.cli.console import say
from leakdown.errors import LeakdownError, UsageError

_T = TypeVar("_T")


class LeftOff(Exception):
    """The person ended the asking (Ctrl-D, Ctrl-C or q)."""


def need_terminal(command: str, instead: str) -> None:
    """Raises UsageError where nobody can be asked: input and screen must both be a terminal."""
    if not (sys.stdin and sys.stdin.isatty() and sys.stderr.isatty()):
        raise UsageError(f"{command} leads somebody through a test, and this is no terminal", remedy=instead)


def asked(question: str, read: Callable[[str], _T], default: _T | None = None, shown: str = "") -> _T:
    """The answer as `read` takes it (UsageError: asked again); Enter takes the default. Raises LeftOff."""
    while True:
        hint = f" [{shown}]" if shown else ""
        sys.stderr.write(f"{question}{hint}: ")
        sys.stderr.flush()
        try:
            line = sys.stdin.readline()
        except KeyboardInterrupt:
            line = ""
        if not line or line.strip().lower() in ("q", "quit"):
            sys.stderr.write("\n")
            raise LeftOff
        if not line.strip() and default is not None:
            return default
        try:
            return read(line.strip())
        except LeakdownError as error:
            say(str(error))


def yes_or_no(question: str, default: bool | None = None) -> bool:
    """Yes or no. Raises LeftOff."""

    def read(text: str) -> bool:
        word = text.lower()
        if word in ("y", "yes", "n", "no"):
            return word[0] == "y"
        raise UsageError("Say y or n; q leaves the test, which can be taken up again.")

    return asked(question, read, default, {None: "y/n", True: "Y/n", False: "y/N"}[default])


def one_of(question: str, names: Sequence[str], read: Callable[[str], str], default: str) -> str:
    """One of several, by its name, or by its number in the list as printed. Raises LeftOff."""
    for number, name in enumerate(names, start=1):
        say(f"  {number}  {name}")

    def chosen(text: str) -> str:
        if text.isdecimal() and 1 <= int(text) <= len(names):
            return names[int(text) - 1]
        return read(text)

    return asked(question, chosen, default, default)
