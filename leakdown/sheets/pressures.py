"""A column of pressure cells -> gauge pressure in Pa, signed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import Direction
from leakdown.quantities import PRESSURE_PA, PressureUnit, pressure_unit
from leakdown.sheets.grid import Cell, Grid, shown
from leakdown.sheets.headings import Heading
from leakdown.sheets.numbers import Written, decimal_mark, is_ambiguous, number_value, written
from leakdown.sheets.options import ReadingOptions

HIGHEST_PA = 5e6
"""Beyond any test of a small engine (common practice, no source): a slipped unit or decimal mark."""
_HIGHEST_LIKELY_PA = 2e6
"""Where "40.125 mbar" could be 40 125: no such test reaches it (common practice, no source)."""
HIGHEST_BAROMETER_PA = 108.5e3
"""Above the highest sea-level pressure on record, 1084.8 hPa (value from memory)."""
_UNITS = ", ".join(PRESSURE_PA)


@dataclass(frozen=True)
class PressureColumn:
    """The pressure cells of the rows in use and what is known about them."""

    cells: Sequence[Cell] | NDArray[np.float64]
    lines: Sequence[int]
    heading: Heading
    grid: Grid
    options: ReadingOptions
    said_unit: str | None = None
    direction: Direction | None = None
    barometer_pa: float | None = None
    others: Sequence[Written] = ()
    said_absolute: bool = False
    barometer_remark: str = ""


@dataclass(frozen=True)
class Pressures:
    """gauge_pa (n,) signed; the unit's canonical name; the direction if it was said or follows."""

    gauge_pa: NDArray[np.float64]
    unit: str
    direction: Direction | None
    remarks: tuple[str, ...] = field(default=())
    said: bool = False
    """Whether somebody said gauge or absolute."""


def gauge_pressures(column: PressureColumn) -> Pressures:
    """Gauge pressures of every cell. Raises InputError: bad cell, missing unit, impossible value."""
    numbers = [_number(column, i) for i in range(len(column.cells))]
    units, remarks = _units(column, numbers)
    values = _values(column, numbers, units)
    if any(number.about for number in numbers):
        remarks.append(
            f"{sum(n.about for n in numbers)} readings written as approximate were used as they are"
        )
    return _settled(column, values * np.array([unit.factor_pa for unit in units]), units, remarks)


def plain_gauge_pressures(column: PressureColumn, values: NDArray[np.float64]) -> Pressures:
    """The same for a column that was already read as plain numbers (n,) in its heading's unit."""
    units, remarks = _units(column, [Written("1")])
    return _settled(column, values * units[0].factor_pa, units, remarks)


def _settled(
    column: PressureColumn, pressure: NDArray[np.float64], units: list[PressureUnit], remarks: list[str]
) -> Pressures:
    """Pascals as written -> signed gauge pressures within what can be."""
    name = units[0].name if len({unit.name for unit in units}) == 1 else _first_name(units)
    direction = column.direction
    absolute = _absolute(column, units)
    if absolute:
        pressure = _from_absolute(column, pressure)
    else:
        pressure, direction, more = _signed(column, pressure, name)
        remarks = remarks + more
    _check_limits(column, pressure)
    said = absolute or _says_gauge(column, units)
    return Pressures(pressure, name, direction, tuple(remarks), said)


def _says_gauge(column: PressureColumn, units: list[PressureUnit]) -> bool:
    told = column.options.pressure_unit
    return (told is not None and told.reference == "gauge") or (
        column.heading.gauge or any(unit.reference == "gauge" for unit in units)
    )


def _first_name(units: list[PressureUnit]) -> str:
    names = [unit.name for unit in units]
    return max(dict.fromkeys(names), key=names.count)


def _number(column: PressureColumn, index: int) -> Written:
    cell = column.cells[index]
    number = written(cell)
    if number is None or (number.rest and pressure_unit(number.rest) is None):
        unit = f" (unknown unit {number.rest!r})" if number and number.rest[:1].isalpha() else ""
        raise column.grid.refuse(
            f"column {column.heading.name!r}: cannot read {shown(cell)!r} as a pressure{unit}",
            column.lines[index],
            "Write a plain number, or leave the cell blank if the reading was missed.",
        )
    return number


def _units(column: PressureColumn, numbers: list[Written]) -> tuple[list[PressureUnit], list[str]]:
    """Each reading's unit: the option, the cell's own, the heading's, the preamble's, its neighbours'."""
    forced = column.options.pressure_unit
    if forced is not None:
        said = column.heading.unit
        differs = said is not None and said.name != forced.name
        return [forced] * len(numbers), [
            f"heading {column.heading.name!r} says {said.name}, read as {forced.name} as told"
        ] if differs and said else []
    own = [pressure_unit(number.rest) if number.rest else None for number in numbers]
    default = column.heading.unit or (pressure_unit(column.said_unit) if column.said_unit else None)
    remarks = _factor_remarks(column.heading)
    if default is None:
        found = list({unit.name: unit for unit in own if unit}.values())
        bare = [
            i
            for i, (unit, n) in enumerate(zip(own, numbers, strict=True))
            if unit is None and n.digits != "0"
        ]
        if not found:
            raise column.grid.refuse(
                f"no pressure unit anywhere: column {column.heading.name!r} could be psi, kPa, mbar or inHg",
                column.lines[0] - 1 if column.heading.text else None,
                f"Say --unit, or write the unit into the heading ({_UNITS}).",
            )
        if bare and len(found) > 1:
            raise column.grid.refuse(
                f"{shown(column.cells[bare[0]])!r} has no pressure unit and the others differ",
                column.lines[bare[0]],
                "Write the unit behind every reading.",
            )
        default = found[0]
        if bare:
            remarks.append(
                f"{len(bare)} readings without a unit were taken as {default.name} like the others"
            )
    units = [unit or default for unit in own]
    names = {unit.name for unit in units}
    if len(names) > 1:
        remarks.append(f"readings in different units were converted: {', '.join(sorted(names))}")
    return units, remarks


def _factor_remarks(heading: Heading) -> list[str]:
    if heading.factor == 1.0 or heading.unit is None:
        return []
    return [f"readings multiplied by {heading.factor:g}, as the heading {heading.name!r} says"]


def _values(column: PressureColumn, numbers: list[Written], units: list[PressureUnit]) -> NDArray[np.float64]:
    factor = units[0].factor_pa
    mark = decimal_mark(
        numbers,
        list(column.others),
        lambda v: max(map(abs, v), default=0.0) * factor <= _HIGHEST_LIKELY_PA,
        point=column.grid.delimiter == ",",  # decimal commas go with other separators
    )
    unclear = [i for i, number in enumerate(numbers) if is_ambiguous(number)]
    if mark is None and unclear:
        raise column.grid.refuse(
            f"column {column.heading.name!r}: {shown(column.cells[unclear[0]])!r} could be "
            "a decimal comma or thousands",
            column.lines[unclear[0]],
            "Write the readings with a decimal point and without thousands separators.",
        )
    values = [number_value(number, mark or ".") for number in numbers]
    for index, value in enumerate(values):
        if value is None:
            raise column.grid.refuse(
                f"column {column.heading.name!r}: cannot read {shown(column.cells[index])!r} as a pressure",
                column.lines[index],
                "Write a plain number.",
            )
    return np.array([value for value in values if value is not None])


def _absolute(column: PressureColumn, units: list[PressureUnit]) -> bool:
    if column.options.absolute:
        return True
    forced = column.options.pressure_unit
    if forced is not None and forced.reference:
        return forced.reference == "absolute"
    references = {unit.reference for unit in units}
    if "absolute" in references and len(references) > 1:
        raise column.grid.refuse(
            "some readings are absolute and some are not",
            column.lines[0],
            "Write all of them as gauge pressures, or all as absolute.",
        )
    if "gauge" in references or column.heading.gauge:
        return False
    return "absolute" in references or column.heading.absolute or column.said_absolute


def _from_absolute(column: PressureColumn, pressure: NDArray[np.float64]) -> NDArray[np.float64]:
    if column.barometer_pa is None:
        raise column.grid.refuse(
            "the readings are absolute pressures and no barometer is known"
            + (f" ({column.barometer_remark})" if column.barometer_remark else ""),
            remedy='Say --barometer "1013 mbar" (station pressure), or add the line '
            '"Barometer: 1013 mbar" above the table.',
        )
    low = np.flatnonzero(pressure < 0)
    if low.size:
        raise column.grid.refuse(
            f"{shown(column.cells[low[0]])!r} is below absolute zero pressure: more than a vacuum can be",
            column.lines[low[0]],
            "Are these gauge readings? Then leave absolute out.",
        )
    return pressure - column.barometer_pa


def _signed(
    column: PressureColumn, pressure: NDArray[np.float64], unit: str
) -> tuple[NDArray[np.float64], Direction | None, list[str]]:
    """Vacuum written as positive numbers made negative, by option, key, heading or the unit inHg."""
    direction, why = column.direction, "as told"
    if direction is None and column.heading.vacuum:
        direction, why = "vacuum", f"by the heading {column.heading.name!r}"
    elif direction is None and unit == "inHg":
        direction, why = (
            "vacuum",
            "because inHg means vacuum in the trade (--direction pressure says otherwise)",
        )
    top, bottom = float(pressure.max(initial=0.0)), float(-pressure.min(initial=0.0))
    if direction == "pressure" and bottom > 1e3 and bottom > 5 * top:
        raise column.grid.refuse(
            "the direction is pressure, but the readings are below zero",
            column.lines[0],
            "Say --direction vacuum, or mark the readings as absolute.",
        )
    if direction != "vacuum" or top <= 0.05 * bottom:
        return pressure, column.direction or ("vacuum" if direction == "vacuum" else None), []
    if bottom > 0.05 * top:
        index = int(np.argmin(pressure)) if pressure[0] > 0 else int(np.argmax(pressure))
        raise column.grid.refuse(
            f"vacuum with both signs: {shown(column.cells[index])!r} among readings of the other sign",
            column.lines[index],
            "Write all vacuum readings as positive numbers, or all as negative.",
        )
    return 0.0 - pressure, "vacuum", [f"positive readings taken as vacuum, {why}"]


def _check_limits(column: PressureColumn, gauge_pa: NDArray[np.float64]) -> None:
    floor = HIGHEST_BAROMETER_PA if column.barometer_pa is None else column.barometer_pa + 2e3
    deep = np.flatnonzero(gauge_pa < -floor)
    if deep.size:
        index = deep[0]
        raise column.grid.refuse(
            f"{shown(column.cells[index])!r} is more than a vacuum can be: "
            f"{gauge_pa[index] / 1e3:.1f} kPa gauge is "
            f"below absolute zero pressure (barometer at most {floor / 1e3:.1f} kPa)",
            column.lines[index],
            "Check the unit and the reading.",
        )
    high = np.flatnonzero(gauge_pa > HIGHEST_PA)
    if high.size:
        raise column.grid.refuse(
            f"{shown(column.cells[high[0]])!r} is {gauge_pa[high[0]] / 1e3:.0f} kPa: more than "
            f"{HIGHEST_PA / 1e3:.0f} kPa cannot be read as such a test",
            column.lines[high[0]],
            "Check the unit and the decimal mark.",
        )
