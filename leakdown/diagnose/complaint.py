"""What a complaint does to the places that a test can find: plain factors on their odds, and the answers.

Who works the factors out is no concern of this package; it weighs them, once, into the prior of a place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

_TELLING = 1.25  # a factor nearer to 1 than this (or its inverse) is no reason


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
        if _strength(extreme) >= math.log(_TELLING):
            (raised if extreme > 1.0 else lowered).append((_strength(extreme), answer.words))
    return _sorted(raised), _sorted(lowered)


def _strength(factor: float) -> float:
    return abs(math.log(factor)) if factor > 0.0 else math.inf


def _sorted(found: list[tuple[float, str]]) -> tuple[str, ...]:
    return tuple(words for _, words in sorted(found, key=lambda row: -row[0]))
