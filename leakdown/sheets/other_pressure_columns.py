"""Pressure columns beside the one that is read: another test, another unit, or one that is passed over."""

from __future__ import annotations

from dataclasses import replace

from leakdown.quantities import pressure_unit
from leakdown.recording import Doubt
from leakdown.sheets.grid import Row, is_value
from leakdown.sheets.headings import DERIVED
from leakdown.sheets.numbers import number_value, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.table import Table
from leakdown.sheets.time_cells import moment
from leakdown.vocabulary import words_of

_ONE_TEST = "Give --direction pressure or --direction vacuum, or save each test as a file of its own."


def is_pressure_reading(row: Row, index: int) -> bool:
    """Whether a cell holds a pressure other than a plain zero."""
    number = written(row.cell(index)) if is_value(row.cell(index)) else None
    return number is not None and (number_value(number, ".") or 0.0) != 0.0


def check_loss(table: Table, index: int) -> int:
    """`index`, unless the column holds losses, targets or other things that are no readings."""
    head = table.heading(index)
    known = set(words_of(head.text))
    if head.loss:
        raise table.grid.refuse(
            f"column {head.name!r} holds losses, not pressures",
            table.heading_line,
            "Write the pressures themselves, as the gauge showed them.",
        )
    if head.role == "other" and known & DERIVED:
        raise table.grid.refuse(
            f"column {head.name!r} is not what a gauge read",
            table.heading_line,
            'Write the pressures themselves under a heading such as "pressure (kPa)".',
        )
    return index


def check_factors(table: Table, columns: tuple[int, ...]) -> None:
    """Refuse headings with a factor that cannot be told, in the columns that are used."""
    for head in map(table.heading, columns):
        if head.unclear:
            raise table.grid.refuse(
                f"heading {head.name!r} has a factor or a part of a unit",
                table.heading_line,
                "Write the readings in a plain unit, such as kPa.",
            )


def of_one_test(table: Table, chosen: int, options: ReadingOptions) -> tuple[Table, list[str]]:
    """The table without the rows of another test in another column. Raises InputError for an open choice."""
    for other in table.columns("pressure"):
        if other == chosen or table.headings[other].weak:
            continue
        rows = [row for row in table.rows if is_pressure_reading(row, other) and _has_time(table, row)]
        apart = [row for row in rows if not is_value(row.cell(chosen))]
        if not apart or (not _two_ways(table, chosen, other) and len(apart) <= len(rows) - len(apart)):
            continue
        if options.direction is None or not _two_ways(table, chosen, other):
            raise table.grid.refuse(
                f"two tests in one sheet: readings under {table.headings[chosen].name!r} and, in other rows, "
                f"under {table.headings[other].name!r}",
                apart[0].line,
                _ONE_TEST,
            )
        lines = {row.line for row in apart}
        kept = [row for row in table.rows if row.line not in lines]
        remark = f"{len(apart)} rows of the other test, under {table.headings[other].name!r}, left out"
        return replace(table, rows=kept), [remark]
    return table, []


def _has_time(table: Table, row: Row) -> bool:
    """Whether a row has a time anywhere."""
    times = table.columns("time") or table.columns("date") or [0]
    return any(moment(row.cell(i)) is not None for i in times)


def _two_ways(table: Table, one: int, other: int) -> bool:
    return table.headings[one].vacuum != table.headings[other].vacuum


def check_two_ways(table: Table, columns: list[int], options: ReadingOptions) -> None:
    """Refuse a pressure and a vacuum test side by side, where nobody said which one to read."""
    for other in columns[1:]:
        both = [r for r in table.rows if all(is_pressure_reading(r, i) for i in (columns[0], other))]
        if options.direction is None and _two_ways(table, columns[0], other) and both:
            raise table.grid.refuse(
                f"two pressure columns differ, a pressure and a vacuum test: {table.names(columns[0], other)}",
                both[0].line,
                _ONE_TEST,
            )


def unused_columns(table: Table, used: set[int]) -> list[Doubt]:
    """One doubt that names the columns with values that were not used, or none."""
    names = []
    for i, head in enumerate(table.headings):
        if i in used or head.text in ("", "-") or head.role not in ("pressure", "other"):
            continue
        if any(is_value(row.cell(i)) for row in table.rows):
            names.append(repr(head.name))
    return [Doubt("not-used", f"not used: column {', '.join(names)}")] if names else []


def pascal(table: Table, row: Row, index: int) -> float | None:
    """A pressure cell in Pa by its own or its heading's unit, else as it stands; None for no number."""
    number = written(row.cell(index))
    value = number_value(number, ".") if number else None
    if number is None or value is None:
        return None
    unit = pressure_unit(number.rest) if number.rest else table.headings[index].unit
    return value * (unit.factor_pa if unit else 1.0)
