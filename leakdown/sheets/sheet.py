"""Grid -> Sheet: the table, its columns and rows, and what the lines around it say."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import Direction
from leakdown.errors import InputError
from leakdown.quantities import pressure_unit, split_quantity
from leakdown.sheets.before_watch import left_of, step_of, steps_in
from leakdown.sheets.columns import pressure_column, time_column
from leakdown.sheets.grid import Cell, Grid, Row, shown
from leakdown.sheets.headings import Heading
from leakdown.sheets.numbers import Written, decimal_mark, is_ambiguous, number_value, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.other_pressure_columns import check_factors, of_one_test, unused_columns
from leakdown.sheets.preamble import left_over, loose_pairs, pairs, row_pairs, unit_said
from leakdown.sheets.preamble_values import (
    PreambleValues,
    barometer_from_altitude,
    can_be_barometer,
    not_used,
    note_pair,
    resolution_said,
    settle,
    zero_said,
)
from leakdown.sheets.rows import SortedRows, sorted_rows
from leakdown.sheets.table import Table, table_of
from leakdown.tuned import tuned
from leakdown.vocabulary import PRESSURE, VACUUM, known_key, plain, words, words_of

_T = tuned("sheets")
_VACUUM_TITLE = re.compile(
    r"\b(vacuum|vac|vakuum\w*|unterdruck\w*)\b.*\b(test|hold|check|leak|prufung|run)|vakuumtest|"
    r"unterdruckprufung|\b(test|hold|essai|prueba)\b.*\b(vacuum|vakuum|vide|vacio)\b"
)
_VACUUM_COMPOUND = re.compile(
    rf"(?:{'|'.join(sorted(VACUUM, key=len, reverse=True))})"
    r"(?:test|tests|prufung|pruefung|probe|messung|versuch|kontrolle|prov|prove|koe|toets|meting)"
)
_BESIDE_VACUUM = words("beside_vacuum")
_ABSOLUTE_TITLE = re.compile(
    r"\babsolute? (?:reading|pressure|value|gauge|druck|kpa|mbar|bar)|"
    r"\b(?:readings?|pressures?|values?|all|gauge)\b.*\babs(?:olute)?\b|\babsolutdr"
)

_NOT_ABSOLUTE = re.compile(r"\b(?:not|nicht|pas|non?) abs|\brelative?\b|\bgauge (?:reading|pressure|value)")


@dataclass(frozen=True)
class Column:
    """One column of the rows in use: cells, lines, heading, and the numbers of the other columns.

    `cells` are numbers (n,) where a large file was already read as such; `dates` stand beside times.
    """

    cells: Sequence[Cell] | NDArray[np.float64]
    lines: Sequence[int]
    heading: Heading
    grid: Grid
    options: ReadingOptions
    others: Sequence[Written] = ()
    dates: Sequence[str | None] = ()

    def refuse(self, index: int, name: str, /, **figures: object) -> InputError:
        """An InputError at the `index`-th of these cells, as `Grid.refuse`."""
        return self.grid.refuse(name, self.lines[index], **figures)

    def shown(self, index: int) -> str:
        """The `index`-th cell in quotes, for messages."""
        return repr(shown(self.cells[index]))

    def values(
        self, numbers: list[Written], what: str, fits: Callable[[list[float]], bool], point: bool = True
    ) -> NDArray[np.float64]:
        """The cells (n,), read as `numbers`, with the column's decimal mark (`numbers.decimal_mark`).

        `what` they are, for messages. Raises InputError.
        """
        mark, name = decimal_mark(numbers, list(self.others), fits, point), self.heading.name
        if mark is None:
            index = next(i for i, number in enumerate(numbers) if is_ambiguous(number))
            raise self.refuse(index, "comma or thousands", name=name, cell=self.shown(index))
        values = [number_value(number, mark) for number in numbers]
        if None in values:
            index = values.index(None)
            raise self.refuse(index, "unread", name=name, cell=self.shown(index), what=what)
        return np.array(values, dtype=float)


@dataclass(frozen=True)
class Sheet:
    """A table with its columns chosen and its rows sorted."""

    table: Table
    time: int
    pressure: int
    rows: SortedRows
    said: PreambleValues
    options: ReadingOptions

    @property
    def grid(self) -> Grid:
        """The grid under the table."""
        return self.table.grid

    @property
    def direction(self) -> Direction | None:
        """The direction as told or as the sheet says it, or None."""
        return self.options.direction or self.said.values.get("direction")  # type: ignore[return-value]

    @property
    def barometer_pa(self) -> float | None:
        """Pa absolute as told, as a line says it, or the mean of a column; or None."""
        said = self.said.values.get("barometer_pa")
        if self.options.barometer_pa is not None or isinstance(said, float):
            return self.options.barometer_pa or said  # type: ignore[return-value]
        for index in self.table.columns("barometer"):
            unit = self.table.heading(index).unit
            numbers = [written(row.cell(index)) for row in self.rows.timed]
            values = [value for n in numbers if n is not None and (value := n.value(".")) is not None]
            mean = float(np.mean(values)) * unit.factor_pa if values and unit else 0.0
            if can_be_barometer(mean):
                return mean
        return None

    def column(self, index: int, rows: list[Row]) -> Column:
        """A column of `rows`, with the numbers of the other columns as evidence for the decimal mark."""
        cells, lines = [row.cell(index) for row in rows], [row.line for row in rows]
        beside = {self.time, self.pressure, *self.table.columns("temperature")} - {index}
        others = (written(row.cell(i)) for row in self.rows.timed[:1000] for i in beside)
        numbers = [number for number in others if number is not None and not number.rest]
        return Column(cells, lines, self.table.heading(index), self.grid, self.options, numbers)


def sheet_of(grid: Grid, options: ReadingOptions) -> Sheet:
    """The table of a grid with its columns and rows, and what stands around it. Raises InputError."""
    table = table_of(grid, options.columns)
    pressure = pressure_column(table, options)
    table, left_out = of_one_test(table, pressure, options)
    time = time_column(table, pressure)
    check_factors(table, (time, pressure))
    rows = sorted_rows(table, time, pressure)
    said = _said(table, rows)
    sheet = Sheet(table, time, pressure, rows, said, _with_air(said, options))
    sheet.said.remarks += [*left_out, *unused_columns(table, {time, pressure})]
    barometer = barometer_from_altitude(sheet.said, given=sheet.barometer_pa is not None)
    if barometer is not None:
        sheet.said.values["barometer_pa"] = barometer
    return sheet


def _with_air(said: PreambleValues, options: ReadingOptions) -> ReadingOptions:
    """The options, where a zero that is the air's pressure says that the readings are absolute."""
    text, told = said.zero.get("zero_pa"), options.zero_pa
    parts = split_quantity(text) if text else None
    unit = pressure_unit(parts[1]) if parts else None
    level = told if told is not None else parts[0] * unit.factor_pa if parts and unit else None
    if level is None or not _T.lowest_air_pa <= level <= _T.highest_air_pa:
        return options
    said.zero.clear()
    said.absolute = True
    said.values.setdefault("barometer_pa", level)
    said.remarks.append(f"the gauge shows {level / 1e3:.1f} kPa open to air: its readings are absolute")
    return replace(options, zero_pa=None)


def _said(table: Table, rows: SortedRows) -> PreambleValues:
    """Conditions from comments, from the rows above the table and from those below it."""
    said = PreambleValues()
    above = [_texts(table, row) for row in table.above]
    outside = above + [_texts(table, row) for row in rows.passed]
    comments = [text for _, text in table.grid.comments]
    rest = [_line(_without_pairs(cells)) for cells in outside]
    texts = [_line(cells) for cells in outside] + comments
    found = [pair for text in comments for pair in pairs(text)]
    found += [pair for cells in outside for pair in row_pairs(cells)]
    for key, value in [*found, *(pair for text in rest + comments for pair in loose_pairs(text))]:
        note_pair(said, key, value)
    said.steps += [step for text in rest + comments if not pairs(text) for step in steps_in(text)]
    titles = [text for text in texts if not pairs(text)]
    if said.unit is None:
        said.unit = next((unit for text in titles if (unit := unit_said(text))), None)
    said.absolute = any(_is_absolute_title(text) for text in titles)
    sizes = [size for text in texts if (size := resolution_said(text)) is not None]
    if sizes:
        said.values.setdefault("resolution_pa", sizes[0])
    for text in [*texts, *(text for text in rest if text)]:
        if not said.zero and not pairs(text) and (level := zero_said(text)) is not None:
            said.zero["zero_pa"] = level
    settle(said)
    if "direction" not in said.values and _title_says_vacuum(table):
        said.values["direction"] = "vacuum"
        said.remarks.append("direction taken from the title: vacuum")
    unused = [left_over(text) if loose_pairs(text) else left_of(text) for text in rest[: len(above)] + comments]
    said.remarks += not_used(said, [text for text in unused if not _was_used(table, text)])
    return said


def _texts(table: Table, row: Row) -> list[str]:
    """Cells of a row outside the table as texts; between blanks it is one text."""
    cells = [shown(cell) for cell in row.cells]
    if table.grid.delimiter.isspace() and table.grid.delimiter != "\t":
        return [" ".join(cells)]
    return _decimal_commas(cells) if table.grid.delimiter == "," else cells


def _without_pairs(cells: list[str]) -> list[str]:
    """The cells of a row that no key and value were taken from."""
    unkeyed = [cell for cell in cells if not pairs(cell)]
    return unkeyed if len(unkeyed) < len(cells) or not row_pairs(cells) else []


def _line(cells: list[str]) -> str:
    """A row outside the table as one line of text."""
    return ", ".join(cell for cell in cells if cell.strip())


def _is_absolute_title(text: str) -> bool:
    text = plain(text)
    return _ABSOLUTE_TITLE.search(text) is not None and _NOT_ABSOLUTE.search(text) is None


def _is_empty_form(text: str) -> bool:
    """Whether a line is a printed one: a known key that nobody filled in, or the printed sheet's advice."""
    key = re.sub(r"\s*[(\[][^)\]]*[)\]]\s*$", "", text.strip(" ,;:=_."))
    return known_key(key) is not None or step_of(key) is not None or "(common practice" in text


def _was_used(table: Table, text: str) -> bool:
    """Whether a line without a key of its own told the reader something, or is the headings."""
    said = plain(text)
    headings = {plain(h.text) for h in table.headings if h.text}
    return bool(
        not any(c.isalnum() for c in text)
        or pairs(text)
        or _is_empty_form(text)
        or unit_said(text)
        or _is_absolute_title(text)
        or (says_vacuum(text) and _title_says_vacuum(table))
        or resolution_said(text) is not None
        or steps_in(text)
        or zero_said(text) is not None
        or (headings and all(heading in " ".join(said.split()) for heading in headings))
    )


def says_vacuum(title: str) -> bool:
    """Whether a title names a test with vacuum: "Vacuum", "- Unterdruck -", "vacuum test 2, cold"."""
    names = [word for word in words_of(re.sub(r"(?i)\bn[ro]\.?\s*\d+", "", title)) if not word.isdigit()]
    vacuum = [word for word in names if word in VACUUM or _VACUUM_COMPOUND.fullmatch(word)]
    alone = vacuum and all(word in _BESIDE_VACUUM or word in vacuum for word in names)
    return bool(alone or _VACUUM_TITLE.search(plain(title)))


def _decimal_commas(cells: list[str]) -> list[str]:
    """Cells of a comma-separated preamble with "Volume: 0", "25 l" put together again."""
    whole: list[str] = []
    for cell in cells:
        joined = f"{whole[-1]},{cell}" if whole else ""
        if re.search(r"[^\d.,]\d+$", whole[-1] if whole else "") and re.match(r"\d+\s*[^\W\d]", cell):
            keyed = re.search(r"[:=]\s*\d+$", whole[-1]) is not None
            whole[-1:] = [joined] if keyed or loose_pairs(joined) else [whole[-1], cell]
        else:
            whole.append(cell)
    return whole


def _title_says_vacuum(table: Table) -> bool:
    texts = [" ".join(map(shown, row.cells)) for row in table.above] + [text for _, text in table.grid.comments[:5]]
    titles = [text for text in texts if not pairs(text)]
    return any(map(says_vacuum, titles)) and not any(set(words_of(title)) & PRESSURE for title in titles)
