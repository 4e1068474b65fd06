"""Which column holds the times, and which one the pressures."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from leakdown.errors import InputError
from leakdown.quantities import pressure_unit
from leakdown.sheets.grid import Row, is_value
from leakdown.sheets.numbers import number_value, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.other_pressure_columns import check_loss, check_two_ways, is_pressure_reading, pascal
from leakdown.sheets.table import NoTable, Table
from leakdown.sheets.time_cells import moment
from leakdown.tuned import tuned
from leakdown.vocabulary import plain

_T = tuned("sheets")
_LOOK = 2000  # rows looked at to judge a column


def time_column(table: Table, but: int | None = None) -> int:
    """Index of the time column; elapsed with a unit before elapsed before clock. Raises InputError."""

    def rank(index: int) -> tuple[bool, bool, bool]:
        h = table.headings[index]
        return (h.time_s is None or h.clock, not h.elapsed, h.clock)

    named = [i for i in table.columns("time") if i != but and has_times(table, i)]
    if named:
        return min(named, key=rank)
    dates = [i for i in table.columns("date") if has_values(table, i)]
    if dates:
        return dates[0]
    spare = [i for i in value_columns(table) if i != but and table.heading(i).role in ("other", "number")]
    if len(spare) > 1:
        spare = [i for i in spare if not is_row_number(table, i)]
    if len(spare) == 1 and (but is not None or spare[0] == 0):
        return spare[0]
    if len(spare) == 2 and but is None:
        return spare[0]
    raise _missing(table, "time")


def pressure_column(table: Table, options: ReadingOptions) -> int:
    """Index of the pressure column. Raises InputError when several differ or there is none."""
    if options.column is not None:
        return check_loss(table, _asked_for(table, options.column))
    heads, wanted = table.headings, options.pressure_unit
    named = [i for i in table.columns("pressure") if has_values(table, i)]
    strong = [i for i in named if not heads[i].weak] or [
        i for i in named if len(named) == 1 or not is_row_number(table, i)
    ]
    if not strong:
        return check_loss(table, _unnamed(table))
    strong = _where(strong, lambda i: any(is_pressure_reading(row, i) for row in table.rows))
    if options.direction is not None:
        strong = _where(strong, lambda i: heads[i].vacuum == (options.direction == "vacuum"))
    check_two_ways(table, strong, options)
    strong = _where(strong, lambda i: heads[i].unit is not None or bool(_cell_units(table.rows, i)))
    strong = _where(strong, lambda i: wanted is not None and heads[i].unit_name == wanted.name)
    strong = _where(strong, lambda i: heads[i].absolute == options.absolute)
    if len(strong) > 1:
        _require_agreement(table, strong)
    return strong[0]


def _where(columns: list[int], fits: Callable[[int], bool]) -> list[int]:
    """The columns that fit, or all of them where none does."""
    return [i for i in columns if fits(i)] or columns


def has_values(table: Table, index: int) -> bool:
    """Whether any row under a heading holds a value in this column."""
    return any(is_value(row.cell(index)) for row in table.rows)


def has_times(table: Table, index: int) -> bool:
    """Whether any row under a heading holds a time in this column ("after 30 s" is one, and no value)."""
    return any(moment(row.cell(index)) is not None for row in table.rows)


def value_columns(table: Table) -> list[int]:
    """Columns that hold values in at least half of the first rows that hold any."""
    rows = [row for row in table.rows[:_LOOK] if any(is_value(cell) for cell in row.cells)]
    width = max((len(row.cells) for row in rows), default=0)
    return [i for i in range(width) if 2 * sum(is_value(row.cell(i)) for row in rows) >= len(rows)]


def is_row_number(table: Table, index: int) -> bool:
    """Whether a column only counts its rows: 1, 2, 3..."""
    numbers = [written(row.cell(index)) for row in table.rows[:_LOOK] if is_value(row.cell(index))]
    values = [n.value(".") for n in numbers if n is not None and not n.rest]
    if len(values) < 2 or len(values) != len(numbers) or values[0] not in (0.0, 1.0) or None in values:
        return False
    return bool((np.diff(np.array(values, dtype=float)) == 1).all())


def _unnamed(table: Table) -> int:
    """The pressure column of a table whose headings name none: the one other column of values."""
    if table.columns("pressure"):
        raise NoTable(
            "there are no readings below the headings",
            where=table.grid.source,
            remedy="Give a file with at least two readings.",
        )
    spare = [i for i in value_columns(table) if table.heading(i).role in ("other", "number")]
    in_cells = [i for i in spare if _cell_units(table.rows, i)]
    if len(in_cells) == 1:
        return in_cells[0]
    times = table.columns("time") or table.columns("date")
    if not times and len(spare) == 3 and is_row_number(table, spare[0]):
        spare = spare[1:]
    if times and len(spare) == 1:
        return spare[0]
    if not times and len(spare) == 2:
        return spare[1]
    if not times and len(spare) > 2:
        raise table.grid.refuse(
            f"{len(spare)} columns of numbers and no headings",
            table.rows[0].line,
            'Write headings above them, such as "time (s)" and "pressure (kPa)".',
        )
    raise _missing(table, "pressure")


def _missing(table: Table, what: str) -> InputError:
    if not any(is_value(cell) for row in table.rows for cell in row.cells):
        return NoTable(
            "there are no readings" + (" below the headings" if table.headings else ""),
            where=table.grid.source,
            remedy="Give a file with a time and a pressure column.",
        )
    names = ", ".join(repr(h.name) for h in table.headings)
    return NoTable(
        f"no {what} column found" + (f" among {names}" if names else ""),
        where=table.grid.source,
        remedy='Write headings such as "time (s)" and "pressure (kPa)" above the columns.',
    )


def _asked_for(table: Table, name: str) -> int:
    for i, h in enumerate(table.headings):
        if plain(h.text) == plain(name.strip()):
            return i
    raise table.grid.refuse(
        f"no column {name!r}", table.heading_line, f"Columns: {', '.join(repr(h.name) for h in table.headings)}."
    )


def _cell_units(rows: Sequence[Row], index: int) -> set[str]:
    found = (written(row.cell(index)) for row in rows[:_LOOK])
    return {unit.name for n in found if n and n.rest and (unit := pressure_unit(n.rest))}


def _require_agreement(table: Table, columns: list[int]) -> None:
    """Refuse two pressure columns that do not say the same thing in two units."""
    first, *rest = columns
    for other in rest:
        for row in table.rows:
            if moment(row.cell(0)) is None and not is_value(row.cell(first)):
                continue
            one, two = pascal(table, row, first), pascal(table, row, other)
            if one is None or two is None:
                continue
            apart, larger = abs(abs(one) - abs(two)), max(abs(one), abs(two))
            if apart > _T.same_pressure_share * larger + _T.same_pressure_pa:
                raise table.grid.refuse(
                    f"two pressure columns differ: {table.names(first, other)}",
                    row.line,
                    "Remove one of them, or say which unit or direction to read.",
                )


def seconds_column(table: Table, time: int) -> int | None:
    """The seconds beside a column of whole minutes ("min", "s"), or None. Raises InputError when unclear."""
    if table.heading(time).time_s != 60.0:
        return None
    for index in table.columns("time"):
        if index == time or table.headings[index].time_s != 1.0 or table.headings[index].clock:
            continue
        both = [(_plain(row, time), _plain(row, index)) for row in table.rows]
        known = [(m, s) for m, s in both if m is not None and s is not None]
        if not known or all(abs(60 * m - s) < 1 for m, s in known):
            continue
        if all(m == int(m) and 0 <= s < 60 for m, s in known):
            return index
        raise table.grid.refuse(
            f"two time columns differ: {table.names(time, index)}", table.heading_line, "Remove one of them."
        )
    return None


def _plain(row: Row, index: int) -> float | None:
    number = written(row.cell(index))
    return None if number is None or number.rest else number_value(number, ".")
