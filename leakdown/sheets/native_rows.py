"""Rows of the project's own recordings: text below the header -> columns in SI units."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import InputError
from leakdown.recording import Mark
from leakdown.sheets.numbers import is_missing, is_no_reading

HEADER = ("time_s", "pressure_kpa")
COLUMNS = (*HEADER, "temperature_degc", "mark", "raw")


@dataclass(frozen=True)
class OwnColumns:
    """time_s, pressure_pa, temperature_k (n,), NaN where not written; marks; rows that held no reading.

    `lines` (n,) are line numbers for messages, None when they were not kept.
    """

    time_s: NDArray[np.float64]
    pressure_pa: NDArray[np.float64]
    temperature_k: NDArray[np.float64]
    marks: tuple[Mark, ...]
    unreadable: int
    lines: NDArray[np.intp] | None = None


@dataclass
class _Rows:
    time_s: list[float] = field(default_factory=list)
    pressure_kpa: list[float] = field(default_factory=list)
    temperature_degc: list[float] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    unreadable: int = 0


@dataclass(frozen=True)
class RowReader:
    """Turns the fields of one row into numbers; `names` are the header's, `source` the file."""

    names: list[str]
    source: str

    def field(self, row: list[str], name: str) -> str:
        """Stripped text of a column, blank where the row or the header lacks it."""
        index = self.names.index(name) if name in self.names else len(row)
        return row[index].strip() if index < len(row) else ""

    def number(self, row: list[str], name: str, line: int) -> float:
        """A finite number of a column. Raises InputError."""
        text = self.field(row, name)
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value) or "_" in text:
            raise InputError(
                f"column {name!r}: {text!r} is no number",
                where=f"{self.source}:{line}",
                remedy="Write a plain number, or leave the cell blank.",
            )
        return value

    def check(self, row: list[str], line: int) -> None:
        """Refuse a row with more fields than there are headings."""
        if len(row) > len(self.names) and any(text.strip() for text in row[len(self.names) :]):
            raise InputError(
                f"{len(self.names)} headings but {len(row)} fields a row: decimal commas in a "
                "comma-separated file?",
                where=f"{self.source}:{line}",
                remedy="Write decimal points, and put texts with commas in quotes.",
            )


def parsed_rows(body: str, names: list[str], header_line: int, source: str) -> OwnColumns:
    """Columns of `body`, the text below the header. Raises InputError at the first row that is no row."""
    reader, rows = RowReader(names, source), _Rows()
    lines = csv.reader(io.StringIO(body))
    try:
        for row in lines:
            if row and not row[0].lstrip().startswith("#") and any(text.strip() for text in row):
                _take(reader, rows, row, header_line + lines.line_num)
    except csv.Error as error:
        raise InputError(
            f"this row cannot be read ({error})",
            where=f"{source}:{header_line + lines.line_num}",
            remedy="Correct or remove the row.",
        ) from None
    return OwnColumns(
        np.array(rows.time_s),
        np.array(rows.pressure_kpa) * 1e3,
        np.array(rows.temperature_degc) + 273.15,
        tuple(rows.marks),
        rows.unreadable,
        np.array(rows.lines, dtype=np.intp),
    )


def _take(reader: RowReader, rows: _Rows, row: list[str], line: int) -> None:
    reader.check(row, line)
    time_s = reader.number(row, "time_s", line)
    mark = reader.field(row, "mark")
    if mark:
        rows.marks.append(Mark(time_s, mark))
    pressure = reader.field(row, "pressure_kpa")
    if is_missing(pressure) or is_no_reading(pressure):
        rows.unreadable += bool(reader.field(row, "raw")) or is_no_reading(pressure)
        return
    rows.time_s.append(time_s)
    rows.pressure_kpa.append(reader.number(row, "pressure_kpa", line))
    blank = is_missing(reader.field(row, "temperature_degc"))
    rows.temperature_degc.append(math.nan if blank else reader.number(row, "temperature_degc", line))
    rows.lines.append(line)


def whole_lines(body: str, width: int) -> tuple[str, bool]:
    """`body` without a last line that a killed writer left torn, and whether there was one."""
    if not body or body.endswith("\n"):
        return body, False
    kept, _, last = body.rpartition("\n")
    before = kept.rpartition("\n")[2].split(",") if kept else []
    return (kept + "\n", True) if _is_torn(last.split(","), before, width) else (body, False)


def _is_torn(last: list[str], before: list[str], width: int) -> bool:
    if len(last) < 2 or len(last) < min(len(before), width):
        return True
    if len(last) < len(before) or width != 2 or len(before) != 2 or not last[1].strip():
        return not _is_number(last[0]) or (width == 2 and not _is_number(last[1]))
    if not _is_number(last[0]) or not _is_number(last[1]):
        return True
    # The digits may have been cut: fewer decimals and a much smaller number than in the line before.
    decimals = [len(text.strip().partition(".")[2]) for text in (before[1], last[1])]
    sizes = [abs(float(text)) for text in (before[1], last[1]) if _is_number(text)]
    return decimals[1] < decimals[0] - 1 or (decimals[1] < decimals[0] and sizes[-1] < 0.5 * sizes[0])


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
