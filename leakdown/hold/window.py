"""The hold of a test and what lies around it, and its cuts: at a step, at a mark, where the gauge froze."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Array, Phase, Quantity, Step, Zero
from leakdown.hold.readings import DENSE_FROM, OPEN_TO_AIR
from leakdown.recording import Mark, Recording
from leakdown.tuned import tuned

_T = tuned("hold")
_LEAST_RUN: int = _T.frozen_readings


@dataclass(frozen=True)
class Window:
    """The hold of a test and what lies around it, found once; times on the recording's clock.

    recording: as received, without its lone spikes, of which there were `spikes`. resolution: of the gauge.

    fell_from_pa: the level (magnitude) from which the reading fell quickly just before, if it did.
    frozen_s: from when to when the gauge stood still, noise included, if it did. saturated_pa: the end of
    its range (magnitude), where it stood before it came down.
    """

    recording: Recording
    resolution: Quantity
    spikes: int
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


def with_fall_before(window: Window, recording: Recording) -> Window:
    """The window of a log with the level from which the reading fell just before it, if it was far above."""
    t, size = recording.time_s, np.abs(recording.pressure_pa)
    before = size[(t >= window.closed_s - _T.just_before_s) & (t < window.closed_s)]
    if t.size < DENSE_FROM or before.size < 3:
        return window
    start = float(size[int(np.searchsorted(t, window.closed_s))])
    highest = float(np.partition(before, -2)[-2])  # a lone reading is a spike
    return replace(window, fell_from_pa=highest if highest > _T.fell_before * start else None)


def longer_side(window: Window, part: Recording, after_closing_s: float, change_pa: float) -> Window:
    """The window cut at a step found later, `after_closing_s` into it; the longer part is kept.

    part: the readings of the window. A step after which nothing is left is the valve being opened.
    """
    at = window.closed_s + after_closing_s
    step = Step(at, change_pa)
    first = at - window.closed_s >= window.end_s - at
    closed, end = (window.closed_s, at - 1e-6) if first else (at, window.end_s)
    size = np.abs(part.pressure_pa)
    let_out = first and float(size[part.time_s >= at].max(initial=0.0)) < OPEN_TO_AIR * float(size.max())
    steps = window.steps if let_out else (*window.steps, step)
    return _narrowed(replace(window, steps=steps), closed, end)


def while_alive(window: Window, recording: Recording) -> Window:
    """The window up to where the gauge froze; whole, but said, when hardly anything is left before that."""
    frozen = frozen_from(recording.time_s, recording.pressure_pa)
    if frozen is not None and _at_the_top(recording, frozen) and frozen[1] < window.end_s - _T.lives_on_s:
        level = float(np.abs(recording.pressure_pa).max())
        closed = max(window.closed_s, frozen[1])
        steps = tuple(step for step in window.steps if step.time_s > frozen[1] + 1.0)
        return _narrowed(replace(window, steps=steps, saturated_pa=level), closed, window.end_s)
    if frozen is None or frozen[0] >= window.end_s or frozen[1] <= window.closed_s:
        return window
    alive = replace(window, frozen_s=frozen)
    return _narrowed(alive, window.closed_s, frozen[0]) if _enough_before(window, frozen[0]) else alive


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
    if not _enough_before(window, first.time_s):
        return None
    return _narrowed(replace(window, parted_at=first), window.closed_s, first.time_s)


def _enough_before(window: Window, time_s: float) -> bool:
    """Whether the window up to a moment is still a hold."""
    length = window.end_s - window.closed_s
    return bool(time_s - window.closed_s >= max(_T.rest_s, _T.rest_share * length))


def _narrowed(window: Window, closed_s: float, end_s: float) -> Window:
    """The window with its hold between other ends."""
    cut = Phase("hold", closed_s, end_s)
    phases = tuple(cut if phase.name == "hold" else phase for phase in window.phases)
    return replace(window, closed_s=closed_s, end_s=end_s, phases=phases)


def frozen_from(time_s: Array, pressure_pa: Array) -> tuple[float, float] | None:
    """Start and end (s) of the longest run of equal readings of a log that cannot be chance, or None."""
    if time_s.size < 3 * _LEAST_RUN:
        return None
    same = np.diff(pressure_pa) == 0.0
    first, last = _longest_run(same)
    n = last - first
    if n < _LEAST_RUN or time_s[last] - time_s[first] < _T.frozen_s or pressure_pa[first] == 0.0:
        return None
    calm = _calm(pressure_pa)
    calm[max(first - 1, 0) : last + 1] = False
    if calm.sum() < _T.calm_readings:
        return None
    equal = (same[calm].sum() + 1.0) / (calm.sum() + 2.0)  # rule of succession
    chance = float(equal) ** n * time_s.size
    return (float(time_s[first]), float(time_s[last])) if chance < _T.frozen_chance else None


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
    over = np.ones(_T.steps_beside)
    travelled, moved = np.convolve(np.abs(step), over, mode="same"), np.abs(np.convolve(step, over, "same"))
    return np.asarray(moved <= _T.to_and_fro * travelled)
