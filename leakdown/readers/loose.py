"""What a line says without a colon: "cold day, barometer 1006 mbar", "Engine volume 50 cc"."""

from __future__ import annotations

import re

from leakdown.quantities import tidy
from leakdown.readers.keys import ENGINES, known_key
from leakdown.readers.words import plain

_SIZE = r"[-+]?\d[\d.,]*\s*(?:\u00b0\s?[cf]\b|['\"]|[a-z][^\s,;()]*)(?:\s?hg\b)?"
_DOUBT = r"(?:\s*(?:\+/-|\u00b1)\s*\d[\d.,]*\s*(?:%|[a-z][^\s,;()]*)?)?"
_KEY_AND_SIZE = re.compile(
    rf"(?<!\w)([^\W\d_][^\d:=;,()]{{0,40}}?)[\s.]+(?:(?:is|was|of|at|ca|about|approx)\.?\s+)?({_SIZE}{_DOUBT})",
    re.IGNORECASE,
)
_LIMIT = re.compile(r"\W*(limit|test limit|leak limit|grenzwert)\s+(\d.*)", re.IGNORECASE)
_WITH_A_SIZE = frozenset(
    {"barometer", "volume", "temperature", "displacement", "altitude", "sea_level", "resolution"}
)
_FILLERS = frozenset(
    {"the", "and", "with", "at", "by", "in", "on", "our", "a", "cold", "dry", "warm", "day", "today", "room"}
    | {
        "workshop",
        "shop",
        "measured",
        "local",
        "station",
        "und",
        "bei",
        "mit",
        "am",
        "im",
        "der",
        "die",
        "das",
    }
)
_SEA_LEVEL = frozenset({"sea", "level", "reduced", "qnh", "nn", "msl"})


def loose_size_pairs(text: str) -> list[tuple[str, str]]:
    """(key, value) of known keys with a number behind them; "oil temperature 90 C" is no known key."""
    text = tidy(text)
    limit = _LIMIT.fullmatch(text.strip())
    if limit:
        return [(limit.group(1), limit.group(2))]
    found = [(_named(key), size.rstrip(".,;)")) for key, size in _KEY_AND_SIZE.findall(text)]
    return [(key, size) for key, size in found if key is not None]


def left_over(text: str) -> str:
    """What a line says besides its known keys and their sizes, where numbers are left in it; else ""."""
    if _LIMIT.fullmatch(text.strip()):
        return ""
    rest = _KEY_AND_SIZE.sub(lambda match: "" if _named(match.group(1)) else match.group(0), tidy(text))
    return rest.strip(" ,;.") if any(c.isdigit() for c in rest) else ""


def _named(key: str) -> str | None:
    """The part of `key` that is a known key, or None where a word before it makes it something else."""
    words = key.strip(" .").split()
    for start in range(len(words)):
        before = {plain(word).strip(".,-") for word in words[:start]}
        rest = " ".join(words[start:])
        name = known_key(rest)
        if name is None and plain(rest) in ENGINES and not before - _FILLERS:
            return rest
        if name not in _WITH_A_SIZE or len(rest) < 2:
            continue
        if name == "barometer":
            return "sea level pressure" if before & _SEA_LEVEL else rest
        return rest if not before - _FILLERS else None
    return None
