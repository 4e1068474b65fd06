"""What a hold lost over a limit's time: first as plainly read, then on its settled curve.

A limit such as "7 kPa in 60 s from 40 kPa" is about what is lost once the gas has settled. So the loss is taken
off the fitted curve without what gas and hose gave back; only a fall that is more than the limit and all that
these can give back together needs no model: the readings say it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from leakdown.analysis import Array, Hold, Limit
from leakdown.fit.model import CREEP, GROWTH, START, WARMTH, HoldModel
from leakdown.fit.search import HoldFit
from leakdown.judge.window_fit import WindowFit
from leakdown.physics.air import isentropic_temperature_ratio
from leakdown.physics.balance import NotSolved
from leakdown.physics.leak import settled_pressure
from leakdown.quantities import REFERENCE_TEMPERATURE_K
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, Interval, mixed

_T = tuned("judge")


@dataclass(frozen=True)
class Loss:
    """Pressure lost over the limit's time, Pa; basis: whether the readings cover it or the model goes on.

    from_s, from_pa: when and from which magnitude it was counted, in seconds since the valve was shut (below
    zero: the leak carried back); None where no moment near the hold stands for it.
    """

    measured: Interval
    basis: Literal["reading", "model"]
    from_s: float | None = None
    from_pa: float | None = None


# --- as plainly read ---


def plainly_over(limit: Limit, fitted: WindowFit) -> Loss | None:
    """The loss as read inside the limit's time, when gas, hose, drift and vapour cannot account for the excess.

    None when they could, or when the readings never were as high as the limit's start.
    """
    t, size = fitted.part.time_s - fitted.window.closed_s, fitted.size_pa
    begin, start = 0, float(size[0])
    if limit.start_pa is not None:
        above = np.flatnonzero(size >= limit.start_pa)
        if above.size == 0:
            return None
        begin, start = int(above[-1]), limit.start_pa
    late = (t >= t[begin]) & (t <= t[begin] + limit.time_s)
    lowest = float(np.median(np.sort(size[late])[:3]))  # a lone reading is a spike
    doubt = Z_95 * math.sqrt(2.0) * _reading_sd_pa(fitted)
    lost = start - lowest
    if lost - doubt <= limit.drop_pa + _given_back_pa(fitted, start, float(t[begin]), limit.time_s):
        return None
    return Loss(_between(lost, doubt), "reading", float(t[begin]), start)


def _reading_sd_pa(fitted: WindowFit) -> float:
    """Standard deviation of one reading: noise and rounding."""
    readings = fitted.chosen.found.model.readings
    return math.hypot(readings.noise_pa, readings.resolution_pa / math.sqrt(12.0))


def _between(drop: float, half: float) -> Interval:
    """A loss with its 95 % half-width; less than nothing cannot be lost."""
    return Interval(drop, max(drop - half, 0.0), max(drop + half, half))


def _given_back_pa(fitted: WindowFit, size_pa: float, after_s: float, time_s: float) -> float:
    """The most that may be lost from a magnitude without any leak, `after_s` after the valve was shut."""
    model = fitted.chosen.found.model
    absolute = model.ambient_pa + model.sign * size_pa
    warmth = abs(isentropic_temperature_ratio(absolute / model.ambient_pa) - 1.0)
    slowest = math.log(_T.gas_forgets_s)  # of the gases that are likely, the one that gives back most
    known = abs(model.priors.warmth.likeliest(slowest)) + Z_95 * model.priors.warmth.deviation(slowest)
    gas = absolute * min(known, warmth) * math.exp(-after_s / _T.gas_forgets_s)
    wall = _T.wall_most_k_per_min / REFERENCE_TEMPERATURE_K * absolute
    drift = (wall + _T.zero_most_pa_per_min) * time_s / 60.0
    vapour = min(_T.vapour_most_pa, _T.vapour_share_most * size_pa) if model.inward else 0.0
    hose_or_vapour = max(_T.hose_share_most * size_pa, vapour)
    return float(gas + drift + hose_or_vapour)


# --- on the settled curve ---


def settled_loss(limit: Limit, fitted: WindowFit, hold: Hold) -> Loss | None:
    """The loss over the limit's time on the settled curve, of every shape that is likely; None without a fit."""
    if fitted.leak is None:
        return _read_off(limit, fitted, hold)
    parts, found_losses = [], []
    for one in fitted.chosen.alike:
        found = one.sized.found
        try:
            loss = _on_curve(found, hold, limit) or _over_from_below(found, hold, limit)
            loss = loss or _carried_on(found, one.sized.plausible, hold, limit)
        except NotSolved:
            return None
        parts.append((one.weight, loss.measured))
        found_losses.append(loss)
    first = found_losses[0]  # of the curve that is shown
    basis: Literal["reading", "model"] = "model" if any(x.basis == "model" for x in found_losses) else "reading"
    return Loss(mixed(parts), basis, first.from_s, first.from_pa)


def _on_curve(found: HoldFit, hold: Hold, limit: Limit) -> Loss | None:
    """Read off the settled curve; None where the hold ends before the limit's time is over.

    The interval is the fit's covariance carried through both ends and through the moment at which the
    decay passes the limit's start.
    """
    span = float(found.model.readings.time_s[-1])
    begin, start_pa, own = max(hold.start_s - hold.closed_s, 0.0), limit.start_pa, True
    if start_pa is None:
        begin = begin if begin + limit.time_s <= span else 0.0
    else:
        fine = np.linspace(0.0, span, 400)
        curve = _settled_size(found, fine)[0]
        own = bool(_T.starts_near * start_pa <= curve[0] < start_pa)
        begin = 0.0 if own else _passes(fine, curve, start_pa)
        if math.isnan(begin):
            return None
    if begin + limit.time_s > span + 1e-6:
        return None
    end = min(begin + limit.time_s, span)
    times = np.array([begin, min(begin + 1e-3 * span, span), end - 1e-3 * span, end, span])
    size, slopes = _settled_size(found, times)
    # a later start moves the end too; on a curve that hardly falls the start's own doubt is all there is
    timing = 1.0 if own else min((size[2] - size[3]) / max(size[0] - size[1], 1e-9), _T.quickens_most)
    along = slopes[3] - timing * slopes[0]
    half = Z_95 * math.sqrt(max(float(along @ found.fit.covariance @ along), 0.0))
    drop = float((size[0] if own else start_pa) - size[3])
    if own and start_pa is not None:  # from a little below the limit's start: the law says how much less that is
        as_fitted, wanted = (
            _leak_alone_pa(found.model, found.fit.parameters, p, limit.time_s) for p in (size[0], start_pa)
        )
        more = wanted / as_fitted if as_fitted > 1.0 else 1.0
        drop, half = drop * more, half * more
    return Loss(_between(drop, half), "reading", begin, float(size[0]) if own or start_pa is None else start_pa)


def _over_from_below(found: HoldFit, hold: Hold, limit: Limit) -> Loss | None:
    """More than the limit, lost from below its start: no model need be carried back up to that; else None."""
    own = _on_curve(found, hold, replace(limit, start_pa=None))
    if limit.start_pa is None or own is None or own.measured.low <= limit.drop_pa:
        return None
    return own if _settled_size(found, np.zeros(1))[0][0] <= limit.start_pa else None


def _settled_size(found: HoldFit, time_s: Array) -> tuple[Array, Array]:
    """Magnitudes (n,) of the curve without what gas and hose give back, and their slopes by the fit's numbers.

    Rubber that creeps in log-time never settles: a gauge shows it beside the leak, so it stays in (0.1 kPa or so).
    """
    x, model = found.fit.parameters, found.model
    settled = x.copy()
    settled[WARMTH] = settled[CREEP:] = 0.0
    settled[START] = x[START] / (1.0 + x[WARMTH])
    value, slopes = model.at_times(time_s).predict(settled)
    by_start = slopes[:, START].copy()
    slopes[:, START] = by_start / (1.0 + x[WARMTH])
    slopes[:, WARMTH] = -by_start * x[START] / (1.0 + x[WARMTH]) ** 2
    slopes[:, CREEP:] = 0.0
    return model.sign * (value - model.priors.zero_pa), slopes


def _passes(t: Array, size: Array, level_pa: float) -> float:
    """When a falling curve passes a magnitude; NaN when it starts lower or never gets there."""
    below = np.flatnonzero(size < level_pa)
    if size[0] < level_pa or below.size == 0:
        return math.nan
    k = int(below[0])
    return float(np.interp(level_pa, [size[k], size[k - 1]], [t[k], t[k - 1]]))


def _carried_on(found: HoldFit, plausible: tuple[Array, ...], hold: Hold, limit: Limit) -> Loss:
    """The loss that the leak alone and its doubt allow, over the limit's time from its start."""
    start = abs(hold.start_pa) if limit.start_pa is None else limit.start_pa
    drops = [_leak_alone_pa(found.model, x, start, limit.time_s) for x in plausible]
    low, high = min(drops), max(drops)
    seen = low > 1e-6 * start  # less is the solver's own zero
    measured = Interval(drops[0], low, high) if seen else Interval(None, 0.0, high)
    return Loss(measured, "model", _passed_s(found, start), start)


def _passed_s(found: HoldFit, start_pa: float) -> float | None:
    """When the settled curve passes a magnitude, before the hold as the leak alone would have; None if never."""
    model, x = found.model, found.fit.parameters
    span = float(model.readings.time_s[-1])
    fine = np.linspace(0.0, span, 400)
    curve = _settled_size(found, fine)[0]
    if curve[0] >= start_pa:
        at = _passes(fine, curve, start_pa)
        return None if math.isnan(at) else at
    after = _passes(fine, _alone_pa(model, x, start_pa, fine), float(curve[0]))
    return None if math.isnan(after) else -after


def _alone_pa(model: HoldModel, x: Array, start_pa: float, time_s: Array) -> Array:
    """Magnitudes (n,) that the leak alone leaves of one, the gas at the walls' temperature."""
    opened = model.ambient_pa + model.sign * start_pa
    end = settled_pressure(time_s, model.leak(x), model.inward, opened, model.ambient_pa)
    return np.abs(end - model.ambient_pa)


def _leak_alone_pa(model: HoldModel, x: Array, start_pa: float, time_s: float) -> float:
    """What the leak alone takes from a magnitude in a time."""
    grown = time_s * (1.0 + 0.5 * max(float(x[GROWTH]), 0.0) * time_s)  # as if it began at its first size
    return max(float(start_pa - _alone_pa(model, x, start_pa, np.array([grown]))[0]), 0.0)


# --- half of it ---


def half_gone_s(fitted: WindowFit) -> float | None:
    """From shutting the valve until half of the pressure is gone, on the fitted curve as it is shown.

    Beyond the hold the leak alone goes on; None where it would not get there: it closes, changes or comes from
    something that settles.
    """
    chosen = fitted.chosen
    model, x = chosen.found.model, chosen.found.fit.parameters
    if chosen.sized is None:
        return None
    span = float(model.readings.time_s[-1])
    fine = np.linspace(0.0, span, 400)
    try:
        size = model.sign * (model.at_times(fine).predict(x)[0] - model.priors.zero_pa)
    except NotSolved:
        return None
    half = 0.5 * float(size[0])
    on_curve = _passes(fine, size, half)
    if not math.isnan(on_curve):
        return on_curve
    if chosen.odd is not None:
        return None
    later = np.geomspace(1e-3, _T.carried_on_most, 400) * span
    after = _passes(later, _alone_pa(model, x, float(size[-1]), later), half)
    return None if math.isnan(after) else span + after


# --- without a fit ---


def _read_off(limit: Limit, fitted: WindowFit, hold: Hold) -> Loss | None:
    """The drop over the limit's time between readings, when the hold covers it."""
    t, size = fitted.part.time_s, fitted.size_pa
    inside = (t >= hold.start_s) & (t <= hold.end_s)
    begin, start_pa = hold.start_s, limit.start_pa
    if start_pa is not None and not _T.starts_near * start_pa <= size[inside][0] < start_pa:
        begin = _passes(t[inside], size[inside], start_pa)
    else:
        start_pa = None  # its own start, or one near enough, stands for the limit's
    if math.isnan(begin):
        return None
    sigma_pa = _reading_sd_pa(fitted)
    first, u_first = _level(t, size, begin, sigma_pa)
    last, u_last = _level(t, size, min(begin + limit.time_s, hold.end_s), sigma_pa)
    start = first if start_pa is None else start_pa
    half = Z_95 * float(np.hypot(u_first, u_last))
    drop = start - last
    over = drop - half > limit.drop_pa  # it only gets more
    covered = begin + limit.time_s <= hold.end_s + _T.ends_within_s
    since_s = begin - hold.closed_s
    return Loss(_between(drop, half), "reading", since_s, start) if covered or over else None


def _level(t: Array, size: Array, at_s: float, sigma_pa: float) -> tuple[float, float]:
    """Pressure at a moment and its standard deviation: a line through the readings within a second of it."""
    near = np.abs(t - at_s) <= _T.level_within_s
    if near.sum() >= _T.level_readings:
        line = np.polyfit(t[near] - at_s, size[near], 1)
        return float(line[1]), max(sigma_pa / float(np.sqrt(near.sum())), _T.level_least * sigma_pa)
    return float(np.interp(at_s, t, size)), sigma_pa
