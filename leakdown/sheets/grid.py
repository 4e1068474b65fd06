"""A sheet as rows of cells with their line numbers, before anybody knows what they mean."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass
from typing import NamedTuple

from leakdown.errors import InputError
from leakdown.quantities import pressure_unit, time_unit_s
from leakdown.vocabulary import MONTHS

Cell = str | float
"""Text as written, or a number that a workbook stored as a number."""


class Row(NamedTuple):
    """Cells of one line; `line` counts from 1 in the file (or in the workbook's sheet)."""

    line: int
    cells: list[Cell]

    def cell(self, index: int | None) -> Cell:
        """The cell at `index`, blank where the row is shorter."""
        return self.cells[index] if index is not None and index < len(self.cells) else ""

    def filled(self) -> list[int]:
        """Indices of the cells that are not blank."""
        return [i for i, cell in enumerate(self.cells) if cell != ""]

    def values(self) -> int:
        """How many cells look like numbers, quantities, times or dates."""
        return sum(map(is_value, self.cells))

    def text(self) -> str:
        """The row as a line of text."""
        return " ".join(shown(cell) for cell in self.cells if cell != "")


@dataclass(frozen=True)
class Grid:
    """Non-blank rows, comment lines (line, text without the comment sign) and where they came from."""

    rows: list[Row]
    comments: list[tuple[int, str]]
    source: str
    delimiter: str = ""

    def refuse(self, what: str, line: int | None = None, remedy: str = "") -> InputError:
        """An InputError that points at `line` of this file."""
        return InputError(what, where=self.source if line is None else f"{self.source}:{line}", remedy=remedy)


_RULE = re.compile(r"[-=_:+*. ]*[-=_][-=_:+*. ]*")
_CLOCK = re.compile(
    r"\d{1,4}[-/.:]\d{1,2}(?:[-/.:]\d{1,4})?(?:[T ,]*[\d:.,]+)?\s*"
    r"(?:[AaPp]\.?\s?[Mm]\.?|Z|[-+]\d\d:?\d\d|[Uu]hr|h|min)?"
)
_PLAIN = re.compile(r"-?[0-9]+(?:[.,][0-9]+)?")
_MONTH = re.compile(rf"(?:\d{{1,2}}\.?[-/. ])?(?:{'|'.join(MONTHS)}|mär)[a-z]*[-/. ,]*\d{{1,4}}.*", re.IGNORECASE)
_VALUE = re.compile(
    r"(?:[~≈]|ca\.?\s?)?\s*[-+\u2212\u2013]?\s*(?:\d+(?:[.,'\u2019\u00a0\u202f]\d+)*[.,]?|[.,]\d+|(?=[½¼¾⅛-⅞⅓⅔]))"
    r"(?:[eE][-+]?\d+)?\s?[½¼¾⅛⅜⅝⅞⅓⅔⅕-⅚⅒]?(?:\s*(?:[^\W\d_]|[\"'\u2032\u2033°%])[^;|\t]{0,17})?"
)
_GROUPED = re.compile(r"[-+\u2212]?\d{1,3}(?: \d{3})+(?:[.,]\d+)?(?:\s*[^\W\d_][^;|\t]{0,15})?")
_FRACTION = re.compile(
    r"[-+\u2212]?(?:\d+ ?(?:[-+& \u2013]|and|und|et) ?)?\d{1,2} ?[/\u2044] ?\d{1,2}"
    r"(?: ?[^\W\d_\"][^;|\t,]{0,15})?"
)


def shown(cell: Cell) -> str:
    """A cell as the user sees it, for headings and messages."""
    return cell if isinstance(cell, str) else f"{cell:.12g}"


def is_plain(text: str) -> bool:
    """Whether a text is digits and at most one point or comma, as nearly every cell of a log is."""
    return _PLAIN.fullmatch(text) is not None


def is_value(cell: Cell, spaced: bool = True) -> bool:
    """Whether a cell looks like a number, a quantity, a time or a date (`spaced`: "1 301,5" counts)."""
    if not isinstance(cell, str):
        return True
    text = cell.strip()
    if is_plain(text):
        return True
    if not text or len(text) > 45 or not any(c.isnumeric() for c in text[:6]):
        return False
    forms = (_VALUE, _CLOCK, _MONTH, _FRACTION, *([_GROUPED] if spaced else []))
    return any(form.fullmatch(text) for form in forms)


def is_rule(row: Row) -> bool:
    """Whether a row only draws a line: cells of dashes or equal signs (more than one sign somewhere)."""
    if row.cells and (not isinstance(row.cells[0], str) or row.cells[0][:1].isdigit()):
        return False
    texts = [cell for cell in row.cells if cell != ""]
    return all(isinstance(t, str) and len(t) < 300 and _RULE.fullmatch(t) for t in texts) and any(
        len(str(t)) > 2 for t in texts
    )


_PART = re.compile(r"\d{1,2}[/\u2044](?:2|3|4|5|6|8|10|16|32)(?:\s.*)?|[½¼¾⅛⅜⅝⅞⅓⅔].*")
_WHOLE = re.compile(r"[-+]?\d{1,3}")


def is_lone_fraction(cell: Cell) -> bool:
    """Whether a cell is a fraction without a whole number ("3/4", "1/2 psi")."""
    return isinstance(cell, str) and _PART.fullmatch(cell) is not None


def whole_fractions(rows: list[Row]) -> list[Row]:
    """Rows with each whole number and the fraction behind it in one cell.

    A row is put together only where it is longer than the rows without fractions, and from its end; where
    every row has a fraction, only the first number of a row (the time) is left alone.
    """
    parted = [any(map(is_lone_fraction, row.cells)) for row in rows]
    plain = [len(r.cells) for r, apart in zip(rows, parted, strict=True) if not apart and r.values() >= 2]
    width = Counter(plain).most_common(1)[0][0] if plain else None
    return [_joined(row, width) if apart else row for row, apart in zip(rows, parted, strict=True)]


def _joined(row: Row, width: int | None) -> Row:
    cells = list(row.cells)
    for i in range(len(cells) - 1, 0, -1):
        if width is not None and len(cells) <= width:
            break
        whole = cells[i - 1]
        first = i == 1 and width is None and len(cells) < 3
        if is_lone_fraction(cells[i]) and isinstance(whole, str) and _WHOLE.fullmatch(whole) and not first:
            cells[i - 1 : i + 1] = [f"{whole} {cells[i]}"]
    return Row(row.line, cells)


_CANDIDATES = ("\t", ";", "|", ",", "  ", " ")  # two blanks: aligned columns; one: any white space
_SEP_LINE = re.compile(r'"?sep=(.)"?[,;\s]*', re.IGNORECASE)
_COMMENT = re.compile(r'\s*"?(#(?!\d+\s*[,;\t|])|//|\*|%|!|REM\b)')
_DATE = re.compile(r"\d{1,4}([-/.])\d{1,2}\1\d{1,4}")
_CLOCK_CELL = re.compile(r"\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?")
_TIMES = ("x", "\u00d7", "*")  # of a unit with a factor, "kPa x 10"
_SAMPLE = 300


def grid_of(text: str, source: str) -> Grid:
    """Rows and comments of `text`. Never fails: an unreadable text simply holds no values."""
    lines = _unwrapped(text.split("\n"))
    forced = _SEP_LINE.fullmatch(lines[0].strip()) if lines else None
    if not forced and lines and re.fullmatch(r'"?sep="?\s*', lines[0]) and "\t" in lines[0]:
        forced = _SEP_LINE.fullmatch("sep=\t")
    delimiter = forced.group(1) if forced else _delimiter(lines)
    comments: list[tuple[int, str]] = []
    rows: list[Row] = []
    for number, line in _logical(lines, delimiter, 1 if forced else 0):
        if not line.strip():
            continue
        if _is_comment(line, delimiter):
            comments.append((number, line.strip().strip('"').lstrip("#/;*%! \t").rstrip(delimiter + " \t")))
            continue
        cells = split_line(line, delimiter)
        if any(cell != "" for cell in cells):
            rows.append(Row(number, cells))
    return Grid(whole_fractions(rows) if delimiter == " " else rows, comments, source, delimiter)


def _unwrapped(lines: list[str]) -> list[str]:
    """Lines that a double export put whole into quotes, without those quotes."""
    filled = [line.strip() for line in lines if line.strip()]
    if filled and all(re.fullmatch(r'"[^"]*[,;\t][^"]*"', line) for line in filled[:_SAMPLE]):
        return [line.strip().strip('"') for line in lines]
    return lines


def _is_comment(line: str, delimiter: str) -> bool:
    if delimiter != ";" and line.lstrip().startswith(";"):
        return True
    match = _COMMENT.match(line)
    if not match:
        return False
    rest = line[match.end() :].lstrip()
    # A lone sign in the first cell is a heading or a tick, not a comment.
    return not (delimiter.strip() and rest.startswith(delimiter)) and not (
        delimiter == "\t" and line[match.end() :].startswith("\t")
    )


def _delimiter(lines: list[str]) -> str:
    sample = [line for line in lines if line.strip() and not _COMMENT.match(line)][:_SAMPLE]
    scores = {c: sum(_is_data(split_line(line, c), c) for line in sample) for c in _CANDIDATES}
    best = max(scores.values())
    if best:
        likely = next(c for c in _CANDIDATES if scores[c] >= 0.7 * best)
        blanks = next((c for c in ("  ", " ") if scores[c] >= scores[","]), None)
        return blanks if likely == "," and blanks and _only_decimal_commas(sample) else likely
    counts = {c: sum(len(split_line(line, c)) > 1 for line in sample) for c in _CANDIDATES}
    best = max(counts.values())
    return next(c for c in _CANDIDATES if counts[c] >= 0.7 * best) if best else ","


def _only_decimal_commas(sample: list[str]) -> bool:
    """Whether every comma stands between two digits and no fraction does: decimal commas, blanks between."""
    data = [line for line in sample if _is_data(split_line(line, " "), " ")]
    return not any(re.search(r"\d/\d|(?<!\d),|,(?!\d)", line) for line in data)


def _is_data(cells: list[Cell], delimiter: str) -> bool:
    spaced = delimiter in "\t;|"
    return sum(is_value(cell, spaced) for cell in cells) >= 2


def _logical(lines: list[str], delimiter: str, skip: int) -> list[tuple[int, str]]:
    """(line number, text) with quoted line breaks (headings of a spreadsheet) joined."""
    joined: list[tuple[int, str]] = []
    opening = re.compile(rf'(?:^|{re.escape(delimiter)})\s*"')
    index = skip
    while index < len(lines):
        line, taken = lines[index], 1
        if '"' in line and line.count('"') % 2 and opening.search(line):
            for extra in range(1, 4):
                whole = " ".join(lines[index : index + extra + 1])
                if whole.count('"') % 2 == 0 and index + extra < len(lines):
                    line, taken = whole, extra + 1
                    break
        joined.append((index + 1, line))
        index += taken
    return joined


def split_line(line: str, delimiter: str) -> list[Cell]:
    """Stripped cells of one line."""
    if delimiter == "  ":
        return [cell.strip().strip('"') for cell in re.split(r"\s{2,}|\t", line.strip())]
    if delimiter == " ":
        return _blank_separated(line)
    if delimiter == "|":
        line = line.strip().removeprefix("|").removesuffix("|")
    if '"' in line and line.count('"') % 2 == 0:
        try:
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
            return [cell.strip() for cell in cells]
        except (csv.Error, StopIteration):
            pass
    return [cell.strip() for cell in line.split(delimiter)]


def _blank_separated(line: str) -> list[Cell]:
    """Cells between blanks, with units, am/pm, brackets and dates put back to what they belong to."""
    cells: list[str] = []
    glue = False
    for token in line.split():
        if cells and (glue or _belongs(cells[-1], token)):
            cells[-1] = f"{cells[-1]} {token}"
        else:
            cells.append(token)
        glue = token == "/" or _is_open(cells[-1]) or token in _TIMES
    return [cell.strip('"') for cell in cells]


def _is_open(text: str) -> bool:
    """Whether a bracket of a heading is still open: "[hPa"."""
    return any(text.count(one) > text.count(other) for one, other in ("()", "[]"))


def _belongs(before: str, token: str) -> bool:
    if token in _TIMES and pressure_unit(before) is not None:
        return True
    if token[0] in "([/" or token.lower().replace(".", "") in ("am", "pm", "abs", "gauge"):
        return True
    if _DATE.fullmatch(before) and _CLOCK_CELL.fullmatch(token):
        return True
    unit = pressure_unit(token) is not None or time_unit_s(token) is not None
    return unit and before[-1].isnumeric()
