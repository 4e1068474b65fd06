"""Blank reading sheets: what stands on one, its words, its page, and the CSV that `leakdown analyse` reads back."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from leakdown import circuits
from leakdown.analysis import Limit
from leakdown.circuits import Direction, procedure
from leakdown.errors import UsageError
from leakdown.judge.limits import WHOSE, parse_limit, practice_limit
from leakdown.quantities import PRESSURE_PA, pressure_unit, show_pressure, significant
from leakdown.report.page import page
from leakdown.words.numbers import kpa_words
from leakdown.words.sizes import circuit_words
from leakdown.words.wrap import texts

MOST_ROWS = 200
_COLUMN = 10  # rows in one column of readings
_SAID = texts("sheet")


@dataclass(frozen=True)
class BlankSheet:
    """A sheet for one test. Pressures are magnitudes in Pa; target_pa is None where practice has none.

    limit: as `--limit` takes it, "" where there is none; limit_from says whose it is.
    """

    circuit: str
    direction: Direction
    unit: str
    times_s: tuple[float, ...]
    target_pa: float | None
    caution_pa: float
    limit: str
    limit_from: str

    @property
    def pressure_heading(self) -> str:
        """Heading of the column to fill in; "vacuum" there makes positive numbers mean vacuum."""
        return f"{'vacuum' if self.direction == 'vacuum' else 'pressure'} ({self.unit})"


def blank_sheet(
    circuit: str,
    direction: Direction,
    unit: str,
    every_s: float,
    hold_s: float | None,
    limit: str | None,
    target_pa: float | None,
) -> BlankSheet:
    """The sheet for a circuit. hold_s None: as long as the limit needs, at least 2 minutes.

    Raises UsageError for an unknown or absolute unit, too many rows, a bad limit, or a target above the
    caution of thin or tender parts (tank, float bowl).
    """
    known = pressure_unit(unit)
    if known is None or known.reference == "absolute":
        remedy = f"Known units: {', '.join(PRESSURE_PA)}."
        raise UsageError(f"unit {unit!r} is no unit of gauge pressure", remedy=remedy)
    known_circuit = circuits.circuit(circuit)
    judged = parse_limit(limit) if limit else practice_limit(circuit, direction)
    length_s = hold_s if hold_s is not None else max(120.0, judged.time_s if judged else 0.0)
    caution = known_circuit.caution_pa(direction)
    target = target_pa if target_pa is not None else known_circuit.target_pa(direction)
    if target is not None and target > caution and known_circuit.tender:
        more = f"{kpa_words(target, 6)} is more than {circuit} stands ({kpa_words(caution, 6)}, common practice)"
        raise UsageError(more, remedy="Choose a lower --target.")
    allowed = (_limit_words(judged, known.name), WHOSE[judged.source]) if judged else ("", "")
    return BlankSheet(circuit, direction, known.name, _times(every_s, length_s), target, caution, *allowed)


def _times(every_s: float, length_s: float) -> tuple[float, ...]:
    if not (every_s >= 1.0 and length_s >= every_s):
        what = "the readings must be at least 1 s apart, and the hold longer than one step"
        raise UsageError(what, remedy='Such as --every "10 s" --hold "2 min".')
    rows = int(length_s / every_s + 1e-9) + 1
    if rows > MOST_ROWS:
        raise UsageError(f"{rows} readings are more than a person writes down", remedy="Choose a longer --every.")
    return tuple(round(i * every_s, 3) for i in range(rows))


PUMP_BOX = "Pump and regulator off the circuit"
TITLE = "Reading sheet, crankcase and fuel-system pressure/vacuum test"


def heading(sheet: BlankSheet) -> str:
    """ "Crankcase, vacuum test"."""
    return f"{circuit_words(sheet.circuit).capitalize()}, {sheet.direction} test"


def shown(pressure_pa: float, unit: str) -> str:
    """In the sheet's own unit, and in no other."""
    return f"{significant(pressure_pa / PRESSURE_PA[unit], 2)} {unit}"


def _limit_words(limit: Limit, unit: str) -> str:
    """The limit in the sheet's unit; one that is no pressure in its own words."""
    if limit.kind != "drop" or unit in limit.text:
        return limit.text
    start = f" from {show_pressure(limit.start_pa, unit)}" if limit.start_pa else ""
    return f"{show_pressure(limit.drop_pa, unit)} in {limit.time_s:g} s{start}"


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
    shut = procedure().told(_target(sheet)) if tops_up(sheet) else (_SAID["at-once"],)
    return (_SAID["zero"], target_words(sheet), *shut, *(_SAID[name] for name in ("read", "remarks", "proof")))


def tops_up(sheet: BlankSheet) -> bool:
    """Whether this test goes through the steps of `circuits.procedure`, which have boxes of their own."""
    way = circuits.circuit(sheet.circuit).way(sheet.direction)
    return way is not None and way.tops_up


def _target(sheet: BlankSheet) -> str:
    return "the pressure of the test" if sheet.target_pa is None else shown(sheet.target_pa, sheet.unit)


def start_boxes(sheet: BlankSheet) -> tuple[tuple[str, str], ...]:
    """What is written down between the first closing and the watch: (key as the reader knows it, unit)."""
    boxes = (
        ("Reading when the valve was shut", sheet.unit),
        ("Topped up to", sheet.unit),
        ("Waited before the watch", "s"),
    )
    return boxes if tops_up(sheet) else ()


def cautions(sheet: BlankSheet) -> tuple[str, ...]:
    """What to mind."""
    turning = [_SAID["turning"]] if circuits.circuit(sheet.circuit).engine else []
    return (caution_words(sheet), _SAID["air"], *turning, _SAID["cold"])


def blanks_to_fill(sheet: BlankSheet) -> tuple[tuple[str, str], ...]:
    """(key as the reader knows it, unit written beside it)."""
    measured = (("Volume", "cm3"), ("Volume uncertainty", "%"), ("Barometer", "kPa"), ("Temperature", "degC"))
    gauge = (("Gauge", ""), ("Resolution", sheet.unit))
    return (*measured, *gauge, ("Blocked", ""), ("Started", ""), ("Note", ""))


def csv_text(sheet: BlankSheet) -> str:
    """Comment lines, conditions to fill in, then a row for each time."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    shut = [f"{step} (common practice)" for step in procedure().told(_target(sheet))] if tops_up(sheet) else []
    advice = (f"{heading(sheet)}. {target_words(sheet)}", *shut, caution_words(sheet))
    stream.write("".join(f"# {_plain(line)}\n" for line in advice))
    writer.writerow(("Circuit", sheet.circuit, ""))
    writer.writerow(("Direction", sheet.direction, ""))
    for key, unit in blanks_to_fill(sheet):
        writer.writerow((f"{key} ({unit})" if unit else key, "", ""))
    for key, unit in start_boxes(sheet):
        writer.writerow((f"{key} ({unit})", "", ""))
    writer.writerow((f"{PUMP_BOX} (yes or no)", "", ""))
    for when in ("before", "after"):
        writer.writerow((f"Open to air {when} ({sheet.unit})", "", ""))
    writer.writerow(("time (s)", sheet.pressure_heading, "remarks"))
    for time_s in sheet.times_s:
        writer.writerow((f"{time_s:g}", "", ""))
    return stream.getvalue()


def _plain(text: str) -> str:
    """Without what a reader of such lines could take for a key and its value."""
    return text.replace(": ", " - ").replace("=", "").replace(";", ",").replace(",", " -")


def blank_sheet_page(sheet: BlankSheet) -> str:
    """The sheet as one HTML file for A4 paper: no script, no network."""
    times = [(f"{time_s:g}", _clock(time_s)) for time_s in sheet.times_s]
    columns = -(-len(times) // _COLUMN)
    size = -(-len(times) // min(max(columns, 1), 3))
    return page(
        "blank_sheet.html",
        (),
        name=TITLE,
        heading=heading(sheet),
        sheet=sheet,
        steps=steps(sheet),
        cautions=cautions(sheet),
        conditions=blanks_to_fill(sheet),
        start=start_boxes(sheet),
        pump_box=PUMP_BOX,
        columns=[times[i : i + size] for i in range(0, len(times), size)],
    )


def _clock(time_s: float) -> str:
    minutes, seconds = divmod(time_s, 60.0)
    return f"{minutes:.0f}:{seconds:02.0f}" if time_s >= 60 and seconds % 1 == 0 else ""
