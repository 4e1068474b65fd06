"""Numbers in a line of text, each with the words before it and the unit after it. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.live.lines.labels import unit_word
from leakdown.quantities import PressureUnit, tidy
from leakdown.vocabulary import latin_units

_NUMBER = re.compile(
    r"(?:(?<![A-Za-z0-9_.,+\-])|(?<=,))"
    r"([-+]?(?:\d{1,3}(?:,\d{3})+\.\d+|\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?)(?!\d)(?!\.\d)"
)
_CLOCK = re.compile(
    r"\b\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d(?:[.,]\d+)?)?(?:Z|[+-]\d\d:?\d\d)?)?"
    r"|\b\d{1,2}[./]\d{1,2}[./]\d{2,4}\b"
    r"|(?<![\d.])\d{1,2}:\d\d:\d\d(?:[.,]\d+)?(?![\d:])"
    r"|(?<![\d.:])\d{1,2}:\d\d(?![\d:.])|[A-Z][a-z]{2} \d\d? \d{4}"
)
_SPACED_SIGN = re.compile(r"(?:^|(?<=[,;:=(|\[]))(\s*)([-+])(\s+)(?=\.?\d)")
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d.]|,\d)")
_UNIT_AFTER = re.compile(r"\s*[,;|:]?\s*[\(\[]?\s*(?=[A-Za-z\"])")
_WORD = re.compile(r"([A-Za-z\"'][A-Za-z0-9/\"'²₂.()]*)[ .]*")
_OTHER_UNIT = re.compile(
    r"\s*[\(\[]?\s*(°\s?[CFK]?|deg\s?[CFK]?\b|%\s?(?:RH)?|[mkµu]?V\b|m?A\b|[kM]?Hz\b|[cmk]?m\b|ft\b|rpm\b|lux\b|ppm\b|ms\b|us\b|s\b"
    r"|[A-Za-z]+\s?/\s?(?:min|sec|s|hr|h|V|K)\b|sec\b|min\b|g\b|kg\b|[mc]?[lL]\b|dBm?\b|[kM]?[oO]hm\b|Ω|[CFK]\b|l/min\b|W\b|counts?\b)"
)
_GLUED_WORD = re.compile(r"[A-Za-z_]\w*")
_TEMPERATURE_UNIT = re.compile(r"\s*[\(\[]?\s*(?:°\s?|deg\s?)?([CFK])\b")
_TIME_UNIT = re.compile(r"\s*(ms|us|sec|s)\b")
_GLUED_LETTER = re.compile(
    r"(?<![A-Za-z_])([PRTprt])(?=[-+]?\d+\.\d)|(?:^|(?<=[,;\s]))([A-Z])(?=[-+]\d[\d.]*(?![\d.:]))"
)

_UNIT_SLASH_NUMBER = re.compile(r"(?<=[A-Za-z])/(?=[-+]?\d)")
_MARKS = frozenset("/'\u00b1+{(")
_TOLERANCE = re.compile(r"\s*(?:\u00b1|\+/-|\+-)\s*[\d.,]+")
_THOUSANDS = re.compile(r"(?<=\d)'(?=\d{3}(?!\d))")
_LABEL_SET = re.compile(r"\{[^{}]*=\"[^{}]*\}")
_BRACKETED = re.compile(r"\(\s*(\d+(?:[.,]\d+)?)\s*\)(?=\s*[A-Za-z])")
_LONE_SUPERSCRIPT = re.compile("(?<![A-Za-z])[\u00b2\u00b3\u2082]")


@dataclass(frozen=True)
class Number:
    """A number in a line. `before`: the text since the previous number; `start`, `end`: its place."""

    value: float
    text: str
    start: int
    end: int
    before: str
    unit: PressureUnit | None = None
    other_unit: str = ""
    vacuum_word: bool = False
    glued: str = ""


def plain_signs(text: str) -> str:
    """Exotic minus signs, blanks and primes made plain; a superscript is part of a unit or of nothing."""
    if text.isascii():
        return text
    return latin_units(tidy(_LONE_SUPERSCRIPT.sub("?", text)))


def normalise(text: str) -> str:
    """Plain signs and blanks; clock times and dates blanked out; decimal commas made points."""
    text = plain_signs(text)
    text = _CLOCK.sub(lambda m: " " * len(m.group()), text)
    if not _MARKS.isdisjoint(text):
        text = _plain_numbers(text)
    text = _GLUED_LETTER.sub(lambda m: f" {m.group()} ", text)
    text = _SPACED_SIGN.sub(lambda m: m.group(1) + m.group(3) + m.group(2), text)
    return _points_for_commas(text) if "," in text else text


def _plain_numbers(text: str) -> str:
    """Tolerances, label sets, thousands marks taken out; (34.5) kPa is negative, as in accounts."""
    text = _UNIT_SLASH_NUMBER.sub(" / ", text)
    text = _TOLERANCE.sub("", _THOUSANDS.sub("", text))
    return _BRACKETED.sub(_negative, _LABEL_SET.sub(" ", text))


def _in_thousands(match: re.Match[str], text: str) -> bool:
    """34,500 Pa: nobody writes thousandths of a pascal."""
    unit = _read_unit(text[match.end() :])[0]
    return unit is not None and unit.name == "Pa" and bool(re.fullmatch(r"[1-9]\d{0,2},\d{3}", match.group()))


def _negative(match: re.Match[str]) -> str:
    """Minus, where a pressure unit follows the bracket."""
    return f"-{match.group(1)}" if _read_unit(match.string[match.end() :])[0] else match.group()


def _points_for_commas(text: str) -> str:
    """Decimal commas become points where the line leaves no other reading of them."""
    if re.search(r"\d\.\d", text):
        return text
    found = list(_DECIMAL_COMMA.finditer(text))
    other_separator = bool(re.search(r"[;|\t]", text)) and not re.search(r"\d,\d+,\d", text)

    def certain(match: re.Match[str]) -> bool:
        after = text[match.end() :]
        beside_unit = bool(_read_unit(after)[0]) or bool(re.match(_OTHER_UNIT, after))
        before = text[: match.start()]
        labelled = bool(re.search(r"[^\W\d_][^\d,;|]{0,20}[:=]\s*[-+]?$", before))
        labelled = labelled or len(found) == 1 and bool(re.search(r"[^\W\d_]\s+[-+]?$", before))
        alone = re.fullmatch(r"\s*[-+]?0,\d+\s*", text) is not None
        return beside_unit or labelled or other_separator or alone

    for match in reversed(found):
        mark = "" if _in_thousands(match, text) else "." if certain(match) else ","
        text = text[: match.start()] + match.group().replace(",", mark) + text[match.end() :]
    return text


def _read_unit(after: str) -> tuple[PressureUnit | None, int, bool]:
    """Pressure unit at the start of `after`, how far it reaches, and whether "vac" follows it."""
    lead = _UNIT_AFTER.match(after)
    if not lead:
        return None, 0, False
    ends: list[int] = []
    position = lead.end()
    while len(ends) < 3 and (word := _WORD.match(after, position)):
        ends.append(word.end(1))
        position = word.end()
    for size in range(len(ends), 0, -1):
        unit = unit_word(after[lead.end() : ends[size - 1]])
        if not unit:
            continue
        rest = after[ends[size - 1] :]
        if re.match(r"\s*[:=]\s*[-+.\d]", rest):
            return None, 0, False  # the name of the next number
        if size > 1 and re.match(r"\s+[-+.\d]", rest) and unit_word(after[lead.end() : ends[size - 2]]):
            continue  # its last word is the name of the next number
        return unit, ends[size - 1], bool(re.match(r"(?i)\s*\(?\s*vac", rest))
    return None, 0, False


def find_numbers(text: str) -> list[Number]:
    """All numbers of a normalised line, left to right; indices ("sensor 1:") and IDs are not numbers."""
    numbers: list[Number] = []
    previous_end = 0
    for match in _NUMBER.finditer(text):
        if match.start() < previous_end or _is_tag(match, text):
            continue
        after = text[match.end() :]
        unit, length, vacuum_word = _read_unit(after)
        other = None if unit else _OTHER_UNIT.match(after)
        word = None if unit or other else _GLUED_WORD.match(after)
        glued = word.group() if word else ""
        if any(c.isdigit() for c in glued):
            continue  # 1A2B, 3rd-party IDs, hex dumps
        value, before = float(match.group(1).replace(",", "")), text[previous_end : match.start(1)]
        named = other.group(1) if other else ""
        numbers.append(Number(value, match.group(1), *match.span(1), before, unit, named, vacuum_word, glued))
        previous_end = match.end() + (other.end() if other else length)
    return numbers


def _is_tag(match: re.Match[str], text: str) -> bool:
    """An integer that is an index or a bracketed tag: "sensor 1:", "(312)", "[0012]", "#3"."""
    if not match.group(1).isdigit():
        return False
    before, after = text[: match.start(1)], text[match.end() :]
    if before.endswith("#") or before.endswith("[") and after.startswith("]"):
        return True
    return bool(re.match(r"\s?(?:[=)]|:(?!\s*$))", after) and re.search(r"(?:^|[A-Za-z(]\s?)$", before))


def temperature_k_of(number: Number, text: str) -> str:
    """The temperature unit letter right after a number ("C", "F", "K") or ""."""
    match = _TEMPERATURE_UNIT.match(text[number.end :])
    return match.group(1) if match else ""


def clock_unit_of(number: Number, text: str) -> float | None:
    """Seconds per unit written right after a number ("12 ms"), or None."""
    match = _TIME_UNIT.match(text[number.end :])
    return {"ms": 1e-3, "us": 1e-6, "sec": 1.0, "s": 1.0}[match.group(1)] if match else None
