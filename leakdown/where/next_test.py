"""The one test that would tell most: expected information about the place, per minute of work."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from leakdown.analysis import Array
from leakdown.circuits import circuit
from leakdown.tuned import tuned
from leakdown.where.evidence import Evidence
from leakdown.where.knowledge import NO_LEAK, OTHERS, Knowledge, KnownPlace, KnownTest
from leakdown.where.located import NextTest
from leakdown.where.odds import log_ratio_cases

_T = tuned("where")
_SPECIAL = ("tight", "rig", "nuisance")


def next_test(odds: Mapping[str, float], evidence: Evidence, known: Knowledge) -> NextTest | None:
    """The best test that was not done yet, or None when none would tell anything."""
    places = known.of_circuit(evidence.circuit)
    special = _special(odds, evidence)
    if special:
        fixed = next((t for t in known.tests if t.needs == special), None)
        return None if fixed is None else NextTest(fixed.do, f"{fixed.why}.")
    prior = [odds[p.place] for p in places]
    open_ = [test for test in known.tests if test.needs not in _SPECIAL and not _done(test, evidence)]
    bits = {test.id: information_bits(_chances(test, places, evidence), prior) for test in open_}
    best = max(open_, key=lambda test: bits[test.id] / (test.minutes + _T.tools_min), default=None)
    if best is None or bits[best.id] < _T.test_least_bits:
        return None
    return NextTest(best.do, f"{best.why} (about {best.minutes:g} minutes).")


def _special(odds: Mapping[str, float], evidence: Evidence) -> str:
    """Cases where what comes next is no question of telling places apart."""
    if evidence.circuit == "rig":
        return "rig" if odds.get(NO_LEAK, 0.0) < 0.5 else "tight"
    tested = [one for _, one in evidence.directions]
    if odds.get(NO_LEAK, 0.0) <= 0.5 or (len(tested) < 2 and circuit(evidence.circuit).both != "no"):
        return ""
    return "tight" if all(one.tight and not one.rises for one in tested) else "nuisance"


def information_bits(chances: Array, prior: list[float]) -> float:
    """Mutual information of outcome and place; chances (places, outcomes) rows sum to 1."""
    weight = np.array(prior)[:, None]
    outcome = np.sum(weight * chances, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(chances > 0, weight * chances * np.log2(chances / outcome), 0.0)
    return float(np.sum(terms))


def _done(test: KnownTest, evidence: Evidence) -> bool:
    """Done already, not for this circuit, or not yet its turn."""
    tested = [name for name, _ in evidence.directions]
    answered = {identity for identity, _ in evidence.observed}
    separate = [s.section.lower() for s in evidence.shares if s.separable]
    return (
        test.needs.removeprefix("no-") in tested
        or (test.after != "" and test.after not in tested)
        or (test.circuits != () and evidence.circuit not in test.circuits)
        or bool(answered & set(test.done_by))
        or _shown_by_mark(test, evidence)
        or any(word in section for word in test.sections for section in separate)
    )


def _shown_by_mark(test: KnownTest, evidence: Evidence) -> bool:
    """Whether a mark during the tests already shows what this test would: its place was touched."""
    told = {place for outcome in test.outcome.values() for place in outcome if place != "others"}
    return any(mark.place in told and (mark.changed or mark.steady) for mark in evidence.marks)


def _chances(test: KnownTest, places: tuple[KnownPlace, ...], evidence: Evidence) -> Array:
    """Chance of each outcome for each place (rows sum to 1)."""
    if test.needs:
        return np.array([_ratio_bins(p, evidence) for p in places])
    rows = np.array([[_of(table, p) for table in test.outcome.values()] for p in places])
    rows = rows / np.maximum(rows.sum(axis=1, keepdims=True), 1.0)
    rest: Array = 1.0 - rows.sum(axis=1, keepdims=True)
    return np.concatenate((rows, rest), axis=1)


def _of(table: Mapping[str, float], place: KnownPlace) -> float:
    others = 0.0 if place.pattern == "tight" else table.get(OTHERS, 0.0)
    return table.get(place.place, table.get(place.group, others))


def _ratio_bins(place: KnownPlace, evidence: Evidence) -> Array:
    """How often the other direction would fall into each class of ratio; tight places have their own."""
    edges = _T.told_apart_ratios
    if place.pattern == "tight":
        return np.asarray(np.eye(len(edges) + 2)[-1])
    cases = log_ratio_cases(place.expected(evidence.lips, evidence.intake))
    counts = np.histogram(cases, [-math.inf, *(math.log(edge) for edge in edges), math.inf])[0]
    return np.append(counts / counts.sum(), 0.0)
