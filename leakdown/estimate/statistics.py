"""The few quantiles that the estimates need."""

from __future__ import annotations

import math

Z_95 = 1.959963984540054
"""Two-sided 95 % quantile of the normal distribution (any table)."""

DETECTION_SIGMAS = Z_95 + 1.6448536269514722
"""A leak is called seen at z > 1.96; one of 1.96 + 1.645 sigma is then seen 95 times in 100.

After Currie, Anal. Chem. 40 (1968) 586: detection limit = critical level + 1.645 sigma."""


def student_95(dof: float) -> float:
    """Two-sided 95 % quantile of Student's t for any degrees of freedom from one on (scipy)."""
    from scipy.special import stdtrit  # 0.2 s of import that only scattered sheets need

    return float(stdtrit(max(dof, 1.0), 0.975))


def normal_cdf(z: float) -> float:
    """Probability that a standard normal value is below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
