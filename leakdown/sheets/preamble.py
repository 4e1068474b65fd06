"""The lines around a table: keys and what stands behind them, units of titles."""

from __future__ import annotations

import re
from collections.abc import Iterable

from leakdown.quantities import pressure_unit, tidy
from leakdown.sheets.before_watch import step_of
from leakdown.vocabulary import known_key, latin_units, phrases, plain, words

ENGINES = phrases("engine")
"""Keys that name the engine; a size behind them is its displacement."""
_SIZE = r"[-+]?\d[\d.,]*\s*(?:\u00b0\s?[cf]\b|['\"]|[a-z][^\s,;()]*)(?:\s?hg\b)?"
_DOUBT = r"(?:\s*(?:\+/-|\u00b1)\s*\d[\d.,]*\s*(?:%|[a-z][^\s,;()]*)?)?"
_KEY_AND_SIZE = re.compile(
    rf"(?<!\w)([^\W\d_][^\d:=;,()]{{0,40}}?)[\s.]+(?:(?:is|was|of|at|ca|about|approx)\.?\s+)?({_SIZE}{_DOUBT})",
    re.IGNORECASE,
)
_LIMIT = re.compile(r"\W*(limit|test limit|leak limit|grenzwert)\s+(\d.*)", re.IGNORECASE)
_WITH_A_SIZE = frozenset(
    {"barometer", "volume", "temperature", "displacement", "altitude", "sea_level", "resolution"}
    | {"zero", "zero_after"}
)
_FILLERS = words("filler_before_keys")
_SEA_LEVEL = frozenset({"sea", "level", "reduced", "qnh", "nn", "msl"})


def loose_size_pairs(text: str) -> list[tuple[str, str]]:
    """(key, value) of known keys with a number behind them; "oil temperature 90 C" is no known key."""
    text = latin_units(tidy(text))
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
    parts = key.strip(" .").split()
    for start in range(len(parts)):
        before = {plain(word).strip(".,-") for word in parts[:start]}
        rest = " ".join(parts[start:])
        name = known_key(rest)
        if name is None and plain(rest) in ENGINES and not before - _FILLERS:
            return rest
        if name not in _WITH_A_SIZE or len(rest) < 2:
            continue
        if name == "barometer":
            return "sea level pressure" if before & _SEA_LEVEL else rest
        return rest if not before - _FILLERS else None
    return None


_PAIR = re.compile(r"\W*([^\W\d][^:=;\t]{0,40}?)\s*[:=]\s*(\S.*)", re.DOTALL)
UNIT_IN_KEY = re.compile(r"^(.*?)\s*[(\[]([^)\]]+)[)\]]\s*$")
_IN_UNIT = re.compile(r"(?:\bin|\bunits?|\beinheit(?:en)?)\s+(\S+(?:\s\S+)?)\s*$", re.IGNORECASE)
_NEXT_PAIR = re.compile(r"[,;]\s*(?=(?:[^\W\d]| ){3,20}[:=])")


def pairs(text: str) -> list[tuple[str, str]]:
    """(key, value) pairs of one line, keys as written: "Temp: 21 C" -> [("Temp", "21 C")]."""
    whole = _PAIR.fullmatch(text.strip())
    if whole and "," in whole.group(1) and known_key(whole.group(1)) is not None:
        first, *others = _NEXT_PAIR.split(whole.group(2))
        after = [re.sub(r"^\W*(?:after|nachher|apr\u00e8s)\b", "zero after", piece) for piece in others]
        return [(whole.group(1).strip(), first.strip().rstrip(",; ")), *(p for t in after for p in pairs(t))]
    found = [_PAIR.fullmatch(piece) for piece in _NEXT_PAIR.split(text.strip())]
    return [(match.group(1).strip(), match.group(2).strip().rstrip(",; ")) for match in found if match]


def loose_pairs(text: str) -> list[tuple[str, str]]:
    """(key, value) of words without a colon: "cold, barometer 1006 mbar"."""
    return [] if pairs(text) else loose_size_pairs(text)


def unit_said(text: str) -> str | None:
    """The unit of a title such as "all readings in psi", or None."""
    match = _IN_UNIT.search(tidy(text).rstrip(" .,;)"))
    if match is None or any(c.isdigit() for c in text[: match.start()]):
        return None
    return next((piece for piece in (match.group(1), match.group(1).split()[0]) if pressure_unit(piece)), None)


def row_pairs(cells: Iterable[str]) -> list[tuple[str, str]]:
    """Pairs of a row that stands outside the table, "Barometer;1006;mbar" included."""
    texts = [text for text in cells if text.strip()]
    found = [pair for text in texts for pair in pairs(text)]
    if found or len(texts) < 2:
        return found
    starts = [i for i, text in enumerate(texts) if _bare_key(text)]
    if not starts or starts[0] != 0:
        return []
    ends = [*starts[1:], len(texts)]
    return [
        (texts[i].strip().rstrip(":=").strip(), " ".join(part.strip() for part in texts[i + 1 : end]))
        for i, end in zip(starts, ends, strict=True)
        if end > i + 1
    ]


def _bare_key(text: str) -> bool:
    key = text.strip().rstrip(":=").strip()
    match = UNIT_IN_KEY.match(key)
    name = match.group(1) if match else key
    return known_key(name) is not None or step_of(name) is not None
