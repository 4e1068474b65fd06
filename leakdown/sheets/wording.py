"""The words of a blank sheet: what to do, what to mind, what to write down."""

from __future__ import annotations

from leakdown.quantities import PRESSURE_PA, significant
from leakdown.report.words import circuit_words
from leakdown.sheets.blank import BlankSheet

TITLE = "Reading sheet, crankcase and fuel-system pressure/vacuum test"
_ENGINE_CIRCUITS = ("crankcase", "intake", "impulse")


def heading(sheet: BlankSheet) -> str:
    """ "Crankcase, vacuum test"."""
    return f"{circuit_words(sheet.circuit).capitalize()}, {sheet.direction} test"


def shown(pressure_pa: float, unit: str) -> str:
    """In the sheet's unit, and in kPa where that is another."""
    own = f"{significant(pressure_pa / PRESSURE_PA[unit], 2)} {unit}"
    return own if unit == "kPa" else f"{own} ({pressure_pa / 1e3:g} kPa)"


def target_words(sheet: BlankSheet) -> str:
    """What to pump to."""
    of = "of vacuum" if sheet.direction == "vacuum" else "of pressure"
    if sheet.target_pa is None:
        return "Pump to the maker's figure: common practice has none for this test."
    target = shown(sheet.target_pa, sheet.unit)
    if sheet.target_pa > sheet.caution_pa:
        return f"Pump slowly to {target} {of}: by the maker's manual only."
    return f"Pump slowly to {target} {of} (common practice; the maker's figure first)."


def caution_words(sheet: BlankSheet) -> str:
    """How far not to go."""
    if sheet.target_pa is not None and sheet.target_pa > sheet.caution_pa:
        usual = shown(sheet.caution_pa, sheet.unit)
        return f"Beyond {usual} only if the maker's manual says so (common practice)."
    return f"Never beyond {shown(sheet.caution_pa, sheet.unit)} here (common practice)."


def steps(sheet: BlankSheet) -> tuple[str, ...]:
    """The test in order."""
    return (
        "Read the gauge open to air and write it down.",
        target_words(sheet),
        "Shut the valve, start the watch: that is 0 s. Read at the times below; a missed one stays empty.",
        "Write beside a reading what was done at that moment (boot pushed, joint wetted, hose touched).",
        "Crack a blank open at the end: the reading must fall. Read the gauge open to air again.",
    )


def cautions(sheet: BlankSheet) -> tuple[str, ...]:
    """What to mind."""
    lines = [caution_words(sheet), "No shop air without a regulator and a relief valve. Eye protection."]
    if sheet.circuit in _ENGINE_CIRCUITS:
        lines.append("Never turn the crankshaft with the ports closed under pressure. Vent first.")
    lines.append("Drained, ventilated, no sparks; a trap before the gauge; a cold engine.")
    return tuple(lines)


def blanks_to_fill(sheet: BlankSheet) -> tuple[tuple[str, str], ...]:
    """(key as the reader knows it, unit written beside it)."""
    return (
        ("Volume", "cm3"),
        ("Volume uncertainty", "%"),
        ("Barometer", "kPa"),
        ("Temperature", "degC"),
        ("Gauge", ""),
        ("Resolution", sheet.unit),
        ("Blocked", ""),
        ("Started", ""),
        ("Note", ""),
    )
