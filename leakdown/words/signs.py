"""ASCII words -> the signs of print (cm3 -> cm³, degC -> °C, -5 -> −5), once, where a text goes out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from itertools import chain

from leakdown.recording import Recording

_SIGNS = tuple(
    (re.compile(pattern), sign)
    for pattern, sign in (
        (r"\bPa m3/s\b", "Pa·m³/s"),
        (r"\b([cm]?m|in)3\b", r"\1³"),
        (r"\b([cm]?m|in)2\b", r"\1²"),
        (r"\b(in|cm|mm)H2O\b", r"\1H₂O"),
        (r"\bdeg([CF])\b", r"°\1"),
        (r"\+/-", "±"),
        (r"(?<=[\w)]) - (?=[\d(])", " − "),
        (r"(?<![\w.)%\]°-])-(?=\d)", "−"),
        (r"(?<=[\w)]) x (?=[\w(])", " × "),
    )
)
_QUOTED = r"""(?<!\w)"[^"]*"|(?<!\w)'[^']*'(?!\w)"""


def signs(text: str, own: Iterable[str] = ()) -> str:
    """Our own text in the signs of print.

    Left as they are: what stands in quotes (somebody wrote it, or has to type it), and wherever they occur
    the user's own texts `own` (file names, notes), even wrapped over lines.
    """
    parts = _kept(tuple(own)).split(text)  # every second one is kept
    return "".join(part if k % 2 else _signed(part) for k, part in enumerate(parts))


def own_texts(*recordings: Recording) -> tuple[str, ...]:
    """Everything in these recordings that a person wrote."""
    found: dict[str, None] = {}
    for recording in recordings:
        c = recording.conditions
        marks = (mark.text for mark in recording.marks)
        whole = chain((c.note, c.gauge, c.started), c.includes, c.blocked, marks, recording.remarks)
        found |= dict.fromkeys(text for text in (*whole, *re.split(r"[/\\]", recording.source)) if text)
    return tuple(found)


@lru_cache(maxsize=64)
def _kept(own: tuple[str, ...]) -> re.Pattern[str]:
    """Matches what is to be kept; most texts of a user hold nothing that would change."""
    changing = sorted((text for text in own if _signed(text) != text), key=len, reverse=True)
    # between words: any blanks, and what control characters were made of
    words = (r"\s+".join(map(re.escape, _PRINTABLE.sub(" ", text).split())) for text in changing)
    return re.compile("(" + "|".join((*words, _QUOTED)) + ")")


_PRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f]")


def _signed(text: str) -> str:
    for pattern, sign in _SIGNS:
        text = pattern.sub(sign, text)
    return text
