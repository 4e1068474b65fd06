"""Before and after a repair, or two repeats: how much the leak changed, with its interval."""

from __future__ import annotations

import math
from dataclasses import replace

from leakdown.analysis import Flag
from leakdown.errors import UsageError
from leakdown.fit.ratio import JointHold, compared
from leakdown.judge.analyse import fitted
from leakdown.judge.judged import FittedTest
from leakdown.judge.repeats import REPEATABILITY
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import widened
from leakdown.where.directional import other_gauge, unshared_doubt, volume_scale
from leakdown.where.located import Change, warning
from leakdown.where.remarks import NOTABLE
from leakdown.where.tests import check_recordings
from leakdown.words.numbers import number, share_words

_T = tuned("where")
Bounds = tuple[float | None, float, float | None]


def compare(before: Recording, after: Recording, *, settings: Settings | None = None) -> Change:
    """Leak after over leak before, in one direction on one circuit.

    Raises UsageError when the two cannot be compared and InputError for a recording without a hold.
    """
    check_recordings(before=before, after=after)
    return compare_fitted(fitted(before, settings), fitted(after, settings))


def compare_fitted(first: FittedTest, second: FittedTest) -> Change:
    """The same for tests that were analysed before."""
    _check_comparable(first, second)
    bounds = _bounds(first, second)
    word = _word(bounds)
    return Change(
        direction=first.analysis.direction,
        after_over_before=bounds,
        word=word,
        verdict_before=_verdict(first),
        verdict_after=_verdict(second),
        sentence=_sentence(bounds, word, first, second),
        warnings=tuple(_flags(first, second)),
    )


def _check_comparable(first: FittedTest, second: FittedTest) -> None:
    a, b = first.analysis, second.analysis
    before, after = a.recording.source, b.recording.source
    if a.direction != b.direction:
        raise UsageError(
            f"{before} is a {a.direction} test and {after} a {b.direction} test",
            remedy="Compare tests of one direction; leakdown locate compares the two directions.",
        )
    if a.circuit != b.circuit:
        raise UsageError(
            f"{before} is a test of the {a.circuit}, {after} of the {b.circuit}",
            remedy="Compare tests of one circuit, or say --circuit.",
        )


def _bounds(first: FittedTest, second: FittedTest) -> Bounds:
    """Value, low and high of after over before; bounds alone where one side is tight or has no size."""
    a, b = first.rate_pa_s, second.rate_pa_s
    scale = volume_scale(first, second)
    if first.detected and second.detected:
        found = compared([JointHold(first.found, False), JointHold(second.found, True, scale)])
        if found is not None:
            ratio = widened(found.ratio, unshared_doubt([first, second]))
            return ratio.value, ratio.low, ratio.high
    low = b.low / a.high / scale if a.high > 0 else 0.0
    high = b.high / a.low / scale if a.low > 0 and math.isfinite(b.high) else None
    return None, low, high


def _word(bounds: Bounds) -> str:
    value, low, high = bounds
    below, above = _beyond_scatter(bounds)
    if below:
        return "smaller"
    if above:
        return "larger"
    if _one_sided(bounds):
        return "same"
    if value is not None and high is not None and high / max(low, 1e-9) < _T.same_within:
        return "same"
    return "unclear"


def _one_sided(bounds: Bounds) -> bool:
    """Whether the tests themselves speak for a change, in one direction."""
    _, low, high = bounds
    return low > 1.0 or (high is not None and high < 1.0)


def _beyond_scatter(bounds: Bounds) -> tuple[bool, bool]:
    """Whether the leak is smaller, or larger, by more than the same set-up scatters when its blanks are seated anew.

    That scatter is part of any before and after: the repeatability limit of two tests, 2.8 sd (ISO 5725-6), is
    added in quadrature to each side's own doubt.
    """
    value, low, high = bounds
    limit = REPEATABILITY * _T.repeat_scatter

    def beyond(end: float, middle: float) -> float:
        return math.hypot(math.log(end / middle), limit)

    smaller = high is not None and high < 1.0
    if smaller and high:
        middle = value or high
        smaller = math.log(middle) + beyond(high, middle) < 0.0
    middle = value or low
    larger = low > 1.0 and math.log(middle) - beyond(low, middle) > 0.0
    return smaller, larger


def _sentence(bounds: Bounds, word: str, first: FittedTest, second: FittedTest) -> str:
    value, low, high = bounds
    if first.tight and second.tight:
        return "Neither test saw a leak: both are tight as far as they could see."
    if second.tight and high is not None:
        left = max(high, 0.001)
        at_least = f"The leak is at least {share_words(1.0 - left)} smaller. " if word == "smaller" else ""
        return f"{at_least}No leak seen afterwards: at most {share_words(left)} of the leak before is left."
    if first.tight and word == "larger":
        return f"A leak appeared: at least {number(low, 2)} times what the test before could have missed."
    if value is None or high is None:
        return "The two cannot be compared: one of them could not be sized. Repeat that test."
    if word == "smaller":
        fell = [share_words(1.0 - share, high - low) for share in (value, high, low)]
        return f"The leak is {fell[0]} smaller ({fell[1]} to {fell[2]})."
    if word == "larger":
        return f"The leak is {value:.3g} times as large ({low:.3g} to {high:.3g})."
    span = f"{share_words(low)} to {share_words(high)} of before"
    if _one_sided(bounds):
        scatter = share_words(math.expm1(REPEATABILITY * _T.repeat_scatter))
        return (
            f"No change that counts: it came out at {share_words(value, high - low)} of before ({span}), and seating "
            f"the blanks anew alone moves a result by up to {scatter} (practice). Repeat both tests to tell."
        )
    if word == "same":
        return f"The leak is the same within what the tests can tell ({span})."
    return f"Cannot say whether the leak changed ({span}): a longer hold or a finer gauge would tell."


def _verdict(one: FittedTest) -> str:
    return one.analysis.verdict.word if one.analysis.verdict else "undecided"


def _flags(first: FittedTest, second: FittedTest) -> list[Flag]:
    a, b = (h.analysis.recording.conditions for h in (first, second))
    flags = []
    if set(a.includes) != set(b.includes) or a.blocked != b.blocked:
        flags.append(warning("other-blanks"))
    if first.volume_m3 is None or second.volume_m3 is None:
        flags.append(warning("volume-assumed-equal"))
    if other_gauge([first, second]):
        flags.append(warning("two-gauges/change"))
    return flags + [
        replace(flag, text=f"{h.analysis.recording.source}: {flag.text}")
        for h in (first, second)
        for flag in h.analysis.flags
        if flag.code in (*NOTABLE, "lax-limit")  # the verdicts stand beside the change
    ]
