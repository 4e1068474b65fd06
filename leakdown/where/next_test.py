"""The one test that would tell most: expected information about the place, per minute of work."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import circuit
from leakdown.where.evidence import Evidence
from leakdown.where.knowledge import NO_LEAK, Knowledge, KnownPlace, KnownTest
from leakdown.where.located import NextTest
from leakdown.where.odds import log_ratio_cases

Array = NDArray[np.float64]

_SETUP_MIN = 2.0  # finding the tools costs time too (practice)
_RATIO_EDGES = (0.45, 0.7, 1.4, 2.5)  # what another direction is expected to tell apart
_LEAST_BITS = 0.02
_SPECIAL = ("tight", "rig", "nuisance")


def next_test(odds: Mapping[str, float], evidence: Evidence, known: Knowledge) -> NextTest | None:
    """The best test that was not done yet, or None when none would tell anything."""
    places = known.of_circuit(evidence.circuit)
    special = _special(odds, evidence)
    if special:
        fixed = next((t for t in known.tests if t.needs == special), None)
        return None if fixed is None else NextTest(fixed.do, f"{fixed.why}.")
    scored = []
    for test in known.tests:
        if test.needs in _SPECIAL or _done(test, evidence):
            continue
        bits = information_bits(_chances(test, places, evidence), [odds[p.place] for p in places])
        scored.append((bits / (test.minutes + _SETUP_MIN), bits, test))
    if not scored:
        return None
    _, bits, best = max(scored, key=lambda row: row[0])
    return NextTest(best.do, f"{best.why} (about {best.minutes:g} minutes).") if bits >= _LEAST_BITS else None


def _special(odds: Mapping[str, float], evidence: Evidence) -> str:
    """Cases where what comes next is no question of telling places apart."""
    if evidence.circuit == "rig":
        return "rig" if odds.get(NO_LEAK, 0.0) < 0.5 else "tight"
    both = [seen for seen in (evidence.pressure, evidence.vacuum) if seen is not None]
    if odds.get(NO_LEAK, 0.0) <= 0.5 or (len(both) < 2 and circuit(evidence.circuit).both != "no"):
        return ""
    return "tight" if all(seen.tight for seen in both) else "nuisance"


def information_bits(chances: Array, prior: list[float]) -> float:
    """Mutual information of outcome and place; chances (places, outcomes) rows sum to 1."""
    weight = np.array(prior)[:, None]
    outcome = np.sum(weight * chances, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(chances > 0, weight * chances * np.log2(chances / outcome), 0.0)
    return float(np.sum(terms))


def _done(test: KnownTest, evidence: Evidence) -> bool:
    """Done already, not for this circuit, or not yet its turn."""
    if test.needs == "no-vacuum" and evidence.vacuum is not None:
        return True
    if test.needs == "no-pressure" and evidence.pressure is not None:
        return True
    if (test.after == "vacuum" and evidence.vacuum is None) or (
        test.after == "pressure" and evidence.pressure is None
    ):
        return True
    if test.circuits and evidence.circuit not in test.circuits:
        return True
    if any(identity in evidence.seen or identity in evidence.not_seen for identity in test.done_by):
        return True
    if _shown_by_mark(test, evidence):
        return True
    separate = [s.section.lower() for s in evidence.shares if s.separable]
    return any(word in section for word in test.sections for section in separate)


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
    return np.concatenate((rows, 1.0 - rows.sum(axis=1, keepdims=True)), axis=1)


def _of(table: Mapping[str, float], place: KnownPlace) -> float:
    for key in (place.place, place.group):
        if key in table:
            return float(table[key])
    return 0.0 if place.pattern == "tight" else float(table.get("others", 0.0))


def _ratio_bins(place: KnownPlace, evidence: Evidence) -> Array:
    """How often the other direction would fall into each class of ratio; tight places have their own."""
    if place.pattern == "tight":
        return np.eye(len(_RATIO_EDGES) + 2)[-1]
    cases = log_ratio_cases(place.expected(evidence.lips, evidence.intake))
    counts = np.histogram(cases, [-math.inf, *(math.log(edge) for edge in _RATIO_EDGES), math.inf])[0]
    return np.append(counts / counts.sum(), 0.0)
