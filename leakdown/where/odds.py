"""Odds of places: every hypothesis (one place, or two at once) against everything that was found out.

A place expects a distribution, not a number, so each hypothesis is a cloud of equally likely cases (how
the ratio of its leak falls, how much of the flow it takes); its likelihood is the mean over the cloud.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, normal_cdf
from leakdown.where.evidence import Evidence, factor_of_finding
from leakdown.where.knowledge import Knowledge, KnownPlace, Mixture
from leakdown.where.located import Complaint, Ratio
from leakdown.where.placing import MeasuredSections, measured_sections

_T = tuned("where")
_CASES = 240
_Z_90 = 1.6448536269514722  # 95 % point of the normal distribution (tables)
_SHUT: float = _T.shut_ratio


@dataclass(frozen=True)
class _Cases:
    """Equally likely cases of a hypothesis: log ratio (n,), share of the first place under pressure (n,)."""

    log_ratio: Array
    first: Array
    first_under_vacuum: Array


def place_odds(evidence: Evidence, known: Knowledge) -> dict[str, float]:
    """Probability that the largest leak is at each place of the circuit; sums to 1."""
    places = known.of_circuit(evidence.circuit)
    findings = {p.place: factor_of_finding(p, evidence, known) for p in places}
    clouds = {p.place: log_ratio_cases(p.expected(evidence.lips, evidence.intake)) for p in places}
    fit = _Fit(evidence, measured_sections(places, evidence.shares), known.numbers)
    prior, two = prior_of(places, evidence), known.numbers["two_leaks"]
    odds = dict.fromkeys(prior, 0.0)
    for p in places:
        likelihood = fit.likelihood([p], _Cases(clouds[p.place], np.ones(_CASES), np.ones(_CASES))).mean()
        single = 1.0 if p.pattern == "tight" else 1.0 - two
        odds[p.place] += single * prior[p.place] * float(likelihood) * findings[p.place]
    for a, b, weight in _pairs(places, prior, findings, two):
        cases = _mixed(clouds[a.place], clouds[b.place])
        likely = weight * fit.likelihood([a, b], cases) / _CASES
        larger = cases.first * cases.first_under_vacuum > (1 - cases.first) * (1 - cases.first_under_vacuum)
        odds[a.place] += float(likely[larger].sum())  # case by case, the place of the larger leak
        odds[b.place] += float(likely[~larger].sum())
    whole = sum(odds.values())
    if not whole > 0:  # everything was contradicted: fall back on what is usual
        return prior
    return {place: value / whole for place, value in odds.items()}


def prior_of(places: Sequence[KnownPlace], evidence: Evidence) -> dict[str, float]:
    """What is usual for this circuit and this complaint, before any test; sums to 1."""
    said = evidence.complaint or Complaint()
    usual = {p.place: p.weight[evidence.circuit] for p in places}
    weight = {place: value * said.factor(place) for place, value in usual.items()}
    if not sum(weight.values()) > 0.0:  # the complaint leaves nothing: the weights alone
        weight = usual
    total = sum(weight.values())
    return {place: value / total for place, value in weight.items()}


def _pairs(
    places: Sequence[KnownPlace], prior: Mapping[str, float], findings: Mapping[str, float], two: float
) -> list[tuple[KnownPlace, KnownPlace, float]]:
    """Any two places that can leak at once, and the odds that they do."""
    leaking = [p for p in places if p.pattern == "leak" and not p.healthy]
    pairs = [(a, b, prior[a.place] * prior[b.place]) for i, a in enumerate(leaking) for b in leaking[i + 1 :]]
    norm = sum(usual for _, _, usual in pairs)
    scale = two * sum(prior[p.place] for p in leaking) / norm if norm > 0.0 else 0.0
    weighed = [(a, b, scale * usual * _together(findings[a.place], findings[b.place])) for a, b, usual in pairs]
    return [row for row in weighed if row[2] > 0.0]


def _together(one: float, other: float) -> float:
    """What points at one of two leaks is explained by the pair; what speaks against both counts twice."""
    return max(one, other, 1.0) * min(one, 1.0) * min(other, 1.0) if min(one, other) > 0 else 0.0


def log_ratio_cases(mixture: Mixture) -> Array:
    """Log ratios (n,) that stand for a mixture of (share, 5 %, 50 %, 95 %), in scattered order."""
    parts = []
    counts = [max(1, round(share * _CASES)) for share, *_ in mixture]
    counts[0] += _CASES - sum(counts)
    for (_, low, typical, high), n in zip(mixture, counts, strict=True):
        z = _normal_quantiles(n)
        below, above = math.log(typical / low) / _Z_90, math.log(high / typical) / _Z_90
        parts.append(math.log(typical) + np.where(z < 0, below, above) * z)
    return np.asarray(np.random.default_rng(7).permutation(np.concatenate(parts)))


def _normal_quantiles(n: int) -> Array:
    grid = np.linspace(-4.0, 4.0, 1601)
    cdf = np.array([normal_cdf(float(z)) for z in grid])
    return np.interp((np.arange(n) + 0.5) / n, cdf, grid)


def _mixed(one: Array, other: Array) -> _Cases:
    """Two leaks of any relation: the first takes 5 to 95 % under pressure."""
    first = np.random.default_rng(11).permutation(np.linspace(0.05, 0.95, _CASES))
    a, b = first * np.exp(one), (1.0 - first) * np.exp(np.roll(other, 97))
    return _Cases(np.log(a + b), first, a / (a + b))


@dataclass(frozen=True)
class _Fit:
    """How well cases (n,) explain what the tests show."""

    evidence: Evidence
    inside: MeasuredSections
    numbers: Mapping[str, float]

    def likelihood(self, places: list[KnownPlace], cases: _Cases) -> Array:
        """Of tightness, ratio, sections and shape together, when `places` (one or two) leak like that."""
        if places[0].pattern == "tight":
            return np.full(_CASES, self._if_tight())
        value = self._of_directions(cases)
        value = value * self.inside.likelihood(places, cases.first, cases.first_under_vacuum)
        return np.asarray(value * self._of_shape(places, cases))

    def _of_shape(self, places: list[KnownPlace], cases: _Cases) -> Array:
        hole = cases.first * places[0].hole + (1.0 - cases.first) * places[-1].hole
        value = np.ones(_CASES)
        for _, tested in self.evidence.directions:
            if not tested.tight:
                fits = hole * tested.sure_hole + (1.0 - hole) * (1.0 - tested.sure_hole)
                value *= fits**_T.shape_power
        codes = self.evidence.shapes
        return value * max((place.odd.get(code, 1.0) for code in codes for place in places), default=1.0)

    def _of_directions(self, cases: _Cases) -> Array:
        """Which directions leaked, and by how much."""
        tested, missed = self.evidence.directions, self.numbers["missed"]
        if len(tested) == 2:
            if all(one.tight for _, one in tested):
                return np.full(_CASES, missed)
            if tested[0][1].rises:  # vapour or warming explains the vacuum loss too: the ratio says nothing
                return np.full(_CASES, _T.beside_vapour)
            ratio = self.evidence.ratio
            return np.ones(_CASES) if ratio is None else self._of_ratio(cases.log_ratio, ratio)
        if not tested or not tested[0][1].tight:
            return np.ones(_CASES)
        outward = 1.0 if tested[0][0] == "pressure" else -1.0
        return np.asarray(missed + 0.5 * (outward * cases.log_ratio > math.log(_SHUT)))

    def _of_ratio(self, log_ratio: Array, ratio: Ratio) -> Array:
        spread = self.numbers["extra_log_sd"]
        if ratio.value is not None:
            side = math.log(ratio.value / ratio.low), math.log((ratio.high or ratio.value) / ratio.value)
            away = log_ratio - math.log(ratio.value)
            sd = np.hypot(np.where(away < 0, side[0], side[1]) / Z_95, spread)
            return np.asarray(np.exp(-0.5 * np.square(away / sd)) / sd)
        bound = ratio.at_least if ratio.at_least is not None else ratio.high
        if bound is None or bound <= 0.0:
            return np.ones(log_ratio.size)
        sign = 1.0 if ratio.at_least is not None else -1.0
        bound = min(bound, _SHUT) if ratio.at_least is not None else max(bound, 1.0 / _SHUT)
        return np.asarray([normal_cdf(sign * float(z - math.log(bound)) / spread) for z in log_ratio])

    def _if_tight(self) -> float:
        """What was seen when nothing leaks: losses are what temperature and creep imitate."""
        pressure, vacuum = self.evidence.pressure, self.evidence.vacuum
        if pressure is not None and pressure.rises and vacuum is not None and not vacuum.tight:
            return float(_T.healthy_tight)  # vapour or warming gives both
        value = 1.0
        for _, tested in self.evidence.directions:
            z = tested.loss_kpa_per_min / self.numbers["nuisance_kpa_per_min"]
            loss = max(_T.nuisance_peak * math.exp(-0.5 * z * z), _T.no_nuisance)
            value *= _T.healthy_tight if tested.tight else loss
        return value
