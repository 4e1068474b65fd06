"""Which number of one line could be the pressure, and why. Pure and without memory.

Strength of the evidence, strongest first: a pressure label; a pressure unit beside the number; a label
of ambient pressure (a barometer used as a gauge); the only number on the line; the only number after a
label that says nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import IntEnum

from leakdown.live.lines.labels import PRESSURE, Label, Quantity, label, names_error, tokens, unit_word
from leakdown.live.lines.line import OVERFLOW, Sample
from leakdown.live.lines.numbers import Number, clock_unit_of, find_numbers, normalise, temperature_k_of
from leakdown.live.lines.table import is_burst
from leakdown.quantities import PressureUnit, temperature_k

_SPLIT = re.compile(r"[,;|\t{}]|->|\s>\s")
_KEY = re.compile(r"([A-Za-z_][A-Za-z_\d]*)\s*[:=](?!/)")
_UNIT_FIELD = re.compile(r"(?i)\bunits?\s*[:=]\s*\"?([^\s,;|\"]+)")
_STATUS = re.compile(r"(?i)\b(status|stat|state|st|s|flag|quality|error|err|fault)\s*[:=]\s*\"?([\w.+-]+)")
_COUNTED = re.compile(r"(?i)\b(?:sample|reading|entry|line|no|nr|n|seq|idx|index)\.?\s*#?\d+\s*[:)\]]?")
_QUOTED = re.compile(r"['\"]([^'\"]{1,40})['\"]")
_GAUGE = frozenset({"gauge", "gage", "rel", "relative"})
_ABSOLUTE = frozenset({"abs", "absolute"})
_COUNTS = frozenset({"", "count", "counts"})
_NO_ERROR = frozenset({"", "0", "0x0", "0x00", "00", "none", "no", "ok", "false", "0.0"})


class MarkedBy(IntEnum):
    """What marks a number as the pressure, weakest first; only `LABEL`, `UNIT` and `AMBIENT` are strong."""

    TAGGED = 1
    LONE = 2
    AMBIENT = 3
    UNIT = 4
    LABEL = 5


@dataclass(frozen=True)
class Candidate:
    """What the line says if this number is its pressure. `key` tells one place on a line from another."""

    sample: Sample
    marked_by: MarkedBy
    key: str
    label: str = ""


def signed(value: float, vacuum: bool, unit: PressureUnit | None) -> float:
    """A "vacuum" of 12.3 is -12.3 gauge, unless its unit says absolute. Never -0."""
    if vacuum and value > 0 and not (unit and unit.reference == "absolute"):
        return -value
    return value + 0.0


def text_candidates(text: str) -> tuple[list[Candidate], str]:
    """Everything on a line that could be the pressure, and a reason when there is nothing."""
    line = normalise(text)
    numbers = find_numbers(line)
    if not numbers:
        return [], "no number"
    if any(reports_error(*field) for field in _STATUS.findall(line)):
        return [], "the gauge reports an error"
    if _torn(line, numbers):
        return [], "torn: parts of two messages"
    labels = [label(_label_text(n.before)) for n in numbers]
    rest = Sample(device_s=_clock(line, numbers, labels), temperature_degc=_temperature(line, numbers, labels))
    stops = [*(n.start for n in numbers[1:]), len(line)]
    found = [
        one
        for number, about, stop in zip(numbers, labels, stops, strict=True)
        if not _refused(number, about, line, line[number.end : stop])
        and (one := _judge(number, about, len(numbers) == 1, line, rest))
    ]
    return gauge_first(found), "" if found else "no pressure on this line"


def gauge_first(found: list[Candidate]) -> list[Candidate]:
    """Without the absolute pressure where the gauge pressure is shown too."""
    absolute = [one for one in found if _is_absolute(one)]
    gauge = [one for one in found if one not in absolute and _GAUGE.intersection(tokens(one.label))]
    return [one for one in found if one not in absolute] if gauge else found


def _is_absolute(one: Candidate) -> bool:
    by_unit = one.sample.unit is not None and one.sample.unit.reference == "absolute"
    return by_unit or bool(_ABSOLUTE.intersection(tokens(one.label)))


def best(found: list[Candidate]) -> Candidate | None:
    """The strongest candidate; of equals one with a unit (the other is its raw count), then the first."""
    return max(found, key=lambda f: (f.marked_by, f.sample.unit is not None)) if found else None


def _label_text(before: str) -> str:
    """The words that belong to a number: what stands after the last separator or key before it."""
    bare = before.rstrip().rstrip(":=").rstrip()
    pieces = [p for p in _SPLIT.split(bare) if p.strip()]
    piece = _COUNTED.sub(" ", pieces[-1]) if pieces else ""
    return _KEY.sub("", piece).strip(" :=\"'>-").rstrip("([ ")


def _judge(number: Number, about: Label, alone: bool, line: str, rest: Sample) -> Candidate | None:
    unit = number.unit or about.unit or _named_unit(line)
    mark = _mark(number, about, unit, alone, line)
    if mark is None:
        return None
    vacuum = about.vacuum or number.vacuum_word
    value = signed(number.value, vacuum, unit)
    named = _QUOTED.findall(about.text)
    place = _place(about.text) if mark != MarkedBy.UNIT else named[-1] if named else ""
    sample = replace(rest, value=value, unit=unit, number=number.text, flips_sign=vacuum)
    return Candidate(
        sample, mark, f"{mark.name}|{place}|{unit.name if unit else ''}", named[-1] if named else about.text
    )


def _named_unit(line: str) -> PressureUnit | None:
    """The unit that a field of its own names: "VAL=35.2;UNIT=kPa"."""
    match = _UNIT_FIELD.search(line)
    return unit_word(match.group(1)) if match else None


def _place(text: str) -> str:
    """The part of a label that tells channels apart: from the pressure word on, and numbers before it."""
    words = tokens(re.sub(r"#\s*\d+|[\[(]\d+[\])]", " ", text))
    if len(words) == 1 and words[0] in PRESSURE:
        return "p"  # a gauge that says PRESS above ambient and VAC below it is one gauge
    first = next((i for i, word in enumerate(words) if word in PRESSURE), 0)
    return " ".join(word for i, word in enumerate(words) if i >= first or word.isdigit())


def _mark(number: Number, about: Label, unit: PressureUnit | None, alone: bool, line: str) -> MarkedBy | None:
    quantity = about.quantity
    if about.disqualified and not (about.code and number.unit) or number.other_unit and quantity != "neutral":
        return None
    if quantity == "temperature" or quantity == "time" and not number.unit:
        return None
    if quantity == "pressure":
        return MarkedBy.LABEL
    if quantity == "ambient":
        return MarkedBy.AMBIENT
    trusted = quantity != "other" or len(about.text) == 1 or tokens(about.text)[-1:] == ["current"]
    if number.unit and trusted or unit and alone and quantity == "neutral":
        return MarkedBy.UNIT
    if not alone or quantity == "other" or number.other_unit not in _COUNTS:
        return None
    return _mark_of_only(number, quantity, line)


def _mark_of_only(number: Number, quantity: Quantity, line: str) -> MarkedBy | None:
    """The only number on a line, without a unit: bare, or after a label that says nothing."""
    after = line[number.end :]
    around = tokens(line.replace(number.text, "", 1))
    bare = not around or line.strip().lower() in {f"{number.text} {word}" for word in _COUNTS}
    if bare or quantity == "neutral" and not tokens(after):
        return MarkedBy.LONE
    tag = re.fullmatch(r"(?s)\s*[A-Za-z]{1,3}\s*,?\s*|.*[:=]\s*", number.before)
    return MarkedBy.TAGGED if tag and not re.search(r"[A-Za-z]", after) else None


def _refused(number: Number, about: Label, line: str, after: str) -> bool:
    """Too large to be one, or marked as no reading right beside it: >100, 12?, 100.0 kPa OL."""
    if not abs(number.value) < OVERFLOW:
        return True
    lead = line[: number.start]
    if re.search(r"[<≥≤~?]\s*$|[:=]\s*>\s*$|\s>$", lead) and not re.search(r"-\s*>\s*$", lead):
        return True
    if names_error(about.text if about.quantity == "pressure" else number.before.replace("->", " ")):
        return True
    tail = re.split(r"[;|,\t]|\s\S+\s*[:=]", after)[0]
    return names_error(tail) or len(number.glued) > 2


def reports_error(field: str, value: str) -> bool:
    """True for a status field that says there is no reading: error=3, status OVER."""
    return value.lower() not in _NO_ERROR if field.lower() in ("error", "err", "fault") else names_error(value)


def _torn(line: str, numbers: list[Number]) -> bool:
    """Two messages run together: a word stuck to a number, or a key that comes twice."""
    if any(len(n.glued) > 2 for n in numbers):
        return True
    found = list(_KEY.finditer(line))
    if len(found) < 2:
        return False
    ends = [m.start() for m in found[1:]] + [len(line)]
    pairs = [(m.group(1), line[m.end() : end].strip(" ,;|")) for m, end in zip(found, ends, strict=True)]
    keys = [key for key, _ in pairs]
    twice = next((k for i, k in enumerate(keys) if any(_same_key(k, e) for e in keys[:i])), None)
    if twice is None or _both_units(line, twice):
        return False
    return not any(pairs == pairs[:size] * (len(pairs) // size) for size in range(1, len(pairs) // 2 + 1))


def _same_key(key: str, earlier: str) -> bool:
    return key == earlier or len(earlier) > 3 and key.endswith(earlier)


def _both_units(line: str, key: str) -> bool:
    """One pressure shown twice in two units is no tear: "P: 12.3 kPa  P: 1.78 psi"."""
    last = tokens(key)[-1:]
    shown_pa = [
        n.value * n.unit.factor_pa for n in find_numbers(line) if n.unit and tokens(_label_text(n.before))[-1:] == last
    ]
    return len(shown_pa) > 1 and is_burst(shown_pa)


def _temperature(line: str, numbers: list[Number], labels: list[Label]) -> float | None:
    """degC where a number is labelled as a temperature (no unit: degC) or carries C, F or K."""
    for number, about in zip(numbers, labels, strict=True):
        unit = temperature_k_of(number, line)
        if about.quantity == "temperature" or unit and about.quantity in ("other", "unknown", "neutral"):
            kelvin = temperature_k(number.value, unit or ("F" if about.text.endswith("f") else "C"))
            return round(kelvin - 273.15, 3) if kelvin is not None and 223 < kelvin < 473 else None
    return None


def _clock(line: str, numbers: list[Number], labels: list[Label]) -> float | None:
    """Seconds on the gauge's own clock, only where its unit is written."""
    for number, about in zip(numbers, labels, strict=True):
        written = clock_unit_of(number, line)
        if about.quantity == "time" or about.text == "t" and written:
            unit = about.time_unit_s or written
            if unit:
                return number.value * unit
    return None
