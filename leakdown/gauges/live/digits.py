"""A pressure in digits that can be read from two metres, as text. Pure."""

from __future__ import annotations

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
