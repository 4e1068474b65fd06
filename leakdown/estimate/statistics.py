"""The few quantiles that the estimates need, without importing a statistics library for them."""

from __future__ import annotations

import math

Z_95 = 1.959963984540054
"""Two-sided 95 % quantile of the normal distribution (any table)."""

DETECTION_SIGMAS = Z_95 + 1.6448536269514722
"""A leak is called seen at z > 1.96; one of 1.96 + 1.645 sigma is then seen 95 times in 100.

After Currie, Anal. Chem. 40 (1968) 586: detection limit = critical level + 1.645 sigma."""


def student_95(dof: float) -> float:
    """Two-sided 95 % quantile of Student's t.

    Expansion in 1/dof (Abramowitz & Stegun 26.7.5), good to 0.1 % from 3 degrees of freedom; the exact
    12.706 and 4.303 at and below 1 and 2.
    """
    if dof < 3.0:
        return 12.706 if dof < 1.5 else 4.303 if dof < 2.5 else 3.182
    z = Z_95
    terms = (
        (z**3 + z) / 4.0,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96.0,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384.0,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160.0,
    )
    return z + sum(term / dof ** (k + 1) for k, term in enumerate(terms))


def normal_cdf(z: float) -> float:
    """Probability that a standard normal value is below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
