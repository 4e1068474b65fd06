"""What a label beside a gauge's number says about it: pressure, vacuum, something else, or nothing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from leakdown import vocabulary
from leakdown.quantities import PressureUnit, pressure_unit
from leakdown.vocabulary import VACUUM, plain, words

Quantity = Literal["pressure", "ambient", "neutral", "unknown", "other", "time", "temperature"]

PRESSURE = vocabulary.PRESSURE | VACUUM | words("pressure_on_gauges")
_BAROMETERS = words("barometer", "ambient")
_AMBIENT = _BAROMETERS | words("ambient_on_gauges")
_CODES = words("code_on_gauges")
_DERIVED = words("loss", "derived", "derived_on_gauges") - _CODES
_DISQUALIFIED = _DERIVED | _CODES
_TEMPERATURE = words("temperature", "temperature_on_gauges")
_TIME = words("time", "time_unit", "time_on_gauges", "clock")
_NEUTRAL = words("reading", "reading_on_gauges")
_OTHER = words("quantity", "quantity_on_gauges", "date") - _NEUTRAL
_FILLER = words("filler_on_gauges", "gauge")
_ERRORS = words("error")
_BEFORE_UNITS = PRESSURE | _FILLER - {"in"}

_TOKENS = re.compile(r"[^\W\d_]+|\d+")
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_BRACKETS = re.compile(r"[(\[]\s*([^()\[\]]{1,14}?)\s*[)\]]")
_SLASHED = re.compile(r"(?i)^(p|press|pressure|druck|t|time|temp\w*)\s*/\s*")
_OVERPRESSURE = re.compile(r"(?i)over[ -](?=pressure)")
_UNSAFE_UNITS = frozenset({"at", "lbs", "d", "ga"})
_UNIT_PIECES = words("unit_piece_on_gauges")
_TIME_UNITS = {
    **dict.fromkeys(("s", "sec", "secs", "seconds"), 1.0),
    **dict.fromkeys(("ms", "msec", "millis", "milliseconds", "millisec"), 1e-3),
    **dict.fromkeys(("us", "usec", "micros"), 1e-6),
    "min": 60.0,
}


@dataclass(frozen=True)
class Label:
    """A label understood. `time_unit_s` is set only when the label names the unit of a clock.

    disqualified: what it names is never the reading; `code`: unless a pressure unit stands beside the number."""

    text: str
    quantity: Quantity
    unit: PressureUnit | None = None
    vacuum: bool = False
    disqualified: bool = False
    code: bool = False
    time_unit_s: float | None = None


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
    named = tokens(_units_lowered(_BRACKETS.sub(" ", text) if unit else text)) or tokens(text)
    quantity = _quantity([w for w in named if not w.isdigit()], unit is not None)
    time_unit = next((_TIME_UNITS[w] for w in reversed(named) if w in _TIME_UNITS), None)
    vacuum, disqualified = not VACUUM.isdisjoint(named), not _DISQUALIFIED.isdisjoint(named)
    code = disqualified and _DERIVED.isdisjoint(named)
    return Label(plain(text), quantity, unit, vacuum, disqualified, code, time_unit if quantity == "time" else None)


def _units_lowered(text: str) -> str:
    """Spellings of units contain capitals (kPa, inHg, H2O); take them out before splitting words."""
    return re.sub(r"(?i)(?<![a-z])(k|h|m)?pa(?![a-z])|(in|mm|cm)\.?\s?(hg|h2o)", lambda m: m.group(0).lower(), text)


def _unit_in(text: str) -> PressureUnit | None:
    for inside in _BRACKETS.findall(text):
        if unit := unit_word(inside):
            return unit
    pieces = [piece for piece in re.split(r"[\s_:=\"'<>]+|(?<=[a-z]{2})(?=[A-Z])", text) if piece]
    for size in (3, 2, 1):
        for start in range(len(pieces) - size, -1, -1):
            group = pieces[start : start + size]
            if len(group[0]) < 2 if size == 1 else plain(group[0]) in _BEFORE_UNITS:
                continue
            if unit := unit_word(" ".join(group)):
                return unit
    whole = re.fullmatch(r"(?i)(?:p|press|pressure|vac|vacuum)(kpa|hpa|pa|mbar|bar|psi|inhg|mmhg)", text)
    return unit_word(whole.group(1)) if whole else None


def _quantity(named: list[str], has_unit: bool) -> Quantity:
    """Nearest telling word before the number decides; fillers and units are passed over."""
    for word in reversed(named):
        if word in PRESSURE or word.startswith("pressure") or word.endswith("druck"):
            return "ambient" if any(w in _AMBIENT for w in named) else "pressure"
        if unit_word(word) or word in _UNIT_PIECES:
            continue
        if word in _TIME and not (word == "s" and named[0] not in _TIME):
            return "time"
        if word in _TEMPERATURE:
            return "temperature"
        if word in _OTHER:
            return "other"
        if word in _BAROMETERS:
            return "ambient"
        if word in _DISQUALIFIED or word in _FILLER or word in _AMBIENT or word in _TIME_UNITS:
            continue
        return "pressure" if has_unit and named[-1] != word else "unknown"
    if has_unit:
        return "pressure"
    return "neutral" if all(w in _NEUTRAL or w in _FILLER for w in named) else "unknown"


def names_error(text: str) -> bool:
    """True when `text` says that the gauge has no reading: OL, ----, over range, ERR."""
    named = tokens(_OVERPRESSURE.sub("over", text))
    joined = "".join(named)
    return (
        any(w in _ERRORS for w in named)
        or "notready" in joined
        or "outofrange" in joined
        or bool(re.search(r"-{2,}|\*{3,}|_{3,}|\?|<{2,}|>{2,}", text))
    )
