"""Law of propagation of uncertainty for one result of a few independent inputs.

u_c^2 = sum (df/dx_i u_i)^2 (JCGM 100:2008, 5.1.2, eq. 10). The 95 % interval of a positive quantity is
value * exp(-/+ 1.96 u_c / value): next to value -/+ 1.96 u_c for small doubts, and never below zero.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from leakdown.estimate.result import Interval
from leakdown.estimate.statistics import Z_95
from leakdown.sizing.written import Written


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


def propagate(function: Callable[..., float], inputs: Sequence[Written]) -> Propagated:
    """Carry the inputs' doubts through `function(*values)`; slopes by central differences over one sd."""
    values = [x.value for x in inputs]
    parts = tuple((x.name, _part(function, values, k, x.u)) for k, x in enumerate(inputs))
    return Propagated(function(*values), math.hypot(*(part for _, part in parts)), parts)


def _part(function: Callable[..., float], values: list[float], index: int, u: float) -> float:
    """df/dx_i u_i, the slope taken over a step small beside the doubt (curvature would enter as step^2)."""
    if u == 0.0:
        return 0.0
    step = 0.01 * u
    high, low = list(values), list(values)
    high[index] += step
    low[index] -= step
    return (function(*high) - function(*low)) / (2.0 * step) * u
