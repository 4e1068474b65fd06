"""Text into lines of a width, a number never parted from its unit, nothing that steers a terminal."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Callable

from leakdown import tuned

Wrap = Callable[[str, int, str, str], list[str]]
"""(text, width, first, rest) -> lines, as `wrapped` makes them."""
Style = Callable[[str, str], str]
"""(text, role) -> the text in its colour, or as it is."""


def texts(kind: str) -> dict[str, str]:
    """The sentences of one kind in `texts.toml`, by name: of "cautions", "captions" and so on."""
    return dict(tuned.texts("words", "texts")[kind])


_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:%|kPa|Pa|hPa|mbar|bar|psi|inHg|mmHg|cm3|mm|degC|min|s|h)\b|%)")
_HARD = "\u00a0"


def clean(text: str) -> str:
    """A user's text with what steers a terminal made visible ("\\x1b"), and on one line.

    A file name must not move the cursor, nor look like another.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_visible(c) for c in text)


def _visible(char: str) -> str:
    if char in "\t\n\r\u2028\u2029":
        return " "
    if unicodedata.category(char) not in ("Cc", "Cf", "Cs"):
        return char
    return f"\\x{ord(char):02x}" if ord(char) < 0x100 else f"\\u{ord(char):04x}"


def capital(sentence: str) -> str:
    """The sentence with a capital first letter, the rest as it is."""
    return sentence[:1].upper() + sentence[1:]


def unparted(text: str) -> str:
    """The text with every number bound to its unit."""
    return _NUMBER_AND_UNIT.sub(_HARD, text)


def wrapped(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """Lines of at most `width` columns (a single longer word is cut); `first` and `rest` are indents."""
    hard = unparted(text)
    lines = textwrap.wrap(
        hard, max(width, len(rest) + 8), initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )
    return [line.replace(_HARD, " ") for line in lines]


def clean_wrapped(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """The same of a text with a user's words in it."""
    return wrapped(clean(text), width, first, rest)


def moment(started: str) -> str:
    """An ISO moment to the minute; any other text as it is."""
    return f"{started[:10]} {started[11:16]}" if re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d", started) else started
