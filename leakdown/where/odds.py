"""Odds of places: every hypothesis (one place, or two at once) against everything that was found out.

A place expects a distribution, not a number, so each hypothesis is a cloud of equally likely cases (how
the ratio of its leak falls, how much of the flow it takes); its likelihood is the mean over the cloud.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.uncertainty import Z_95, normal_cdf
from leakdown.where.evidence import Evidence, factor_of_finding
from leakdown.where.knowledge import Knowledge, KnownPlace, Mixture
from leakdown.where.located import Complaint
from leakdown.where.placing import Sectioned, sectioned

Array = NDArray[np.float64]

_CASES = 240
_Z_90 = 1.6448536269514722  # 95 % point of the normal distribution (tables)
_SHARE_TOLERANCE = 0.10  # a section's share is not told better than this by the story of one or two leaks
_SURPRISE = 0.02  # floor of a section's likelihood: stories are not complete
_SHAPE_POWER = 0.25  # hole-like or weep-like is weak evidence (practice)
_NO_NUISANCE = 1e-5
_HEALTHY_TIGHT = 0.95
_BESIDE_VAPOUR = 0.05  # of a leak when vapour or warming explains everything (practice: factor 20)
SHUT = 5.0  # a leak that one direction shuts altogether: how far beyond this says no more (practice)


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
    inside = sectioned(places, evidence.shares)
    spread = known.numbers["extra_log_sd"]
    clouds = {p.place: log_ratio_cases(p.expected(evidence.lips, evidence.intake)) for p in places}
    prior = prior_of(places, evidence)
    odds = dict.fromkeys(prior, 0.0)
    two = known.numbers["two_leaks"]
    for p in places:
        cases = _Cases(clouds[p.place], np.ones(_CASES), np.ones(_CASES))
        likelihood = _likelihood([p], cases, evidence, inside, known, spread).mean()
        single = 1.0 if p.pattern == "tight" else 1.0 - two
        odds[p.place] += single * prior[p.place] * float(likelihood) * findings[p.place]
    leaking = [p for p in places if p.pattern == "leak" and not p.healthy]
    _add_pairs(leaking, clouds, prior, findings, odds, evidence, inside, known)
    whole = sum(odds.values())
    if not whole > 0:  # everything was contradicted: fall back on what is usual
        return prior
    return {place: value / whole for place, value in odds.items()}


def prior_of(places: Sequence[KnownPlace], evidence: Evidence) -> dict[str, float]:
    """What is usual for this circuit and this complaint, before any test; sums to 1."""
    said = evidence.complaint or Complaint()
    weight = {p.place: p.weight[evidence.circuit] * said.factor(p.place) for p in places}
    total = sum(weight.values())
    if not total > 0.0:  # the complaint leaves nothing: the weights alone
        weight = {p.place: p.weight[evidence.circuit] for p in places}
        total = sum(weight.values())
    return {place: value / total for place, value in weight.items()}


def _add_pairs(
    places: list[KnownPlace],
    clouds: Mapping[str, Array],
    prior: Mapping[str, float],
    findings: Mapping[str, float],
    odds: dict[str, float],
    evidence: Evidence,
    inside: Sectioned,
    known: Knowledge,
) -> None:
    """Two leaks at once: the weight goes to the place of the larger one, case by case."""
    two, spread = known.numbers["two_leaks"], known.numbers["extra_log_sd"]
    mass = sum(prior[p.place] for p in places)
    pairs = [(a, b) for i, a in enumerate(places) for b in places[i + 1 :]]
    norm = sum(prior[a.place] * prior[b.place] for a, b in pairs)
    for a, b in pairs:
        weight = two * mass * prior[a.place] * prior[b.place] / norm
        weight *= _together(findings[a.place], findings[b.place])
        if weight <= 0.0:
            continue
        cases = _mixed(clouds[a.place], clouds[b.place])
        likelihood = weight * _likelihood([a, b], cases, evidence, inside, known, spread) / _CASES
        larger = cases.first * cases.first_under_vacuum > (1.0 - cases.first) * (
            1.0 - cases.first_under_vacuum
        )
        odds[a.place] += float(likelihood[larger].sum())
        odds[b.place] += float(likelihood[~larger].sum())


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


def _likelihood(
    places: list[KnownPlace],
    cases: _Cases,
    evidence: Evidence,
    inside: Sectioned,
    known: Knowledge,
    spread: float,
) -> Array:
    """Likelihood (n,) of tightness, ratio, sections and shape for each case."""
    if places[0].pattern == "tight":
        return _if_tight(evidence, known) * np.ones(_CASES)
    value = _of_directions(cases, evidence, known, spread)
    value = value * inside.likelihood(
        places, cases.first, cases.first_under_vacuum, _SHARE_TOLERANCE, _SURPRISE
    )
    return np.asarray(value * _of_shape(places, cases, evidence))


def _of_shape(places: list[KnownPlace], cases: _Cases, evidence: Evidence) -> Array:
    hole = cases.first * places[0].hole + (1.0 - cases.first) * places[-1].hole
    value = np.ones(_CASES)
    for seen in (evidence.pressure, evidence.vacuum):
        if seen is not None and not seen.tight:
            value *= (hole * seen.sure_hole + (1.0 - hole) * (1.0 - seen.sure_hole)) ** _SHAPE_POWER
    odd = max(max((place.odd.get(code, 1.0) for code in evidence.shapes), default=1.0) for place in places)
    return value * odd


def _of_directions(cases: _Cases, evidence: Evidence, known: Knowledge, spread: float) -> Array:
    """How well a leak with these ratios explains which directions leaked, and by how much."""
    p, v, missed = evidence.pressure, evidence.vacuum, known.numbers["missed"]
    if p is not None and v is not None:
        if p.tight and v.tight:
            return np.full(_CASES, missed)
        if p.rises:  # vapour or warming, which then explains the vacuum loss too: the ratio says nothing
            return np.full(_CASES, _BESIDE_VAPOUR)
        return _of_ratio(cases.log_ratio, evidence, spread)
    one, outward = (p, True) if p is not None else (v, False)
    if one is None or not one.tight:
        return np.ones(_CASES)
    hidden = cases.log_ratio > math.log(SHUT) if outward else cases.log_ratio < -math.log(SHUT)
    return np.asarray(missed + 0.5 * hidden)


def _of_ratio(log_ratio: Array, evidence: Evidence, spread: float) -> Array:
    ratio = evidence.ratio
    if ratio is None:
        return np.ones(log_ratio.size)
    if ratio.value is not None:
        side = math.log(ratio.value / ratio.low), math.log((ratio.high or ratio.value) / ratio.value)
        away = log_ratio - math.log(ratio.value)
        sd = np.hypot(np.where(away < 0, side[0], side[1]) / Z_95, spread)
        return np.asarray(np.exp(-0.5 * np.square(away / sd)) / sd)
    bound = ratio.at_least if ratio.at_least is not None else ratio.high
    if bound is None or bound <= 0.0:
        return np.ones(log_ratio.size)
    sign = 1.0 if ratio.at_least is not None else -1.0
    bound = min(bound, SHUT) if ratio.at_least is not None else max(bound, 1.0 / SHUT)
    return np.asarray([normal_cdf(sign * float(z - math.log(bound)) / spread) for z in log_ratio])


def _if_tight(evidence: Evidence, known: Knowledge) -> float:
    """Likelihood of what was seen when nothing leaks: losses are what temperature and creep imitate."""
    value = 1.0
    for seen in (evidence.pressure, evidence.vacuum):
        if seen is None:
            continue
        if seen.tight:
            value *= _HEALTHY_TIGHT
        else:
            z = seen.loss_kpa_per_min / known.numbers["nuisance_kpa_per_min"]
            value *= max(0.4 * math.exp(-0.5 * z * z), _NO_NUISANCE)
    pressure, vacuum = evidence.pressure, evidence.vacuum
    if pressure is not None and pressure.rises and vacuum is not None and not vacuum.tight:
        value = _HEALTHY_TIGHT  # vapour or warming gives both
    return value
