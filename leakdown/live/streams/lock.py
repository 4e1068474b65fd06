"""A shape of line that the recogniser has locked on to: how it is chosen, read, and told in words."""

from __future__ import annotations

import re
import statistics
from collections import Counter
from dataclasses import dataclass
from typing import Literal

from leakdown.live.lines.candidates import Candidate, MarkedBy
from leakdown.live.lines.line import Line, Sample
from leakdown.live.lines.look import Look
from leakdown.live.lines.numbers import plain_signs
from leakdown.live.lines.table import (
    BURST,
    Heading,
    bare_row,
    choose_column,
    comma_is_decimal,
    is_burst,
    is_clock,
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
    """`key` for kind "place", `head` for "heading", `width` and `column` for bare rows.

    clock: the column of a bare row that runs on evenly; in what unit, the computer's clock has to tell."""

    kind: Kind
    account: str
    key: str = ""
    unit: PressureUnit | None = None
    head: Heading | None = None
    width: int = 0
    column: int = 0
    clock: int | None = None


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
    clocks = [i for i, one in enumerate(zip(*values, strict=True)) if i != column and is_clock(list(one))]
    return Lock("column", account, width=width, column=column, clock=clocks[0] if len(clocks) == 1 else None)


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
        return Sample(value=values[lock.column], device_s=None if lock.clock is None else values[lock.clock])
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
