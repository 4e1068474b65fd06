"""What people would use instead: the settled loss rate at 35 kPa (value, low, high; Pa/s) by three short ways.

Each gets the readings from five seconds after the valve was shut, or all rows of a sheet, and the magnitudes.
"""

from __future__ import annotations

import warnings

import numpy as np
from scipy.optimize import curve_fit
from scipy.stats import linregress

from leakdown.hold.parts import parts_of
from leakdown.recording import Recording

_AT_PA = 35e3
_Z = 1.96


def hold_of(recording: Recording) -> tuple[np.ndarray, np.ndarray]:
    """Times from the first reading used, and magnitudes."""
    hold = parts_of(recording).hold
    wait = 0.0 if recording.by_hand else 5.0
    part = recording.between(hold.closed_s + wait, hold.end_s)
    part = part if part.time_s.size > 3 else recording.between(hold.closed_s, hold.end_s)
    return part.time_s - part.time_s[0], recording.sign * part.pressure_pa


def line_through_logs(t: np.ndarray, size: np.ndarray) -> tuple[float, float, float]:
    """A straight line through ln p (scipy.stats.linregress)."""
    use = size > 0.02 * size[0]
    line = linregress(t[use], np.log(size[use]))
    rate, half = -line.slope * _AT_PA, _Z * line.stderr * _AT_PA
    return rate, rate - half, rate + half


def exponential(t: np.ndarray, size: np.ndarray) -> tuple[float, float, float]:
    """`curve_fit` of p0 exp(-t/tau)."""
    if t.size < 4:
        return line_through_logs(t, size)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            (_, speed), covariance = curve_fit(lambda t, p0, k: p0 * np.exp(-k * t), t, size, p0=(size[0], 0.01))
    except (RuntimeError, TypeError):
        return 0.0, 0.0, 0.0
    half = _Z * float(np.sqrt(covariance[1, 1])) * _AT_PA
    return speed * _AT_PA, speed * _AT_PA - half, speed * _AT_PA + half


def exponential_with_offset(t: np.ndarray, size: np.ndarray) -> tuple[float, float, float]:
    """lmfit of c + (p0 - c) exp(-k t); the offset is where it seems to end."""
    import lmfit

    if t.size < 4:
        return line_through_logs(t, size)
    model = lmfit.Model(lambda t, p0, k, c: c + (p0 - c) * np.exp(-k * t))
    first = model.make_params(p0=size[0], k={"value": 0.01, "min": 0.0}, c={"value": 0.0, "min": -50e3, "max": 50e3})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = model.fit(size, first, t=t)
    k, c = fit.params["k"].value, fit.params["c"].value
    rate = k * (_AT_PA - c)
    if fit.covar is None:
        return rate, rate, rate
    order = fit.var_names
    slopes = np.array([{"p0": 0.0, "k": _AT_PA - c, "c": -k}[name] for name in order])
    half = _Z * float(np.sqrt(max(slopes @ fit.covar @ slopes, 0.0)))
    return rate, rate - half, rate + half


METHODS = {"ln p": line_through_logs, "exponential": exponential, "with offset": exponential_with_offset}
