"""Grid -> Sheet: the table, its columns and rows, and what the lines around it say."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from leakdown.readers import words
from leakdown.readers.columns import pressure_column, time_column
from leakdown.readers.grid import Cell, Grid, Row, shown
from leakdown.readers.headings import Heading
from leakdown.readers.numbers import Written, written
from leakdown.readers.options import ReadingOptions
from leakdown.readers.preamble import (
    Said,
    loose_pairs,
    note_pair,
    pairs,
    resolution_said,
    row_pairs,
    settle,
    unit_said,
)
from leakdown.readers.rows import Sorted, sorted_rows
from leakdown.readers.table import Table, table_of
from leakdown.recording import Direction

_VACUUM_TITLE = re.compile(
    r"\b(vacuum|vac|vakuum\w*|unterdruck\w*)\b.*\b(test|hold|check|leak|prufung|run)|vakuumtest|"
    r"unterdruckprufung|\b(test|hold|essai|prueba)\b.*\b(vacuum|vakuum|vide|vacio)\b"
)
_ABSOLUTE_TITLE = re.compile(
    r"\babsolute? (?:reading|pressure|value|gauge|druck|kpa|mbar|bar)|"
    r"\b(?:readings?|pressures?|values?|all|gauge)\b.*\babs(?:olute)?\b|\babsolutdr"
)


@dataclass(frozen=True)
class Sheet:
    """A table with its columns chosen and its rows sorted."""

    table: Table
    time: int
    pressure: int
    rows: Sorted
    said: Said
    options: ReadingOptions

    @property
    def grid(self) -> Grid:
        """The grid under the table."""
        return self.table.grid

    def heading(self, index: int) -> Heading:
        """Heading of a column, an empty one where there is none."""
        return self.table.headings[index] if index < len(self.table.headings) else Heading()

    def cells(self, index: int, rows: list[Row]) -> list[Cell]:
        """Cells of a column."""
        return [row.cell(index) for row in rows]


def sheet_of(grid: Grid, options: ReadingOptions) -> Sheet:
    table = table_of(grid)
    pressure = pressure_column(table, options)
    time = time_column(table, pressure)
    rows = sorted_rows(table, time, pressure)
    return Sheet(table, time, pressure, rows, _said(table, rows), options)


def _said(table: Table, rows: Sorted) -> Said:
    """Conditions from comments, from the rows above the table and from those below it."""
    said = Said()
    outside = [*table.above, *rows.passed]
    blank_separated = not table.grid.delimiter.strip() and table.grid.delimiter != "\t"
    texts = [" ".join(map(shown, row.cells)) for row in outside] + [text for _, text in table.grid.comments]
    found = [pair for _, text in table.grid.comments for pair in pairs(text)]
    for row in outside:
        cells = (
            _decimal_commas([shown(cell) for cell in row.cells])
            if table.grid.delimiter == ","
            else [shown(cell) for cell in row.cells]
        )
        found += pairs(" ".join(cells)) if blank_separated and table.grid.delimiter else row_pairs(cells)
    for key, value in [*found, *(pair for text in texts for pair in loose_pairs(text))]:
        note_pair(said, key, value)
    titles = [text for text in texts if not pairs(text)]
    if said.unit is None:
        said.unit = next((unit for text in titles if (unit := unit_said(text))), None)
    said.absolute = any(_ABSOLUTE_TITLE.search(words.plain(text)) for text in titles)
    if "resolution_pa" not in said.values:
        sizes = [size for text in texts if (size := resolution_said(text)) is not None]
        if sizes:
            said.values["resolution_pa"] = sizes[0]
    settle(said)
    if "direction" not in said.values and _title_says_vacuum(table):
        said.values["direction"] = "vacuum"
        said.remarks.append("direction taken from the title: vacuum")
    return said


def _decimal_commas(cells: list[str]) -> list[str]:
    """Cells of a comma-separated preamble with "Volume: 0", "25 l" put together again."""
    whole: list[str] = []
    for cell in cells:
        if whole and re.search(r"[:=]\s*\d+$", whole[-1]) and re.match(r"\d+\s*[^\W\d]", cell):
            whole[-1] = f"{whole[-1]},{cell}"
        else:
            whole.append(cell)
    return whole


def _title_says_vacuum(table: Table) -> bool:
    texts = [" ".join(map(shown, row.cells)) for row in table.above] + [
        text for _, text in table.grid.comments[:5]
    ]
    titles = [words.plain(text) for text in texts if not pairs(text)]
    return any(_VACUUM_TITLE.search(title) for title in titles) and not any(
        set(words.words_of(title)) & words.PRESSURE for title in titles
    )


def barometer_of(sheet: Sheet) -> float | None:
    given = sheet.options.barometer_pa
    if given is not None:
        return given
    said = sheet.said.values.get("barometer_pa")
    if isinstance(said, float):
        return said
    for index in sheet.table.columns("barometer"):
        unit = sheet.heading(index).unit
        values = [n.value(".") for row in sheet.rows.timed if (n := written(row.cell(index))) is not None]
        whole = [value for value in values if value is not None]
        if unit and whole and 30e3 <= np.mean(whole) * unit.factor_pa <= 110e3:
            return float(np.mean(whole) * unit.factor_pa)
    return None


def direction_of(sheet: Sheet) -> Direction | None:
    return sheet.options.direction or sheet.said.values.get("direction")  # type: ignore[return-value]


def numbers_of(sheet: Sheet, but: int) -> list[Written]:
    """Numbers of the other columns, as evidence for the file's decimal mark."""
    columns = {sheet.time, sheet.pressure, *sheet.table.columns("temperature")} - {but}
    cells = [row.cell(i) for row in sheet.rows.timed[:1000] for i in columns]
    return [number for cell in cells if (number := written(cell)) is not None and not number.rest]
