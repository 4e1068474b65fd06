"""Keys: which act, how a note is typed, greasy presses, and how they are read on each system (by fakes)."""

from __future__ import annotations

import os

import pytest

from leakdown.cli.keys import NoKeys, PosixKeys, WindowsKeys
from leakdown.live.bench.connection import MARKS
from leakdown.live.bench.keyboard import Keyboard, Pressed, legend, short_legend
from leakdown.recording import Mark, standing


def pressed(keys: str, every_s: float = 2.0) -> list[Pressed]:
    board = Keyboard()
    return [one for k, key in enumerate(keys) if (one := board.press(key, k * every_s))]


def test_only_listed_keys_act():
    listed = {*MARKS, "n", "u", "q"}
    assert all(not pressed(chr(code)) for code in range(32, 127) if chr(code).lower() not in listed)
    assert [one.does for one in pressed("buq")] == ["mark", "undo", "end"]
    assert pressed("B")[0].text == MARKS["b"]


def test_a_note_is_opened_kept_or_dropped():
    assert pressed("nquick look\r") == [Pressed("mark", "quick look")]
    assert pressed("nab\x7f\x1bq") == [Pressed("end")]
    assert pressed("n \r") == [] and pressed("nab\x03") == [Pressed("end")]
    board = Keyboard()
    board.press("n", 0.0)
    assert board.typing == "" and "Enter keeps, Esc drops" in legend(80, board.typing)[0]


def test_greasy_presses_count_once():
    assert len(pressed("bbbbbbbb", 0.3)) == 1, "a key held down, or pressed again by a wet finger"
    assert len(pressed("bb", 1.0)) == 2 and len(pressed("bs", 0.1)) == 2
    assert pressed("naa\r", 0.1)[0].text == "aa", "letters of a note are letters"
    assert [one.does for one in pressed("qq", 0.1)] == ["end", "end"], "q always ends"


def test_the_keys_are_shown_in_any_width():
    assert all(len(short_legend(width)) <= width and "q end" in short_legend(width) for width in range(6, 100))
    assert all(max(map(len, legend(width))) <= width for width in range(24, 200, 7))


def test_a_mark_that_was_taken_back_does_not_count():
    marks = [
        Mark(1.0, "soap"),
        Mark(2.0, "boot moved"),
        Mark(3.0, "soap"),
        Mark(4.0, "undone: soap"),
        Mark(5.0, "undone: x"),
    ]
    assert [(m.time_s, m.text) for m in standing(marks)] == [(1.0, "soap"), (2.0, "boot moved"), (5.0, "undone: x")]


class Termios:
    """Stands in for the module of this name."""

    TCSADRAIN, error = 1, OSError

    def __init__(self) -> None:
        self.put_back: list[object] = []

    def tcgetattr(self, fd: int) -> list[int]:
        return [fd]

    def tcsetattr(self, fd: int, when: int, how: object) -> None:
        self.put_back.append(how)


class Tty:
    def setcbreak(self, fd: int) -> None:
        self.fd = fd


@pytest.mark.parametrize(
    ("sent", "got"),
    [(b"bq", "bq"), (b"\x1b[A\x1b[15~\x1bOPb", "b"), (b"\x1b", "\x1b"), ("\u00fc".encode(), "\u00fc"), (b"", "")],
)
def test_keys_on_posix(sent, got):
    inner, outer = os.pipe()
    termios, tty = Termios(), Tty()
    with PosixKeys(termios, tty, inner) as keys:
        assert keys.active and tty.fd == inner and keys.pressed() == ""
        os.write(outer, sent)
        assert keys.pressed() == got and keys.active
        os.close(outer)
        assert keys.pressed() == "" and not keys.active, "the terminal is gone"
    assert termios.put_back == [[inner]]
    os.close(inner)


class Msvcrt:
    """Stands in for the module of this name."""

    def __init__(self, keys: str) -> None:
        self.keys = list(keys)

    def kbhit(self) -> bool:
        return bool(self.keys)

    def getwch(self) -> str:
        return self.keys.pop(0)


def test_keys_on_windows():
    with WindowsKeys(Msvcrt("b\xe0H\x00;q\r")) as keys:
        assert keys.active and keys.pressed() == "bq\r" and keys.pressed() == ""
    with NoKeys() as none:
        assert not none.active and none.pressed() == ""
