"""What a label beside a number says about it: pressure, vacuum, something else, or nothing.

The vocabularies are in words.toml: plain words of several languages, easy to extend.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Literal

from leakdown.quantities import PressureUnit, pressure_unit, tidy

Quantity = Literal["pressure", "ambient", "neutral", "unknown", "other", "time", "temperature"]

_LISTS = tomllib.loads(resources.files("leakdown.live.lines").joinpath("words.toml").read_text("utf-8"))


def _list(name: str) -> frozenset[str]:
    return frozenset(_LISTS[name].split())


PRESSURE = _list("pressure")
VACUUM = _list("vacuum")
AMBIENT = _list("ambient")
DISQUALIFIED = _list("disqualified")
TEMPERATURE = _list("temperature")
TIME = _list("time")
OTHER = TEMPERATURE | _list("other")
FILLER = _list("filler")
NEUTRAL = _list("neutral")
ERRORS = _list("errors")

_TOKENS = re.compile(r"[^\W\d_]+|\d+")
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_BRACKETS = re.compile(r"[(\[]\s*([^()\[\]]{1,14}?)\s*[)\]]")
_SLASHED = re.compile(r"(?i)^(p|press|pressure|druck|t|time|temp\w*)\s*/\s*")
_OVERPRESSURE = re.compile(r"(?i)over[ -](?=pressure)")
_UNSAFE_UNITS = frozenset({"at", "lbs", "d", "ga"})
_BAROMETERS = frozenset(word for word in AMBIENT if word.startswith(("baro", "atm", "ambi")))
_UNIT_PIECES = frozenset(
    {"in", "hg", "h2o", "h", "o", "cm", "mm", "cms", "mms", "inhg", "wc", "m", "ft", "c", "degc", "percent"}
)
_TIME_UNITS = {
    "s": 1.0,
    "sec": 1.0,
    "secs": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "msec": 1e-3,
    "millis": 1e-3,
    "milliseconds": 1e-3,
    "millisec": 1e-3,
    "us": 1e-6,
    "usec": 1e-6,
    "micros": 1e-6,
    "min": 60.0,
}


@dataclass(frozen=True)
class Label:
    """A label understood. `time_unit_s` is set only when the label names the unit of a clock."""

    text: str
    quantity: Quantity
    unit: PressureUnit | None = None
    vacuum: bool = False
    disqualified: bool = False
    time_unit_s: float | None = None


def plain(text: str) -> str:
    """Lower case without accents."""
    if text.isascii():
        return text.lower()
    decomposed = unicodedata.normalize("NFKD", tidy(text))
    return unicodedata.normalize("NFC", "".join(c for c in decomposed if not _is_accent(c))).lower()


def _is_accent(char: str) -> bool:
    return "\u0300" <= char <= "\u036f"


def tokens(text: str) -> list[str]:
    """Words of a label: "gaugePressure_kPa 1" -> gauge, pressure, kpa, 1."""
    return [plain(word) for word in _TOKENS.findall(_CAMEL.sub(" ", text))]


def unit_word(text: str) -> PressureUnit | None:
    """A pressure unit in running text; spellings that are also ordinary words are not accepted."""
    bare = text.strip(" .,;:()[]")
    if not bare or bare.lower() in _UNSAFE_UNITS or len(bare) > 20:
        return None
    return pressure_unit(bare)


@lru_cache(maxsize=512)
def label(text: str) -> Label:
    """What `text` (a JSON key, a column name, the words before a number) says about the number."""
    text = _SLASHED.sub(r"\1 ", text.strip())
    unit = _unit_in(text)
    words = tokens(_units_lowered(_BRACKETS.sub(" ", text) if unit else text)) or tokens(text)
    quantity = _quantity([w for w in words if not w.isdigit()], unit is not None)
    time_unit = next((_TIME_UNITS[w] for w in reversed(words) if w in _TIME_UNITS), None)
    return Label(
        text=plain(text),
        quantity=quantity,
        unit=unit,
        vacuum=any(w in VACUUM for w in words),
        disqualified=any(w in DISQUALIFIED for w in words),
        time_unit_s=time_unit if quantity == "time" else None,
    )


def _units_lowered(text: str) -> str:
    """Spellings of units contain capitals (kPa, inHg, H2O); take them out before splitting words."""
    return re.sub(
        r"(?i)(?<![a-z])(k|h|m)?pa(?![a-z])|(in|mm|cm)\.?\s?(hg|h2o)", lambda m: m.group(0).lower(), text
    )


def _unit_in(text: str) -> PressureUnit | None:
    for inside in _BRACKETS.findall(text):
        unit = unit_word(inside)
        if unit:
            return unit
    pieces = [piece for piece in re.split(r"[\s_:=\"'<>]+|(?<=[a-z]{2})(?=[A-Z])", text) if piece]
    for size in (3, 2, 1):
        for start in range(len(pieces) - size, -1, -1):
            group = pieces[start : start + size]
            if size == 1 and len(group[0]) < 2:
                continue
            if size > 1 and plain(group[0]) in PRESSURE | FILLER - {"in"}:
                continue
            unit = unit_word(" ".join(group))
            if unit:
                return unit
    whole = re.fullmatch(r"(?i)(?:p|press|pressure|vac|vacuum)(kpa|hpa|pa|mbar|bar|psi|inhg|mmhg)", text)
    return unit_word(whole.group(1)) if whole else None


def _quantity(words: list[str], has_unit: bool) -> Quantity:
    """Nearest telling word before the number decides; fillers and units are passed over."""
    for word in reversed(words):
        if word in PRESSURE or word.startswith("pressure") or word.endswith("druck"):
            return "ambient" if any(w in AMBIENT for w in words) else "pressure"
        if unit_word(word) or word in _UNIT_PIECES:
            continue
        if word in TIME and not (word == "s" and len(words) > 1 and words[0] not in TIME):
            return "time"
        if word in TEMPERATURE:
            return "temperature"
        if word in OTHER:
            return "other"
        if word in _BAROMETERS:
            return "ambient"
        if word in DISQUALIFIED or word in FILLER or word in AMBIENT or word in _TIME_UNITS:
            continue
        return "pressure" if has_unit and words[-1] != word else "unknown"
    if has_unit:
        return "pressure"
    return "neutral" if all(w in NEUTRAL or w in FILLER for w in words) else "unknown"


def names_error(text: str) -> bool:
    """True when `text` says that the gauge has no reading: OL, ----, over range, ERR."""
    words = tokens(_OVERPRESSURE.sub("over", text))
    joined = "".join(words)
    return (
        any(w in ERRORS for w in words)
        or "notready" in joined
        or "outofrange" in joined
        or bool(re.search(r"-{2,}|\*{3,}|_{3,}|\?|<{2,}|>{2,}", text))
    )
