"""What locating and comparing found, and what a complaint does to it. Frozen data only."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Literal

from leakdown.analysis import Flag, MarkEffect, Shown, VerdictWord
from leakdown.circuits import Direction
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_T = tuned("where")
warning = partial(Flag.of, "where")
"""The flag of one code with its text filled in."""


@dataclass(frozen=True)
class Answer:
    """One answer. text: what was said, in a few words. factors: by place, what it alone does to the odds."""

    id: str
    seen: bool
    text: str
    factors: Mapping[str, float]

    @property
    def words(self) -> str:
        """The answer as part of a sentence."""
        return self.text if self.seen else f"not so: {self.text}"


@dataclass(frozen=True)
class Complaint:
    """All answers together. factors: by place, on the odds; a place that is not named has 1."""

    factors: Mapping[str, float] = field(default_factory=dict)
    answers: tuple[Answer, ...] = ()

    def factor(self, place: str) -> float:
        """On the odds of one place."""
        return float(self.factors.get(place, 1.0))


def for_and_against(complaint: Complaint, places: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words of the answers that raise any of these places, and of those that lower them; strongest first."""
    raised: list[tuple[float, str]] = []
    lowered: list[tuple[float, str]] = []
    for answer in complaint.answers:
        factors = [answer.factors.get(place, 1.0) for place in places]
        extreme = max(factors, key=_strength, default=1.0)
        if _strength(extreme) >= math.log(_T.telling_factor):
            (raised if extreme > 1.0 else lowered).append((_strength(extreme), answer.words))
    for words in (raised, lowered):
        words.sort(key=lambda row: -row[0])
    return tuple(words for _, words in raised), tuple(words for _, words in lowered)


def _strength(factor: float) -> float:
    return abs(math.log(factor)) if factor > 0.0 else math.inf


@dataclass(frozen=True)
class Ratio:
    """Leak geometry under vacuum over that under pressure; 1 for a fixed hole whatever the pressures.

    value: None when one direction was tight; then `at_least` (pressure tight) or `high` (vacuum tight) is
    the bound. high is None when nothing bounds it. same_law False: the two directions leak by different
    flow laws, and the ratio is that of equal flow. warming_log_per_k_min: how much a warming of 1 K/min
    during both tests would add to the logarithm of the ratio.
    """

    value: float | None
    low: float
    high: float | None
    at_least: float | None = None
    same_law: bool = True
    warming_log_per_k_min: float = 0.0

    @property
    def told(self) -> bool:
        """Whether it says anything: not where neither direction leaks."""
        return not (self.value is None and self.at_least is None and self.high is None)


@dataclass(frozen=True)
class SectionShare:
    """Share of the whole circuit's leak that goes through one section, per direction.

    separable False: these tests cannot tell it from the sections in `with_`; then the share is unknown
    (value None, between low and high) and `together` is the share of all of them.
    """

    section: str
    shares: tuple[tuple[Direction, Interval], ...]
    separable: bool = True
    with_: tuple[str, ...] = ()
    together: tuple[tuple[Direction, Interval], ...] = ()

    @property
    def told(self) -> tuple[tuple[Direction, Interval], ...]:
        """What the tests can tell: of the sections together where they cannot be told apart."""
        return self.together or self.shares

    @property
    def names(self) -> tuple[str, ...]:
        """Of these sections, in the order of the alphabet."""
        return tuple(sorted((self.section, *self.with_)))


@dataclass(frozen=True)
class MarkOutcome:
    """Something done during a test, and what the leak did then.

    place: the place or group that its words name, None when they name none. changed: by more than 15 % for
    certain; steady: by less than 25 % for certain.
    """

    file: str
    direction: Direction
    effect: MarkEffect
    place: str | None
    changed: bool
    steady: bool


@dataclass(frozen=True)
class Group:
    """A kind of place and the probability that the largest leak is there."""

    group: str
    name: str
    probability: float
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Place:
    """One place within a group."""

    place: str
    group: str
    name: str
    probability: float


@dataclass(frozen=True)
class Entry:
    """How a result is given next time: `--seen` or `--not-seen` with an id, or one more file, in words."""

    kind: Literal["seen", "not_seen", "file"]
    what: str


@dataclass(frozen=True)
class NextTest:
    """The one step that is expected to cost least in all: a test, the repair, or to stop.

    id: the test's, "repair" or "stop". minutes: hands-on. direction: in which it is done, None where in none or both.
    enter: the ways in which its result is given next time.
    """

    id: str
    do: str
    why: str
    minutes: float
    direction: Direction | None
    enter: tuple[Entry, ...]


@dataclass(frozen=True)
class TestVerdict:
    """What one test came to. lax: a pass by a limit that strict practice would not give. unproven: nothing shows that
    the gauge was connected. would_see_pa_s: the smallest loss it would have seen, None without a size.
    """

    file: str
    circuit: str
    direction: Direction
    word: VerdictWord
    lax: bool
    unproven: bool
    would_see_pa_s: float | None

    __test__ = False  # no test case, for all that its name begins like one


@dataclass(frozen=True)
class Together:
    """Probability that the tests are of one engine as it stood, and what speaks against it."""

    probability: float
    doubts: tuple[Flag, ...]


@dataclass(frozen=True, repr=False)
class Located(Shown):
    """Everything `locate` found. ratio None: fewer than two directions on the same blanks.

    ruled_out: names of places, each with why. complaint: what of it was weighed in.
    """

    circuit: str
    files: tuple[str, ...]
    ratio: Ratio | None
    groups: tuple[Group, ...]
    places: tuple[Place, ...]
    sections: tuple[SectionShare, ...]
    ruled_out: tuple[tuple[str, str], ...]
    not_tested: tuple[str, ...]
    next_test: NextTest
    warnings: tuple[Flag, ...]
    verdicts: tuple[TestVerdict, ...]
    together: Together
    headline: str = ""
    marks: tuple[MarkOutcome, ...] = ()
    complaint: Complaint | None = None


@dataclass(frozen=True, repr=False)
class Change(Shown):
    """How much larger or smaller a leak became.

    after_over_before: value None when one side was tight (low or high is then the bound); high None when
    nothing bounds it. word: "smaller", "larger", "same" or "unclear".
    """

    direction: Direction
    after_over_before: tuple[float | None, float, float | None]
    word: str
    verdict_before: str
    verdict_after: str
    sentence: str
    warnings: tuple[Flag, ...]
