"""A shape that the recogniser has locked on to: how it reads one line, and its account in words."""

from __future__ import annotations

import re
import statistics
from dataclasses import dataclass
from typing import Literal

from leakdown.gauges.lines.candidates import Found
from leakdown.gauges.lines.numbers import plain_signs
from leakdown.gauges.lines.table import BURST, Heading, bare_row, is_burst, row_by_heading
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


def read_place(lock: Lock, found: list[Found], why: str) -> Read:
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


def account_of_place(one: Found) -> str:
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
