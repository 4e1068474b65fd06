"""When a live test may stop: the verdict is certain, looked at a few planned times, at no higher error rate.

The bound is Bonferroni's (Boole's) inequality over the planned looks: the chance that any of K looks errs is
at most the sum of their chances, however much the looks depend on each other, so each gets 1/K of what
one look at the end would have (Dunn, J. Am. Stat. Assoc. 56 (1961) 52). It is alpha spending in equal
parts; the less wasteful boundaries (Pocock, Biometrika 64 (1977) 191; Lan and DeMets, Biometrika 70
(1983) 659) need independent increments of known size, which refitted decays do not give. The papers are
named from memory. K = 16 looks, each a factor 1.3
later than the one before, reach from 8 s to 7 minutes.

A look takes the verdict's 95 % interval to the level 1 - 0.05/16 (2.955 instead of 1.960 standard
deviations), never less than the chi-squared profile behind it would give:

* the upper end of a detected leak by the power (high/value)^r, r = 2.955/1.960, at least as wide as r times
  the half-width; the lower end by r times its half-width;
* the upper limit of an undetected leak by r squared: with chi2 a parabola whose minimum is held back by
  the bound at zero, the limit grows by more than r and by at most r squared.

So a wrong pass comes with at most 2.5 %, and a wrong fail likewise; with the one look that the summary takes
at the end, whenever that is, at most 5 %. A pass also needs 20 s of settled hold (practice: 20 to 30 s).
"""

from __future__ import annotations

from leakdown.analysis import Analysis, Limit
from leakdown.uncertainty import Interval

FIRST_LOOK_S = 8.0
SPACING = 1.3
LOOKS = 16
WIDENING = 2.955 / 1.960
"""Normal quantiles of 1 - 0.025/16 and of 0.975."""

MIN_PASS_S = 20.0
MIN_FAIL_S = 5.0


def widened(measured: Interval) -> Interval:
    """The 95 % interval at the level of one look among all; see the module for why it is wide enough."""
    value = measured.value
    if value is None or value <= 0.0 or measured.low <= 0.0:
        return Interval(value, 0.0, measured.high * WIDENING**2)
    return Interval(
        value,
        max(value - WIDENING * (value - measured.low), 0.0),
        value * (measured.high / value) ** WIDENING,
    )


def certain_word(measured: Interval | None, limit: Limit, hold_s: float) -> str | None:
    """ "pass" or "fail" when the widened interval lies on one side of the limit, else None."""
    if measured is None:
        return None
    allowed = limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s
    wide = widened(measured)
    if wide.high <= allowed and hold_s >= MIN_PASS_S:
        return "pass"
    return "fail" if wide.low > allowed and hold_s >= MIN_FAIL_S else None


class Looks:
    """The planned looks at one test: `due` tells when the next one is, `take` spends it."""

    def __init__(self) -> None:
        self.taken = 0
        self._next_s = FIRST_LOOK_S

    def due(self, closed_for_s: float) -> bool:
        """True when the valve has been shut long enough for the next look."""
        return self.taken < LOOKS and closed_for_s >= self._next_s

    def take(self, closed_for_s: float, result: Analysis | None) -> str | None:
        """The certain verdict, if any, of an analysis of all readings up to now; None is a look too."""
        self.taken += 1
        self._next_s = closed_for_s * SPACING
        if result is None or result.verdict is None:
            return None
        length_s = result.hold.end_s - result.hold.start_s
        return certain_word(result.verdict.measured, result.verdict.limit, length_s)
