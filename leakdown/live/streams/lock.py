"""A shape of line that the recogniser has locked on to: how it is chosen, read, and told in words.

Lines that differ from an understood one only in their digits take a short cut.
"""

from __future__ import annotations

import re
import statistics
from collections import Counter
from dataclasses import dataclass
from typing import Literal

from leakdown.live.lines.candidates import OVERFLOW, Candidate, MarkedBy
from leakdown.live.lines.labels import label
from leakdown.live.lines.line import Line, Sample, split_sum
from leakdown.live.lines.look import Look
from leakdown.live.lines.numbers import plain_signs
from leakdown.live.lines.table import (
    BURST,
    Heading,
    bare_row,
    choose_column,
    comma_is_decimal,
    is_burst,
    row_by_heading,
    with_units,
)
from leakdown.quantities import PressureUnit
from leakdown.tuned import tuned

NO_UNIT = "no unit given by the gauge"
_T = tuned("live.streams")
Held = tuple[Line, float, Look]
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


def choose(held: list[Held], final: bool) -> Lock | None:
    """The shape that explains the held lines, or None while that is open. `final`: no more time."""
    return _by_heading(held) or _by_place(held, final) or _by_rows(held, final)


def _by_heading(held: list[Held]) -> Lock | None:
    for i, (_, _, look) in enumerate(held):
        head = look.head
        if head is None:
            continue
        for line, _, _ in held[i + 1 :]:
            head = with_units(head, line.text) or head
            if row_by_heading(head, line.text).value is not None:
                return Lock("heading", account_of_heading(head), unit=head.unit, head=head)
    return None


def _by_place(held: list[Held], final: bool) -> Lock | None:
    every = [one for _, _, look in held for one in look.found]
    if not every:
        return None
    counts = Counter(one.key for one in every)
    leading = max(every, key=lambda f: (f.marked_by, counts[f.key]))
    seen = counts[leading.key]
    if leading.marked_by >= MarkedBy.AMBIENT:
        enough = seen >= _T.strong_lines or final
    elif leading.marked_by == MarkedBy.LONE:
        enough = seen >= max(_T.weak_lines, sum(bool(look.row) for _, _, look in held)) or final
    else:
        enough = seen >= (_T.strong_lines if final else _T.weak_lines)
    return lock_on(leading) if enough else None


def _by_rows(held: list[Held], final: bool) -> Lock | None:
    rows = [(line.text, list(look.row)) for line, _, look in held if look.row]
    if not rows or not (final or len(rows) >= _T.weak_lines):
        return None
    width = Counter(len(values) for _, values in rows).most_common(1)[0][0]
    texts = [text for text, values in rows if len(values) == width]
    values = [v for _, v in rows if len(v) == width]
    if width == 2 and comma_is_decimal(texts):
        return Lock("comma", f"took the only number on the line, decimal comma, for the pressure, {NO_UNIT}")
    if all(is_burst(v) for v in values) and any(any(v) for v in values):
        account = f"took the middle one of {width} repeats on a line for the pressure, {NO_UNIT}"
        return Lock("repeats", account, width=width)
    column, reason = choose_column(values) if len(values) >= 2 else (None, "")
    if column is None:
        return None
    account = f"took number {column + 1} of {width} on a line for the pressure ({reason}), {NO_UNIT}"
    return Lock("column", account, width=width, column=column)


def lock_on(one: Candidate) -> Lock:
    """The lock on the place where a candidate stands."""
    return Lock("place", account_of_place(one), one.key, one.sample.unit)


def read_place(lock: Lock, look: Look) -> Sample:
    """The candidate at the locked place; another place on the same line is never taken instead."""
    refusal = Sample(why=look.why or "not the line that carries the pressure")
    return next((one.sample for one in look.found if one.key == lock.key), refusal)


def read_row(lock: Lock, text: str) -> Sample:
    """A row of a table, by heading or by column."""
    if lock.head is not None:
        return row_by_heading(lock.head, text)
    if lock.kind == "comma":
        plain = plain_signs(text).strip()
        if not re.fullmatch(r"[-+]?\d+,\d+", plain):
            return Sample(why="no number of the usual form")
        plain = plain.replace(",", ".")
        return Sample(value=float(plain), number=plain)
    values = bare_row(text)
    if values is None or len(values) != lock.width:
        return Sample(why="not a row of this table")
    if lock.kind == "column":
        return Sample(value=values[lock.column])
    if not is_burst(values):
        return Sample(why=f"the repeats on this line differ by more than {BURST:.0%}")
    return Sample(value=statistics.median(values))


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
    unit = f"in {one.sample.unit.name}" if one.sample.unit else NO_UNIT
    sign = "; vacuum, so counted as negative" if one.sample.flips_sign else ""
    return f"took {what} for the pressure, {unit}{sign}"


def account_of_heading(head: Heading) -> str:
    """The heading's story in words."""
    unit = f"in {head.unit.name}" if head.unit else NO_UNIT
    clock = f", its clock from column {head.clock + 1}" if head.clock is not None else ""
    where = f"column {head.pressure + 1} of {head.columns} ({head.about.text!r})"
    return f"took {where} for the pressure, {unit}{clock}"


def decimals_of(number: str) -> int:
    """Figures after the point, -1 for exponents and texts that are no plain number."""
    return len(number.partition(".")[2]) if _PLAIN.fullmatch(number) else -1


_NUMBERS = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_PLAIN = re.compile(r"[-+]?\d*\.?\d*")
_NEVER = re.compile(r"(?i)stat|err|fault|\d,\d|[?~<>*]")
_MAX_KNOWN = 64
_SCALES = {"temperature": (1.0,), "time": (1.0, 1e-3, 1e-6, 60.0)}
ANY = -2
"""JSON numbers may drop figures: no count of them is expected."""


@dataclass(frozen=True)
class _Known:
    """A sample of such a line, and which of its numbers are what (numbers stand at the odd places)."""

    like: Sample
    pressure: int = 0
    decimals: int = ANY
    temperature: int | None = None
    clock: int | None = None
    clock_unit_s: float = 1.0


class Skeletons:
    """Skeletons understood so far, bounded."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, ...], _Known] = {}

    def read(self, raw: str, arrival_s: float) -> Sample | None:
        """What a line says whose skeleton is known, else None."""
        parts = _NUMBERS.split(_without_sum(raw))
        known = self._known.get(tuple(parts[::2]))
        if known is None:
            return None
        if known.like.why:
            return Sample(arrival_s, raw, why=known.like.why)
        number = parts[known.pressure]
        if known.decimals != ANY and decimals_of(number) != known.decimals:
            return None
        value = float(number)
        if abs(value) >= OVERFLOW:
            return None
        if known.like.flips_sign and value > 0:
            value = -value
        temperature = float(parts[known.temperature]) if known.temperature is not None else None
        clock = float(parts[known.clock]) * known.clock_unit_s if known.clock is not None else None
        if known.decimals == ANY:
            number = ""
        return Sample(arrival_s, raw, value + 0.0, known.like.unit, "", clock, temperature, number)

    def learn(self, sample: Sample) -> None:
        """Remember a line that was understood, when its numbers can be told apart."""
        text = _without_sum(sample.raw)
        if len(self._known) >= _MAX_KNOWN or _NEVER.search(text):
            return
        parts = _NUMBERS.split(text)
        key = tuple(parts[::2])
        if sample.value is None:
            if len(parts) > 1 and not sample.why.startswith("torn"):
                self._known[key] = _Known(sample)
            return
        numbers = {i: float(parts[i]) for i in range(1, len(parts), 2)}
        values = (sample.value, -sample.value if sample.flips_sign else sample.value)
        pressure = [i for i, v in numbers.items() if v in values]
        temperature = _place(parts, numbers, sample.temperature_degc, "temperature")
        clock = _place(parts, numbers, sample.device_s, "time")
        if len(pressure) == 1 and temperature and clock:
            decimals = decimals_of(parts[pressure[0]]) if sample.number else ANY
            self._known[key] = _Known(sample, pressure[0], decimals, temperature[0], *clock)


def _without_sum(text: str) -> str:
    """The line without its *HH where that is its right checksum; as it is where not."""
    body, right = split_sum(text)
    return body if right else text


def _place(
    parts: list[str], numbers: dict[int, float], value: float | None, quantity: str
) -> tuple[int | None, float] | None:
    """Where `value` stands among the numbers (equal ones: by label) and its scale; None when in doubt."""
    if value is None:
        return None, 1.0
    scales = _SCALES[quantity]
    places = [(i, scale) for i, v in numbers.items() for scale in scales if v and v * scale == value]
    if len(places) > 1:
        places = [p for p in places if label(parts[p[0] - 1].strip(" :=,;|")).quantity == quantity]
    return places[0] if len(places) == 1 else None
