"""A complaint in the prior of places: singles and pairs, reasons, JSON; and what marks did, in both forms."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from leakdown.analysis import MarkEffect
from leakdown.uncertainty import Interval
from leakdown.where.belonging import Belonging
from leakdown.where.evidence import Evidence
from leakdown.where.knowledge import knowledge
from leakdown.where.locate import locate
from leakdown.where.located import Answer, Complaint, Located, MarkOutcome
from leakdown.where.odds import place_odds, prior_of
from leakdown.words.located import located_lines
from leakdown.words.objects import located_object
from tests.where.engines import Engine, Leak, run

NOTHING = Evidence("crankcase", (), (), Belonging(), None, None, None)
FACTORS = {"intake-boot": 8.0, "crack": 0.1}
BOOT = Complaint(FACTORS, (Answer("it", True, "it hangs", FACTORS), Answer("no", False, "it stops", {})))


def test_without_a_test_the_odds_are_the_weights_times_the_factors():
    known = knowledge()
    places = known.of_circuit("crankcase")
    said = replace(NOTHING, complaint=BOOT)
    by_hand = {p.place: p.weight["crankcase"] * FACTORS.get(p.place, 1.0) for p in places}
    total = sum(by_hand.values())
    assert prior_of(places, said) == pytest.approx({p: w / total for p, w in by_hand.items()})
    odds = place_odds(said, known).places
    assert sum(odds.values()) == pytest.approx(1.0)
    plain = place_odds(NOTHING, known).places
    assert odds["intake-boot"] > 2.0 * plain["intake-boot"] and odds["crack"] < plain["crack"]


def test_a_place_that_cannot_be_stays_out_of_pairs_too():
    odds = place_odds(replace(NOTHING, complaint=Complaint({"crack": 0.0})), knowledge()).places
    assert odds["crack"] == 0.0 and sum(odds.values()) == pytest.approx(1.0)


def test_a_complaint_that_leaves_nothing_leaves_the_weights():
    known = knowledge()
    places = known.of_circuit("crankcase")
    nothing = Complaint({p.place: 0.0 for p in places})
    assert prior_of(places, replace(NOTHING, complaint=nothing)) == prior_of(places, NOTHING)


@pytest.fixture(scope="module")
def plain_and_said() -> tuple[Located, Located]:
    rng = np.random.default_rng(2)
    tests = [run(Engine((Leak(300.0, 0.5),)), rng, sign) for sign in (1.0, -1.0)]
    plain = locate(tests)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("leakdown.where.locate.complaint_on", lambda *_: BOOT)
        return plain, locate(tests)


@pytest.mark.slow
def test_reasons_say_which_way_the_complaint_went(plain_and_said: tuple[Located, Located]) -> None:
    plain, said = plain_and_said
    groups = {g.group: g for g in said.groups}
    assert groups["intake-boot"].probability > {g.group: g for g in plain.groups}["intake-boot"].probability
    assert "complaint: it hangs: speaks for it" in groups["intake-boot"].reasons
    assert "complaint: it hangs: speaks against it" in groups["other"].reasons
    assert not any("complaint" in r for r in (*groups["shaft-seal"].reasons, *plain.groups[0].reasons))
    assert sum(p.probability for p in said.places) == pytest.approx(1.0)


def test_text_and_json_carry_what_was_used(plain_and_said: tuple[Located, Located]) -> None:
    plain, said = plain_and_said
    row = json.loads(json.dumps(located_object(said), allow_nan=False))
    assert row["complaint"]["factors"] == FACTORS
    assert row["complaint"]["answers"][0] == {"id": "it", "seen": True, "text": "it hangs"}
    assert located_object(plain)["complaint"] is None and located_object(plain)["marks"] == []
    text = _text(said)
    assert "Counted in from the complaint: it hangs; not so: it stops." in text
    assert "complaint" not in _text(plain)


def test_marks_are_told_in_words_and_in_json(plain_and_said: tuple[Located, Located]) -> None:
    effect = MarkEffect(30.0, "boot", Interval(0.4, 0.3, 0.5))
    found = replace(plain_and_said[0], marks=(MarkOutcome("p.csv", "pressure", effect, "intake-boot", True, False),))
    (mark,) = json.loads(json.dumps(located_object(found), allow_nan=False))["marks"]
    assert mark == {"file": "p.csv", "time_s": 30.0, "text": "boot", "place": "intake-boot", "direction": "pressure",
                    "changed": True, "steady": False,
                    "after_over_before": {"value": 0.4, "low": 0.3, "high": 0.5}}  # fmt: skip
    assert "p.csv, 30.0 s: after 'boot' the leak fell by 60 % (50 to 70)." in _text(found)


def _text(found: Located) -> str:
    return "\n".join(located_lines(found, 80, lambda words, *_: [words], lambda words, _: words))
