"""Readings as the fit sees them: time bins with an honest standard deviation each, and the gauge's zero."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Array, Zero
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Recording
from leakdown.tuned import tuned

_T = tuned("hold")
DENSE_FROM: int = _T.dense_from
"""From this many readings on, noise is measured from their scatter; fewer are a sheet."""

_FEW = 12  # readings that rule most steps out
_MOST_BINS: int = _T.most_bins
_LEAST_NOISE_PA: float = _T.least_noise_pa


@dataclass(frozen=True)
class Readings:
    """Binned readings: time_s, pressure_pa (gauge, signed, as read), sigma_pa, count; all (n,).

    noise_pa: standard deviation of one reading. resolution_pa: the step that readings are rounded to.
    """

    time_s: Array
    pressure_pa: Array
    sigma_pa: Array
    count: Array
    noise_pa: float
    resolution_pa: float


def inferred_resolution_pa(pressure_pa: Array, unit: str) -> float:
    """The step between readings in the user's unit: 0.25 psi, 0.5 inHg, 0.01 kPa...

    With five or more different readings, the coarsest step that they all fit: 1 to 50 of the last written
    decimal, or the mark of a needle gauge in another unit whose readings were converted. Fewer cannot
    tell a fine gauge from a coarse one, so the coarsest usual needle mark that they fit is taken.
    """
    values = pressure_pa[:: max(1, pressure_pa.size // 2000)] / PRESSURE_PA[unit]
    steps = np.unique(np.round(values - values[0], 9))
    base = 10.0 ** -min(_decimals(values), _decimals(steps))
    if steps.size < 5:
        own = [m * 10.0**k for k in range(3, -6, -1) for m in (5.0, 2.5, 2.0, 1.0)]
        usual = (m for m in own if m * PRESSURE_PA[unit] <= _T.coarsest_mark_pa)
        return next((m for m in usual if _multiples(values, m)), base) * PRESSURE_PA[unit]
    for factor in (50, 25, 20, 10, 5, 2.5, 2):
        if _multiples(steps, factor * base):
            return factor * base * PRESSURE_PA[unit]
    converted = np.array([m * PRESSURE_PA[u] / PRESSURE_PA[unit] for u in PRESSURE_PA for m in _T.needle_marks])
    marks = np.sort(converted[converted > 50.0 * base])[::-1]
    few = steps[:_FEW] / marks[:, None]
    for mark in marks[np.abs(few - np.round(few)).max(axis=1) < 1.2 * base / marks]:
        if _multiples(steps, mark, 1.2 * base / mark):
            return float(mark) * PRESSURE_PA[unit]
    return base * PRESSURE_PA[unit]


def _decimals(values: Array) -> int:
    return next((e for e in range(7) if _multiples(values, 10.0**-e)), 7)


def _multiples(values: Array, step: float, slack: float = 2e-4) -> bool:
    for part in (values[:_FEW], values):  # most steps are ruled out by a handful
        in_steps = part / step
        if not np.max(np.abs(in_steps - np.round(in_steps)), initial=0.0) < slack:
            return False
    return True


def white_noise_pa(pressure_pa: Array) -> float:
    """Standard deviation of one reading from second differences (a smooth decay drops out of them)."""
    second = pressure_pa[:-2] - 2.0 * pressure_pa[1:-1] + pressure_pa[2:]
    limit = 5.0 * 1.4826 * float(np.median(np.abs(second)))
    kept = second[np.abs(second) <= limit] if limit > 0 else second
    return float(np.sqrt(np.mean(np.square(kept)) / 6.0)) if kept.size else 0.0


def prepare(time_s: Array, pressure_pa: Array, resolution_pa: float, by_hand: bool) -> Readings:
    """Bin the readings of a hold, finer at the start where the gas is still settling."""
    noise = white_noise_pa(pressure_pa) if time_s.size >= DENSE_FROM else 0.0
    edges = _bin_starts(time_s)
    count = np.diff(np.append(edges, time_s.size)).astype(float)
    t = np.add.reduceat(time_s, edges) / count
    p = np.add.reduceat(pressure_pa, edges) / count
    sigma = _bin_sigma(t, p, count, noise, resolution_pa)
    if by_hand and bool(np.all(time_s == np.round(time_s))):  # fractions of a second come from no watch
        sigma = np.hypot(sigma, np.abs(np.gradient(p, t)) * _T.hand_timing_s * (t > t[0]))
    return Readings(t, p, np.maximum(sigma, 1e-3), count, noise, resolution_pa)


def without_spikes(recording: Recording, resolution_pa: float) -> tuple[Recording, int]:
    """A log without its lone outliers, and how many there were. Sheets are left alone."""
    if recording.time_s.size < DENSE_FROM:
        return recording, 0
    keep = _not_spikes(recording.pressure_pa, white_noise_pa(recording.pressure_pa), resolution_pa)
    if keep.all():
        return recording, 0
    temperature = recording.temperature_k
    kept = replace(
        recording,
        time_s=recording.time_s[keep],
        pressure_pa=recording.pressure_pa[keep],
        temperature_k=None if temperature is None else temperature[keep],
    )
    return kept, int(np.sum(~keep))


def _not_spikes(pressure_pa: Array, noise_pa: float, resolution_pa: float) -> NDArray[np.bool_]:
    """False for lone readings outside all their neighbours and far from them; never at either end."""
    padded = np.concatenate((pressure_pa[1:3][::-1], pressure_pa, pressure_pa[-3:-1][::-1]))
    around = np.stack([padded[k : k + pressure_pa.size] for k in (0, 1, 3, 4)])
    low, high = around.min(axis=0), around.max(axis=0)
    outside = np.maximum(low - pressure_pa, pressure_pa - high)
    floor = _T.spike_noises * max(noise_pa, resolution_pa, _LEAST_NOISE_PA)
    keep: NDArray[np.bool_] = outside <= np.maximum(floor, _T.spike_spreads * (high - low))
    keep[:2] = keep[-2:] = True
    return keep


def _bin_starts(time_s: Array) -> NDArray[np.intp]:
    n = time_s.size
    if n <= _MOST_BINS:
        return np.arange(n)
    u = np.linspace(0.0, 1.0, _MOST_BINS + 1)[:-1]
    span_s = float(time_s[-1] - time_s[0])
    # the gas settles no slower in a long hold
    grading = _T.bin_grading + math.log(max(span_s / _T.long_hold_s, 1.0))
    wanted = time_s[0] + span_s * np.expm1(grading * u) / np.expm1(grading)
    return np.unique(np.searchsorted(time_s, wanted))


def _bin_sigma(t: Array, p: Array, count: Array, noise: float, resolution: float) -> Array:
    """Standard deviation of each bin mean; rounding averages down with the steps crossed only."""
    noise = max(noise, _LEAST_NOISE_PA)
    span_s = max(float(t[-1] - t[0]), 1e-9)
    width = np.gradient(t) / span_s if t.size > 1 else np.ones(1)
    steps = float(np.ptp(p)) / resolution if resolution > 0 else math.inf
    independent = np.minimum(count, (steps + 3.0) * width)
    # Gaussian noise dithers the rounding: what stays correlated falls as exp(-4 pi^2 s^2)
    shared = math.exp(-4.0 * math.pi**2 * (noise / resolution) ** 2) if resolution > 0 else 0.0
    rounding = resolution**2 / 12.0 * ((1.0 - shared) / count + shared / independent)
    return np.sqrt(noise**2 / count + rounding)


OPEN_TO_AIR: float = _T.open_to_air
"""Of the peak: nearer to zero than this a reading may be the gauge's zero."""


def flat_level(part: Array, noise_pa: float) -> tuple[float, float] | None:
    """Mean and doubt of readings that stand still; None when their two halves differ."""
    n = part.size
    if n == 0:
        return None
    if n < 4:
        return float(part.mean()), float(np.ptp(part)) + noise_pa / np.sqrt(n)
    first, last = float(part[: n // 2].mean()), float(part[n // 2 :].mean())
    doubt = 2.0 * noise_pa / np.sqrt(n)
    moved = abs(first - last)
    if moved > _T.stands_still * doubt + _T.stands_still_pa:
        return None
    return 0.5 * (first + last), float(np.hypot(doubt, moved))


def zero_of(recording: Recording, size: Array, start: int, end: int, resolution_pa: float) -> Zero:
    """Gauge zero as noted, else from still readings open to air, before the fill and after the vent."""
    noted = _noted_zero(recording, resolution_pa)
    if noted is not None:
        return noted
    p = recording.pressure_pa
    near = np.abs(p) < max(OPEN_TO_AIR * float(size.max()), 2.0 * resolution_pa)
    noise = max(white_noise_pa(p) if p.size >= DENSE_FROM else 0.0, resolution_pa / np.sqrt(12.0), 1.0)
    lead = _run_length(near[:start])
    tail = _run_length(near[end + 1 :][::-1])
    parts = [p[:lead], p[p.size - tail :][tail // 2 :]]  # after venting the gas first warms up again
    levels = [flat_level(part, noise) for part in parts]
    found = [level for level in levels if level is not None]
    if not found:
        return Zero(0.0, max(_T.assumed_zero_sd_pa, resolution_pa / 4.0), "assumed")
    drift = found[1][0] - found[0][0] if len(found) == 2 else None
    offset = float(np.mean([level for level, _ in found]))
    unseen = 0.5 * abs(drift) if drift is not None else _T.unseen_drift_pa
    doubt = max(u for _, u in found)
    u_pa = math.sqrt(doubt**2 + resolution_pa**2 / 12.0 + unseen**2 + _T.zero_least_u_pa**2)
    return Zero(offset, u_pa, "measured", drift)


def _noted_zero(recording: Recording, resolution_pa: float) -> Zero | None:
    """The zero that somebody wrote down before or after the test, or None."""
    before, after = recording.conditions.zero_pa, recording.conditions.zero_after_pa
    known = [level for level in (before, after) if level is not None]
    if not known:
        return None
    drift = after - before if before is not None and after is not None else None
    unseen = 20.0 if drift is None else 0.5 * abs(drift)
    doubt = math.sqrt(resolution_pa**2 / 12.0 + unseen**2 + 9.0)
    return Zero(float(np.mean(known)), doubt, "given", drift)


def _run_length(flags: NDArray[np.bool_]) -> int:
    """How many True stand at the beginning."""
    return int(flags.size) if flags.all() else int(np.argmin(flags))
