"""A complaint's answers as odds of places: by hand from the tables, each fact once, never beyond the cap."""

from __future__ import annotations

from dataclasses import replace

import pytest

from leakdown.circuits import CIRCUITS
from leakdown.errors import UsageError
from leakdown.where import knowledge as expected
from leakdown.where.answers import Answers, all_observations, fact_name, for_suspects, sorted_answers
from leakdown.where.complaint import complaint_on
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.located import Answer, Complaint, for_and_against

KNOWN, PLACES = complaint_knowledge(), expected.knowledge()
HALF_TANK = Answers(("below-half-tank",))


def test_factors_by_hand():
    """below-half-tank: in-tank line 10, line outside 0.5, fitting 1.5, seals, boot and gaskets 0.3."""
    exact = replace(KNOWN, incidental=0.0)
    found = complaint_on("crankcase", HALF_TANK, exact, PLACES).factors
    in_case = 4 + 5 + 8 + 2 + 1.5  # weights with 0.3; impulse 4, valve 0.5, plug 0.3, others 0.7 have 1
    all_of_it = 8 * 10 + 3 * 0.5 + 2 * 1.5 + in_case * 0.3 + (100 - 13 - in_case)
    outside = (80 + 1.5 + 3 + (100 - 13 - in_case - 5.5)) / (100 - in_case - 5.5)
    assert found["no-leak-found"] / found["rig-hose"] == pytest.approx(outside / (all_of_it / 100))
    assert found["intake-boot"] / found["rig-hose"] == pytest.approx(0.3 / (all_of_it / 100))
    assert found["crack"] / found["intake-boot"] == pytest.approx(1 / 0.3)
    line = complaint_on("fuel-line", HALF_TANK, exact, PLACES).factors
    assert line["pickup-line"] / line["filter-fitting"] == pytest.approx((80 + 1.5) / 11 / 1.5)


def test_a_leak_may_be_there_and_not_be_the_cause():
    found = complaint_on("crankcase", HALF_TANK, replace(KNOWN, incidental=0.5), PLACES).factors
    assert found["intake-boot"] / found["rig-hose"] > 0.5


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_weights_keep_their_mean(circuit):
    """Factors are 1 in the mean of the weights where no cap bites, on every circuit."""
    found = complaint_on(circuit, Answers(("restarts-at-once", "half-choke"), ("stored",)), KNOWN, PLACES)
    rows = PLACES.of_circuit(circuit)
    total = sum(p.weight[circuit] for p in rows)
    if total:
        assert sum(p.weight[circuit] * found.factor(p.place) for p in rows) == pytest.approx(total)


def test_a_complaint_is_one_story_within_the_cap():
    everything = Answers(tuple(c for c in KNOWN.complaints if c != "no-decompression-valve"))
    factors = complaint_on("crankcase", everything, KNOWN, PLACES).factors.values()
    cap = PLACES.numbers["cluster_cap"]
    assert max(factors) <= cap and min(factors) >= 1.0 / cap
    none = complaint_on("crankcase", Answers(("no-decompression-valve",)), KNOWN, PLACES)
    assert none.factor("decompression-valve") == 0.0  # what is not fitted cannot leak
    assert complaint_on("crankcase", Answers(), KNOWN, PLACES) is None


def test_a_fact_that_both_know_counts_once():
    seen = ("boot-hard", "floods", "flooding", "below-half-tank")
    bench, heard = sorted_answers(seen, ("no-decompression-valve",))
    assert bench == Answers(("boot-hard", "flooding"), ("no-decompression",))
    assert heard == Answers(("below-half-tank",))
    bench, heard = sorted_answers(("recently-open", "cylinder-was-off"), ())
    assert bench == Answers(("cylinder-was-off",)) and heard.all() == ()
    assert sorted_answers(("recently-open",), ())[1] == Answers(("recently-open",))


def test_names_of_one_fact_exist():
    for complaint in KNOWN.complaints.values():
        assert set(complaint.same_as) <= set(PLACES.observations)
    assert fact_name("floods") == "flooding" and fact_name("recently-open") == "recently-open"


@pytest.mark.parametrize("both", [("floods", "flooding"), ("boot-push", "boot-push"), ("tipped", "tipped")])
def test_the_same_fact_cannot_be_so_and_not_so(both):
    with pytest.raises(UsageError, match="both seen and not seen"):
        sorted_answers(both[:1], both[1:])


def test_hints_come_from_both_lists():
    with pytest.raises(UsageError, match="unknown observation 'half-line'") as caught:
        sorted_answers(("half-line",), ())
    assert "below-half-tank" in caught.value.remedy and "line-flexing" in caught.value.remedy


def test_both_kinds_are_listed_once():
    rows = all_observations()
    ids = [row.id for row in rows]
    assert len(set(ids)) == len(ids) and {row.kind for row in rows} == {"bench", "complaint"}
    assert "flooding" in ids and "floods" not in ids and ids.count("boot-hard") == 1
    assert set(ids) >= set(PLACES.observations)


def test_answers_find_back_to_suspects_and_the_last_word_counts():
    said = (("flooding", True), ("boot-hard", True), ("angle-changes", True), ("boot-hard", False))
    assert for_suspects(said) == Answers(("floods",), ("boot-hard",))


def test_words_for_and_against():
    strong, weak = Answer("a", True, "strong", {"x": 5.0}), Answer("b", True, "weak", {"x": 2.0, "y": 0.0})
    no = Answer("c", False, "thing", {"x": 0.2})
    said = Complaint({}, (weak, no, strong))
    assert for_and_against(said, ["x"]) == (("strong", "weak"), ("not so: thing",))
    assert for_and_against(said, ["y"]) == ((), ("weak",))
    assert for_and_against(said, ["z"]) == ((), ())


def test_every_complaint_says_something_short():
    for complaint in KNOWN.complaints.values():
        assert complaint.says != complaint.ask and len(complaint.says) < 80 and complaint.says[-1] not in ".?"
