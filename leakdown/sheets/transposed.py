"""Readings in a row instead of a column: "time (s);0;10;20" above "pressure (kPa);40;38;36"."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import NamedTuple

from leakdown.sheets.grid import Cell, Grid, Row, is_value, shown
from leakdown.sheets.headings import heading
from leakdown.sheets.numbers import is_missing
from leakdown.sheets.time_cells import moment
from leakdown.vocabulary import known_key

_LABEL_AND_FIRST = re.compile(r"([^\W\d].*?)\s*[:=]\s*(\S.*)")


_ROLES = ("time", "pressure", "temperature")


class _Line(NamedTuple):
    label: str
    role: str
    row: Row
    cells: list[Cell]


def turned(grid: Grid) -> Grid:
    """`grid` with rows and columns exchanged where its rows are headed lists, else `grid` itself.

    Every turned row bears the line of the pressures. Raises InputError for lists that do not fit together.
    """
    lines = [line for row in grid.rows if (line := _labelled(row)) is not None]
    roles = [line.role for line in lines]
    if not {"time", "pressure"} <= set(roles) or any(_is_record(row) for row in grid.rows):
        return grid
    longest = max(len(line.cells) for line in lines if line.role == "time")
    lines = [line for line in lines if line.role in _ROLES or len(line.cells) == longest]
    lists = _joined(grid, lines)
    first = next(line for line in lines if line.role == "pressure")
    width = len(next(line for line in lists if line.role == "time").cells)
    for line in lists:
        while line.cells and line.cells[-1] == "" and len(line.cells) > width:
            line.cells.pop()
        if len(line.cells) > width and line.role != "remark":
            raise grid.refuse("too many values", line.row.line, count=len(line.cells), label=line.label, times=width)
    remarks = [found for row in grid.rows if (found := _remarks(row)) is not None]
    used = {line.row.line for line in [*lines, *remarks]}
    outside = [row for row in grid.rows if row.line not in used]
    top, lists = lines[0].row.line, lists + remarks
    table = [Row(top, [line.label for line in lists])]
    for i in range(width):
        table.append(Row(first.row.line, [line.cells[i] if i < len(line.cells) else "" for line in lists]))
    above, below = [r for r in outside if r.line < top], [r for r in outside if r.line > top]
    return replace(grid, rows=above + table + below)


def _labelled(row: Row) -> _Line | None:
    """A row of a heading and at least two values, or None."""
    cells = list(row.cells)
    apart = _LABEL_AND_FIRST.fullmatch(str(cells[0])) if cells and isinstance(cells[0], str) else None
    if apart and is_value(apart.group(2)) and not is_value(cells[0]):
        cells[:1] = [apart.group(1), apart.group(2)]
    start = next((i for i, cell in enumerate(cells) if is_value(cell)), len(cells))
    label = " ".join(shown(cell) for cell in cells[:start] if cell != "")
    values = cells[start:]
    while values and values[-1] == "":
        values.pop()
    if not label or len(values) < 2 or known_key(label) not in (None, "temperature"):
        return None
    if not all(is_value(cell) or is_missing(cell) or cell == "" for cell in values):
        return None
    head = heading(label)
    return _Line(label, head.role, row, values)


def _remarks(row: Row) -> _Line | None:
    if not row.cells or not isinstance(row.cells[0], str) or heading(row.cells[0]).role != "remark":
        return None
    return _Line(row.cells[0], "remark", row, list(row.cells[1:]))


def _is_record(row: Row) -> bool:
    """Whether a row reads as a time and a reading of its own: then the sheet stands upright."""
    return bool(row.cells) and moment(row.cells[0]) is not None and row.values() >= 2


def _joined(grid: Grid, lines: list[_Line]) -> list[_Line]:
    """Lists that go on further down under the same heading, put together."""
    lists: dict[str, _Line] = {}
    for line in lines:
        before = lists.get(line.label)
        if before is None:
            lists[line.label] = line
        else:
            before.cells.extend(line.cells)
    roles = [line.role for line in lists.values()]
    if roles.count("time") > 1:
        second = [line for line in lists.values() if line.role == "time"][1]
        raise grid.refuse("two lists of times", second.row.line, label=second.label)
    return list(lists.values())
