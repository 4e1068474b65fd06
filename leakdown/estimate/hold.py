"""Find the parts of a test in its readings: zero, fill, stabilise, hold, vent, zero again.

What tells them apart is physics, not thresholds alone: through any passive leak the pressure moves ever
more slowly, so a fall that suddenly quickens is a vent, a slip or a hand on the hose, never the leak.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import InputError
from leakdown.estimate.readings import DENSE_FROM, white_noise_pa
from leakdown.estimate.result import Phase, Step, Zero
from leakdown.recording import Mark, Recording

Array = NDArray[np.float64]

_FILL_SHARE_PER_S = 0.02  # a rise faster than this share of the peak per second is pumping
_QUICKER = 2.0  # a fall this many times faster than just before is not the leak
_ASSUMED_ZERO_SD_PA = 150.0  # common practice: a cared-for +/-100 kPa gauge, 0.15 % of its range
_SMOOTH_S = 0.4
_GONE = 0.02  # of the peak: open to air
_EMPTY = 0.03  # of the peak: what is left tells nothing of the leak


@dataclass(frozen=True)
class Window:
    """Where the valve was shut and what came before and after; times on the recording's clock."""

    closed_s: float
    end_s: float
    phases: tuple[Phase, ...]
    zero: Zero
    steps: tuple[Step, ...]
    several: bool = False
    given: bool = False
    parted_at: Mark | None = None


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
    if given is not None:
        return _as_given(recording, size, given, resolution_pa)
    dense = t.size >= DENSE_FROM and float(np.median(np.diff(t))) <= 2.0
    start, end, steps, several = _dense(t, size, resolution_pa) if dense else (*_sheet(size), (), False)
    zero = _zero(t, p, size, start, end, resolution_pa)
    signed = tuple(Step(s.time_s, sign * s.change_pa) for s in steps)
    return Window(float(t[start]), float(t[end]), _phases(t, size, start, end), zero, signed, several)


def longer_side(window: Window, after_closing_s: float, change_pa: float) -> Window:
    """The window cut at a step found later, `after_closing_s` into it; the longer part is kept."""
    at = window.closed_s + after_closing_s
    step = Step(at, change_pa)
    first = at - window.closed_s >= window.end_s - at
    closed, end = (window.closed_s, at - 1e-6) if first else (at, window.end_s)
    phases = tuple(_cut(phase, closed, end) for phase in window.phases)
    return replace(window, closed_s=closed, end_s=end, phases=phases, steps=(*window.steps, step))


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
    zero = _zero(t, recording.pressure_pa, size, start, end, resolution_pa)
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
        and abs(size[end]) < _GONE * peak
        and falls[end - 1 - start] > 4.0 * max(falls[end - 2 - start], 0.02 * peak)
    ):
        end -= 1
    if end - start < 1:
        raise InputError(
            "the pressure is highest at the last reading: there is no hold after it",
            remedy="Read on after the valve is shut, or give --hold START..END.",
        )
    return start, end


@dataclass(frozen=True)
class _Trace:
    """A log made ready for the search: magnitudes, local slopes (per s) and what counts as noise in them."""

    t: Array
    size: Array
    slope: Array
    width: int
    noise: float
    slack: float
    peak: float

    @staticmethod
    def of(t: Array, size: Array, resolution_pa: float) -> _Trace:
        spacing = float(np.median(np.diff(t)))
        width = max(2, round(_SMOOTH_S / spacing))
        noise = max(white_noise_pa(size), resolution_pa / np.sqrt(12.0), 1.0)
        slope = _slopes(t, size, width)
        # chance by the white noise, and by how slopes really differ from one moment to the next
        white = 6.0 * noise * np.sqrt(2.0 / width) / (width * spacing)
        changes = np.abs(slope[3 * width :] - slope[: -3 * width])
        slack = max(float(white), 3.0 * float(np.median(changes)) if changes.size else 0.0)
        return _Trace(t, size, slope, width, noise, slack, float(np.partition(size, -3)[-3:].min()))


@dataclass(frozen=True)
class _Stretch:
    """Readings first..last with the valve shut; `resumed` after a sudden step in the one before."""

    first: int
    last: int
    resumed: bool


def _dense(t: Array, size: Array, resolution_pa: float) -> tuple[int, int, tuple[Step, ...], bool]:
    """First and last index of the hold in a log, steps inside it, and whether there were several holds."""
    trace = _Trace.of(t, size, resolution_pa)
    holds = _joined(trace, _stretches(trace))
    if not holds:
        raise InputError(
            "no hold found: the pressure is pumped or vented all the time",
            remedy="Give --hold START..END (seconds).",
        )
    lengths = [float(t[h[-1].last] - t[h[0].first]) for h in holds]
    best = holds[int(np.argmax(lengths))]
    steps = tuple(
        Step(float(0.5 * (t[a.last] + t[b.first])), float(size[b.first] - size[a.last]))
        for a, b in zip(best[:-1], best[1:], strict=True)
    )
    part = max(best, key=lambda s: t[s.last] - t[s.first])
    last = _until_empty(trace, part)
    return part.first, last, steps, sum(x > 0.4 * max(lengths) for x in lengths) > 1


def _slopes(t: Array, size: Array, width: int) -> Array:
    """Slope at each reading between the means of the `width` readings before it and from it on."""
    n = size.size
    total, clock = np.concatenate(([0.0], np.cumsum(size))), np.concatenate(([0.0], np.cumsum(t)))
    i = np.arange(n)
    low, high = np.maximum(i - width, 0), np.minimum(i + width, n)
    left, right = np.maximum(i - low, 1), high - i
    rise = (total[high] - total[i]) / right - (total[i] - total[low]) / left
    gap = (clock[high] - clock[i]) / right - (clock[i] - clock[low]) / left
    rise[0], gap[0] = 0.0, 1.0
    return rise / gap


def _stretches(trace: _Trace) -> list[_Stretch]:
    """Between one fast rise and the next: from the top to the next sudden fall, and on after a mere step."""
    rising = trace.slope > max(_FILL_SHARE_PER_S * trace.peak, trace.slack)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], rising.astype(np.int8), [0]))))
    starts = [0, *(int(k) for k in edges[1::2])]
    ends = [*(int(k) for k in edges[::2]), trace.size.size]
    found = []
    for begin, stop in zip(starts, ends, strict=True):
        first, resumed = _top(trace, begin, stop) if begin else 0, bool(begin)
        while stop - first >= 2 * trace.width or (first == 0 and stop == trace.size.size):
            fall = _sudden_fall(trace, first, stop)
            last = stop - 1 if fall is None else _before_fall(trace, first, fall)
            if fall is None and stop < trace.size.size:
                last = max(first, stop - trace.width)
            if last > first and trace.size[first : first + trace.width].mean() > 0.1 * trace.peak:
                found.append(_Stretch(first, last, resumed))
            if fall is None:
                break
            first, resumed = _after_fall(trace, last, fall, stop)
    return found


def _top(trace: _Trace, begin: int, stop: int) -> int:
    """The highest smoothed reading just after a rise: where the valve was shut."""
    first = max(begin - 2 * trace.width, 0)
    until = min(stop, int(np.searchsorted(trace.t, trace.t[min(begin, trace.t.size - 1)] + 3.0)) + 1)
    part = trace.size[first:until]
    if part.size < 3:
        return first
    smooth = np.convolve(part, np.ones(3) / 3.0, mode="same")
    smooth[[0, -1]] = part[[0, -1]]
    top = first + int(np.flatnonzero(smooth > smooth.max() - 2.0 * trace.noise)[-1])
    return min(top + int(np.argmax(trace.size[top : top + 2])), stop - 1)


def _sudden_fall(trace: _Trace, first: int, stop: int) -> int | None:
    """Index at which the pressure starts to fall several times faster than a moment before."""
    w = trace.width
    begin, lag = first + 4 * w, 3 * w
    if begin >= stop:
        return None
    slope = trace.slope[first + w : stop]
    now, past = slope[lag:], np.minimum(slope[:-lag], 0.0)
    sudden = np.flatnonzero(
        now < np.minimum(_QUICKER * past, past - max(2.0 * trace.slack, 0.01 * trace.peak))
    )
    return None if sudden.size == 0 else begin + int(sudden[0])


def _before_fall(trace: _Trace, first: int, fall: int) -> int:
    """The last reading before a fall that was noticed, smoothed, near `fall`."""
    w = trace.width
    base = slice(max(fall - 3 * w, first), fall - w + 1) if fall - w > first else slice(first, fall)
    level, slope = trace.size[base].mean(), min(float(trace.slope[max(fall - 2 * w, first)]), 0.0)
    middle = trace.t[base].mean()
    for k in range(base.stop, min(fall + 2 * w, trace.size.size)):
        expected = level + slope * (trace.t[k] - middle)
        if trace.size[k] < expected - max(5.0 * trace.noise, 0.01 * trace.peak):
            return max(k - 1, first)
    return max(fall - 1, first)


def _after_fall(trace: _Trace, last: int, fall: int, stop: int) -> tuple[int, bool]:
    """Where to look on after a sudden fall, and whether the fall was over at once (a vent, a step).

    One that goes on as it began is the leak itself, after the valve was shut on a steady pressure.
    """
    steepest = fall + int(np.argmin(trace.slope[fall : min(fall + 2 * trace.width, stop)]))
    later = int(np.searchsorted(trace.t, trace.t[steepest] + 1.5))
    if later < stop and trace.slope[later] < 0.3 * trace.slope[steepest]:
        return max(last, fall - trace.width), False
    calm = np.flatnonzero(trace.slope[steepest:stop] > 0.1 * trace.slope[steepest])
    return (stop if calm.size == 0 else steepest + int(calm[0]) + trace.width), True


def _joined(trace: _Trace, stretches: list[_Stretch]) -> list[list[_Stretch]]:
    """Stretches parted only by a small step belong to one hold; pump strokes and refills part holds."""
    holds: list[list[_Stretch]] = []
    for stretch in stretches:
        if holds and _same_hold(trace, holds[-1][-1], stretch):
            holds[-1].append(stretch)
        else:
            holds.append([stretch])
    return holds


def _same_hold(trace: _Trace, before: _Stretch, after: _Stretch) -> bool:
    """A settled hold that goes on near its own level after a short disturbance that did not empty it."""
    level = trace.size[before.last]
    between = trace.size[before.last : after.first + 1]
    settled = trace.t[before.last] - trace.t[before.first] > 5.0
    soon = trace.t[after.first] - trace.t[before.last] < 8.0
    near = abs(trace.size[after.first] - level) < 0.35 * level and between.min() > 0.5 * level
    return bool(settled and after.resumed and soon and near)


def _until_empty(trace: _Trace, part: _Stretch) -> int:
    """End the hold where the circuit is as good as empty, if what follows is plainly the gauge's zero."""
    low = np.flatnonzero(trace.size[part.first : part.last + 1] < _EMPTY * trace.peak)
    if low.size == 0:
        return part.last
    empty = part.first + int(low[0])
    rest = trace.size[empty:]
    level = _flat_level(rest[rest.size // 2 :], trace.noise)
    return part.last if level is None or trace.t[-1] - trace.t[empty] < 2.0 else empty


def _flat_level(part: Array, noise_pa: float) -> tuple[float, float] | None:
    """Mean and doubt of readings that stand still; None when their two halves differ."""
    n = part.size
    if n == 0:
        return None
    if n < 4:
        return float(part.mean()), float(np.ptp(part)) + noise_pa / np.sqrt(n)
    first, last = float(part[: n // 2].mean()), float(part[n // 2 :].mean())
    doubt = 2.0 * noise_pa / np.sqrt(n)
    moved = abs(first - last)
    return None if moved > 2.5 * doubt + 5.0 else (0.5 * (first + last), float(np.hypot(doubt, moved)))


def _zero(t: Array, p: Array, size: Array, start: int, end: int, resolution_pa: float) -> Zero:
    """Gauge zero from still readings open to air, before the fill and after the vent."""
    near = np.abs(p) < max(_GONE * float(size.max()), 2.0 * resolution_pa)
    noise = max(white_noise_pa(p) if p.size >= DENSE_FROM else 0.0, resolution_pa / np.sqrt(12.0), 1.0)
    lead = _run_length(near[:start])
    tail = _run_length(near[end + 1 :][::-1])
    parts = [
        p[:lead],
        p[p.size - tail :][tail // 2 :],
    ]  # after venting the gas first comes back to temperature
    levels = [_flat_level(part, noise) for part in parts]
    found = [level for level in levels if level is not None]
    if not found:
        return Zero(0.0, max(_ASSUMED_ZERO_SD_PA, resolution_pa / 4.0), "assumed")
    drift = found[1][0] - found[0][0] if len(found) == 2 else None
    offset = float(np.mean([level for level, _ in found]))
    unseen = 0.5 * abs(drift) if drift is not None else 20.0
    doubt = max(u for _, u in found)
    return Zero(
        offset, float(np.sqrt(doubt**2 + resolution_pa**2 / 12.0 + unseen**2 + 9.0)), "measured", drift
    )


def _run_length(flags: NDArray[np.bool_]) -> int:
    """How many True stand at the beginning."""
    return int(flags.size) if flags.all() else int(np.argmin(flags))


def _phases(t: Array, size: Array, start: int, end: int) -> tuple[Phase, ...]:
    """Names for everything around the hold; the stabilisation is split off once the fit knows its length."""
    peak = float(size.max())
    phases = []
    if start > 0:
        up = np.flatnonzero(size[: start + 1] > _GONE * peak)
        fill = int(up[0]) if up.size else start
        if fill > 0:
            phases.append(Phase("zero", float(t[0]), float(t[fill])))
        phases.append(Phase("fill", float(t[max(fill - 1, 0)]) if fill else float(t[0]), float(t[start])))
    phases.append(Phase("hold", float(t[start]), float(t[end])))
    if end < t.size - 1:
        low = np.flatnonzero(np.abs(size[end + 1 :]) < _GONE * peak)
        gone = end + 1 + int(low[0]) if low.size else t.size - 1
        phases.append(Phase("vent", float(t[end]), float(t[gone])))
        if gone < t.size - 1:
            phases.append(Phase("zero", float(t[gone]), float(t[-1])))
    return tuple(phases)
