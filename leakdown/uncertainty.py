"""Intervals and where they come from: quantiles, uncertainties as people write them, their propagation."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from leakdown.errors import UsageError
from leakdown.quantities import split_quantity, tidy

Z_95 = 1.959963984540054
"""Two-sided 95 % quantile of the normal distribution (any table)."""

DETECTION_SIGMAS = Z_95 + 1.6448536269514722
"""A leak is called seen at z > 1.96; one of 1.96 + 1.645 sigma is then seen 95 times in 100.

After Currie, Anal. Chem. 40 (1968) 586: detection limit = critical level + 1.645 sigma."""


@dataclass(frozen=True)
class Interval:
    """A value with its 95 % interval; `value` None when only the bounds are known."""

    value: float | None
    low: float
    high: float

    def scaled(self, factor: float) -> Interval:
        """Every figure times `factor` (> 0)."""
        value = None if self.value is None else self.value * factor
        return Interval(value, self.low * factor, self.high * factor)


def mixed(parts: Sequence[tuple[float, Interval]]) -> Interval:
    """95 % interval of a mixture: (weight, interval) each, all of sizes that cannot be below zero.

    Each part is a normal density of its own width on either side of its value (0 where it has none), what
    would lie below zero counted there. The value is the first part's.
    """
    known = [(weight, part) for weight, part in parts if weight > 0.0]
    if len(known) == 1:
        return known[0][1]
    total = sum(weight for weight, _ in known)

    def below(x: float) -> float:
        return sum(weight * _below(part, x) for weight, part in known) / total

    def quantile(share: float) -> float:
        low, high = 0.0, max(part.high for _, part in known)
        if below(low) >= share or high == low:
            return low
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if below(middle) < share else (low, middle)
        return high

    low, high = quantile(0.025), quantile(0.975)
    value = parts[0][1].value
    if value is None or low <= 0.0:
        return Interval(None, 0.0, high)
    return Interval(min(max(value, low), high), low, high)


def _below(part: Interval, x: float) -> float:
    """Probability that a part's size is at most x >= 0."""
    centre = part.value or 0.0
    width = part.high - centre if x >= centre else centre - part.low
    if width <= 0.0:
        return 1.0 if x >= centre else 0.0
    return normal_cdf(Z_95 * (x - centre) / width)


def widened(interval: Interval, below: float, above: float | None = None) -> Interval:
    """The interval with one more uncertainty in quadrature: 95 % half-widths of the logarithm.

    above: the same as `below` when not given. An interval without a value is returned as it is.
    """
    if interval.value is None or below == 0.0:
        return interval
    low = math.hypot(math.log(interval.value / interval.low), below)
    high = math.hypot(math.log(interval.high / interval.value), below if above is None else above)
    return Interval(interval.value, interval.value * math.exp(-low), interval.value * math.exp(high))


def student_95(dof: float) -> float:
    """Two-sided 95 % quantile of Student's t for any degrees of freedom from one on.

    With t = sqrt(n) tan(a) the density is that of cos(a)^(n - 1) (Abramowitz and Stegun 26.7): Newton's method from
    the normal quantile, on Simpson's rule. scipy's own costs every scattered sheet 0.2 s of import.
    """
    n = min(max(dof, 1.0), 1e6)
    wanted = 0.475 * math.sqrt(math.pi) * math.exp(math.lgamma(0.5 * n) - math.lgamma(0.5 * n + 0.5))
    angle = math.atan(Z_95 / math.sqrt(n))
    for _ in range(8):
        heights = [math.cos(angle * k / 64.0) ** (n - 1.0) for k in range(65)]
        area = angle / 192.0 * (heights[0] + 4.0 * sum(heights[1::2]) + 2.0 * sum(heights[2:-1:2]) + heights[-1])
        angle += (wanted - area) / heights[-1]
    return math.sqrt(n) * math.tan(angle)


def normal_cdf(z: float) -> float:
    """Probability that a standard normal value is below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


Source = Literal["given", "resolution", "assumed"]
_PLUS_MINUS = re.compile(r"\s*(?:\+/-|\+-|±|plus or minus)\s*")
_NOMINAL_U = 0.01  # relative, the most for a nominal size's few digits; common practice, no source


@dataclass(frozen=True)
class InputQuantity:
    """A value in SI and its standard uncertainty `u`; `note` says where that comes from."""

    name: str
    value: float
    u: float
    source: Source
    note: str


def read_input(
    text: str, name: str, parse: Callable[[str, str], float], step: float | None = None, nominal: bool = False
) -> InputQuantity:
    """Read "100 cm3", "100 cm3 +/- 0.6 cm3" or "100 cm3 +/- 1 %" (95 %). Raises UsageError.

    parse: text and name -> SI. step: what the instrument resolves (SI), when said. nominal: a size that is
    known to 1 % although it is written with few digits ("1 L").
    """
    pieces = _PLUS_MINUS.split(tidy(text).strip())
    if len(pieces) > 2 or not pieces[0]:
        raise UsageError(f"{name}: cannot read {text!r}", remedy='Write it as "100 cm3" or "100 cm3 +/- 0.6 cm3".')
    value = parse(pieces[0], name)
    if len(pieces) == 2:
        half = _half_width(pieces[1], value, name, parse)
        return InputQuantity(name, value, half / Z_95, "given", f"{name} {text.strip()} (95 %, given)")
    if step is not None:
        shown = f"{name} {text.strip()}, read to the resolution given"
        return InputQuantity(name, value, step / math.sqrt(12.0), "resolution", shown)
    u = last_digit(pieces[0]) * abs(parse(_unit_only(pieces[0]), name)) / math.sqrt(12.0)
    note = f"{name} {text.strip()}, assumed rounded to its last digit"
    if nominal and u > _NOMINAL_U * abs(value):
        u, note = _NOMINAL_U * abs(value), f"{name} {text.strip()}, assumed good to 2 % (95 %)"
    return InputQuantity(name, value, u, "assumed", note)


def assumed(name: str, value: float, half: float, why: str) -> InputQuantity:
    """A quantity that nobody gave, with a 95 % half-width."""
    return InputQuantity(name, value, half / Z_95, "assumed", why)


def last_digit(text: str) -> float:
    """What one step of the last written digit is worth in the written unit: "4.82 kPa" -> 0.01."""
    match = re.match(r"\s*[-+]?\d*(?:[.,](\d*))?(?:[eE]([-+]?\d+))?", text)
    decimals = len(match.group(1) or "") if match else 0
    exponent = int(match.group(2)) if match and match.group(2) else 0
    return 10.0 ** (exponent - decimals)


def _unit_only(text: str) -> str:
    parts = split_quantity(text)
    return f"1 {parts[1]}" if parts else text


def _half_width(text: str, value: float, name: str, parse: Callable[[str, str], float]) -> float:
    parts = split_quantity(text)
    if parts and parts[1].strip() in ("%", "percent", "per cent"):
        half = parts[0] / 100.0 * abs(value)
    else:
        half = abs(parse(text, f"{name} uncertainty"))
    if not 0.0 < half < abs(value):
        raise UsageError(
            f"{name}: the doubt {text!r} must be above zero and below the value itself",
            remedy='Write it as "+/- 1 %" or "+/- 0.5 cm3" (95 %).',
        )
    return half


@dataclass(frozen=True)
class Propagated:
    """A positive result: value, combined standard uncertainty, and what each input adds to it (signed)."""

    value: float
    u: float
    parts: tuple[tuple[str, float], ...]

    @property
    def interval(self) -> Interval:
        """Value with its 95 % interval."""
        spread = math.exp(Z_95 * self.u / self.value)
        return Interval(self.value, self.value / spread, self.value * spread)


def propagate(function: Callable[..., float], inputs: Sequence[InputQuantity]) -> Propagated:
    """Carry the inputs' uncertainties through `function(*values)`, slopes by central differences."""
    values = [x.value for x in inputs]
    parts = tuple((x.name, _part(function, values, k, x.u)) for k, x in enumerate(inputs))
    return Propagated(function(*values), math.hypot(*(part for _, part in parts)), parts)


def _part(function: Callable[..., float], values: list[float], index: int, u: float) -> float:
    """df/dx_i u_i, the slope taken over a step small beside u (curvature would enter as step^2)."""
    if u == 0.0:
        return 0.0
    step = 0.01 * u
    high, low = list(values), list(values)
    high[index] += step
    low[index] -= step
    return (function(*high) - function(*low)) / (2.0 * step) * u
