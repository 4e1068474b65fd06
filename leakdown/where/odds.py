"""Odds of places, and whether the tests belong together: every story against every test (Bayes' rule, no more)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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

    places: probability that the largest leak is at each, no group above `together`; sums to 1. causes: probability
    that no leak but this disturbance is what was seen. together: that the tests are of one engine as it stood.
    by_tests: places by the tests alone, without what was seen or said. ratios: by place, (cases,) log ratios and how
    likely each is now.
    """

    places: Mapping[str, float]
    causes: Mapping[str, float]
    together: float
    by_tests: Mapping[str, float]
    ratios: Mapping[str, tuple[Array, Array]] = field(repr=False, default_factory=dict)

    @property
    def likely_causes(self) -> tuple[str, ...]:
        """Disturbances likely enough to be named, the likeliest first."""
        named = [cause for cause, chance in self.causes.items() if chance > _T.cause_named]
        return tuple(sorted(named, key=lambda cause: -self.causes[cause]))

    @property
    def likely_cause(self) -> str | None:
        """The one that explains most of what speaks for no leak, if one does."""
        first = next(iter(self.likely_causes), None)
        return first if first and self.causes[first] > 0.5 * self.places.get(NO_LEAK, 0.0) else None


def place_odds(evidence: Evidence, known: Knowledge) -> Odds:
    """Everything that is known of the engine, weighed."""
    places = known.of_circuit(evidence.circuit)
    stories = _Stories.of(evidence, places, known)
    findings = {p.place: factor_of_finding(p, evidence, known) for p in places}
    by_tests = stories.by_tests()
    joint, causes = stories.weighed(findings, {cause: factor_of_cause(cause, evidence, known) for cause in CAUSES})
    if not sum(joint.values()) > 0.0:
        joint, causes = dict(stories.prior), dict.fromkeys(CAUSES, 0.0)
    whole = sum(joint.values())
    apart = _Apart(evidence, stories)
    known_so = apart.together(sum(stories.by_tests(genuine=True).values()))
    alone = apart.each_alone(findings)
    mixed = {place: known_so * value / whole + (1.0 - known_so) * alone[place] for place, value in joint.items()}
    together = min(known_so, evidence.belonging.most)  # what cannot be known is not claimed
    return Odds(
        places=_capped(mixed, {p.place: p.group for p in places}, together),
        causes={cause: value / whole for cause, value in causes.items()},
        together=together,
        by_tests=_shares(by_tests),
        ratios={place: (w.story.log_ratio, w.likely) for place, w in stories.single.items()},
    )


class _Weighed:
    """A story held against every test. missed: chance that its leak shows in none (hot only, at one angle only)."""

    def __init__(self, story: Story, tests: Sequence[Measured], missed: float = 0.0) -> None:
        self.story, self.missed = story, missed
        self.fits = story.fits(tests)
        quiet = [t.fits(np.zeros(1), story.surprise)[0] for t in tests]
        self._quiet = [float(value) for value in quiet]
        self.likely = self.of(range(len(tests)))
        self.mean = float(self.likely.mean())
        genuine = story.likelihood(self.fits, story.surprise).mean() + missed * np.prod(quiet)
        self.genuine = min(float(genuine), self.mean)
        """The same with no test allowed to be something else than it looks."""

    def of(self, chosen: Sequence[int] | range) -> Array:
        """(cases,) likelihood of the chosen tests."""
        seen = self.story.likelihood([self.fits[k] for k in chosen])
        unseen = float(np.prod([self._quiet[k] for k in chosen]))
        return np.asarray((1.0 - self.missed) * seen + self.missed * unseen)

    def mean_of(self, chosen: Sequence[int] | range) -> float:
        """Their marginal likelihood."""
        return float(self.of(chosen).mean())


@dataclass(frozen=True)
class _Stories:
    """Every story held against the tests: no leak, a disturbance alone, one place, two places."""

    places: Sequence[KnownPlace]
    prior: Mapping[str, float]
    two: float
    single: Mapping[str, _Weighed]
    sound: _Weighed
    odd: Mapping[str, _Weighed]
    pairs: Sequence[tuple[KnownPlace, KnownPlace, float, _Weighed]]

    @classmethod
    def of(cls, evidence: Evidence, places: Sequence[KnownPlace], known: Knowledge) -> _Stories:
        """All of them."""
        prior, tests, sections = prior_of(places, evidence), evidence.tests, evidence.sections
        nameless = tuple(s for s in sections if not any(names(p, s) for p in places))
        bench = Bench(tests, sections, nameless, evidence.intake, evidence.lips, evidence.shapes, evidence.other_laws)
        doubt, missed, two = (known.numbers[name] for name in ("extra_log_sd", "missed", "two_leaks"))
        leaks = [p for p in places if p.pattern == "leak"]
        pairs = _pairs(places, prior, two)
        return cls(
            places=places,
            prior=prior,
            two=two,
            single={p.place: _Weighed(bench.of_place(p, doubt), tests, missed) for p in leaks},
            sound=_Weighed(bench.without_leak(), tests),
            odd={cause: _Weighed(bench.without_leak(cause), tests) for cause in CAUSES},
            pairs=[(a, b, usual, _Weighed(bench.of_two(a, b, doubt), tests)) for a, b, usual in pairs],
        )

    def by_tests(self, genuine: bool = False) -> dict[str, float]:
        """Odds of the places by the tests alone; genuine: with every test what it looks."""
        return self.weighed(dict.fromkeys(self.prior, 1.0), dict.fromkeys(CAUSES, 1.0), genuine)[0]

    def weighed(
        self, findings: Mapping[str, float], of_causes: Mapping[str, float], genuine: bool = False
    ) -> tuple[dict[str, float], dict[str, float]]:
        """Odds of the places and of the disturbances, with what was found besides the tests as factors."""
        odds, causes = dict.fromkeys(self.prior, 0.0), dict.fromkeys(CAUSES, 0.0)

        def mean(story: _Weighed) -> float:
            return story.genuine if genuine else story.mean

        for p in self.places:
            usual, story = self.prior[p.place] * findings[p.place], self.single.get(p.place)
            odds[p.place] += usual * mean(self.sound) if story is None else (1.0 - self.two) * usual * mean(story)
        if NO_LEAK in self.prior:
            usual = self.prior[NO_LEAK] * findings[NO_LEAK]
            causes = {c: usual * _T.disturbed[c] * of_causes[c] * mean(self.odd[c]) for c in CAUSES}
            odds[NO_LEAK] += sum(causes.values())
        for a, b, usual, pair in self.pairs:
            both = usual * _both(findings[a.place], findings[b.place]) * mean(pair) / max(pair.mean, 1e-300)
            odds[a.place] += both * float(np.mean(pair.likely * pair.story.first))
            odds[b.place] += both * float(np.mean(pair.likely * (1.0 - pair.story.first)))
        return odds, causes


@dataclass(frozen=True)
class _Apart:
    """The other account of several tests: two sets of them are not of one engine as it stood."""

    evidence: Evidence
    stories: _Stories

    def together(self, joint: float) -> float:
        """Probability that all tests belong together; joint: their likelihood then."""
        tests = self.evidence.tests
        if len(tests) < 2:
            return 1.0
        splits = _splits(tests)
        strangers = sum(self._of(a) * self._of(b) for a, b in splits) / len(splits)
        usual = self.evidence.belonging.usual
        known = usual * joint / max(usual * joint + (1.0 - usual) * strangers, 1e-300)
        return float(known)

    def _of(self, chosen: Sequence[int]) -> float:
        """Likelihood of one set of tests whatever the engine: sound, disturbed, or with a leak somewhere."""
        prior, single = self.stories.prior, self.stories.single
        leaking = sum(prior[place] * w.mean_of(chosen) for place, w in single.items())
        disturbed = sum(_T.disturbed[cause] * w.mean_of(chosen) for cause, w in self.stories.odd.items())
        rest = max(sum(prior[place] for place in single), 1e-9)
        sound = self.stories.sound.mean_of(chosen) + disturbed
        return float((1.0 - _T.sound_apart) * leaking / rest + _T.sound_apart * sound)

    def each_alone(self, findings: Mapping[str, float]) -> dict[str, float]:
        """What the tests that leak (or else all) say one by one, in the mean."""
        tests = self.evidence.tests
        leaking = [k for k, t in enumerate(tests) if not t.tight] or list(range(len(tests)))
        prior, single, sound = self.stories.prior, self.stories.single, self.stories.sound
        total = dict.fromkeys(prior, 0.0)
        for k in leaking:
            odds = {p: usual * findings[p] * single.get(p, sound).mean_of([k]) for p, usual in prior.items()}
            for place, share in _shares(odds).items():
                total[place] += share / len(leaking)
        return total if leaking else dict(prior)


def _splits(tests: Sequence[Measured]) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Ways to part the tests in two, each once; of many tests those by direction, by sections and one by one."""
    every = tuple(range(len(tests)))
    if len(tests) <= 4:
        parts = [part for size in range(1, len(tests)) for part in combinations(every, size) if 0 in part]
    else:
        keys = [t.inside for t in tests]
        parts = [tuple(k for k in every if tests[k].inward), *((k,) for k in every)]
        parts += [tuple(k for k in every if keys[k] == key) for key in dict.fromkeys(keys)]
    pairs = [(part, tuple(k for k in every if k not in part)) for part in parts]
    return sorted({(min(pair), max(pair)) for pair in pairs if all(pair)})


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
    return max(one, other, 1.0) * min(one, 1.0) * min(other, 1.0)


def _capped(odds: Mapping[str, float], group_of: Mapping[str, str], most: float) -> dict[str, float]:
    """No group above `most`: what is over goes to the others by their shares."""
    total: dict[str, float] = {}
    for place, value in odds.items():
        total[group_of[place]] = total.get(group_of[place], 0.0) + value
    first = max(total, key=lambda group: total[group])
    over, rest = total[first] - most, 1.0 - total[first]
    others = [place for place in odds if group_of[place] != first]
    if over <= 0.0 or not others:
        return dict(odds)
    share = {place: odds[place] / rest if rest > 1e-9 else 1.0 / len(others) for place in others}
    return {p: v + over * share[p] if p in share else v * most / total[first] for p, v in odds.items()}
