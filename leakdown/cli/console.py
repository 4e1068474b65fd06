"""What goes to which stream, and whether it may be coloured."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import sys
import unicodedata
from collections.abc import Callable, Iterable
from typing import Any

Style = Callable[[str, str], str]
_STEERING = ("Cc", "Cf", "Cs", "Zl", "Zp")  # what ends lines, steers terminals or is no letter, by Unicode's categories
_CODES = {"pass": "1;32", "fail": "1;31", "undecided": "1;33", "strong": "1", "dim": "2"}


def out(text: str, own: Iterable[str] = ()) -> None:
    """Print words on standard output, in the signs of print where its encoding has them (a pipe's too).

    own: the user's own texts among them, whose signs stay as they are.
    """
    from leakdown.words.signs import signs

    poor = poor_terminal(sys.stdout)
    print(text.encode("ascii", "replace").decode("ascii") if poor else signs(text, own), flush=True)


def print_json(value: Any) -> None:
    """One object on a line of its own, whatever a reader takes for a line's end (U+2028 and the like escaped)."""
    line = json.dumps(value, allow_nan=False, ensure_ascii=poor_terminal(sys.stdout))
    if not line.isascii() or "\x7f" in line:
        line = "".join(_escaped(c) if unicodedata.category(c) in _STEERING else c for c in line)
    print(line, flush=True)


def put(text: str) -> None:
    """The text of a file on standard output: UTF-8 into a file or another program, whatever this system has."""
    bare = getattr(sys.stdout, "buffer", None)
    if bare is None or sys.stdout.isatty():
        sys.stdout.write(text)
        return
    sys.stdout.flush()
    bare.write(text.encode("utf-8", "replace"))
    bare.flush()


def _escaped(char: str) -> str:
    return f"\\u{ord(char):04x}" if ord(char) < 0x10000 else json.dumps(char)[1:-1]


def show(plain: Any, lines: Iterable[str], as_json: bool, own: Iterable[str] = (), rest: str = "  ") -> None:
    """A result as one JSON object, or its lines wrapped for the screen, indented by `rest` from the second on."""
    from leakdown.words.wrap import clean_wrapped

    if as_json:
        print_json(plain)
    else:
        out("\n".join(line for text in lines for line in clean_wrapped(text, width(), "", rest)), own)


def say(text: str) -> None:
    """A line for the person at the keyboard (standard error)."""
    sys.stderr.write(text.rstrip("\n") + "\n")


def typed(word: str) -> str:
    """A word of a command line as the shell of this system wants it typed."""
    if os.name != "nt":
        return shlex.quote(word)
    return word if word and not re.search(r'[\s"&|<>^()]', word) else '"{}"'.format(word.replace('"', '""'))


def style_for(stream: object) -> Style:
    """Colour by role when `stream` is a terminal and nobody said otherwise; plain text else."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    is_terminal = bool(getattr(stream, "isatty", lambda: False)())
    if plain or not is_terminal:
        return lambda text, role: text
    return lambda text, role: f"\x1b[{_CODES[role]}m{text}\x1b[0m" if role in _CODES else text


def width() -> int:
    """Columns to write in: the terminal's, at most 100."""
    return max(40, min(100, shutil.get_terminal_size((88, 24)).columns))


def poor_terminal(stream: object) -> bool:
    """Whether `stream` cannot show more than its own small character set."""
    return not str(getattr(stream, "encoding", "") or "").lower().replace("-", "").startswith("utf")
