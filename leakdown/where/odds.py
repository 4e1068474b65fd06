"""Odds of places, and whether the tests belong together: every story against every test (Bayes' rule, no more)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from leakdown.analysis import Array
from leakdown.tuned import tuned
from leakdown.where.evidence import Evidence, factor_of_cause, factor_of_finding
from leakdown.where.knowledge import CAUSES, NO_LEAK, Knowledge, KnownPlace
from leakdown.where.located import Complaint
from leakdown.where.measured import Measured
from leakdown.where.stories import Bench, Story, names

_T = tuned("where")


@dataclass(frozen=True)
class Odds:
    """The answer in figures.

    places: probability that the largest leak is at each, no more than `together`; sums to 1. causes: probability
    that no leak but this disturbance is what was seen. together: that the tests are of one engine as it stood.
    by_tests: places by the tests alone, without what was seen or said. ratios: by place, (cases,) log ratios and how
    likely each is now.
    """

    places: Mapping[str, float]
    causes: Mapping[str, float]
    together: float
    by_tests: Mapping[str, float]
    ratios: Mapping[str, tuple[Array, Array]] = field(repr=False, default_factory=dict)


def place_odds(evidence: Evidence, known: Knowledge) -> Odds:
    """Everything that is known of the engine, weighed."""
    places = known.of_circuit(evidence.circuit)
    prior = prior_of(places, evidence)
    bench = _bench(places, evidence)
    doubt, missed, two = (known.numbers[name] for name in ("extra_log_sd", "missed", "two_leaks"))
    single = {p.place: _Weighed(bench.of_place(p, doubt), evidence.tests, missed) for p in places if p.pattern == "leak"}
    sound = _Weighed(bench.without_leak(), evidence.tests)
    odd = {cause: _Weighed(bench.without_leak(cause), evidence.tests) for cause in CAUSES}
    pairs = [
        (a, b, weight, _Weighed(bench.of_two(a, b, doubt), evidence.tests))
        for a, b, weight in _pairs(places, prior, two)
    ]

    def total(factor: Callable[[KnownPlace], float], of_cause: Callable[[str], float]) -> tuple[dict[str, float], dict[str, float]]:
        odds = dict.fromkeys(prior, 0.0)
        causes = dict.fromkeys(CAUSES, 0.0)
        for p in places:
            if p.pattern == "tight":
                odds[p.place] += prior[p.place] * factor(p) * sound.mean
            else:
                odds[p.place] += (1.0 - two) * prior[p.place] * factor(p) * single[p.place].mean
        if NO_LEAK in prior:
            for cause in CAUSES:
                usual = _T.disturbed[cause] * of_cause(cause)
                causes[cause] = prior[NO_LEAK] * factor(known.place(NO_LEAK)) * usual * odd[cause].mean
                odds[NO_LEAK] += causes[cause]
        for a, b, weight, story in pairs:
            both = weight * _both(factor(a), factor(b))
            odds[a.place] += both * float(np.mean(story.likely * story.story.first))
            odds[b.place] += both * float(np.mean(story.likely * (1.0 - story.story.first)))
        return odds, causes

    by_tests, _ = total(lambda _: 1.0, lambda _: 1.0)
    joint, causes = total(
        lambda p: factor_of_finding(p, evidence, known), lambda cause: factor_of_cause(cause, evidence, known)
    )
    if not sum(joint.values()) > 0.0:
        joint, causes = dict(prior), dict.fromkeys(CAUSES, 0.0)
    whole = sum(joint.values())
    apart = _Apart(evidence, prior, single, sound, odd)
    together = apart.together(sum(by_tests.values()))
    found = {place: value / whole for place, value in joint.items()}
    alone = apart.each_alone({p.place: factor_of_finding(p, evidence, known) for p in places})
    mixed = {place: together * found[place] + (1.0 - together) * alone[place] for place in found}
    return Odds(
        places=_capped(mixed, together if len(evidence.tests) > 1 else 1.0),
        causes={cause: value / whole for cause, value in causes.items()},
        together=together,
        by_tests=_shares(by_tests),
        ratios={place: (w.story.log_ratio, w.likely) for place, w in single.items()},
    )


def _bench(places: Sequence[KnownPlace], evidence: Evidence) -> Bench:
    sections = evidence.sections
    nameless = tuple(s for s in sections if not any(names(p, s) for p in places))
    return Bench(evidence.tests, sections, nameless, evidence.intake, evidence.lips, evidence.shapes, evidence.other_laws)


class _Weighed:
    """A story held against every test. missed: chance that its leak shows in none (hot only, at one angle only)."""

    def __init__(self, story: Story, tests: Sequence[Measured], missed: float = 0.0) -> None:
        self.story, self.missed = story, missed
        self.fits = story.fits(tests)
        quiet = [t.fits(np.zeros(1), story.surprise)[0] for t in tests]
        self._quiet = [float(value) for value in quiet]
        self.likely = self.of(range(len(tests)))
        self.mean = float(self.likely.mean())

    def of(self, chosen: Sequence[int] | range) -> Array:
        """(cases,) likelihood of the chosen tests."""
        seen = self.story.likelihood([self.fits[k] for k in chosen])
        unseen = float(np.prod([self._quiet[k] for k in chosen]))
        return np.asarray((1.0 - self.missed) * seen + self.missed * unseen)


@dataclass(frozen=True)
class _Apart:
    """The other account of several tests: two sets of them are not of one engine as it stood."""

    evidence: Evidence
    prior: Mapping[str, float]
    single: Mapping[str, _Weighed]
    sound: _Weighed
    odd: Mapping[str, _Weighed]

    def together(self, joint: float) -> float:
        """Probability that all tests belong together; joint: their likelihood then."""
        tests = self.evidence.tests
        if len(tests) < 2:
            return 1.0
        splits = _splits(tests)
        strangers = sum(self._of(a) * self._of(b) for a, b in splits) / len(splits)
        usual = self.evidence.belonging.usual
        known = usual * joint / max(usual * joint + (1.0 - usual) * strangers, 1e-300)
        return float(min(known, self.evidence.belonging.most))

    def _of(self, chosen: Sequence[int]) -> float:
        """Likelihood of one set of tests whatever the engine: sound, disturbed, or with a leak somewhere."""
        leaking = sum(self.prior[place] * float(w.of(chosen).mean()) for place, w in self.single.items())
        sound = float(self.sound.of(chosen).mean())
        disturbed = sum(_T.disturbed[cause] * float(w.of(chosen).mean()) for cause, w in self.odd.items())
        rest = sum(self.prior[place] for place in self.single)
        return (1.0 - _T.sound_apart) * leaking / max(rest, 1e-9) + _T.sound_apart * (sound + disturbed)

    def each_alone(self, findings: Mapping[str, float]) -> dict[str, float]:
        """What the tests that leak (or else all) say one by one, in the mean."""
        tests = self.evidence.tests
        leaking = [k for k, t in enumerate(tests) if not t.tight] or list(range(len(tests)))
        total = dict.fromkeys(self.prior, 0.0)
        for k in leaking:
            odds = {p: w * findings[p] * float(self.single.get(p, self.sound).of([k]).mean()) for p, w in self.prior.items()}
            for place, share in _shares(odds).items():
                total[place] += share / len(leaking)
        return total if leaking else dict(self.prior)


def _splits(tests: Sequence[Measured]) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Ways to part the tests in two; of many tests those by direction, by sections and one by one."""
    every = tuple(range(len(tests)))
    if len(tests) <= 4:
        parts = [part for size in range(1, len(tests)) for part in combinations(every, size) if 0 in part]
    else:
        keys = [t.inside for t in tests]
        parts = [tuple(k for k in every if tests[k].inward), *((k,) for k in every)]
        parts += [tuple(k for k in every if keys[k] == key) for key in dict.fromkeys(keys)]
    rest = {(part, tuple(k for k in every if k not in part)) for part in parts}
    return sorted(pair for pair in rest if all(pair))


def prior_of(places: Sequence[KnownPlace], evidence: Evidence) -> dict[str, float]:
    """What is usual for this circuit and this complaint, before any test; sums to 1."""
    said = evidence.complaint or Complaint()
    usual = {p.place: p.weight[evidence.circuit] for p in places}
    weight = {place: value * said.factor(place) for place, value in usual.items()}
    return _shares(weight if sum(weight.values()) > 0.0 else usual)  # the complaint leaves nothing: the weights alone


def _shares(weight: Mapping[str, float]) -> dict[str, float]:
    total = sum(weight.values())
    return {key: value / total if total > 0.0 else 1.0 / len(weight) for key, value in weight.items()}


def _pairs(
    places: Sequence[KnownPlace], prior: Mapping[str, float], two: float
) -> list[tuple[KnownPlace, KnownPlace, float]]:
    """Any two places that can leak at once, and how often they do."""
    leaking = [p for p in places if p.pattern == "leak" and not p.healthy]
    pairs = [(a, b, prior[a.place] * prior[b.place]) for a, b in combinations(leaking, 2)]
    norm = sum(usual for _, _, usual in pairs)
    scale = two * sum(prior[p.place] for p in leaking) / norm if norm > 0.0 else 0.0
    return [(a, b, scale * usual) for a, b, usual in pairs if usual > 0.0]


def _both(one: float, other: float) -> float:
    """What points at one of two leaks is explained by the pair; what speaks against both counts twice."""
    return max(one, other, 1.0) * min(one, 1.0) * min(other, 1.0) if min(one, other) > 0 else 0.0


def _capped(odds: Mapping[str, float], most: float) -> dict[str, float]:
    """No place above `most`: what is over goes to the others by their shares."""
    first = max(odds, key=lambda place: odds[place])
    over = odds[first] - most
    rest = 1.0 - odds[first]
    if over <= 0.0 or rest <= 0.0 and len(odds) < 2:
        return dict(odds)
    others = [place for place in odds if place != first]
    share = {place: odds[place] / rest if rest > 1e-9 else 1.0 / len(others) for place in others}
    return {place: most if place == first else odds[place] + over * share[place] for place in odds}
