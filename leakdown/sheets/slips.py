"""Slips of the pen in a hand sheet: a digit, a sign, a hold pumped up again. Named with line and text.

A closed volume loses pressure or stands; nothing but the pump brings it back. So a reading far from both its
neighbours, which themselves go on falling, was not written down as it was (common practice, no source).
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import circuit
from leakdown.errors import InputError
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Doubt, Mark, Recording
from leakdown.sheets.grid import Grid
from leakdown.tuned import tuned
from leakdown.vocabulary import plain

_T = tuned("sheets")
_REPUMPED = re.compile(
    r"(?<!not )(?<!nicht )(?<!no )\b(?:re-?\s?pump\w*|pump\w*(?: \w+)? (?:again|back)|again pumped|topped up|"
    r"re-?fill\w*|re-?inflat\w*|re-?evacuat\w*|re-?charg\w*|nachgepumpt|nachgefullt|nachpumpen|"
    r"(?:wieder|erneut|nochmals?) (?:auf)?gepumpt|regonfl\w*)"
)
_PUMPED = re.compile(r"(?<!not )(?<!no )(?<!nicht )\b(?:pumped|aufgepumpt|gepumpt|gonfle)\b")


@dataclass(frozen=True)
class HandReadings:
    """Readings in order: time_s and gauge_pa (n,), with the line and the text of each."""

    time_s: NDArray[np.float64]
    gauge_pa: NDArray[np.float64]
    lines: Sequence[int]
    texts: Sequence[str]
    grid: Grid

    def part(self, part: slice) -> HandReadings:
        """Some of the readings."""
        kept = (self.time_s[part], self.gauge_pa[part], self.lines[part], self.texts[part])
        return HandReadings(*kept, self.grid)

    def refuse(self, index: int, what: str, remedy: str) -> InputError:
        """An InputError at the line of a reading."""
        return self.grid.refuse(what, self.lines[index], remedy)

    @property
    def level_pa(self) -> float:
        """The middle size of the readings."""
        return float(np.median(np.abs(self.gauge_pa)))

    @property
    def step_pa(self) -> float:
        """The least difference between two readings: no finer than the gauge was read."""
        steps = np.diff(np.unique(np.round(self.gauge_pa, 3)))
        return float(steps.min()) if steps.size else 0.0


def slips(readings: HandReadings) -> list[Doubt]:
    """Doubts about readings that look odd. Raises InputError for those that cannot have been."""
    if readings.time_s.size < 3:
        return []
    _check_signs(readings)
    inner = range(1, readings.time_s.size - 1)
    offs = {i: off for i in inner if (off := _off(readings.gauge_pa[i - 1 : i + 2], readings)) > 0}
    odd = [_judged(readings, i, cycling={i - 1, i + 1} & offs.keys() != set()) for i in offs]
    found = [Doubt("slip", text, True) for text in odd] + [Doubt("slip", text) for text in _ends(readings)]
    return found[:3] + pumped_again(readings)


def _check_signs(readings: HandReadings) -> None:
    """Refuse a change of sign between readings of like size: a minus too many or too few, or two tests."""
    p, least = readings.gauge_pa, _T.small_reading * readings.level_pa
    for i in range(1, p.size):
        one, two = abs(p[i - 1]), abs(p[i])
        if p[i - 1] * p[i] >= 0 or min(one, two) < least or max(one, two) > 2 * min(one, two):
            continue
        lone = i if i + 1 < p.size and p[i] * p[i + 1] < 0 else i - 1 if i == 1 else i
        raise readings.refuse(
            lone,
            f"the sign changes from {readings.texts[i - 1]!r} to {readings.texts[i]!r}: a slip at line "
            f"{readings.lines[lone]}, or two tests in one sheet?",
            "Correct the sign, or save each test as a file of its own.",
        )


def _off(three: NDArray[np.float64], readings: HandReadings) -> float:
    """How far the middle one of three readings is off, in parts of its neighbours; 0 for a gauge step."""
    before, now, after = (float(p) for p in three)
    low, high = sorted((abs(before), abs(after)))
    if before * after <= 0 or low < _T.small_reading * readings.level_pa or not 0.5 * abs(before) <= abs(after):
        return 0.0
    if abs(after) > 1.05 * abs(before):
        return 0.0
    off = high - now * np.sign(before) if before * now < 0 else max(abs(now) - high, low - abs(now))
    return float(off / high) if off > max(_T.odd_share * high, 1.01 * readings.step_pa) else 0.0


def _judged(readings: HandReadings, i: int, cycling: bool) -> str:
    """A remark on reading `i` that is off; raises InputError for a plain slip.

    `cycling`: its neighbour is off too, as where a needle pops and is pumped up again.
    """
    low, high = sorted(abs(float(p)) for p in readings.gauge_pa[[i - 1, i + 1]])
    now = float(readings.gauge_pa[i]) * float(np.sign(readings.gauge_pa[i - 1]))
    among = f"{readings.texts[i - 1]!r} and {readings.texts[i + 1]!r}"
    if not cycling and (now > _T.slip_factor * high or _T.slip_factor * now < low):
        raise readings.refuse(
            i,
            f"{readings.texts[i]!r} stands between {among}: a digit or a unit slipped?",
            "Correct the reading, or leave its cell blank.",
        )
    return f"line {readings.lines[i]}: {readings.texts[i]!r} stands out from {among}: check it"


def _ends(readings: HandReadings) -> list[str]:
    """A first reading far above a hold, or a last one, and a tenth of it: perhaps a point slipped."""
    p, remarks = np.abs(readings.gauge_pa), []
    last = p.size - 1
    for i, near, further in ((0, 1, 2), (last, last - 1, last - 2)):
        if not (abs(p[near] - p[further]) < _T.small_reading * p[near] and p[near] > 0):
            continue
        said, neighbour = f"line {readings.lines[i]}: {readings.texts[i]!r}", repr(readings.texts[near])
        if p[i] > _T.end_factor * p[near]:
            remarks.append(f"{said} stands far above its neighbour {neighbour}: check it")
        elif abs(p[i] / p[near] - 0.1) < _T.tenth_doubt:
            remarks.append(f"{said} is a tenth of its neighbour {neighbour}: check it")
    return remarks


def rises(readings: HandReadings) -> list[int]:
    """Indices of the readings that rose again after a hold, by more than a gauge's step or warming does."""
    p = np.abs(readings.gauge_pa)
    least = min(1.01 * readings.step_pa, _T.coarse_step_share * float(p.max()))
    found = []
    for i in range(2, p.size):
        held = p[i - 1] < p[i - 2] and p[i - 1] > 0.5 * p.max()
        emptied = i > 2 and bool((np.diff(p[i - 3 : i]) < 0).all()) and p[i] > 0.5 * p.max()
        risen = p[i] > (1 + _T.odd_share) * p[i - 1] and p[i] - p[i - 1] > least
        if (held or emptied) and risen and (i + 1 == p.size or p[i + 1] > 0.9 * p[i - 1]):
            found.append(i)
    return found


def pumped_again(readings: HandReadings) -> list[Doubt]:
    """A doubt about the first reading that rose again, or none; a needle's circuit is not to be asked."""
    return [
        Doubt(
            "pumped-again",
            f"line {readings.lines[i]}: the pressure rises from {readings.texts[i - 1]!r} to "
            f"{readings.texts[i]!r} at {readings.time_s[i]:g} s: pumped again, or a slip? Pick one hold with "
            '--test 1, --test 2 or --hold START..END, or write "repumped" beside it',
            True,
        )
        for i in rises(readings)[:1]
    ]


def holds_s(readings: HandReadings) -> tuple[tuple[float, float], ...]:
    """Start and end of each hold between unmarked rises; empty where there is one, or a part is too short."""
    parts = _parts(rises(readings), readings)
    if len(parts) < 2 or any(part.stop - part.start < 2 for part in parts):
        return ()
    return tuple((float(readings.time_s[p.start]), float(readings.time_s[p.stop - 1])) for p in parts)


def _parts(cuts: Sequence[int], readings: HandReadings) -> list[slice]:
    edges = [0, *cuts, int(readings.time_s.size)]
    return [slice(a, b) for a, b in itertools.pairwise(edges)]


def picked_hold(readings: HandReadings, marks: Sequence[Mark], test: int) -> tuple[slice, list[str]]:
    """The `test`-th hold of a sheet, counted from 1, and a remark. Raises InputError where there is none."""
    cuts = sorted({*_marked(readings, marks)[0], *rises(readings)})
    parts = _parts(cuts, readings)
    if test > len(parts):
        holds = f"{len(parts)} hold{'s' * (len(parts) > 1)}"
        raise readings.grid.refuse(f"--test {test}: this file holds {holds}", remedy="Count from 1.")
    part = parts[test - 1]
    if len(parts) == 1:
        return part, []
    if part.stop - part.start < 2:
        raise readings.refuse(part.start, f"--test {test}: one reading is no decay", "Pick another.")
    return part, [f"hold {test} of {len(parts)} read ({_place(readings, part)}), the others left out"]


def one_hold(readings: HandReadings, marks: Sequence[Mark]) -> tuple[slice, list[str]]:
    """The longest part between rows that say the pump was used again (of equals the last), and a remark.

    Raises InputError where a remark says so and no reading rises.
    """
    cuts, said = _marked(readings, marks)
    if not said:
        return slice(None), []
    parts = _parts(cuts, readings)
    spans = [readings.time_s[part.stop - 1] - readings.time_s[part.start] for part in parts]
    part = parts[max(range(len(spans)), key=lambda k: (round(spans[k], 6), k))]
    if part.stop - part.start < 2:
        what = f"{said[0]!r}: no hold of two readings is left between the pumping"
        raise readings.refuse(cuts[0], what, "Give the readings of one hold.")
    return part, [
        f"{said[0]!r} at line {readings.lines[cuts[0]]}: {len(parts)} holds in one sheet; read the one of "
        f"{_place(readings, part)}, left the others out"
    ]


def of_one_hold(recording: Recording, lines: Iterable[int] | None, test: int | None) -> Recording:
    """A recording that was copied from a sheet, its holds told apart or the `test`-th picked.

    Raises InputError where there is no such hold.
    """
    p, unit, grid = recording.pressure_pa, recording.conditions.unit, Grid([], [], recording.source)
    sheet = recording.by_hand and 3 <= p.size <= _T.most_by_hand
    if not sheet or lines is None or circuit(recording.conditions.circuit).needle:
        if test not in (None, 1):
            raise grid.refuse(f"--test {test}: this file holds one test", remedy="Leave --test out.")
        return recording
    texts = [f"{level:.4g}" for level in p / PRESSURE_PA[unit]]
    readings = HandReadings(recording.time_s, p, [int(line) for line in lines], texts, grid)
    if test is None:
        return replace(recording, holds=holds_s(readings)).with_said(pumped_again(readings))
    part, remarks = picked_hold(readings, recording.marks, test)
    times = recording.time_s[part]
    return recording.between(times[0], times[-1]).with_said(remarks)


def _marked(readings: HandReadings, marks: Sequence[Mark]) -> tuple[list[int], list[str]]:
    """Indices at which remarks say that the pump was used again, and those remarks."""
    cuts: list[int] = []
    said = []
    for mark in marks:
        text = plain(mark.text)
        if _REPUMPED.search(text) or _PUMPED.search(text):
            at = _rise_near(readings, mark)
            if at is not None and at > (cuts[-1] if cuts else 0):
                cuts.append(at)
                said.append(mark.text)
    return cuts, said


def _place(readings: HandReadings, part: slice) -> str:
    span = f"{readings.time_s[part.start]:g} to {readings.time_s[part.stop - 1]:g} s"
    return f"{span} (lines {readings.lines[part.start]} to {readings.lines[part.stop - 1]})"


def _rise_near(readings: HandReadings, mark: Mark) -> int | None:
    """Index of the reading that is higher than the one before it, at the mark or next; None while filling."""
    p = np.abs(readings.gauge_pa)
    at = int(np.searchsorted(readings.time_s, mark.time_s))
    for i in (at, at + 1):
        if 0 < i < p.size and p[i] > p[i - 1]:
            steps = np.diff(p[:i])
            held = steps.size > 0 and ((steps < 0).any() or bool((steps <= 0).all() and p[0] > 0))
            return i if held else None
    if at == 0 or at + 1 >= p.size or not _REPUMPED.search(plain(mark.text)):
        return None
    what = f"{mark.text!r}, and no reading rises there: where does the new hold start?"
    raise readings.refuse(min(at, p.size - 1), what, "Give the readings of one hold.")
