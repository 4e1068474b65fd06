"""What the keys of a live test do. Only those listed here act; letters are letters while a note is typed. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from leakdown.live.bench.connection import MARKS, mark_for
from leakdown.live.texts import text
from leakdown.tuned import tuned

_T = tuned("live.bench")
NOTE, UNDO, END = "n", "u", "q"
ENDING = (END, "\x03", "\x04")
LONGEST_NOTE = 200


@dataclass(frozen=True)
class Pressed:
    """What a key asks for: a mark with its words, the last mark taken back, or the end."""

    does: Literal["mark", "undo", "end"]
    text: str = ""


class Keyboard:
    """Feed keys with the time they came; `typing` is the note so far, None when none is typed."""

    def __init__(self) -> None:
        self.typing: str | None = None
        self._last: tuple[str, float] = ("", float("-inf"))

    def press(self, key: str, now_s: float) -> Pressed | None:
        """One key: a letter, Enter, Esc or the like."""
        if self.typing is not None:
            return self._typed(self.typing, key)
        key = key.lower()
        again = key == self._last[0] and now_s - self._last[1] < _T.greasy_s
        self._last = (key, now_s)
        if key in ENDING:
            return Pressed("end")
        if again:
            return None
        if key == NOTE:
            self.typing = ""
        elif key == UNDO:
            return Pressed("undo")
        elif mark := mark_for(key):
            return Pressed("mark", mark)
        return None

    def _typed(self, so_far: str, key: str) -> Pressed | None:
        if key in ("\x03", "\x04"):
            return Pressed("end")
        if key in ("\r", "\n", "\x1b"):
            self.typing = None
            return Pressed("mark", so_far.strip()) if key != "\x1b" and so_far.strip() else None
        if key in ("\x7f", "\b"):
            self.typing = so_far[:-1]
        elif key.isprintable() and len(so_far) < LONGEST_NOTE:
            self.typing = so_far + key
        return None


def legend(width: int = 200, typing: str | None = None) -> list[str]:
    """The keys in as few lines of `width` as they need; the note and what ends it while one is typed."""
    if typing is not None:
        hint = text("note keys")
        shown = f"note: {typing}_"
        return [shown[-width:], hint] if len(shown) + len(hint) + 3 > width else [f"{shown}   {hint}"]
    words = [*(f"{key} {mark}" for key, mark in MARKS.items()), "n note", "u undo the last mark", "q end"]
    lines = [""]
    for word in words:
        longer = f"{lines[-1]}   {word}" if lines[-1] else word
        if len(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def short_legend(width: int) -> str:
    """The keys in one line, for a terminal with no room: the letters, then what note, undo and end are."""
    for words in (f"{' '.join(MARKS)} mark  n note  u undo  q end", f"{''.join(MARKS)} n u  q end"):
        if len(words) <= width:
            return words
    return "q end"
