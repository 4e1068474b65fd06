"""A shape of line that the recogniser has locked on to: how it is read, in code and in words.

Lines that differ from an understood one only in their digits take a short cut.
"""

from __future__ import annotations

import re
import statistics
from dataclasses import dataclass
from typing import Literal

from leakdown.live.lines.candidates import OVERFLOW, Candidate
from leakdown.live.lines.labels import label
from leakdown.live.lines.nmea import checksum
from leakdown.live.lines.numbers import plain_signs
from leakdown.live.lines.table import BURST, Heading, bare_row, is_burst, row_by_heading
from leakdown.quantities import PressureUnit

NO_UNIT = "no unit given by the gauge"
Kind = Literal["place", "heading", "column", "repeats", "comma"]


@dataclass(frozen=True)
class Lock:
    """`key` for kind "place", `head` for "heading", `width` and `column` for bare rows."""

    kind: Kind
    account: str
    key: str = ""
    unit: PressureUnit | None = None
    head: Heading | None = None
    width: int = 0
    column: int = 0


@dataclass(frozen=True)
class Read:
    """What a locked shape made of a line: a value, or why none."""

    value: float | None
    why: str = ""
    unit: PressureUnit | None = None
    number: str = ""
    temperature_degc: float | None = None
    device_s: float | None = None
    flips_sign: bool = False


def base_of(key: str) -> str:
    """A key without its unit."""
    return key.rsplit("|", 1)[0]


def read_place(lock: Lock, found: list[Candidate], why: str) -> Read:
    """The candidate at the locked place; another place on the same line is never taken instead."""
    for one in found:
        if one.key == lock.key:
            return Read(
                one.value, "", one.unit, one.number, one.temperature_degc, one.device_s, one.flips_sign
            )
    return Read(None, why or "not the line that carries the pressure")


def read_row(lock: Lock, text: str) -> Read:
    """A row of a table, by heading or by column."""
    if lock.kind == "heading" and lock.head is not None:
        value, clock, warmth, shown = row_by_heading(lock.head, text)
        if value is None:
            return Read(None, "not a row of this table")
        return Read(value, "", lock.unit, shown, warmth, clock)
    if lock.kind == "comma":
        plain = plain_signs(text).strip()
        if re.fullmatch(r"[-+]?\d+,\d+", plain):
            return Read(float(plain.replace(",", ".")), "", lock.unit, plain.replace(",", "."))
        return Read(None, "no number of the usual form")
    values = bare_row(text)
    if values is None or len(values) != lock.width:
        return Read(None, "not a row of this table")
    if lock.kind == "repeats":
        if not is_burst(values):
            return Read(None, f"the repeats on this line differ by more than {BURST:.0%}")
        return Read(statistics.median(values), "", lock.unit)
    return Read(values[lock.column], "", lock.unit)


def account_of_place(one: Candidate) -> str:
    """ "Took the number after 'press' for the pressure, in kPa (unit beside it)."""
    if one.key.startswith("JSON"):
        what = f"the JSON key {one.label!r}"
    elif one.key.startswith("XDR"):
        what = f"the pressure field of {one.label!r}"
    elif one.key.startswith("LONE") or one.key.startswith("UNIT") and not one.label:
        what = "the only number on the line" if one.key.startswith("LONE") else "the number beside the unit"
    else:
        what = f"the number after {one.label!r}"
    unit = f"in {one.unit.name}" if one.unit else NO_UNIT
    sign = "; vacuum, so counted as negative" if one.flips_sign else ""
    return f"took {what} for the pressure, {unit}{sign}"


def account_of_heading(head: Heading) -> str:
    """The heading's story in words."""
    unit = f"in {head.unit.name}" if head.unit else NO_UNIT
    clock = f", its clock from column {head.clock + 1}" if head.clock is not None else ""
    where = f"column {head.pressure + 1} of {head.columns} ({head.about.text!r})"
    return f"took {where} for the pressure, {unit}{clock}"


def decimals_of(number: str) -> int:
    """Figures after the point, -1 for exponents and texts that are no plain number."""
    if not re.fullmatch(r"[-+]?\d*\.?\d*", number):
        return -1
    return len(number.partition(".")[2])


_NUMBERS = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_NEVER = re.compile(r"(?i)stat|err|fault|\d,\d|[?~<>*]")
_SUMMED = re.compile(r"[$!]?([^*]+)\*([0-9A-Fa-f]{2})")
_MAX_KNOWN = 64
_SCALES = {"temperature": (1.0,), "time": (1.0, 1e-3, 1e-6, 60.0)}
ANY = -2
"""JSON numbers may drop figures: no count of them is expected."""


@dataclass(frozen=True)
class _Known:
    pressure: int
    decimals: int
    flips_sign: bool
    unit: PressureUnit | None
    temperature: int | None
    clock: int | None
    clock_unit_s: float
    refusal: str


class Skeletons:
    """Skeletons understood so far, bounded."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, ...], _Known] = {}

    def read(self, text: str) -> Read | None:
        """The reading of a line whose skeleton is known, else None."""
        parts = _NUMBERS.split(_without_sum(text))
        known = self._known.get(tuple(parts[::2]))
        if known is None:
            return None
        if known.refusal:
            return Read(None, known.refusal)
        number = parts[known.pressure]
        if known.decimals != ANY and decimals_of(number) != known.decimals:
            return None
        value = float(number)
        if abs(value) >= OVERFLOW:
            return None
        if known.flips_sign and value > 0:
            value = -value
        temperature = float(parts[known.temperature]) if known.temperature is not None else None
        clock = float(parts[known.clock]) * known.clock_unit_s if known.clock is not None else None
        return Read(value + 0.0, "", known.unit, "" if known.decimals == ANY else number, temperature, clock)

    def learn(self, text: str, read: Read) -> None:
        """Remember a line that was understood, when its numbers can be told apart."""
        text = _without_sum(text)
        if len(self._known) >= _MAX_KNOWN or _NEVER.search(text):
            return
        parts = _NUMBERS.split(text)
        key = tuple(parts[::2])
        if read.value is None:
            if len(parts) > 1 and not read.why.startswith("torn"):
                self._known[key] = _Known(0, 0, False, None, None, None, 1.0, read.why)
            return
        numbers = {i: float(parts[i]) for i in range(1, len(parts), 2)}
        pressure = [i for i, v in numbers.items() if v == read.value or read.flips_sign and v == -read.value]
        warmth, warmth_known = _place(parts, numbers, read.temperature_degc, "temperature")
        clock, clock_known = _place(parts, numbers, read.device_s, "time")
        if len(pressure) == 1 and warmth_known and clock_known:
            scale = 1.0 if clock is None else clock[1]
            self._known[key] = _Known(
                pressure[0],
                decimals_of(parts[pressure[0]]) if read.number else ANY,
                read.flips_sign,
                read.unit,
                warmth[0] if warmth else None,
                clock[0] if clock else None,
                scale,
                "",
            )


def _without_sum(text: str) -> str:
    """The line without its *HH where that is its right checksum; as it is where not."""
    if text[-3:-2] != "*":
        return text
    match = _SUMMED.fullmatch(text)
    return text[:-3] if match and checksum(match.group(1)) == int(match.group(2), 16) else text


def _place(
    parts: list[str], numbers: dict[int, float], value: float | None, quantity: str
) -> tuple[tuple[int, float] | None, bool]:
    """Where `value` stands among the numbers, and whether that is beyond doubt (equal ones: by label)."""
    if value is None:
        return None, True
    scales = _SCALES[quantity]
    places = [(i, scale) for i, v in numbers.items() for scale in scales if v and v * scale == value]
    if len(places) > 1:
        places = [p for p in places if label(parts[p[0] - 1].strip(" :=,;|")).quantity == quantity]
    return (places[0], True) if len(places) == 1 else (None, False)
