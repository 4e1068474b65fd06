"""What locating and comparing found. Frozen data only: words live in `text`, JSON in `machine`.

Every interval is 95 %. Probabilities of groups, and of places, sum to 1.
"""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.analysis import Flag, MarkEffect
from leakdown.diagnose.complaint import Complaint
from leakdown.recording import Direction
from leakdown.uncertainty import Interval


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


@dataclass(frozen=True)
class Marked:
    """Something done during a test, and what the leak did then.

    place: the place or group that its words name, None when they name none. changed: by more than 15 % for
    certain; steady: by less than 25 % for certain.
    """

    file: str
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
class NextTest:
    """The one test that would tell most for its time."""

    do: str
    why: str


@dataclass(frozen=True)
class Located:
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
    next_test: NextTest | None
    warnings: tuple[Flag, ...]
    headline: str = ""
    marks: tuple[Marked, ...] = ()
    complaint: Complaint | None = None


@dataclass(frozen=True)
class Change:
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
