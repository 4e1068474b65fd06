"""Find the parts of a test in its readings: zero, fill, stabilise, hold, vent, zero again.

What tells them apart is physics, not thresholds alone: through any passive leak the pressure moves ever
more slowly, so a fall that suddenly quickens is a vent, a slip or a hand on the hose, never the leak.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Phase, Step, Zero
from leakdown.errors import InputError
from leakdown.hold.readings import DENSE_FROM, OPEN_TO_AIR, zero_of
from leakdown.hold.trace import every_hold_in_log, find_in_log
from leakdown.quantities import show_pressure
from leakdown.recording import Mark, Recording

Array = NDArray[np.float64]

_LEAST_RUN = 20
_LEAST_S = 3.0
_CALM_READINGS = 20
_BESIDE = 7  # steps looked at together
_TO_AND_FRO = 0.6  # of the way travelled: more in one direction is pumping or a leak
_CHANCE = 1e-6  # of so long a run in a living gauge


def frozen_from(time_s: Array, pressure_pa: Array) -> tuple[float, float] | None:
    """Start and end (s) of the longest run of equal readings of a log that cannot be chance, or None."""
    if time_s.size < 3 * _LEAST_RUN:
        return None
    same = np.diff(pressure_pa) == 0.0
    first, last = _longest_run(same)
    n = last - first
    if n < _LEAST_RUN or time_s[last] - time_s[first] < _LEAST_S or pressure_pa[first] == 0.0:
        return None
    calm = _calm(pressure_pa)
    calm[max(first - 1, 0) : last + 1] = False
    if calm.sum() < _CALM_READINGS:
        return None
    equal = (same[calm].sum() + 1.0) / (calm.sum() + 2.0)  # rule of succession
    chance = float(equal) ** n * time_s.size
    return (float(time_s[first]), float(time_s[last])) if chance < _CHANCE else None


def _longest_run(same: NDArray[np.bool_]) -> tuple[int, int]:
    """Indices of the first and last reading of the longest run of equal neighbours."""
    edges = np.diff(np.concatenate(([0], same.astype(np.int8), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if starts.size == 0:
        return 0, 0
    k = int(np.argmax(ends - starts))
    return int(starts[k]), int(ends[k])


def _calm(pressure_pa: Array) -> NDArray[np.bool_]:
    """Steps between neighbours in which nothing goes one way: the reading stands, or jitters to and fro."""
    step = np.diff(pressure_pa)
    over = np.ones(_BESIDE)
    travelled, moved = np.convolve(np.abs(step), over, mode="same"), np.abs(np.convolve(step, over, "same"))
    return np.asarray(moved <= _TO_AND_FRO * travelled)


_JUST_BEFORE_S = 6.0
_LIVES_ON_S = 8.0  # of hold after the gauge came down from the end of its range
_FELL = 1.25  # of the hold's start: more than warm gas gives back while it cools


@dataclass(frozen=True)
class Window:
    """Where the valve was shut and what came before and after; times on the recording's clock.

    fell_from_pa: the level (magnitude) from which the reading fell quickly just before, if it did.
    frozen_s: from when to when the gauge stood still, noise included, if it did. saturated_pa: the end of
    its range (magnitude), where it stood before it came down.
    """

    closed_s: float
    end_s: float
    phases: tuple[Phase, ...]
    zero: Zero
    steps: tuple[Step, ...]
    several: bool = False
    given: bool = False
    parted_at: Mark | None = None
    fell_from_pa: float | None = None
    frozen_s: tuple[float, float] | None = None
    saturated_pa: float | None = None


def find(recording: Recording, resolution_pa: float, given: tuple[float, float] | None = None) -> Window:
    """The hold of a recording. `given` (start, end) overrides. Raises InputError when there is none."""
    t, p = recording.time_s, recording.pressure_pa
    if t.size < 2:
        raise InputError(
            "one reading is no decay",
            where=recording.source,
            remedy="Write at least a start and an end pressure with their times.",
        )
    sign = -1.0 if recording.direction == "vacuum" else 1.0
    size = sign * p
    if size.max() <= 0:
        raise InputError(
            f"no {recording.direction} in these readings: none is on that side of zero",
            where=recording.source,
            remedy="Check --direction and the sign of the readings.",
        )
    if t.size < DENSE_FROM:
        _refuse_slips(recording, size)
    if given is not None:
        return _as_given(recording, size, given, resolution_pa)
    dense = t.size >= DENSE_FROM and float(np.median(np.diff(t))) <= 2.0
    start, end, steps, several = find_in_log(t, size, resolution_pa) if dense else (*_sheet(size), (), False)
    zero = zero_of(t, p, size, start, end, resolution_pa)
    signed = tuple(Step(s.time_s, sign * s.change_pa) for s in steps)
    return Window(float(t[start]), float(t[end]), _phases(t, size, start, end), zero, signed, several)


def every_hold(recording: Recording, resolution_pa: float) -> list[tuple[float, float]]:
    """Start and end (s) of each hold in a log about as long as the longest; a sheet has one."""
    t = recording.time_s
    if t.size < DENSE_FROM or float(np.median(np.diff(t))) > 2.0:
        window = find(recording, resolution_pa)
        return [(window.closed_s, window.end_s)]
    sign = -1.0 if recording.direction == "vacuum" else 1.0
    found = every_hold_in_log(t, sign * recording.pressure_pa, resolution_pa)
    return [(float(t[first]), float(t[last])) for first, last in found]


def with_fall_before(window: Window, recording: Recording) -> Window:
    """The window of a log with the level from which the reading fell just before it, if it was far above."""
    t, size = recording.time_s, np.abs(recording.pressure_pa)
    before = size[(t >= window.closed_s - _JUST_BEFORE_S) & (t < window.closed_s)]
    if t.size < DENSE_FROM or before.size < 3:
        return window
    start = float(size[int(np.searchsorted(t, window.closed_s))])
    highest = float(np.partition(before, -2)[-2])  # a lone reading is a spike
    return replace(window, fell_from_pa=highest if highest > _FELL * start else None)


def _refuse_slips(recording: Recording, size: Array) -> None:
    """A lone reading several times its neighbours on both sides is a slip of the pen, not a pressure."""
    floor = 0.05 * float(np.median(np.abs(size)))
    for k in range(1, size.size - 1):
        beside = max(abs(float(size[k - 1])), abs(float(size[k + 1])))
        if beside > floor and abs(float(size[k])) > 3.0 * beside:
            unit = recording.conditions.unit
            read, near = (show_pressure(float(recording.pressure_pa[i]), unit) for i in (k, k + 1))
            raise InputError(
                f"{read} at {recording.time_s[k]:g} s is far from its neighbours (next {near})",
                where=recording.source,
                remedy="Correct it if it is a slip of the pen, or take the row out.",
            )


def longer_side(window: Window, part: Recording, after_closing_s: float, change_pa: float) -> Window:
    """The window cut at a step found later, `after_closing_s` into it; the longer part is kept.

    part: the readings of the window. A step after which nothing is left is the valve being opened.
    """
    at = window.closed_s + after_closing_s
    step = Step(at, change_pa)
    first = at - window.closed_s >= window.end_s - at
    closed, end = (window.closed_s, at - 1e-6) if first else (at, window.end_s)
    phases = tuple(_cut(phase, closed, end) for phase in window.phases)
    size = np.abs(part.pressure_pa)
    let_out = first and float(size[part.time_s >= at].max(initial=0.0)) < OPEN_TO_AIR * float(size.max())
    steps = window.steps if let_out else (*window.steps, step)
    return replace(window, closed_s=closed, end_s=end, phases=phases, steps=steps)


def while_alive(window: Window, recording: Recording) -> Window:
    """The window up to where the gauge froze; whole, but said, when hardly anything is left before that."""
    frozen = frozen_from(recording.time_s, recording.pressure_pa)
    if frozen is not None and _at_the_top(recording, frozen) and frozen[1] < window.end_s - _LIVES_ON_S:
        level = float(np.abs(recording.pressure_pa).max())
        closed = max(window.closed_s, frozen[1])
        steps = tuple(step for step in window.steps if step.time_s > frozen[1] + 1.0)
        phases = tuple(_cut(phase, closed, window.end_s) for phase in window.phases)
        return replace(window, closed_s=closed, phases=phases, steps=steps, saturated_pa=level)
    if frozen is None or frozen[0] >= window.end_s or frozen[1] <= window.closed_s:
        return window
    if frozen[0] - window.closed_s < max(8.0, 0.25 * (window.end_s - window.closed_s)):
        return replace(window, frozen_s=frozen)
    phases = tuple(_cut(phase, window.closed_s, frozen[0]) for phase in window.phases)
    return replace(window, end_s=frozen[0], phases=phases, frozen_s=frozen)


def _at_the_top(recording: Recording, span_s: tuple[float, float]) -> bool:
    """Whether the reading stood at the largest one of all: the end of the gauge's range."""
    size = np.abs(recording.pressure_pa)
    return bool(size[int(np.searchsorted(recording.time_s, span_s[0]))] >= size.max())


def before_mark(window: Window, marks: tuple[Mark, ...]) -> Window | None:
    """The window up to the first mark inside it, as the leak was found; None when that is too short.

    Too short: under 8 s, or under a quarter of the whole.
    """
    inside = [mark for mark in marks if window.closed_s < mark.time_s < window.end_s]
    if not inside:
        return None
    first = min(inside, key=lambda mark: mark.time_s)
    length = first.time_s - window.closed_s
    if length < max(8.0, 0.25 * (window.end_s - window.closed_s)):
        return None
    phases = tuple(_cut(phase, window.closed_s, first.time_s) for phase in window.phases)
    return replace(window, end_s=first.time_s, phases=phases, parted_at=first)


def _cut(phase: Phase, closed_s: float, end_s: float) -> Phase:
    return Phase("hold", closed_s, end_s) if phase.name == "hold" else phase


def _as_given(recording: Recording, size: Array, given: tuple[float, float], resolution_pa: float) -> Window:
    t = recording.time_s
    inside = np.flatnonzero((t >= given[0]) & (t <= given[1]))
    if inside.size < 2:
        raise InputError(
            f"--hold {given[0]:g}..{given[1]:g} s holds {inside.size} readings of {t[0]:g}..{t[-1]:g} s",
            where=recording.source,
            remedy="Give two times between which there are readings.",
        )
    start, end = int(inside[0]), int(inside[-1])
    zero = zero_of(t, recording.pressure_pa, size, start, end, resolution_pa)
    return Window(float(t[start]), float(t[end]), _phases(t, size, start, end), zero, (), False, True)


def _sheet(size: Array) -> tuple[int, int]:
    """First and last reading of the hold on a hand sheet: from the peak to the last before a zero."""
    peak = float(size.max())
    start = int(np.flatnonzero(size >= 0.999 * peak)[0])
    rising_slowly = size.size - start < 2 or (start > 0 and size[0] > 0.5 * peak)
    if rising_slowly:
        start = int(np.flatnonzero(size > 0.5 * peak)[0])
    end = size.size - 1
    falls = -np.diff(size[start:])
    while (
        end > start + 1
        and abs(size[end]) < OPEN_TO_AIR * peak
        and falls[end - 1 - start] > 4.0 * max(falls[end - 2 - start], 0.02 * peak)
    ):
        end -= 1
    if end - start < 1:
        raise InputError(
            "the pressure is highest at the last reading: there is no hold after it",
            remedy="Read on after the valve is shut, or give --hold START..END.",
        )
    return start, end


def _phases(t: Array, size: Array, start: int, end: int) -> tuple[Phase, ...]:
    """Names for everything around the hold; the stabilisation is split off once the fit knows its length."""
    peak = float(size.max())
    phases = []
    if start > 0:
        up = np.flatnonzero(size[: start + 1] > OPEN_TO_AIR * peak)
        fill = int(up[0]) if up.size else start
        if fill > 0:
            phases.append(Phase("zero", float(t[0]), float(t[fill])))
        phases.append(Phase("fill", float(t[max(fill - 1, 0)]) if fill else float(t[0]), float(t[start])))
    phases.append(Phase("hold", float(t[start]), float(t[end])))
    if end < t.size - 1:
        low = np.flatnonzero(np.abs(size[end + 1 :]) < OPEN_TO_AIR * peak)
        gone = end + 1 + int(low[0]) if low.size else t.size - 1
        phases.append(Phase("vent", float(t[end]), float(t[gone])))
        if gone < t.size - 1:
            phases.append(Phase("zero", float(t[gone]), float(t[-1])))
    return tuple(phases)
