"""The gauge's zero: what it reads open to air, from still readings before the fill and after the vent."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Zero
from leakdown.estimate.readings import DENSE_FROM, white_noise_pa

Array = NDArray[np.float64]

OPEN_TO_AIR = 0.02
"""Of the peak: nearer to zero than this a reading may be the gauge's zero."""

_ASSUMED_ZERO_SD_PA = 150.0  # common practice: a cared-for +/-100 kPa gauge, 0.15 % of its range


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
    return None if moved > 2.5 * doubt + 5.0 else (0.5 * (first + last), float(np.hypot(doubt, moved)))


def zero_of(t: Array, p: Array, size: Array, start: int, end: int, resolution_pa: float) -> Zero:
    """Gauge zero from still readings open to air, before the fill and after the vent."""
    near = np.abs(p) < max(OPEN_TO_AIR * float(size.max()), 2.0 * resolution_pa)
    noise = max(white_noise_pa(p) if p.size >= DENSE_FROM else 0.0, resolution_pa / np.sqrt(12.0), 1.0)
    lead = _run_length(near[:start])
    tail = _run_length(near[end + 1 :][::-1])
    parts = [
        p[:lead],
        p[p.size - tail :][tail // 2 :],
    ]  # after venting the gas first comes back to temperature
    levels = [flat_level(part, noise) for part in parts]
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
