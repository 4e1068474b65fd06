"""Figures in words: no more digits than their doubt leaves, never an exponent; and the units of a size."""

from __future__ import annotations

import math

from leakdown.analysis import Analysis, Figure
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, show_pressure, standard_cm3_per_min
from leakdown.uncertainty import Interval

_LEAST = 1e-5  # below this a bound says nothing that a person could use
_LEAST_PERCENT = 0.01


def number(value: float, digits: int = 3) -> str:
    """`value` with at most `digits` figures that count: "0.00021", "1200000"; "?" when not finite."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "?"
    if abs(value) < _LEAST:
        return f"under {_LEAST:.5f}"
    places = digits - 1 - _exponent(value)
    return _fixed(value, digits - 1 - _exponent(round(value, places)))


def short(text: str) -> str:
    """A number without the noughts at its end: a gauge's step, not a reading."""
    return text.rstrip("0").rstrip(".") if "." in text else text


def pressure_words(pressure_pa: float, unit: str) -> str:
    """ "0.2 psi": no noughts at the end: a gauge's step, or a level named on a chart."""
    return f"{short(number(pressure_pa / PRESSURE_PA[unit]))} {unit}"


def ends(low: float, high: float, digits: int = 3) -> str:
    """Both bounds, "16.3 to 17.9"; one number where they do not differ in what is known."""
    places = _places(low, high, digits)
    first, last = _fixed(low, places), _fixed(high, places)
    return first if first == last else f"{first} to {last}"


def alike(first: float, second: float, digits: int = 3) -> tuple[str, str]:
    """Two readings of one gauge with the same places: the larger one's."""
    places = digits - 1 - _exponent(max(abs(first), abs(second), _LEAST))
    return _fixed(first, places), _fixed(second, places)


def interval_words(interval: Interval, factor: float, unit: str, digits: int = 3) -> tuple[str, str]:
    """(value, range) with unit; ("none seen", "at most X") when only an upper limit is known.

    `factor` turns the interval's own unit into `unit`. The range is "" where it is no wider than a digit.
    """
    if interval.value is None:
        return "none seen", f"at most {number(interval.high * factor, min(digits, 2))} {unit}"
    low, high = interval.low * factor, interval.high * factor
    value = _fixed(interval.value * factor, _places(low, high, digits))
    span = ends(low, high, digits)
    return f"{value} {unit}", span if " to " in span else ""


def figure_words(figure: Figure) -> tuple[str, str]:
    """(value, range) of a finding's figure, with its unit."""
    interval, unit = figure.interval, figure.unit
    if unit == "%" and 0.0 <= interval.high < _LEAST_PERCENT:
        return small_share_words(interval.high / 100.0), ""
    if not math.isfinite(interval.high):
        return f"at least {number(interval.low, 2)} {unit}", ""
    if interval.value is None and interval.low > 0.0:
        return f"{ends(interval.low, interval.high)} {unit}", ""
    if interval.value is None:
        return f"at most {number(interval.high, 2)} {unit}", ""
    if interval.low == interval.high:
        return f"{number(interval.value, 2 if unit == '%' else 3)} {unit}", ""
    return interval_words(interval, 1.0, unit)


def hole_words(hole_m: Interval) -> tuple[str, str]:
    """Diameter and range in mm, to a micrometre below 0.1 mm."""
    return interval_words(hole_m, 1e3, "mm", 2 if hole_m.high < 1e-4 else 3)


def _exponent(value: float) -> int:
    return math.floor(math.log10(abs(value))) if value else 0


def _places(low: float, high: float, digits: int) -> int:
    """Decimal places that both the doubt and the size deserve; negative: tens, hundreds."""
    most = digits - 1 - _exponent(max(abs(low), abs(high), _LEAST))
    half = 0.5 * abs(high - low)
    return most if half == 0.0 else min(most, 1 - _exponent(half))


def _fixed(value: float, places: int) -> str:
    text = f"{round(value, places):.{max(places, 0)}f}"
    return text if text.strip("-0.") else "0"


def kpa_words(pressure_pa: float, digits: int = 3) -> str:
    """ "35 kPa": at most `digits` figures, no noughts at the end."""
    return f"{pressure_pa / 1e3:.{digits}g} kPa"


def cm3_words(volume_m3: float, digits: int = 3) -> str:
    """ "250 cm3", in the same way."""
    return f"{volume_m3 * 1e6:.{digits}g} cm3"


STANDARD_AIR = "air at 20 degC, 101.325 kPa"


def flow_factor(analysis: Analysis) -> float:
    """Standard cm3/min per Pa m3/s at this test's gas temperature."""
    return standard_cm3_per_min(1.0, analysis.used.temperature_k.value or REFERENCE_TEMPERATURE_K)


def loss_factor(analysis: Analysis) -> float:
    """User's pressure unit per minute, per Pa/s."""
    return 60.0 / PRESSURE_PA[analysis.recording.conditions.show_unit]


def at_words(analysis: Analysis) -> str:
    """The quoted pressure: "at 35 kPa of vacuum", with the user's own unit first."""
    at_pa = abs(analysis.leak.at_pa) if analysis.leak else 0.0
    unit = analysis.recording.conditions.show_unit
    kpa = kpa_words(at_pa, 6)
    text = kpa if unit == "kPa" else f"{show_pressure(at_pa, unit)} ({kpa})"
    return f"at {text} of {analysis.direction}"


def percent_words(probability: float) -> str:
    """A probability, never as certain as 0 or 100 %."""
    if probability < 0.005:
        return "<1 %"
    return ">99 %" if probability > 0.995 else f"{100.0 * probability:.0f} %"


def share_words(share: float, width: float = 1.0) -> str:
    """A share in percent, with a decimal near the ends and where its interval, `width` wide, is narrow."""
    digits = 1 if share < 0.1 or 0.98 < share < 1.5 or width < 0.03 else 0
    return f"{100.0 * share:.{digits}f} %"


def small_share_words(share: float) -> str:
    """A share that may be next to nothing, in percent with two figures."""
    percent = 100.0 * share
    return f"less than {_LEAST_PERCENT:g} %" if percent < _LEAST_PERCENT else f"{short(number(percent, 2))} %"


def shares_words(share: Interval) -> str:
    """A share and its range in percent, "62 % (55 to 68)"; the range alone where no value is known."""
    low, high = 100.0 * share.low, 100.0 * share.high
    if share.value is None:
        return f"{low:.0f} to {high:.0f} %"
    return f"{100.0 * share.value:.0f} % ({low:.0f} to {high:.0f})"
