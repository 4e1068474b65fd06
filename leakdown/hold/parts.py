"""Find the parts of a test in its readings: zero, fill, stabilise, hold, vent, zero again; and the strokes.

What tells them apart is physics, not thresholds alone: through any passive leak the pressure moves ever
more slowly, so a fall that suddenly quickens is a vent, a slip or a hand on the hose, never the leak.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from leakdown.analysis import Array, Phase, Quantity, Step
from leakdown.errors import InputError
from leakdown.hold.readings import DENSE_FROM, OPEN_TO_AIR, inferred_resolution_pa, without_spikes, zero_of
from leakdown.hold.strokes import Pumping, pumping_in_vain
from leakdown.hold.trace import every_hold_in_log, find_in_log
from leakdown.hold.window import Window, while_alive
from leakdown.quantities import show_pressure
from leakdown.recording import Recording
from leakdown.tuned import tuned

_T = tuned("hold")


@dataclass(frozen=True)
class Parts:
    """What a recording consists of, found once and handed to every judge.

    window: the hold and what lies around it, up to where the gauge was alive; None where there is no hold,
    and `trouble` says why. recording, resolution, spikes: as in `Window`. pumping: strokes that got nowhere.
    """

    recording: Recording
    resolution: Quantity
    spikes: int
    window: Window | None
    trouble: InputError | None
    pumping: Pumping | None
    kept: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)
    """What a judge found in the hold once and needs again, for another limit."""

    @property
    def hold(self) -> Window:
        """The window, or the error that says why there is none."""
        if self.window is None:
            raise self.trouble or InputError("there is no hold", where=self.recording.source)
        return self.window


def parts_of(recording: Recording, given: tuple[float, float] | None = None) -> Parts:
    """Take a recording apart. `given` (start, end): the hold as chosen by hand."""
    resolution = resolution_of(recording)
    step_pa = resolution.value or 0.0
    clean, spikes = without_spikes(recording, step_pa)
    window, trouble = None, None
    try:
        window = while_alive(_found(clean, resolution, spikes, given), recording)
    except InputError as error:
        trouble = error
    pumping = pumping_in_vain(recording.time_s, recording.sign * recording.pressure_pa, step_pa)
    return Parts(clean, resolution, spikes, window, trouble, pumping)


def on_span(parts: Parts, span_s: tuple[float, float]) -> Parts:
    """The same recording with its hold where another question puts it. Raises InputError when it has none."""
    window = _found(parts.recording, parts.resolution, parts.spikes, span_s)
    return replace(parts, window=while_alive(window, parts.recording), trouble=None, kept={})


def find(recording: Recording, resolution_pa: float, given: tuple[float, float] | None = None) -> Window:
    """The hold in readings that are known to be free of spikes. Raises InputError when there is none."""
    return _found(recording, Quantity(resolution_pa, "given"), 0, given)


def resolution_of(recording: Recording) -> Quantity:
    """The gauge's step: as given, else as the readings show it."""
    c = recording.conditions
    if c.resolution_pa is not None:
        return Quantity(c.resolution_pa, "settings" if "resolution_pa" in c.by_settings else "given")
    return Quantity(inferred_resolution_pa(recording.pressure_pa, c.unit), "inferred")


def _found(recording: Recording, resolution: Quantity, spikes: int, given: tuple[float, float] | None) -> Window:
    resolution_pa = resolution.value or 0.0
    t, p = recording.time_s, recording.pressure_pa
    if t.size < 2:
        raise InputError(
            "one reading is no decay",
            where=recording.source,
            remedy="Write at least a start and an end pressure with their times.",
        )
    size = recording.sign * p
    if size.max() <= 0:
        raise InputError(
            f"no {recording.direction} in these readings: none is on that side of zero",
            where=recording.source,
            remedy="Check --direction and the sign of the readings.",
        )
    if t.size < DENSE_FROM:
        _refuse_slips(recording, size)
    steps: tuple[Step, ...] = ()
    several = False
    if given is not None:
        start, end = _as_given(recording, given)
    elif _is_log(t):
        start, end, steps, several = find_in_log(t, size, resolution_pa)
    else:
        start, end = _sheet(size)
    signed = tuple(Step(step.time_s, recording.sign * step.change_pa) for step in steps)
    zero = zero_of(recording, size, start, end, resolution_pa)
    ends, phases = (float(t[start]), float(t[end])), _phases(t, size, start, end)
    by_hand = given is not None
    return Window(recording, resolution, spikes, *ends, phases, zero, signed, several, by_hand)


def every_hold(recording: Recording, resolution_pa: float) -> list[tuple[float, float]]:
    """Start and end (s) of each hold in a log about as long as the longest; a sheet has one."""
    t = recording.time_s
    if not _is_log(t):
        window = find(recording, resolution_pa)
        return [(window.closed_s, window.end_s)]
    found = every_hold_in_log(t, recording.sign * recording.pressure_pa, resolution_pa)
    return [(float(t[first]), float(t[last])) for first, last in found]


def _is_log(t: Array) -> bool:
    """Whether readings are close enough in time to show how the pressure was made and let out."""
    return bool(t.size >= DENSE_FROM and np.median(np.diff(t)) <= _T.log_every_s)


def _refuse_slips(recording: Recording, size: Array) -> None:
    """A lone reading several times its neighbours on both sides is a slip of the pen, not a pressure."""
    floor = _T.slip_least * float(np.median(np.abs(size)))
    for k in range(1, size.size - 1):
        beside = max(abs(float(size[k - 1])), abs(float(size[k + 1])))
        if beside > floor and abs(float(size[k])) > _T.slip_times * beside:
            unit = recording.conditions.unit
            read, near = (show_pressure(float(recording.pressure_pa[i]), unit) for i in (k, k + 1))
            raise InputError(
                f"{read} at {recording.time_s[k]:g} s is far from its neighbours (next {near})",
                where=recording.source,
                remedy="Correct it if it is a slip of the pen, or take the row out.",
            )


def _as_given(recording: Recording, given: tuple[float, float]) -> tuple[int, int]:
    """First and last reading of a hold chosen by hand."""
    t = recording.time_s
    inside = np.flatnonzero((t >= given[0]) & (t <= given[1]))
    if inside.size < 2:
        raise InputError(
            f"--hold {given[0]:g}..{given[1]:g} s holds {inside.size} readings of {t[0]:g}..{t[-1]:g} s",
            where=recording.source,
            remedy="Give two times between which there are readings.",
        )
    return int(inside[0]), int(inside[-1])


def _sheet(size: Array) -> tuple[int, int]:
    """First and last reading of the hold on a hand sheet: from the peak to the last before a zero."""
    peak = float(size.max())
    start = int(np.flatnonzero(size >= _T.at_peak * peak)[0])
    rising_slowly = size.size - start < 2 or (start > 0 and size[0] > _T.filled * peak)
    if rising_slowly:
        start = int(np.flatnonzero(size > _T.filled * peak)[0])
    end = size.size - 1
    falls = -np.diff(size[start:])
    while (
        end > start + 1
        and abs(size[end]) < OPEN_TO_AIR * peak
        and falls[end - 1 - start] > _T.let_out_times * max(falls[end - 2 - start], OPEN_TO_AIR * peak)
    ):
        end -= 1
    if end - start < 1:
        raise InputError(
            "the pressure is highest at the last reading: there is no hold after it",
            remedy="Read on after the valve is shut, or give --hold START..END. If it would not build up at "
            "all, the strokes say how big the leak is: leakdown reckon pump.",
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
