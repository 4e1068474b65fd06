"""Digits that can be read from two metres and a small decay curve, as text. Pure."""

from __future__ import annotations

from collections.abc import Sequence

_FONT = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": ("  #", "  #", "  #", "  #", "  #"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", "###", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", "  #", "  #"),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    "-": ("   ", "   ", "###", "   ", "   "),
    "+": ("   ", " # ", "###", " # ", "   "),
    ".": (" ", " ", " ", " ", "#"),
    " ": ("   ", "   ", "   ", "   ", "   "),
}
HEIGHT = 5


def big(text: str, unicode: bool = True, width: int = 2) -> list[str]:
    """Five lines of text art for a number; solid blocks, or # where the terminal has no Unicode.

    `width` repeats every stroke sideways so that digits are not thin. Characters without a shape are
    left out.
    """
    ink = "\u2588" if unicode else "#"
    glyphs = [_FONT[char] for char in text if char in _FONT]
    rows = [" ".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT)]
    return ["".join(char * width for char in row).replace("#", ink).rstrip() for row in rows]


_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BLANK = 0x2800


def curve(
    values: Sequence[float], width: int, height: int, unicode: bool = True, least: float = 0.0
) -> list[str]:
    """`height` lines of `width` characters: the values from oldest to newest, scaled to fill the box.

    An empty series gives blank lines. The scale always contains zero, so that a steady hold looks steady,
    and is at least `least` high, so that noise around zero looks like nothing.
    """
    across = width * (2 if unicode else 1)
    up = height * (4 if unicode else 2)
    heights = _heights(_columns(values, across), up, least)
    return _braille(heights, width, height) if unicode else _ascii(heights, width, height)


def _columns(values: Sequence[float], count: int) -> list[float]:
    """At most one value for each dot column: the mean of what falls into it."""
    if len(values) <= count:
        return list(values)
    edges = [i * len(values) // count for i in range(count + 1)]
    return [sum(values[a:b]) / (b - a) for a, b in zip(edges, edges[1:], strict=False)]


def _heights(columns: list[float], up: int, least: float) -> list[int]:
    """Dot rows from the bottom, 0 to up - 1."""
    if not columns:
        return []
    low, high = min(0.0, *columns), max(0.0, *columns)
    span = max(high - low, least) or 1.0
    return [round((value - low) / span * (up - 1)) for value in columns]


def _braille(heights: list[int], width: int, height: int) -> list[str]:
    cells = [[0] * width for _ in range(height)]
    for x, y in enumerate(heights):
        row = height - 1 - y // 4
        cells[row][x // 2] |= _DOTS[x % 2][3 - y % 4]
    return ["".join(chr(_BLANK + cell) for cell in row) for row in cells]


def _ascii(heights: list[int], width: int, height: int) -> list[str]:
    rows = [[" "] * width for _ in range(height)]
    for x, y in enumerate(heights):
        rows[height - 1 - y // 2][x] = "." if y % 2 == 0 else "'"
    return ["".join(row) for row in rows]
