"""The project's own recordings: `# key: value` lines, a header, one row a reading.

Columns: time_s (s, from the recording's own zero), pressure_kpa (kPa, gauge, signed), and optionally
temperature_degc (degC), mark (what was done then), raw (the gauge's own text where it gave no reading).
"""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import InputError, LeakdownError
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Conditions, Doubt, Mark, Recording, standing
from leakdown.sheets.absolute_unsaid import Readings, check_absolute
from leakdown.sheets.assemble import in_order, picked_test, unreadable_lines
from leakdown.sheets.before_watch import of_lines, pump_doubts, steps_in
from leakdown.sheets.grid import Grid, told
from leakdown.sheets.large import MANY_BYTES, frame_of
from leakdown.sheets.native_write import BARS, HEADER
from leakdown.sheets.numbers import is_missing, is_no_reading
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble_values import (
    NATIVE_KEYS,
    PreambleValues,
    barometer_from_altitude,
    note_pair,
    settle,
    zero_levels_pa,
)
from leakdown.sheets.pressures import impossible, is_below_zero
from leakdown.sheets.slips import of_one_hold
from leakdown.tuned import tuned
from leakdown.vocabulary import known_key

_T = tuned("sheets")
_NUMBERS = (*HEADER, "temperature_degc")
_LONE_MARK = re.compile(r"(-?\d+(?:\.\d+)?(?:e[-+]?\d+)?) s (\S.*)")
_DOUBT = re.compile(rf"([a-z-]+)({re.escape(BARS)})?: (.+)")
_KEY_LINE = re.compile(r"#+\s*([^:=]{1,60}?)\s*[:=]\s*(\S.*)")


@dataclass(frozen=True)
class NativeColumns:
    """time_s, pressure_pa, temperature_k (n,), NaN where not written; marks; rows that held no reading.

    `lines` (n,) are line numbers for messages, None when they were not kept.
    """

    time_s: NDArray[np.float64]
    pressure_pa: NDArray[np.float64]
    temperature_k: NDArray[np.float64]
    marks: tuple[Mark, ...]
    unreadable: int
    lines: NDArray[np.intp] | None = None

    def part(self, keep: slice | NDArray[np.intp]) -> NativeColumns:
        """Some of the rows, with all marks."""
        columns = (self.time_s[keep], self.pressure_pa[keep], self.temperature_k[keep])
        lines = None if self.lines is None else self.lines[keep]
        return NativeColumns(*columns, self.marks, self.unreadable, lines)


def is_native(text: str) -> bool:
    """Whether a text has the project's own header below nothing but `#` lines."""
    return _header(text) is not None


def _header(text: str) -> tuple[list[str], int, int] | None:
    """Column names, line number and offset of the first row of an own recording, or None."""
    position, line = 0, 1
    while position < len(text):
        end = text.find("\n", position)
        end = len(text) if end < 0 else end
        content = text[position:end].strip()
        if content and not content.startswith("#"):
            names = [name.strip().strip('"').lower() for name in content.split(",")]
            return (names, line, end + 1) if set(HEADER) <= set(names) else None
        position, line = end + 1, line + 1
    return None


def read_text(text: str, source: str, options: ReadingOptions) -> Recording:
    """The Recording in the text of an own recording. Raises InputError naming line and column."""
    found = _header(text)
    if found is None:
        raise InputError(**told("no header"), where=source)
    names, header_line, offset = found
    said = _keys(text[:offset], source)
    body, torn = whole_lines(text[offset:], len(names))
    large = len(body) > MANY_BYTES and options.test is None
    columns, picked = large_columns(body, names) if large else None, list[Doubt]()
    if columns is None:
        columns = parsed_rows(body, names, header_line, source)
        lines = [] if columns.lines is None else columns.lines.tolist()
        part, picked, options = picked_test(columns.time_s, lines, Grid([], [], source), options)
        columns = _in_order(columns.part(part), source)
    if columns.time_s.size < 2:
        raise InputError(**told("one reading/own" if columns.time_s.size else "no readings/own"), where=source)
    return _recording(columns, said, source, options, torn).with_said(picked)


def _keys(head: str, source: str) -> PreambleValues:
    """The leading `# key: value` lines. A known key with a value that cannot be read raises InputError."""
    said = PreambleValues()
    for number, line in enumerate(head.split("\n"), 1):
        match = _KEY_LINE.fullmatch(line.strip())
        if match is None:
            continue
        key, value = match.group(1), match.group(2).strip()
        if key.lower().replace(" ", "_") not in NATIVE_KEYS and known_key(key) not in ("zero", "zero_after"):
            said.extra.append((key, value))
            continue
        try:
            note_pair(said, key, value, strict=True)
        except LeakdownError as error:
            raise InputError(error.what, where=f"{source}:{number}", remedy=error.remedy) from None
    try:
        settle(said, strict=True)
    except LeakdownError as error:
        raise InputError(error.what, where=source, remedy=error.remedy) from None
    return said


def _in_order(columns: NativeColumns, source: str) -> NativeColumns:
    """Columns without repeated rows. Raises InputError where time goes back or stands still."""
    time_s, pressure, lines = columns.time_s, columns.pressure_pa, columns.lines

    def as_written(i: int) -> tuple[str, str, int]:
        return f"{time_s[i]:g}", f"{pressure[i] / 1e3:g}", int(lines[i]) if lines is not None else 0

    return columns.part(in_order(time_s, pressure, as_written, Grid([], [], source)))


def _recording(
    columns: NativeColumns, said: PreambleValues, source: str, options: ReadingOptions, torn: bool
) -> Recording:
    notes = _notes(said)
    values: dict[str, Any] = dict(said.values)
    if options.barometer_pa is not None:
        values["barometer_pa"] = options.barometer_pa
    elif "barometer_pa" not in values and (found := barometer_from_altitude(said, given=False)) is not None:
        values["barometer_pa"] = found
    signed = notes.signed and options.direction is None
    values |= {} if options.direction is None else {"direction": options.direction}
    pressure, more = _gauge(columns, values, options, source, signed)
    told = options.pressure_unit
    unit = told.name if told else notes.unit
    turned = bool(not options.absolute and (pressure != columns.pressure_pa).any())
    values |= zero_levels_pa(said, unit, turned, float(np.abs(pressure).max()), options.zero_pa)
    marks = standing(sorted((*columns.marks, *notes.marks), key=lambda mark: mark.time_s))
    before = of_lines(said.steps, unit, values.get("barometer_pa", 0.0) if options.absolute else 0.0)
    if before.said:
        raise InputError(str(before.said[0]), where=source)
    before = before.over(of_lines([step for mark in marks for step in steps_in(mark.text)], unit))
    begun = {name: getattr(before, name) for name in ("waited_s", "topped_up", "pump_off")}
    begun["shut_pa"] = before.shut_pa and math.copysign(before.shut_pa, pressure[np.abs(pressure).argmax()])
    conditions = Conditions(unit=unit, extra=tuple(notes.extra), **begun, **values)
    doubts = notes.doubts or []
    if notes.doubts is None and not options.absolute and (told is None or told.reference != "gauge"):
        readings = Readings(columns.time_s, pressure, notes.by_hand, unit, source, turned)
        doubts = check_absolute(readings, conditions)
    recording = Recording(
        columns.time_s,
        pressure,
        columns.temperature_k if np.isfinite(columns.temperature_k).any() else None,
        marks,
        conditions,
        source,
        notes.by_hand,
        unreadable=columns.unreadable + notes.unreadable,
    )
    said_of_it = [*doubts, *pump_doubts(before.pump_off), *said.remarks, *unreadable_lines(recording.unreadable), *more]
    if torn:
        said_of_it.insert(len(doubts), "the last line was torn and was left out")
    read = of_one_hold(whole := recording.with_said(said_of_it), columns.lines, options.test)
    return read if notes.doubts is None or options.test else replace(read, doubts=whole.doubts)


@dataclass
class _Notes:
    """What this form adds for its own use, and the unknown keys, which are kept."""

    by_hand: bool = False
    unreadable: int = 0
    unit: str = "kPa"
    signed: bool = False
    doubts: list[Doubt] | None = None
    marks: list[Mark] = field(default_factory=list)
    extra: list[tuple[str, str]] = field(default_factory=list)


def _notes(said: PreambleValues) -> _Notes:
    notes = _Notes()
    for key, value in said.extra:
        if key == "by_hand":
            notes.by_hand = value.lower() in ("yes", "true", "1")
        elif key == "unreadable" and value.isdecimal() and len(value) < 10:
            notes.unreadable = int(value)
        elif key == "signed":
            notes.signed = value.lower() == "yes"
        elif key == "doubt":
            told = _DOUBT.fullmatch(value)
            notes.doubts = [*(notes.doubts or ()), *([Doubt(told[1], told[3], bool(told[2]))] if told else ())]
        elif key == "shown_in" and value in PRESSURE_PA:
            notes.unit = value
        elif key == "mark" and (lone := _LONE_MARK.fullmatch(value)):
            notes.marks.append(Mark(float(lone.group(1)), lone.group(2)))
        else:
            notes.extra.append((key, value))
    return notes


def _gauge(
    columns: NativeColumns, values: dict[str, Any], options: ReadingOptions, source: str, signed: bool
) -> tuple[NDArray[np.float64], list[str]]:
    """Signed gauge pressures after the options (`signed` already: never turned); raises InputError for what no
    gauge can say.
    """
    pressure, remarks = columns.pressure_pa, []
    barometer, direction = values.get("barometer_pa"), values.get("direction")
    if options.absolute:
        if barometer is None:
            raise InputError(**told("no barometer/own"), where=source)
        pressure = pressure - barometer
    top, bottom = float(pressure.max()), float(-pressure.min())
    if direction == "vacuum" and not signed and bottom <= _T.few_of_the_other_sign * top:
        pressure, remarks = 0.0 - pressure, ["positive readings taken as vacuum, as told"]
    if direction == "pressure" and is_below_zero(top, bottom):
        raise InputError(**told("below zero/own"), where=source)
    bad, _ = impossible(pressure, barometer)
    if bad is not None:
        line = None if columns.lines is None else int(columns.lines[bad])
        above = f"above {_T.highest_pa / 1e3:.0f} kPa"
        what = "more than a vacuum can be" if pressure[bad] < 0 else above
        shown = f"{columns.pressure_pa[bad] / 1e3:g} kPa"
        raise Grid([], [], source).refuse("impossible/own", line, cell=shown, what=what)
    return pressure, remarks


def large_columns(body: str, names: list[str]) -> NativeColumns | None:
    """Columns of the text below the header through pandas, or None when it needs the careful reader."""
    texts = {name: "category" for name in names if name not in _NUMBERS}
    dtype = texts | {name: "float64" for name in names if name in _NUMBERS}
    if len(set(names)) != len(names):
        return None
    frame = frame_of(body, ",", len(names), names=names, dtype=dtype, na_values=[""])
    if frame is None:
        return None
    time_s, pressure = (frame[name].to_numpy() for name in HEADER)
    read = ~np.isnan(pressure)
    rising = np.isfinite(time_s).all() and (np.diff(time_s[read]) > 0).all()
    if not (rising and np.isfinite(pressure[read]).all()):
        return None
    degc = frame["temperature_degc"].to_numpy() if "temperature_degc" in names else np.full(read.size, np.nan)
    texts_of: Any = frame["mark"].dropna() if "mark" in names else {}
    marks = [Mark(float(time_s[i]), str(text).strip()) for i, text in texts_of.items()]
    raw = frame["raw"].notna().to_numpy() if "raw" in names else np.zeros(read.size, dtype=bool)
    unreadable = int((raw & ~read).sum())
    return NativeColumns(time_s[read], pressure[read] * 1e3, degc[read] + 273.15, tuple(marks), unreadable)


@dataclass(frozen=True)
class _Row:
    """The fields of one row by the header's names, for numbers and messages."""

    fields: dict[str, str]
    where: str

    def field(self, name: str) -> str:
        """Stripped text of a column, blank where the row or the header lacks it."""
        return self.fields.get(name, "").strip()

    def number(self, name: str) -> float:
        """A finite number of a column. Raises InputError."""
        text = self.field(name)
        if not _is_number(text) or "_" in text:
            raise InputError(**told("no number/own", name=name, cell=text), where=self.where)
        return float(text)


def _row(texts: list[str], names: list[str], where: str) -> _Row:
    """One row. Raises InputError for more fields than there are headings."""
    if any(text.strip() for text in texts[len(names) :]):
        raise InputError(**told("too many fields/own", headings=len(names), fields=len(texts)), where=where)
    return _Row(dict(reversed(list(zip(names, texts, strict=False)))), where)


def parsed_rows(body: str, names: list[str], header_line: int, source: str) -> NativeColumns:
    """Columns of `body`, the text below the header. Raises InputError at the first row that is no row."""
    numbers: list[tuple[float, float, float]] = []
    lines, marks, unreadable = [], [], 0
    rows = csv.reader(io.StringIO(body))
    try:
        for texts in rows:
            if not texts or texts[0].lstrip().startswith("#") or not any(text.strip() for text in texts):
                continue
            row = _row(texts, names, f"{source}:{header_line + rows.line_num}")
            time_s, mark, pressure = row.number("time_s"), row.field("mark"), row.field("pressure_kpa")
            marks += [Mark(time_s, mark)] if mark else []
            if is_missing(pressure) or is_no_reading(pressure):
                unreadable += bool(row.field("raw")) or is_no_reading(pressure)
                continue
            cold = is_missing(row.field("temperature_degc"))
            degc = math.nan if cold else row.number("temperature_degc")
            numbers.append((time_s, row.number("pressure_kpa"), degc))
            lines.append(header_line + rows.line_num)
    except csv.Error as error:
        raise InputError(**told("no row", error=error), where=f"{source}:{header_line + rows.line_num}") from None
    time, pressure_kpa, degc_all = np.array(numbers).reshape(-1, 3).T
    kept = (time, pressure_kpa * 1e3, degc_all + 273.15, tuple(marks), unreadable)
    return NativeColumns(*kept, np.array(lines, dtype=np.intp))


def whole_lines(body: str, width: int) -> tuple[str, bool]:
    """`body` without a last line that a killed writer left torn, and whether there was one."""
    if not body or body.endswith("\n"):
        return body, False
    kept, _, last = body.rpartition("\n")
    before = kept.rpartition("\n")[2].split(",") if kept else []
    return (kept + "\n", True) if _is_torn(last.split(","), before, width) else (body, False)


def _is_torn(last: list[str], before: list[str], width: int) -> bool:
    if len(last) < 2 or len(last) < min(len(before), width) or not _is_number(last[0]):
        return True
    if width != 2:
        return False
    if not _is_number(last[1]):
        return True
    if len(last) < len(before) or len(before) != 2 or not _is_number(before[1]):
        return False
    # The digits may have been cut: fewer decimals and a much smaller number than in the line before.
    decimals = [len(text.strip().partition(".")[2]) for text in (before[1], last[1])]
    smaller = abs(float(last[1])) < 0.5 * abs(float(before[1]))
    return decimals[1] < decimals[0] - 1 or (decimals[1] < decimals[0] and smaller)


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
