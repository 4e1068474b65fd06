"""A column of pressure cells -> gauge pressure in Pa, signed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import Direction
from leakdown.quantities import PRESSURE_PA, PressureUnit, pressure_unit
from leakdown.sheets.numbers import Written, written
from leakdown.sheets.sheet import Column, Sheet
from leakdown.tuned import tuned

_T = tuned("sheets")
_UNITS = ", ".join(PRESSURE_PA)


@dataclass(frozen=True)
class Pressures:
    """gauge_pa (n,) signed; the unit's canonical name; the direction if it was said or follows.

    reference_said: whether somebody said gauge or absolute. turned: whether positive readings of a vacuum
    were made negative. absolute: the barometer was subtracted.
    """

    gauge_pa: NDArray[np.float64]
    unit: str
    direction: Direction | None
    remarks: tuple[str, ...] = ()
    reference_said: bool = False
    turned: bool = False
    absolute: bool = False


def gauge_pressures(column: Column, sheet: Sheet) -> Pressures:
    """Gauge pressures of every cell. Raises InputError: bad cell, missing unit, impossible value."""
    numbers = [_number(column, i) for i in range(len(column.cells))]
    units, remarks = _units(column, sheet, numbers)
    factor = units[0].factor_pa
    values = column.values(
        numbers,
        "pressure",
        lambda values: max(map(abs, values), default=0.0) * factor <= _T.highest_likely_pa,
        point=column.grid.delimiter == ",",  # decimal commas go with other separators
    )
    about = sum(number.about for number in numbers)
    if about:
        remarks.append(f"{about} readings written as approximate were used as they are")
    return _settled(column, sheet, values * np.array([unit.factor_pa for unit in units]), units, remarks)


def plain_gauge_pressures(column: Column, sheet: Sheet, values: NDArray[np.float64]) -> Pressures:
    """The same for a column that was already read as plain numbers (n,) in its heading's unit."""
    units, remarks = _units(column, sheet, [Written("1")])
    return _settled(column, sheet, values * units[0].factor_pa, units, remarks)


def _settled(
    column: Column, sheet: Sheet, pressure: NDArray[np.float64], units: list[PressureUnit], remarks: list[str]
) -> Pressures:
    """Pascals as written -> signed gauge pressures within what can be."""
    names = [unit.name for unit in units]
    name = max(dict.fromkeys(names), key=names.count)
    direction = sheet.direction
    absolute, as_written = _absolute(column, sheet, units), pressure
    if absolute:
        pressure = _from_absolute(column, sheet, pressure)
    else:
        pressure, direction, more = _signed(column, direction, pressure, name)
        remarks = remarks + more
    _check_limits(column, sheet.barometer_pa, pressure)
    gauge = column.heading.gauge or any(unit.reference == "gauge" for unit in units)
    turned = not absolute and pressure is not as_written
    return Pressures(pressure, name, direction, tuple(remarks), absolute or gauge, turned, absolute)


def _number(column: Column, index: int) -> Written:
    number = written(column.cells[index])
    if number is None or (number.rest and pressure_unit(number.rest) is None):
        unit = f" (unknown unit {number.rest!r})" if number and number.rest[:1].isalpha() else ""
        raise column.refuse(index, "no pressure", name=column.heading.name, cell=column.shown(index), unit=unit)
    return number


def _units(column: Column, sheet: Sheet, numbers: list[Written]) -> tuple[list[PressureUnit], list[str]]:
    """Each reading's unit: the option, the cell's own, the heading's, the preamble's, its neighbours'."""
    forced, head, remarks = column.options.pressure_unit, column.heading, []
    if forced is not None:
        if head.unit is not None and head.unit.name != forced.name:
            remarks = [f"heading {head.name!r} says {head.unit.name}, read as {forced.name} as told"]
        return [forced] * len(numbers), remarks
    in_cells = [pressure_unit(number.rest) if number.rest else None for number in numbers]
    default = head.unit or (pressure_unit(sheet.said.unit) if sheet.said.unit else None)
    if head.factor != 1.0 and head.unit is not None:
        remarks = [f"readings multiplied by {head.factor:g}, as the heading {head.name!r} says"]
    if default is None:
        default, more = _unit_of_neighbours(column, numbers, in_cells)
        remarks += more
    units = [unit or default for unit in in_cells]
    names = {unit.name for unit in units}
    if len(names) > 1:
        remarks.append(f"readings in different units were converted: {', '.join(sorted(names))}")
    return units, remarks


def _unit_of_neighbours(
    column: Column, numbers: list[Written], in_cells: list[PressureUnit | None]
) -> tuple[PressureUnit, list[str]]:
    """The unit that some cells have, for those that have none. Raises InputError where none or several do."""
    found = list({unit.name: unit for unit in in_cells if unit}.values())
    pairs = zip(in_cells, numbers, strict=True)
    bare = [i for i, (unit, number) in enumerate(pairs) if unit is None and number.digits != "0"]
    if not found:
        raise column.grid.refuse(
            "no unit", column.lines[0] - 1 if column.heading.text else None, name=column.heading.name, units=_UNITS
        )
    if bare and len(found) > 1:
        raise column.refuse(bare[0], "unit missing", cell=column.shown(bare[0]))
    remark = f"{len(bare)} readings without a unit were taken as {found[0].name} like the others"
    return found[0], [remark] if bare else []


def _absolute(column: Column, sheet: Sheet, units: list[PressureUnit]) -> bool:
    if column.options.absolute:
        return True
    forced = column.options.pressure_unit
    if forced is not None and forced.reference:
        return forced.reference == "absolute"
    references = {unit.reference for unit in units}
    if "absolute" in references and len(references) > 1:
        raise column.refuse(0, "some absolute")
    if "gauge" in references or column.heading.gauge:
        return False
    return "absolute" in references or column.heading.absolute or sheet.said.absolute


def _from_absolute(column: Column, sheet: Sheet, pressure: NDArray[np.float64]) -> NDArray[np.float64]:
    if sheet.barometer_pa is None:
        remark = next((f" ({r})" for r in sheet.said.remarks if "baro" in str(r).lower()), "")
        raise column.grid.refuse("no barometer", known=remark)
    low = np.flatnonzero(pressure < 0)
    if low.size:
        raise column.refuse(low[0], "below absolute zero", cell=column.shown(low[0]))
    return pressure - sheet.barometer_pa


def _signed(
    column: Column, said: Direction | None, pressure: NDArray[np.float64], unit: str
) -> tuple[NDArray[np.float64], Direction | None, list[str]]:
    """Vacuum written as positive numbers made negative, by option, key, heading or the unit inHg."""
    direction, why = said, "as told"
    if said is None and column.heading.vacuum:
        direction, why = "vacuum", f"by the heading {column.heading.name!r}"
    elif said is None and unit == "inHg":
        direction = "vacuum"
        why = "because inHg means vacuum in the trade (--direction pressure says otherwise)"
    top, bottom = float(pressure.max(initial=0.0)), float(-pressure.min(initial=0.0))
    if direction == "pressure" and is_below_zero(top, bottom):
        raise column.refuse(0, "below zero")
    few = _T.few_of_the_other_sign
    if direction != "vacuum" or top <= few * bottom:
        return pressure, "vacuum" if direction == "vacuum" else said, []
    if bottom > few * top:
        index = int(np.argmin(pressure)) if pressure[0] > 0 else int(np.argmax(pressure))
        raise column.refuse(index, "both signs", cell=column.shown(index))
    return 0.0 - pressure, "vacuum", [f"positive readings taken as vacuum, {why}"]


def is_below_zero(top_pa: float, bottom_pa: float) -> bool:
    """Whether readings between `top_pa` and -`bottom_pa` are plainly a vacuum."""
    return bool(bottom_pa > _T.plain_vacuum_pa and bottom_pa > 5 * top_pa)


def impossible(gauge_pa: NDArray[np.float64], barometer_pa: float | None) -> tuple[int | None, float]:
    """Index of the first gauge pressure that cannot be, too deep ones first, or None; and the deepest, Pa."""
    deepest = -_T.highest_barometer_pa if barometer_pa is None else -barometer_pa - _T.barometer_doubt_pa
    for wrong in (gauge_pa < deepest, gauge_pa > _T.highest_pa):
        if wrong.any():
            return int(np.argmax(wrong)), deepest
    return None, deepest


def _check_limits(column: Column, barometer_pa: float | None, gauge_pa: NDArray[np.float64]) -> None:
    index, deepest = impossible(gauge_pa, barometer_pa)
    if index is None:
        return
    kpa = gauge_pa[index] / 1e3
    if kpa < 0:
        raise column.refuse(index, "too deep", cell=column.shown(index), kpa=kpa, barometer_kpa=-deepest / 1e3)
    raise column.refuse(index, "too high", cell=column.shown(index), kpa=kpa, most_kpa=_T.highest_pa / 1e3)
