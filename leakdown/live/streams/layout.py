"""The layouts of a stream: which of a line's numbers is what, learned from the full reader and kept.

A line is words and numbers. Its words and the form of its numbers (whole, with a point, with an exponent, signed)
name its layout; what each number does is found by asking the full reader about the same line with that one number
a little changed. One number moves the pressure, one the clock, one the temperature; others move nothing; a number
whose change alone makes the line no reading (an error code) must stay as it was. So the layout holds whatever the
values: a word for overload, a torn number or any other outlier changes nothing that was learned, and is judged by
itself. Lines that fit a layout cost a hundredth of the full reading.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from leakdown.live.lines.line import OVERFLOW, Sample, split_sum
from leakdown.quantities import temperature_k
from leakdown.tuned import tuned

_T = tuned("live.streams")
_MOST_LAYOUTS, _MOST_NUMBERS = _T.layouts, _T.layout_numbers
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_WITH_COMMAS = re.compile(r"[-+]?(?:(?<![\d.,])\d+,\d+(?![\d.]|,\d)|\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
"""The same where a comma may be the decimal point."""

_DIGITS = re.compile(r"\d+")
_TIGHT = re.compile(r"\d[,:/'-]\d|\d\.\d+[.\d]*\.\d")
"""Digits beside a comma, colon, slash, dash: a date, a clock, thousands. There their count matters too."""

_EVERY_DIGIT = str.maketrans("123456789", "000000000")
_PLAIN = re.compile(r"[-+]?\d*\.?\d*")
_TELLING_DIGITS = 5
_LONGEST_NUMBER = 24
_CLOCK_UNITS_S = (1.0, 1e-3, 1e-6, 60.0, 3600.0)
_WARM_DEGC = (-50.0, 200.0)
Ask = Callable[[str], Sample]


def decimals_of(number: str) -> int:
    """Figures after the point, -1 for exponents and texts that are no plain number."""
    return len(number.partition(".")[2]) if _PLAIN.fullmatch(number) else -1


def _form(text: str) -> str:
    return text.translate(_EVERY_DIGIT) if _TIGHT.search(text) else _DIGITS.sub("0", text)


def _degc(unit: str, number: float) -> float | None:
    kelvin = temperature_k(number, unit)
    return None if kelvin is None else round(kelvin - 273.15, 3)


@dataclass(frozen=True)
class _Layout:
    """A line that was understood, and where its numbers of note stand; those in `must_be` decide by their value."""

    like: Sample
    numbers: re.Pattern[str] = _NUMBER
    must_be: tuple[tuple[int, str], ...] = ()
    pressure: int = 0
    turned: bool = False
    clock: int | None = None
    clock_unit_s: float = 1.0
    temperature: int | None = None
    temperature_unit: str = "C"

    def read(self, text: str, arrival_s: float, raw: str) -> Sample | None:
        """What such a line says; None where it has to be read in full. `text`: without its checksum."""
        numbers = self.numbers.findall(text)
        if any(numbers[i] != text for i, text in self.must_be):
            return None
        if self.like.why:
            return Sample(arrival_s, raw, why=self.like.why)
        number = numbers[self.pressure].replace(",", ".")
        value = float(number)
        if not abs(value) < OVERFLOW:
            return None
        value = (-value if self.turned or self.like.flips_sign and value > 0 else value) + 0.0
        clock_s = None if self.clock is None else _value(numbers[self.clock]) * self.clock_unit_s
        warmth = None if self.temperature is None else _degc(self.temperature_unit, _value(numbers[self.temperature]))
        if warmth is not None and not _WARM_DEGC[0] < warmth < _WARM_DEGC[1]:
            warmth = None
        shown = number if self.like.number else ""
        return Sample(arrival_s, raw, value, self.like.unit, "", clock_s, warmth, shown)


class Layouts:
    """What was learned of a stream, bounded. `ask`: the full reader, pure: a line's text -> what it says."""

    def __init__(self, ask: Ask) -> None:
        self._ask = ask
        self._known: dict[str, list[_Layout]] = {}
        self._seen: set[str] = set()

    def read(self, raw: str, arrival_s: float) -> Sample | None:
        """What a line of a known layout says, else None."""
        text = without_sum(raw)
        known = self._known.get(_form(text))
        if known is None:
            return None
        said = (one.read(text, arrival_s, raw) for one in known)
        return next((sample for sample in said if sample is not None), None)

    def learn(self, raw: str) -> None:
        """Remember the layout of a line that had to be read in full; at its second coming, for it costs some."""
        text = without_sum(raw)
        form = _form(text)
        if form not in self._seen:
            self._seen = {form} | (self._seen if len(self._seen) < _MOST_LAYOUTS else set())
            return
        said = self._ask(text)
        layout = _learned(self._ask, text, said, _NUMBER) or _learned(self._ask, text, said, _WITH_COMMAS)
        if layout is None:
            return
        if form not in self._known and len(self._known) >= _MOST_LAYOUTS:
            del self._known[next(iter(self._known))]
        self._known[form] = [layout, *self._known.get(form, [])][: _T.layout_kinds]


def without_sum(text: str) -> str:
    """The line without its *HH where that is its right checksum; as it is where not."""
    body, right = split_sum(text)
    return body if right else text


def _value(number: str) -> float:
    return float(number.replace(",", "."))


def _learned(ask: Ask, text: str, said: Sample, numbers: re.Pattern[str]) -> _Layout | None:
    spans = [match.span() for match in numbers.finditer(text)]
    if not 0 < len(spans) <= _MOST_NUMBERS:
        return None
    if said.value is None:
        torn = said.why.startswith("torn")
        return None if torn or any(ask(one).value is not None for one in _ordinary(text, spans)) else _Layout(said)
    if max(end - start for start, end in spans) > _LONGEST_NUMBER:
        return None
    roles = _Roles(said, numbers)
    for i, (start, end) in enumerate(spans):
        number = text[start:end]
        other = _changed(number)
        if not roles.hear(i, number, other, ask(text[:start] + other + text[end:])):
            return None
    return roles.layout()


def _changed(number: str) -> str:
    """The same number with its last telling digit another, and nothing else."""
    mantissa = re.split("[eE]", number)[0]
    digits = [i for i, c in enumerate(mantissa) if c.isdigit()]
    leading = next((k for k, i in enumerate(digits) if mantissa[i] != "0"), len(digits) - 1)
    at = digits[min(leading + _TELLING_DIGITS, len(digits)) - 1]
    new = "8" if number[at] == "9" else str(int(number[at]) + 1)
    return number[:at] + new + number[at + 1 :]


def _ordinary(text: str, spans: list[tuple[int, int]]) -> Iterator[str]:
    """The line with ordinary numbers of the same form in place of its own, one by one and all together."""
    for digit in "10":
        plain = partial(_with_digit, digit)
        for start, end in spans:
            yield text[:start] + plain(text[start:end]) + text[end:]
        for start, end in reversed(spans):
            text = text[:start] + plain(text[start:end]) + text[end:]
        yield text


def _with_digit(digit: str, number: str) -> str:
    """Every run of digits made one `digit`, the exponent 0."""
    mantissa, *exponent = re.split("[eE]", number)
    return _DIGITS.sub(digit, mantissa) + ("E0" if exponent else "")


class _Roles:
    """What each number of a line turned out to do."""

    def __init__(self, said: Sample, numbers: re.Pattern[str]) -> None:
        self._said, self._numbers = said, numbers
        self._must_be: list[tuple[int, str]] = []
        self._pressure: tuple[int, bool] | None = None
        self._clock: tuple[int | None, float] = (None, 1.0)
        self._temperature: tuple[int | None, str] = (None, "C")

    def hear(self, i: int, number: str, other: str, answer: Sample) -> bool:
        """What the reader answered with number `i` changed to `other`. False: it cannot be told in these terms."""
        if answer.value is None or answer.unit != self._said.unit:
            self._must_be.append((i, number))
            return True
        pair = _value(number), _value(other)
        moved = (answer.value, answer.device_s, answer.temperature_degc)
        return (
            (moved[0] == self._said.value or self._moves_pressure(i, *pair, moved[0]))
            and (moved[1] == self._said.device_s or self._moves_clock(i, *pair, moved[1]))
            and (moved[2] == self._said.temperature_degc or self._moves_temperature(i, *pair, moved[2]))
        )

    def _moves_pressure(self, i: int, number: float, other: float, answer: float | None) -> bool:
        fits = [sign for sign in (1.0, -1.0) if (sign * number, sign * other) == (self._said.value, answer)]
        if not fits or self._pressure is not None:
            return False
        self._pressure = (i, fits[0] < 0 and not self._said.flips_sign)
        return True

    def _moves_clock(self, i: int, number: float, other: float, answer: float | None) -> bool:
        pair = (self._said.device_s, answer)
        unit_s = next((u for u in _CLOCK_UNITS_S if (number * u, other * u) == pair), None)
        if unit_s is None or self._clock[0] is not None:
            return False
        self._clock = (i, unit_s)
        return True

    def _moves_temperature(self, i: int, number: float, other: float, answer: float | None) -> bool:
        pair = (self._said.temperature_degc, answer)
        unit = next((u for u in "CFK" if (_degc(u, number), _degc(u, other)) == pair), None)
        if unit is None or self._temperature[0] is not None:
            return False
        self._temperature = (i, unit)
        return True

    def layout(self) -> _Layout | None:
        """The layout, where the pressure was found, and clock and temperature wherever the line has one."""
        lacks_clock = self._said.device_s is not None and self._clock[0] is None
        lacks_warmth = self._said.temperature_degc is not None and self._temperature[0] is None
        if self._pressure is None or lacks_clock or lacks_warmth:
            return None
        return _Layout(
            self._said, self._numbers, tuple(self._must_be), *self._pressure, *self._clock, *self._temperature
        )
