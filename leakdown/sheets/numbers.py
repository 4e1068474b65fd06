"""Numbers as people and spreadsheets write them, and which sign is the decimal mark."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from leakdown.quantities import tidy
from leakdown.sheets.grid import Cell, is_plain
from leakdown.tuned import tuned
from leakdown.vocabulary import latin_units, phrases, plain, words

Mark = Literal[".", ","]
MARKS: tuple[Mark, Mark] = (".", ",")
_T = tuned("sheets")

_FRACTIONS = {
    **{"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"},
    **{"⅓": " 1/3", "⅔": " 2/3", "⅕": " 1/5", "⅖": " 2/5", "⅗": " 3/5", "⅘": " 4/5"},
    **{"⅙": " 1/6", "⅚": " 5/6", "⅒": " 1/10", "\u2044": "/", "\u2215": "/"},
}
_NUMBER_AND_REST = re.compile(
    r"((?:~|≈|ca\.?|about|approx\.?|circa)\s*)?"
    r"([-+]?\s?(?:\d{1,3}(?:[ ']\d{3})+(?!\d)(?:[.,]\d+)?|\d+(?:[.,]\d+)*[.,]?|[.,]\d+)(?:[eE][-+]?\d+)?)"
    r"(?:(?:\s*(?:[-+&]|and|und|et)\s*|\s+)(\d+)\s?/\s?(\d+)(?!\d))?\s*(.*)",
    re.IGNORECASE | re.DOTALL,
)
_FRACTION = re.compile(r"^([-+]?)\s*(\d{1,2})\s?/\s?(2|3|4|5|6|8|10|16|32)(?![\d/])")
_GROUPS = {group: re.compile(rf"[-+]?[1-9]\d{{0,2}}(?:\{group}\d{{3}})+") for group in ".,"}
_MISSING = re.compile(
    rf"[-\u2014.…?/\\ ]*|n/?a\.?|#n/a|nan|none|null|"
    rf"(?:k\.?a\.?|{'|'.join(phrases('missing'))})\b.*",
    re.DOTALL,
)
_NO_READING = re.compile(
    r"o\.l\.?|ol\.|-?0l|over range|over-range|under range|err(?:or)?\w*|lo|hi|[-+]inf|"
    r"#(?:div/0!|value!|ref!|num!|name\?)|[<>]\s*[-\d.,]+.*",
    re.DOTALL,
)
_NO_READING_WORDS = words("error")


def is_missing(cell: Cell) -> bool:
    """Whether a cell says that no reading was taken: blank, "-", "missed", "n/a"."""
    return isinstance(cell, str) and not cell[:1].isdigit() and _MISSING.fullmatch(plain(cell.strip())) is not None


def is_no_reading(cell: Cell) -> bool:
    """Whether a cell is a gauge's word for "I cannot read this": OL, Err, over range."""
    if not isinstance(cell, str) or (cell[:1].isdigit() and cell[0] != "0"):
        return False
    text = plain(cell.strip())
    return text in _NO_READING_WORDS or _NO_READING.fullmatch(text) is not None


@dataclass(frozen=True, slots=True)
class Written:
    """A number as written: digits, the text behind it (a unit, perhaps), and whether it said "about"."""

    digits: str
    rest: str = ""
    about: bool = False
    added: float = 0.0
    exact: float | None = None

    def value(self, mark: Mark) -> float | None:
        """The number with `mark` as its decimal mark, or None where that cannot be."""
        if self.exact is not None:
            return self.exact
        number = _value(self.digits, mark)
        return None if number is None else number + math.copysign(self.added, -1 if self.digits[0] == "-" else 1)


def plain_fractions(text: str) -> str:
    """Text with the half and quarter signs spelled out: "29½" -> "29 1/2"."""
    for sign, spelled in _FRACTIONS.items():
        text = text.replace(sign, spelled)
    return text


def written(cell: Cell) -> Written | None:
    """Number and rest of a cell such as "28.8psi", "1.301,5" or "29 1/2", or None."""
    if not isinstance(cell, str):
        return Written(repr(cell), exact=float(cell)) if math.isfinite(cell) else None
    text = cell.strip()
    if is_plain(text):  # no need to look closer
        return Written(text)
    text = _FRACTION.sub(r"\g<1>0 \2/\3", latin_units(tidy(plain_fractions(text))).strip())
    match = _NUMBER_AND_REST.fullmatch(text)
    if not match:
        return None
    about, digits, above, below, rest = match.groups()
    if below is not None and (int(above) >= int(below) or not digits.strip("+- ").isdigit()):
        return None  # "6 5/4", "15.6 3/4": no number that anybody writes
    added = int(above) / int(below) if below else 0.0
    return Written(digits.replace(" ", "").replace("'", ""), rest.strip(), bool(about), added)


def _value(digits: str, mark: Mark) -> float | None:
    group = "," if mark == "." else "."
    if group in digits:
        whole, _, decimals = digits.partition(mark)
        if group in decimals or mark in decimals or not _GROUPS[group].fullmatch(whole):
            return None
        digits = digits.replace(group, "")
    try:
        number = float(digits.replace(mark, "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def possible_marks(numbers: Iterable[Written]) -> set[Mark]:
    """The decimal marks that every one of `numbers` could have been written with."""
    marks: set[Mark] = {".", ","}
    for number in numbers:
        if number.exact is None and ("," in number.digits or "." in number.digits):
            marks = {mark for mark in marks if number.value(mark) is not None}
        if not marks:
            break
    return marks


def is_ambiguous(number: Written) -> bool:
    """Whether a number reads differently with a point and with a comma as its decimal mark ("1,301")."""
    values = {number.value("."), number.value(",")}
    return None not in values and len(values) == 2


def _steadier_mark(values: dict[Mark, list[float]]) -> Mark | None:
    """The mark that makes a column of one quantity hang together (1,301 / 1,150 / 998), or None."""
    sizes = {mark: [abs(value) for value in values[mark] if value] or [1.0] for mark in values}
    spans = {mark: max(sizes[mark]) / min(sizes[mark]) for mark in sizes}
    for mark, other in (MARKS, MARKS[::-1]):
        if spans[mark] < _T.steady_span and spans[other] > _T.torn_span:
            return mark
    return None


def decimal_mark(
    numbers: list[Written], others: list[Written], fits: Callable[[list[float]], bool], point: bool = True
) -> Mark | None:
    """The decimal mark of a column, or None where it cannot be told and matters.

    Asked in turn: the column's own forms, the other columns (`others`), how the column hangs together,
    and whether the values can be at all (`fits`). `point`: numbers with points alone have decimal points,
    where nothing else decides.
    """
    marks = possible_marks(numbers)
    if len(marks) == 1:
        return marks.pop()
    unclear = [number for number in numbers if is_ambiguous(number)]
    if not unclear:
        return "."
    if not marks:
        return None
    elsewhere = possible_marks(others)
    if len(elsewhere) == 1:
        return elsewhere.pop()
    values = {mark: [v for n in numbers if (v := n.value(mark)) is not None] for mark in MARKS}
    fitting = [mark for mark in MARKS if fits(values[mark])]
    steadier = _steadier_mark(values) or (fitting[0] if len(fitting) == 1 else None)
    return steadier or ("." if point and all("," not in number.digits for number in unclear) else None)


def number_value(number: Written, mark: Mark) -> float | None:
    """Value with the column's `mark`; a number that can only be written the other way keeps that way."""
    value = number.value(mark)
    return number.value("," if mark == "." else ".") if value is None else value
