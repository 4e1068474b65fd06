"""A sheet as rows of cells with their line numbers, before anybody knows what they mean."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from leakdown.errors import InputError

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
_MONTH = re.compile(
    r"(?:\d{1,2}\.?[-/. ])?(?:jan|feb|m[aä]r|apr|ma[iy]|ju[nl]|aug|sep|o[ck]t|nov|de[cz])[a-z]*"
    r"[-/. ,]*\d{1,4}.*",
    re.IGNORECASE,
)
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


def is_value(cell: Cell, spaced: bool = True) -> bool:
    """Whether a cell looks like a number, a quantity, a time or a date (`spaced`: "1 301,5" counts)."""
    if not isinstance(cell, str):
        return True
    text = cell.strip()
    if _PLAIN.fullmatch(text):
        return True
    if not text or len(text) > 45 or not any(c.isnumeric() for c in text[:6]):
        return False
    return bool(
        _VALUE.fullmatch(text)
        or _CLOCK.fullmatch(text)
        or _MONTH.fullmatch(text)
        or _FRACTION.fullmatch(text)
        or (spaced and _GROUPED.fullmatch(text))
    )


def is_rule(row: Row) -> bool:
    """Whether a row only draws a line: cells of dashes or equal signs (more than one sign somewhere)."""
    if row.cells and (not isinstance(row.cells[0], str) or row.cells[0][:1].isdigit()):
        return False
    texts = [cell for cell in row.cells if cell != ""]
    return all(isinstance(t, str) and len(t) < 300 and _RULE.fullmatch(t) for t in texts) and any(
        len(str(t)) > 2 for t in texts
    )
