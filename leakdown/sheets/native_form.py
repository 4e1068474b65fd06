"""The project's own recordings: `# key: value` lines, a header, one row a reading.

Columns: time_s (s), pressure_kpa (kPa, gauge, signed), and optionally temperature_degc (degC), mark (what was
done at that moment), raw (the gauge's own text where it gave no reading). Times keep the recording's own
zero.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import InputError, LeakdownError
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Conditions, Mark, Recording
from leakdown.sheets import big
from leakdown.sheets.absolute import Readings, check_absolute
from leakdown.sheets.native_rows import HEADER, OwnColumns, parsed_rows, whole_lines
from leakdown.sheets.native_write import write
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble_values import (
    OWN_KEYS,
    PreambleValues,
    barometer_from_altitude,
    note_pair,
    settle,
)
from leakdown.sheets.pressures import HIGHEST_BAROMETER_PA, HIGHEST_PA

__all__ = ["is_own", "read_text", "write"]

_LONE_MARK = re.compile(r"(-?\d+(?:\.\d+)?(?:e[-+]?\d+)?) s (\S.*)")
_KEY_LINE = re.compile(r"#+\s*([^:=]{1,60}?)\s*[:=]\s*(\S.*)")


def is_own(text: str) -> bool:
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
        raise InputError("no header time_s,pressure_kpa", where=source)
    names, header_line, offset = found
    said = _keys(text[:offset], source)
    body, torn = whole_lines(text[offset:], len(names))
    columns = big.own_columns(body, names) if len(body) > big.MANY_BYTES else None
    if columns is None:
        columns = _in_order(parsed_rows(body, names, header_line, source), source)
    if columns.time_s.size < 2:
        what = "one reading is no decay" if columns.time_s.size else "there are no readings below the header"
        raise InputError(what, where=source, remedy="Record at least two readings.")
    return _recording(columns, said, source, options, torn)


def _keys(head: str, source: str) -> PreambleValues:
    """The leading `# key: value` lines. A known key with a value that cannot be read raises InputError."""
    said = PreambleValues()
    for number, line in enumerate(head.split("\n"), 1):
        match = _KEY_LINE.fullmatch(line.strip())
        if match is None:
            continue
        key, value = match.group(1), match.group(2).strip()
        if key.lower().replace(" ", "_") not in OWN_KEYS:
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


def _in_order(columns: OwnColumns, source: str) -> OwnColumns:
    """Columns without repeated rows. Raises InputError where time goes back or stands still."""
    steps = np.diff(columns.time_s, prepend=-np.inf)
    if (steps > 0).all() or columns.lines is None:
        return columns
    for i in np.flatnonzero(steps <= 0):
        now, before = (f"{columns.time_s[k]:g}" for k in (i, i - 1))
        where = f"{source}:{columns.lines[i]}"
        if steps[i] < 0:
            raise InputError(
                f"time goes back at row {columns.lines[i]}: {now} after {before}",
                where=where,
                remedy="Correct the time, or take the row out.",
            )
        if columns.pressure_pa[i] != columns.pressure_pa[i - 1]:
            one, two = (f"{columns.pressure_pa[k] / 1e3:g}" for k in (i - 1, i))
            raise InputError(
                f"time {now} stands twice, with different pressures ({one} and {two})",
                where=where,
                remedy="Correct the time, or take one of the rows out.",
            )
    keep = steps > 0
    return replace(
        columns,
        time_s=columns.time_s[keep],
        pressure_pa=columns.pressure_pa[keep],
        temperature_k=columns.temperature_k[keep],
        lines=columns.lines[keep],
    )


def _recording(
    columns: OwnColumns, said: PreambleValues, source: str, options: ReadingOptions, torn: bool
) -> Recording:
    remarks = ["the last line was torn and was left out"] if torn else []
    extra, notes = _own_keys(said)
    values: dict[str, Any] = dict(said.values)
    if options.barometer_pa is not None:
        values["barometer_pa"] = options.barometer_pa
    elif "barometer_pa" not in values and (found := barometer_from_altitude(said, given=False)) is not None:
        values["barometer_pa"] = found
    remarks += said.remarks
    if options.direction is not None:
        values["direction"] = options.direction
    pressure, more = _gauge(columns, values, options, source)
    unit = options.pressure_unit.name if options.pressure_unit else notes["unit"]
    unreadable = columns.unreadable + notes["unreadable"]
    if unreadable:
        remarks.append(f"{unreadable} line{'s' * (unreadable > 1)} without a reading left out")
    temperature = columns.temperature_k if np.isfinite(columns.temperature_k).any() else None
    conditions = Conditions(unit=unit, extra=tuple(extra), **values)
    told = options.pressure_unit
    if not options.absolute and (told is None or told.reference != "gauge"):
        readings = Readings(columns.time_s, pressure, notes["by_hand"], unit, source)
        more = check_absolute(readings, conditions) + more
    return Recording(
        columns.time_s,
        pressure,
        temperature,
        tuple(sorted((*columns.marks, *notes["marks"]), key=lambda mark: mark.time_s)),
        conditions,
        source,
        notes["by_hand"],
        tuple(remarks + more),
        unreadable,
    )


def _own_keys(said: PreambleValues) -> tuple[list[tuple[str, str]], dict[str, Any]]:
    """Unknown keys to keep, and what this form adds for its own use: by_hand, unreadable, shown_in, mark."""
    notes: dict[str, Any] = {
        "by_hand": False,
        "unreadable": 0,
        "unit": "kPa",
        "marks": (),
    }
    extra = []
    for key, value in said.extra:
        if key == "by_hand":
            notes["by_hand"] = value.lower() in ("yes", "true", "1")
        elif key == "unreadable" and value.isdecimal() and len(value) < 10:
            notes["unreadable"] = int(value)
        elif key == "shown_in" and value in PRESSURE_PA:
            notes["unit"] = value
        elif key == "mark" and (lone := _LONE_MARK.fullmatch(value)):
            notes["marks"] += (Mark(float(lone.group(1)), lone.group(2)),)
        else:
            extra.append((key, value))
    return extra, notes


def _gauge(
    columns: OwnColumns, values: dict[str, Any], options: ReadingOptions, source: str
) -> tuple[NDArray[np.float64], list[str]]:
    """Signed gauge pressures after the options; raises InputError for what no gauge can say."""
    pressure, remarks = columns.pressure_pa, []
    barometer = values.get("barometer_pa")
    if options.absolute:
        if barometer is None:
            raise InputError(
                "the readings are absolute pressures and no barometer is known",
                where=source,
                remedy='Say --barometer "1013 mbar" (station pressure), or add "# barometer: 1013 mbar".',
            )
        pressure = pressure - barometer
    top, bottom = float(pressure.max()), float(-pressure.min())
    if values.get("direction") == "vacuum" and bottom <= 0.05 * top:
        pressure, remarks = 0.0 - pressure, ["positive readings taken as vacuum, as told"]
    if values.get("direction") == "pressure" and bottom > 1e3 and bottom > 5 * top:
        raise InputError(
            "the direction is pressure, but the readings are below zero",
            where=source,
            remedy="Say --direction vacuum.",
        )
    floor = HIGHEST_BAROMETER_PA if barometer is None else barometer + 2e3
    bad = np.flatnonzero((pressure < -floor) | (pressure > HIGHEST_PA))
    if bad.size:
        line = "" if columns.lines is None else f":{columns.lines[bad[0]]}"
        shown = f"{columns.pressure_pa[bad[0]] / 1e3:g} kPa"
        what = "more than a vacuum can be" if pressure[bad[0]] < 0 else f"above {HIGHEST_PA / 1e3:.0f} kPa"
        raise InputError(
            f"{shown} is {what}", where=source + line, remedy="Check the gauge and the barometer."
        )
    return pressure, remarks
