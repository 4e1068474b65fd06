"""Which rows of a table are readings, which were missed, and which are remarks, footers or mistakes."""

from __future__ import annotations

from dataclasses import dataclass, field

from leakdown.sheets.before_watch import step_of
from leakdown.sheets.grid import Row, is_lone_fraction, is_rule, is_value, shown
from leakdown.sheets.numbers import is_missing, is_no_reading
from leakdown.sheets.table import Table
from leakdown.sheets.time_cells import Moment, moment


@dataclass
class SortedRows:
    """Rows with a time: `timed`, of which those at `read` hold a pressure; the others by count and line.

    steps: readings above them with the name of a step in place of a time ("valve shut, 40.0").
    """

    timed: list[Row] = field(default_factory=list)
    read: list[int] = field(default_factory=list)
    missed: list[int] = field(default_factory=list)
    moments: list[Moment | None] = field(default_factory=list)
    unreadable: int = 0
    passed: list[Row] = field(default_factory=list)
    steps: list[tuple[str, Row]] = field(default_factory=list)


def sorted_rows(table: Table, time: int, pressure: int) -> SortedRows:
    """Every row of `table` put where it belongs. Raises InputError for a reading that lacks its time."""
    check_fields(table, pressure)
    result = SortedRows()
    last = _last_reading(table.rows, time, pressure)
    for index, row in enumerate(table.rows):
        if is_rule(row) or row.cells == table.heading_cells:
            continue
        found = moment(row.cell(time))
        step = None if found or result.read else _step(row)
        if step and is_value(row.cell(pressure)):
            result.steps.append((step, row))
            continue
        if _is_text_row(table, row, time, pressure, found, tail=index > last):
            result.passed.append(row)
            continue
        cell = row.cell(pressure)
        if is_missing(cell):
            result.missed.append(row.line)
        elif is_no_reading(cell):
            result.unreadable += 1
        else:
            result.read.append(len(result.timed))
        result.timed.append(row)
        result.moments.append(found)
    return result


def _step(row: Row) -> str | None:
    """The step before the watch that a row without a time names in any of its cells."""
    names = (step_of(shown(cell)) for cell in row.cells if not is_value(cell))
    return next((name for name in names if name in ("shut", "topped_up", "watch")), None)


def _last_reading(rows: list[Row], time: int, pressure: int) -> int:
    for index in range(len(rows) - 1, -1, -1):
        row = rows[index]
        if is_value(row.cell(pressure)) and moment(row.cell(time)) is not None:
            return index
    return -1


def _is_text_row(table: Table, row: Row, time: int, pressure: int, found: Moment | None, tail: bool) -> bool:
    """Whether a row is no reading at all: a remark across the sheet, a signature, an average."""
    when, reading = row.cell(time), row.cell(pressure)
    if found is not None and not tail and not is_missing(when):
        return False
    others = [cell for i, cell in enumerate(row.cells) if i not in (time, pressure) and not is_missing(cell)]
    if is_missing(when):
        worded = any(c.isalpha() for cell in others for c in shown(cell))
        if is_missing(reading) or not is_value(reading) or (tail and worded):
            return True
        raise table.grid.refuse("no time", row.line, cell=shown(reading))
    if found is not None and not (tail and found.kind == "date"):
        return False
    if tail:
        starts = [shown(cell).lstrip("-+.,~ ")[:1].isdigit() for cell in (when, reading)]
        return not starts[0] or (not starts[1] and found is not None) or is_missing(reading)
    return not shown(when)[0].isdigit() and not is_value(reading) and not any(map(is_value, others))


def check_fields(table: Table, pressure: int) -> None:
    """Refuse rows with more values than there are headings: decimal commas in a comma-separated file."""
    width = max((i + 1 for i, h in enumerate(table.headings) if h.text), default=0)
    if not table.grid.delimiter:
        return
    if not width:
        _check_loose_fractions(table, pressure)
        return
    name = "too many fields/commas" if table.grid.delimiter == "," else "too many fields"
    for row in table.rows:
        more = sum(is_value(cell) for cell in row.cells[width:])
        if more and is_value(row.cell(0)):
            fields = max(i + 1 for i in row.filled())
            raise table.grid.refuse(name, row.line, headings=width, fields=fields)
    _check_remarks(table, pressure)


def _check_loose_fractions(table: Table, pressure: int) -> None:
    """Refuse a fraction that stands apart from its whole number, where no heading says which column it is."""
    for row in table.rows:
        loose = [cell for cell in row.cells[pressure + 1 :] if is_lone_fraction(cell)]
        if loose and is_value(row.cell(pressure)):
            raise table.grid.refuse("loose fraction", row.line, part=loose[0], cell=shown(row.cell(pressure)))


def _check_remarks(table: Table, pressure: int) -> None:
    """The same mistake with a remarks column to swallow the decimals: "0,2,00," under t, p, remarks."""
    after = pressure + 1
    if table.grid.delimiter != "," or table.heading(after).role != "remark":
        return
    values = [shown(row.cell(after)) for row in table.rows if is_value(row.cell(pressure))]
    if len(values) > 1 and all(value.isdigit() for value in values):
        raise table.grid.refuse("remarks of numbers", table.rows[0].line, first=values[0])
