"""Find the table in a Grid: its heading rows, its columns and the rows below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from leakdown.errors import InputError
from leakdown.quantities import pressure_unit, temperature_k, time_unit_s
from leakdown.sheets.grid import Cell, Grid, Row, is_rule, is_value, shown, split_line, told
from leakdown.sheets.headings import Heading, has_factor, heading, merged
from leakdown.sheets.preamble import loose_pairs, pairs

_SEARCH_ROWS = 400


class NoTable(InputError):
    """No table of readings was found at all (another sheet of the workbook may hold it)."""


@dataclass(frozen=True)
class Table:
    """Headings per column, the rows under them, and the rows above (titles and preamble)."""

    headings: list[Heading]
    rows: list[Row]
    above: list[Row]
    grid: Grid
    heading_line: int | None = None
    heading_cells: list[Cell] = field(default_factory=list)

    def heading(self, index: int) -> Heading:
        """Heading of a column, an empty one where there is none."""
        return self.headings[index] if index < len(self.headings) else Heading()

    def names(self, one: int, other: int) -> str:
        """Two headings, for messages."""
        return f"{self.headings[one].name!r} and {self.headings[other].name!r}"

    def columns(self, role: str) -> list[int]:
        """Indices of the columns with a role."""
        return [i for i, h in enumerate(self.headings) if h.role == role]


def table_of(grid: Grid, columns: Sequence[str] = ()) -> Table:
    """The table of `grid`, under the headings `columns` where they are told; without any, they are empty.

    Raises NoTable for a file without text.
    """
    if not grid.rows:
        raise NoTable(**told("only comments" if grid.comments else "empty"), where=grid.source)
    if columns:
        return _told(grid, columns)
    at = _heading_row(grid.rows)
    if at is not None:
        return _with_headings(grid, at)
    first = next((i for i, row in enumerate(grid.rows) if row.values() >= 2), len(grid.rows))
    width = len(grid.rows[first].cells) if first < len(grid.rows) else 0
    commented = _commented_heading(grid, first, width)
    return Table(commented, grid.rows[first:], grid.rows[:first], grid)


def _told(grid: Grid, columns: Sequence[str]) -> Table:
    """The rows of values under headings that somebody told, "-" for a column without use."""
    first = next((i for i, row in enumerate(grid.rows) if row.values() >= 2), len(grid.rows))
    heads = [Heading(text, "other") if text == "-" else heading(text) for text in columns]
    width = max((len(row.cells) for row in grid.rows[first:]), default=0)
    if width < len(heads):
        raise grid.refuse("fewer columns", named=len(heads), width=width)
    heads += [Heading("-", "other")] * (width - len(heads))
    above = [row for row in grid.rows[:first] if _score(row) <= 0]
    return Table(heads, grid.rows[first:], above, grid)


def _heading_row(rows: list[Row]) -> int | None:
    """Index of the likeliest heading row above the first rows of values."""
    best, best_score = None, 0.0
    for i, row in enumerate(rows[:_SEARCH_ROWS]):
        if row.values() >= 2:
            if best is not None:
                break
            continue
        score = _score(row)
        if score > 0 and score >= best_score:
            best, best_score = i, score
    return best


def _score(row: Row) -> float:
    """How much a row looks like headings: 0 for no, more for time and pressure and units."""
    filled = row.filled()
    if len(filled) < 2 or any(_is_no_heading(row.cells[i]) for i in filled):
        return 0.0
    found = [heading(shown(row.cells[i])) for i in filled]
    roles = {h.role for h in found if not h.weak}
    pressure, time = "pressure" in roles, bool(roles & {"time", "date"})
    weak = any(h.weak for h in found)
    if not (pressure or time):
        return 0.0
    if all(_is_unit(row.cells[i]) for i in filled):
        return 1.0 if pressure and time else 0.2
    known = sum(h.role != "other" for h in found) / len(found)
    return 1.0 * pressure + 1.0 * time + 0.5 * weak + known


def _is_no_heading(cell: Cell) -> bool:
    text = shown(cell)
    if isinstance(cell, str) and has_factor(cell):
        return False
    if is_value(cell) or len(text) > 60 or loose_pairs(text):
        return True
    # "Gauge: 0-60 psi" is a preamble pair, "Time (mm:ss)" and "Time:" are headings.
    return any(any(c.isdigit() for c in value) for _, value in pairs(text)) and "(" not in text and "[" not in text


def _is_unit(cell: Cell) -> bool:
    text = shown(cell).strip("()[] ")
    return (
        pressure_unit(text) is not None
        or time_unit_s(text) is not None
        or temperature_k(0.0, text) is not None
        or text in ("-", "text")
        or text.lower() in ("hh:mm:ss", "mm:ss", "hh:mm", "h:mm:ss", "m:ss")
    )


def _with_headings(grid: Grid, at: int) -> Table:
    first = at
    while first > 0 and _continues_upward(grid.rows[first - 1]):
        first -= 1
    end = at + 1
    while end < len(grid.rows) and (is_rule(grid.rows[end]) or _is_unit_row(grid.rows[end])):
        end += 1
    block = [row for row in grid.rows[first:end] if not is_rule(row)]
    width = max(len(row.cells) for row in block)
    texts = [merged([shown(row.cell(i)) for row in block]) for i in range(width)]
    if grid.delimiter == " ":
        texts = _over_columns(grid, texts, grid.rows[end:], grid.rows[at].line)
    return Table(
        [heading(text) for text in texts],
        grid.rows[end:],
        grid.rows[:first],
        grid,
        grid.rows[at].line,
        grid.rows[at].cells,
    )


def _over_columns(grid: Grid, texts: list[str], rows: list[Row], line: int) -> list[str]:
    """Headings between single blanks, units put to their names, one over each column. Raises InputError."""
    data = [row for row in rows[:_SEARCH_ROWS] if row.values() >= 2]
    columns = max((len(row.cells) for row in data), default=len(texts))
    joined: list[str] = []
    for i, text in enumerate(texts):
        too_many = len(joined) + len(texts) - i > columns
        if joined and too_many and _is_unit(text) and not _is_unit(joined[-1]):
            joined[-1] = f"{joined[-1]} {text}"
        else:
            joined.append(text)
    while len(joined) > columns and heading(joined[-1]).role == "remark":
        joined.pop()
    if len(joined) > columns > 1:
        raise grid.refuse(
            "too many headings", line, count=len(joined), columns=columns, names=", ".join(map(repr, joined[:6]))
        )
    return joined


def _is_unit_row(row: Row) -> bool:
    filled = row.filled()
    units = [_is_unit(row.cells[i]) for i in filled]
    return bool(units) and all(units) and any(shown(row.cells[i]) != "-" for i in filled)


def _continues_upward(row: Row) -> bool:
    """Whether a row above the headings is a merged heading: text, but nothing over the first column."""
    filled = row.filled()
    if not filled or any(_is_no_heading(row.cells[i]) for i in filled) or is_rule(row):
        return False
    return filled[0] > 0 or (len(filled) > 1 and _score(row) >= 2.0)


def _commented_heading(grid: Grid, first: int, width: int) -> list[Heading]:
    """Headings from the last comment above the first row of values, when it fits that row."""
    if first >= len(grid.rows):
        return []
    above = [text for line, text in grid.comments if line < grid.rows[first].line]
    delimiter = grid.delimiter or "  "  # a comment of a workbook is one cell, parted in whatever way
    for text in reversed(above[-3:]):
        cells = split_line(text, delimiter)
        if delimiter.strip() == "" and len(cells) != width:
            cells = split_line(text, " ")
        if len(cells) == width and _score(Row(0, cells)) > 1:
            return [heading(shown(cell)) for cell in cells]
    return []
