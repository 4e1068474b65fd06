"""The loss over a limit's time, read off the hold: through all its readings when a fit joins them.

Two single readings carry their noise and rounding whole, and the first reading below a level comes early
by chance. The fitted decay between readings is an average of them, not an extrapolation.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Hold
from leakdown.estimate.search import Found
from leakdown.physics.balance import NotSolved
from leakdown.uncertainty import Z_95, Interval

Array = NDArray[np.float64]


def drop_on_fit(
    found: Found, hold: Hold, zero_pa: float, start_pa: float | None, time_s: float
) -> Interval | None:
    """Loss (Pa) over `time_s` from `start_pa` or the settled start; None where the hold ends first.

    The interval is the fit's covariance carried through both ends and through the moment at which the
    decay passes `start_pa`.
    """
    try:
        return _drop(found, hold, zero_pa, start_pa, time_s)
    except NotSolved:
        return None


def _drop(found: Found, hold: Hold, zero_pa: float, start_pa: float | None, time_s: float) -> Interval | None:
    span = float(found.model.readings.time_s[-1])
    settled = hold.start_s - hold.closed_s
    if start_pa is not None and _starts_near(found, settled, span, zero_pa, start_pa):
        start_pa = None
    begin = settled if start_pa is None else _passes(found, settled, span, zero_pa, start_pa)
    if begin is None or begin + time_s > span + 1e-6:
        return None
    end = min(begin + time_s, span)
    times = np.array([begin, min(begin + 1e-3 * span, span), end - 1e-3 * span, end, span])
    value, jacobian = found.model.at_times(times).predict(found.fit.parameters)
    size = found.model.sign * (value - zero_pa)
    early, late = size[0] - size[1], size[2] - size[3]
    timing = 1.0 if start_pa is None else late / max(early, 1e-9)
    along = jacobian[3] - timing * jacobian[0]
    half = Z_95 * float(np.sqrt(max(along @ found.fit.covariance @ along, 0.0)))
    drop = float((size[0] if start_pa is None else start_pa) - size[3])
    return Interval(drop, max(drop - half, 0.0), max(drop + half, half))


def _starts_near(found: Found, settled: float, span: float, zero_pa: float, level_pa: float) -> bool:
    """Whether the settled hold starts a little below the level, so that its own start can stand for it."""
    value, _ = found.model.at_times(np.array([settled, span])).predict(found.fit.parameters)
    start = float(found.model.sign * (value[0] - zero_pa))
    return 0.95 * level_pa <= start < level_pa


def _passes(found: Found, settled: float, span: float, zero_pa: float, level_pa: float) -> float | None:
    """When the fitted decay falls through a gauge magnitude, seconds from the closing of the valve."""
    fine = np.linspace(0.0, span, 400)
    value, _ = found.model.at_times(fine).predict(found.fit.parameters)
    size = found.model.sign * (value - zero_pa)
    inside = fine >= settled - 1e-9
    fine, size = fine[inside], size[inside]
    below = np.flatnonzero(size <= level_pa)
    if size.size < 2 or size[0] < level_pa or below.size == 0:
        return None
    k = max(int(below[0]), 1)
    return float(np.interp(level_pa, [size[k], size[k - 1]], [fine[k], fine[k - 1]]))
