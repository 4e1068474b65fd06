"""Fractions in lines that only blanks divide: "15 6 3/4" is 15 and 6 3/4, as many cells as the other rows."""

from __future__ import annotations

import re
from collections import Counter

from leakdown.readers.grid import Cell, Row, is_value

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
    plain = [len(r.cells) for r, apart in zip(rows, parted, strict=True) if not apart and _filled(r) >= 2]
    width = Counter(plain).most_common(1)[0][0] if plain else None
    return [_joined(row, width) if apart else row for row, apart in zip(rows, parted, strict=True)]


def _filled(row: Row) -> int:
    return sum(is_value(cell) for cell in row.cells)


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
