"""Lines that are rows of a table: with a heading that names the columns, or bare numbers in columns.

A heading decides at once. Without one, a column is taken only when the others explain themselves: a
clock that runs on, or columns that stand still while one number moves.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from leakdown.live.lines.labels import Label, label, unit_word
from leakdown.live.lines.line import Sample
from leakdown.live.lines.numbers import normalise, plain_signs
from leakdown.quantities import PressureUnit
from leakdown.tuned import tuned

_SEPARATORS = (";", "\t", "|", ",")
_TAGS = re.compile(r"^\s*(?:[A-Za-z][\w+\-]*:\s*)+")
_NUMBER = re.compile(r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?")
_COMMA_NUMBER = re.compile(r"[-+]?\d+,\d+")
_ROW = re.compile(r"[-+]?[\d.][-+\d.eE]*(?:\s*[,;\t ]\s*[-+]?[\d.][-+\d.eE]*)+")
_ONE_NAME = re.compile(r"[A-Za-z_]+(?:\s?[(\[][^)\]]{1,12}[)\]])?")
_NO_NAME = re.compile(r"(?<![A-Za-z_\d.])[-+]?\.?\d|[:=]\s*\S|[:=]$")
_REMARK = re.compile(r"[\s,;]*(?:\s{2,}[A-Za-z].*)?$")
_T = tuned("live.lines")
BURST: float = _T.burst
_CLOCK_STEP: float = _T.clock_step
_TELLING = ("pressure", "time", "temperature")
_COLUMNS = (*_TELLING, "other")


@dataclass(frozen=True)
class Heading:
    """Column names understood: which is the pressure, and where the clock and the temperature are."""

    columns: int
    separator: str
    pressure: int
    about: Label
    clock: int | None
    clock_unit_s: float
    temperature: int | None
    unit: PressureUnit | None


def split_cells(text: str, separator: str) -> list[str]:
    """Cells of a row; blanks separate when `separator` is a blank."""
    if separator == "|":
        text = text.strip().strip("|")
    cells = text.split() if separator == " " else [cell.strip().strip('"').strip() for cell in text.split(separator)]
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    return cells


def heading(text: str) -> Heading | None:
    """The heading that `text` is, or None: at least two names, no numbers, one of them the pressure."""
    for separator in _SEPARATORS:
        cells = split_cells(text.lstrip("#; "), separator)
        if len(cells) >= 2:
            return _heading(cells, separator)
    if _ONE_NAME.fullmatch(text.lstrip("# ")) and label(text.lstrip("# ")).unit is not None:
        return _heading([text.lstrip("# ")], ",")
    words = re.findall(r"\S+(?:\s+[\[(][^\])]*[\])])?", text.lstrip("# "))
    named = all(re.search(r"[_\[(]", w) or label(w).quantity in _COLUMNS for w in words)
    return _heading(words, " ") if len(words) >= 2 and named else None


def _heading(cells: list[str], separator: str) -> Heading | None:
    if any(not cell or len(cell) > 40 or _NO_NAME.search(cell) for cell in cells):
        return None
    labels = [label(cell.strip('"')) for cell in cells]
    pressure = _pressure_column(labels)
    if pressure is None or not any(one.quantity in _TELLING for one in labels):
        return None
    about = labels[pressure]
    clock = next((i for i, one in enumerate(labels) if one.time_unit_s), None)
    clock_unit_s = 0.0 if clock is None else labels[clock].time_unit_s or 0.0
    warmth = next((i for i, one in enumerate(labels) if one.quantity == "temperature"), None)
    return Heading(len(cells), separator, pressure, about, clock, clock_unit_s, warmth, about.unit)


def _pressure_column(labels: list[Label]) -> int | None:
    named = [i for i, one in enumerate(labels) if one.quantity in ("pressure", "ambient") and not one.disqualified]
    if named:
        return min(named, key=lambda i: labels[i].quantity != "pressure")
    rest = [i for i, one in enumerate(labels) if one.quantity in ("unknown", "neutral") and not one.disqualified]
    return rest[0] if len(rest) == 1 else None


def with_units(head: Heading, text: str) -> Heading | None:
    """The heading completed by a second line of units ("s,kPa"), or None when `text` is none."""
    cells = split_cells(text.lstrip("# "), head.separator)
    if len(cells) != head.columns or re.search(r"\d", re.sub(r"(?i)h2o|cm2|in2", "", text)):
        return None
    unit = unit_word(cells[head.pressure])
    return replace(head, unit=head.unit or unit) if unit else None


def cell_number(cell: str) -> float | None:
    """The number that a whole cell is (decimal comma understood), or None."""
    cell = plain_signs(cell)
    if _COMMA_NUMBER.fullmatch(cell):
        cell = cell.replace(",", ".")
    return float(cell) if _NUMBER.fullmatch(cell) else None


def row_by_heading(head: Heading, text: str) -> Sample:
    """What a row under a heading says."""
    cells = split_cells(text, head.separator)
    shown = cells[head.pressure] if len(cells) == head.columns else ""
    number = re.match(r"[-+\d.,eE]+", shown)
    value = cell_number(shown)
    if value is None and number and unit_word(shown[number.end() :]):
        value = cell_number(number.group())
    if value is None:
        return Sample(why="not a row of this table")
    clock = cell_number(cells[head.clock]) if head.clock is not None else None
    device_s = clock * head.clock_unit_s if clock is not None else None
    warmth = cell_number(cells[head.temperature]) if head.temperature is not None else None
    return Sample(value=value, unit=head.unit, device_s=device_s, temperature_degc=warmth, number=shown)


def bare_row(text: str) -> list[float] | None:
    """The numbers of a line that holds nothing else (leading tags "T+35:" and a trailing remark apart)."""
    body = _TAGS.sub("", normalise(text))
    if body.startswith("[") and body.endswith("]"):
        body = body[1:-1]
    if re.search(r"\s{2,}[A-Za-z]", body):
        body = _REMARK.sub("", body.rstrip(" ,;\t")).rstrip(" ,;\t")
    else:
        body = body.strip(" ,;\t")
    if not _ROW.fullmatch(body):
        return None
    cells = [cell for cell in re.split(r"[,;\t ]+", body) if cell]
    values = [float(cell) for cell in cells if _NUMBER.fullmatch(cell)]
    return values if len(values) == len(cells) >= 2 else None


def is_burst(values: list[float]) -> bool:
    """Values so close that they are repeats of one reading."""
    return max(values) - min(values) <= BURST * max(abs(v) for v in values)


def choose_column(rows: list[list[float]]) -> tuple[int | None, str]:
    """The column that holds the pressure in rows of equal length, and why; None when it is not certain."""
    columns = [list(column) for column in zip(*rows, strict=True)]
    clocks = [i for i, c in enumerate(columns) if is_clock(c)]
    left = [i for i in range(len(columns)) if i not in clocks]
    if len(left) == 1 and (len(set(columns[left[0]])) > 1 or all(_sure_clock(columns[i]) for i in clocks)):
        return left[0], "the column that is no clock"
    if len(left) == 1:
        return None, ""  # a slow rise beside a steady temperature looks just like a clock
    moving = [i for i in left if len(set(columns[i])) > 1]
    if len(moving) == 1:
        return moving[0], "the only number that moves"
    alive = [i for i in left if any(columns[i])]
    if len(alive) == 1:
        return alive[0], "the only number that is not zero"
    return None, ""


def comma_is_decimal(texts: list[str]) -> bool:
    """Rows "101,32", "101,28" are single numbers with a decimal comma, not two columns."""
    if not all(_COMMA_NUMBER.fullmatch(t.strip()) for t in texts):
        return False
    tails = [t.strip().split(",")[1] for t in texts]
    heads = [float(t.split(",")[0]) for t in texts]
    return len({len(t) for t in tails}) == 1 and len(set(tails)) > 1 and not is_clock(heads)


def is_clock(column: list[float]) -> bool:
    """Runs on from zero or more in equal steps."""
    steps = [b - a for a, b in zip(column, column[1:], strict=False)]
    return bool(steps) and min(column) >= 0 and min(steps) > 0 and max(steps) <= _CLOCK_STEP * min(steps)


def _sure_clock(column: list[float]) -> bool:
    """Counts whole numbers, starts at zero, or has run evenly for long."""
    return column[0] == 0 or all(v == int(v) for v in column) or len(column) >= _T.clock_rows
