"""What comes next and why a group stands where it stands: every branch by small made-up knowledge and evidence."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Flag, MarkEffect
from leakdown.uncertainty import Interval
from leakdown.where.belonging import Belonging
from leakdown.where.evidence import DirectionResult, Evidence
from leakdown.where.knowledge import NO_LEAK, KnownPlace, KnownTest, knowledge
from leakdown.where.locate import _direction, _told_by_rig
from leakdown.where.located import Answer, Complaint, Entry, MarkOutcome, Ratio, SectionShare, for_and_against
from leakdown.where.measured import Measured
from leakdown.where.next_test import (
    Repairs,
    _chances,
    _end,
    _measured_by_section,
    _shown_by_mark,
    _special,
    _stop,
    direction_of,
    next_test,
    possible,
)
from leakdown.where.odds import Odds
from leakdown.where.reasons import (
    _about_complaint,
    _about_marks,
    _about_observations,
    _about_ratio,
    _about_sections,
    _about_shape,
    _about_weight,
    headline,
    reasons,
)
from tests.where.test_remarks import _test

KNOWN = knowledge()
PLACES = KNOWN.of_circuit("crankcase")
NOTHING = Evidence("crankcase", (), (), Belonging(asked=True), None, None, None)
LEAKING, HOLDING = DirectionResult(False, 5.0, False), DirectionResult(True, 0.0, False)
BOTH = replace(NOTHING, pressure=LEAKING, vacuum=LEAKING)
PLAIN = Measured("a", False, frozenset(), 100.0, 5.0, 10.0, 1.0, 1.0, 0.5, False, -7.5, False, False)
SURE = Odds({p.place: 0.05 for p in PLACES}, {}, 1.0, {})
PASSED = SimpleNamespace(circuit="crankcase", word="pass", lax=False, unproven=False)


def _said(odds: Odds = SURE, evidence: Evidence = BOTH) -> str:
    step = _special(odds, evidence, KNOWN)
    return "" if step is None else step.id


def test_what_is_no_question_of_telling_places_apart() -> None:
    quiet = replace(SURE, places=SURE.places | {NO_LEAK: 0.6})
    tight = replace(BOTH, pressure=HOLDING, vacuum=HOLDING)
    ids = {test.when: test.id for test in KNOWN.tests if test.when}
    assert _said() == "" and _said(replace(SURE, together=0.51)) == ""
    assert _said(evidence=replace(BOTH, verdicts=(PASSED,))) == "stop"
    one = replace(NOTHING, pressure=LEAKING, verdicts=(PASSED,))
    assert _said(evidence=one) == "" and _said(evidence=replace(one, circuit="rig", verdicts=())) == ids["rig"]
    assert _said(quiet, tight) == ids["tight"] and _said(quiet, replace(tight, vacuum=LEAKING)) == ids["repeat"]
    assert _said(quiet, replace(tight, vacuum=None)) == "" and _said(replace(quiet, places={NO_LEAK: 0.5}), tight) == ""
    strange = replace(SURE, together=0.5)
    step = _special(strange, BOTH, KNOWN)
    assert step is not None and step.id == "repeat" and "one set-up" in step.do
    assert step.enter and all(entry.kind == "file" for entry in step.enter)
    vapour = replace(SURE, causes={"vapour": 0.5, "cooling": 0.3})
    assert _said(vapour) == ids["vapour"] and _said(replace(SURE, causes={"cooling": 0.5})) == ids["repeat"]
    assert _said(replace(vapour, places={NO_LEAK: 1.0})) == ids["repeat"]  # a cause has to explain half of it
    for when, odds, evidence in (("vapour", vapour, BOTH), ("tight", quiet, tight)):
        (first, *_) = next(t for t in KNOWN.tests if t.when == when).answers
        assert _said(odds, replace(evidence, seen=(first,))) == "stop"
    rig = replace(BOTH, circuit="rig")
    assert _said(quiet, rig) == ids["tight"] and _said(replace(SURE, places={NO_LEAK: 0.5}), rig) == ids["tight"]
    assert _said(replace(SURE, places={NO_LEAK: 0.49}), rig) == ids["rig"] == _said(replace(SURE, places={}), rig)
    assert _said(replace(SURE, places={})) == ""
    inlet = SimpleNamespace(**(vars(PASSED) | {"circuit": "carburettor-inlet"}))  # one direction is all there is
    assert _said(evidence=replace(one, circuit="carburettor-inlet", verdicts=(inlet,))) == "stop"


def test_how_it_stops() -> None:
    crack = "Crack one blank open"
    proven = replace(BOTH, verdicts=(PASSED,))
    unproven = replace(BOTH, verdicts=(PASSED, SimpleNamespace(**(vars(PASSED) | {"unproven": True}))))
    assert crack in _stop("passes", unproven).do and crack not in _stop("passes", proven).do
    assert crack not in _stop("tight", unproven).do
    assert crack not in _stop("passes", replace(unproven, seen=("reading-fell",))).do
    stop = _stop("tight", BOTH)
    assert (stop.id, stop.minutes, stop.direction, stop.enter) == ("stop", 0.0, None, ())
    assert stop.why == "another test of this circuit would tell less than it costs."
    place = KnownPlace("lid", "lid", "other", {}, repair="Glue the lid", repair_min=7.0)
    end = _end(place, BOTH)
    assert end.do == "Glue the lid, then repeat the test that failed." and end.minutes == 7.0 and end.id == "repair"
    assert "repairing the lid" in end.why and [entry.kind for entry in end.enter] == ["file"]
    assert _end(replace(place, repair=""), BOTH).do.startswith("Repair the lid, then")
    tight = replace(place, pattern="tight")
    assert _end(tight, BOTH).id == "repair" and _end(replace(tight, repair=""), BOTH).id == "stop"


def test_what_is_entered_next_time() -> None:
    """Yes or no to each; an absence is entered only as what was seen."""
    plain = next_test(SURE, BOTH, KNOWN)
    assert plain == next_test(SURE, BOTH, KNOWN, asks=False) and not plain.do.startswith("First")
    asked = next_test(SURE, BOTH, KNOWN, asks=True)
    assert asked.do == f"First: were all tests on one set-up, with no repair between? If so: {plain.do}"
    assert asked.enter == (Entry("seen", "same-setup"), Entry("not_seen", "same-setup"), *plain.enter)
    quiet = replace(SURE, places=SURE.places | {NO_LEAK: 0.6})
    for when, odds, evidence in (
        ("vapour", replace(SURE, causes={"vapour": 0.5}), BOTH),
        ("tight", quiet, replace(BOTH, pressure=HOLDING, vacuum=HOLDING)),
    ):
        test = next(t for t in KNOWN.tests if t.when == when)
        step = next_test(odds, evidence, KNOWN)
        absent = [i for i in test.answers if KNOWN.observations[i].absence]
        no = [] if absent else [("not_seen", i) for i in test.answers]
        file = [("file", test.file)] if test.file else []
        assert [(e.kind, e.what) for e in step.enter] == [*(("seen", i) for i in test.answers), *no, *file]
        assert step.why == f"{test.why} (about {test.minutes:g} minutes)." and step.minutes == test.minutes


LOOK = KnownTest("look", "do", "why", 3.0, ("bubbles-base",))


_WHICH_TESTS_ARE_POSSIBLE: list[Any] = [
    (LOOK, BOTH, True),
    (replace(LOOK, when="tight"), BOTH, False),
    (replace(LOOK, circuits=("tank", "crankcase")), BOTH, True),
    (replace(LOOK, circuits=("tank",)), BOTH, False),
    (LOOK, replace(BOTH, seen=("bubbles-base",)), False),
    (LOOK, replace(BOTH, not_seen=("bubbles-base",)), False),
    (LOOK, replace(BOTH, not_seen=("case-dry",)), True),
    (replace(LOOK, id="vacuum", direction="vacuum"), replace(BOTH, vacuum=None), True),
    (replace(LOOK, id="vacuum", direction="vacuum"), replace(BOTH, pressure=None), False),
    (replace(LOOK, id="pressure", direction="pressure"), replace(BOTH, pressure=None), True),
    (replace(LOOK, part="impulse"), BOTH, True),
    (replace(LOOK, part="impulse"), replace(BOTH, seen=("no-impulse",)), False),
    (replace(LOOK, direction="pressure"), replace(BOTH, pressure=HOLDING), False),
    (replace(LOOK, direction="vacuum"), replace(BOTH, pressure=HOLDING), True),
    (replace(LOOK, direction="vacuum"), replace(BOTH, vacuum=None), True),
    (replace(LOOK, direction="leaking"), replace(BOTH, pressure=HOLDING), True),
    (replace(LOOK, direction="leaking"), replace(BOTH, pressure=HOLDING, vacuum=HOLDING), False),
]


def test_which_tests_are_possible() -> None:
    for case in _WHICH_TESTS_ARE_POSSIBLE:
        _which_tests_are_possible(*case)


def _which_tests_are_possible(test: KnownTest, evidence: Evidence, so: bool) -> None:
    assert possible(test, evidence, KNOWN) is so


def test_in_which_direction() -> None:
    """One that leaks, vacuum first; else one that was not tested."""
    leaking = replace(LOOK, direction="leaking")
    assert direction_of(leaking, BOTH) == "vacuum" and direction_of(leaking, NOTHING) == "pressure"
    assert direction_of(leaking, replace(BOTH, vacuum=HOLDING)) == "pressure"
    assert direction_of(leaking, replace(NOTHING, pressure=HOLDING)) == "vacuum"
    assert direction_of(LOOK, BOTH) is None and direction_of(replace(LOOK, id="pressure"), BOTH) == "pressure"
    pressure = replace(LOOK, direction="pressure")
    assert direction_of(pressure, replace(BOTH, pressure=HOLDING)) is None
    assert direction_of(pressure, replace(BOTH, pressure=None)) == "pressure"


def _share(section: str, value: float = 0.5, separable: bool = True, **more: Any) -> SectionShare:
    return SectionShare(section, (("pressure", Interval(value, value - 0.1, value + 0.1)),), separable, **more)


def test_what_was_measured_already_is_not_proposed() -> None:
    rig = replace(PLAIN, of_rig=True)
    cap = replace(LOOK, id="cap")
    assert _measured_by_section(cap, replace(BOTH, tests=(rig, replace(rig, inward=True))))
    assert not _measured_by_section(cap, replace(BOTH, tests=(rig, replace(PLAIN, inward=True))))
    boots = replace(LOOK, sections=("boot", "flange"))
    assert _measured_by_section(boots, replace(BOTH, shares=(_share("Intake Boot"),)))
    assert not _measured_by_section(boots, replace(BOTH, shares=(_share("boot", separable=False), _share("rest"))))
    assert not _measured_by_section(LOOK, replace(BOTH, shares=(_share("boot"),)))
    effect = MarkEffect(30.0, "base pressed", Interval(0.3, 0.2, 0.4))
    mark = MarkOutcome("a", "pressure", effect, "base-gasket", True, False)

    def shown(test: KnownTest, **said: Any) -> bool:
        return _shown_by_mark(test, replace(BOTH, marks=(replace(mark, **said),)), KNOWN)

    assert shown(LOOK) and shown(LOOK, changed=False, steady=True)
    assert not shown(LOOK, changed=False) and not shown(LOOK, place="oil-pump") and not shown(LOOK, place=None)
    assert not shown(replace(LOOK, answers=("bubbles-base", "bubbles-joint")))
    assert not _shown_by_mark(LOOK, BOTH, KNOWN)
    assert not possible(LOOK, replace(BOTH, marks=(mark,)), KNOWN)
    assert not possible(boots, replace(BOTH, shares=(_share("boot"),)), KNOWN)


def test_chances_of_what_a_test_shows() -> None:
    """Each sight by its own chance, what is left for none of them; scaled down where they sum to more than 1."""
    seal = next(p for p in PLACES if p.group == "shaft-seal")
    base = next(p for p in PLACES if p.place == "base-gasket")
    one = KNOWN.observations["bubbles-base"]
    table = _chances(LOOK, [seal, base], BOTH, SURE, KNOWN)
    assert table == pytest.approx(np.array([[one.chance(p), 1.0 - one.chance(p)] for p in (seal, base)]))
    assert _chances(LOOK, [seal], replace(BOTH, pressure=HOLDING), SURE, KNOWN)[0] == pytest.approx([0.0, 1.0])
    several = replace(LOOK, answers=("bubbles-base", "bubbles-base", "bubbles-base"))
    (row,) = _chances(several, [base], BOTH, SURE, KNOWN)
    assert row.sum() == pytest.approx(1.0) and row[:3] == pytest.approx([min(one.chance(base), 1.0 / 3.0)] * 3)
    absent = next(o.id for o in KNOWN.observations.values() if o.absence)
    assert _chances(replace(LOOK, answers=(absent,)), [seal], BOTH, SURE, KNOWN).tolist() == [[1.0]]


def test_what_repairs_mend_and_cost() -> None:
    """20 minutes and 0.1 of the repair for a wrong one, 13 to go on, 60 for an engine let go (practice, as stated)."""
    plain = {"weight": {}, "repair_min": 20.0}
    places = (
        KnownPlace("a", "a", "pair", **(plain | {"repair_min": 80.0}), whole_group=True),
        KnownPlace("b", "b", "pair", **(plain | {"repair_min": 50.0}), whole_group=True),
        KnownPlace("c", "c", "single", **plain),
        KnownPlace("d", "d", "single", **(plain | {"repair_min": 10.0})),
        KnownPlace("none", "none", NO_LEAK, **plain),
    )
    repairs = Repairs.of(places, KNOWN)
    assert repairs.names == ("pair", "c", "d", NO_LEAK)
    assert repairs.mends.tolist() == [[1, 1, 0, 0, 0], [0, 0, 1, 0, 0], [0, 0, 0, 1, 0], [0, 0, 0, 0, 1]]
    assert repairs.wrong_min == pytest.approx([20 + 0.1 * 80, 20 + 0.1 * 20, 20 + 0.1 * 10, 60.0])
    assert repairs.go_on_min == 13.0


# ---------------------------------------------------------------- reasons

SEALS = [p for p in PLACES if p.group == "shaft-seal"]
TIGHT = [p for p in PLACES if p.group == NO_LEAK]


def test_reasons_by_the_ratio() -> None:
    more, odd = replace(BOTH, ratio=Ratio(3.0, 2.0, 4.0)), replace(BOTH, ratio=Ratio(0.3, 0.2, 0.4))
    (seal,) = _about_ratio("shaft-seal", SEALS, more, KNOWN)
    assert seal == f"vacuum leaks 3.00 times what pressure leaks (2.00 to 4.00): {KNOWN.why['shaft-seal']['more']}"
    (unusual,) = _about_ratio("other", SEALS, odd, KNOWN)
    assert unusual.endswith(": unusual here")
    for evidence, mine in (
        (BOTH, SEALS),
        (more, []),
        (more, TIGHT),
        (replace(BOTH, ratio=Ratio(None, 0.0, None)), SEALS),
    ):
        assert _about_ratio("shaft-seal", mine, evidence, KNOWN) == []
    for bound in (Ratio(None, 0.0, 0.4), Ratio(None, 6.0, None, at_least=6.0)):
        assert len(_about_ratio("shaft-seal", SEALS, replace(BOTH, ratio=bound), KNOWN)) == 1


def test_reasons_by_sections_and_marks() -> None:
    seal = _share("seal", 0.62)
    two = replace(seal, separable=False, with_=("rest",), together=(("vacuum", Interval(0.8, 0.7, 0.9)),))
    unknown = replace(seal, shares=(("pressure", Interval(None, 0.0, 1.0)),))
    assert _about_sections(SEALS, replace(BOTH, shares=(_share("boot"), seal))) == [
        "62 % (52 to 72) of the pressure leak goes through section 'seal'"
    ]
    assert _about_sections(SEALS, replace(BOTH, shares=(two,))) == [
        "80 % (70 to 90) of the vacuum leak goes through sections seal, rest"
    ]
    assert _about_sections(SEALS, replace(BOTH, shares=(unknown,))) == []
    assert _about_sections(SEALS, replace(BOTH, shares=(_share("boot"),))) == []
    mark = MarkOutcome("a", "pressure", MarkEffect(30.0, "oiled", Interval(0.4, 0.3, 0.5)), "shaft-seal", True, False)
    for said, count in (
        ({}, 1),
        ({"changed": False, "steady": True}, 1),
        ({"changed": False}, 0),
        ({"place": SEALS[0].place}, 1),
        ({"place": "oil-pump"}, 0),
    ):
        found = _about_marks(SEALS, replace(BOTH, marks=(replace(mark, **said),)))
        assert found == ["after 'oiled' the leak fell by 60 % (50 to 70)"] * count


def test_reasons_by_what_was_seen() -> None:
    look = KNOWN.observations["bubbles-base"]
    base = [p for p in PLACES if p.place == "base-gasket"]
    assert look.factor(True, base[0]) > 1.0 > look.factor(False, base[0]) and look.under == "pressure"
    seen, vain = replace(BOTH, seen=(look.id,)), replace(BOTH, not_seen=(look.id,))
    assert _about_observations(base, seen, KNOWN) == [f"{look.ask}: speaks for it"]
    assert _about_observations(base, vain, KNOWN) == [f"not seen: {look.ask}: speaks against it"]
    assert _about_observations(base, replace(vain, pressure=HOLDING), KNOWN) == []
    assert len(_about_observations(base, replace(seen, pressure=HOLDING), KNOWN)) == 1
    assert _about_observations([], seen, KNOWN) == []
    seal = next(p for p in PLACES if p.group == "shaft-seal")
    for factor, word in ((1.5, "for"), (1.3, "against")):  # 0.6 is 0.4 from 1
        known = replace(KNOWN, observations={look.id: replace(look, seen={base[0].place: factor, seal.place: 0.6})})
        assert _about_observations([*base, seal], seen, known) == [f"{look.ask}: speaks {word} it"]
    both = [*base, next(p for p in PLACES if p.group == "shaft-seal")]
    strongest = max((look.factor(False, p) for p in both), key=lambda f: abs(f - 1.0))
    assert strongest < 1.0 and _about_observations(both, vain, KNOWN) == [f"not seen: {look.ask}: speaks against it"]
    for absence in (o for o in KNOWN.observations.values() if o.absence and o.under):
        mine = [p for p in PLACES if absence.factor(True, p) != 1.0]
        holding = replace(BOTH, seen=(absence.id,), **{absence.under: HOLDING})
        assert mine and _about_observations(mine, replace(holding, **{absence.under: LEAKING}), KNOWN)
        assert _about_observations(mine, holding, KNOWN) == []


def test_reasons_by_the_complaint() -> None:
    """From 1.25 on, or its inverse, an answer counts (common practice, no source); the strongest first."""
    answers = (
        Answer("a", True, "idles high", {"seal": 1.25, "boot": 1.24}),
        Answer("b", False, "dies hot", {"seal": 4.0, "boot": 0.5}),
        Answer("c", True, "floods", {"seal": 0.0, "boot": 0.81}),
    )
    said = Complaint({}, answers)
    assert for_and_against(said, ["seal"]) == (("not so: dies hot", "idles high"), ("floods",))
    assert for_and_against(said, ["boot"]) == ((), ("not so: dies hot",))
    assert for_and_against(said, ["boot", "seal"])[0][0] == "not so: dies hot" and for_and_against(said, []) == ((), ())
    assert said.factor("seal") == 1.0 and Complaint({"seal": 2.0}).factor("seal") == 2.0
    evidence = replace(BOTH, complaint=said)
    for group, more, less in (
        ("other", "speaks for it", "speaks against it"),
        (NO_LEAK, "points outside this circuit", "points into this circuit"),
        ("test-rig", "points outside this circuit", "points into this circuit"),
    ):
        mine = [KnownPlace("seal", "seal", group, {})]
        assert _about_complaint(mine, evidence) == [
            f"complaint: not so: dies hot; idles high: {more}", f"complaint: floods: {less}"
        ]  # fmt: skip
    assert _about_complaint([], evidence) == [] == _about_complaint(SEALS, BOTH)


@pytest.mark.parametrize(
    ("sure", "hole", "said"),
    [
        ((0.9,), 0.9, "the decay is a hole's, as usual here (weak evidence)"),
        ((0.9,), 0.1, "the decay is a hole's, not as usual here (weak evidence)"),
        ((0.1,), 0.1, "the decay is a weep's, as usual here (weak evidence)"),
        ((0.1,), 0.9, "the decay is a weep's, not as usual here (weak evidence)"),
        ((0.84,), 0.9, ""),
        ((0.9,), 0.6, ""),
        ((1.0, 0.6), 0.9, ""),
        ((1.0, 0.75), 0.9, "the decay is a hole's, as usual here (weak evidence)"),
    ],
)
def test_reasons_by_the_decay(sure: tuple[float, ...], hole: float, said: str) -> None:
    tests = tuple(replace(PLAIN, hole_like=one) for one in sure)
    place = KnownPlace("x", "x", "other", {}, hole=hole, odd={"step": 2.0, "leak-grows": 1.0, "levels-off": 1.5})
    evidence = replace(BOTH, tests=(*tests, replace(PLAIN, tight=True, hole_like=0.0)))
    assert _about_shape([replace(place, hole=0.5), place][hole < 0.5 :], evidence) == ([said] if said else [])
    odd = replace(evidence, shapes=frozenset(("step", "leak-grows", "levels-off")))
    assert _about_shape([place], odd)[-2:] == ["the decay levels off", "the reading jumped"]
    assert _about_shape([replace(place, odd={}), place], odd)[-2:] == ["the decay levels off", "the reading jumped"]
    assert _about_shape([], odd) == [] == _about_shape([replace(place, pattern="tight")], odd)
    assert _about_shape([place], replace(odd, tests=evidence.tests[-1:])) == []


def test_the_usual_share_of_a_group() -> None:
    """Of what leaks and is not healthy so: 30 of 80 is 38 %."""
    places = [
        KnownPlace("a", "a", "x", {"crankcase": 10.0}),
        KnownPlace("b", "b", "x", {"crankcase": 20.0}),
        KnownPlace("c", "c", "y", {"crankcase": 50.0}),
        KnownPlace("d", "d", "y", {"crankcase": 70.0}, healthy=True),
        KnownPlace("e", "e", NO_LEAK, {"crankcase": 90.0}, pattern="tight"),
    ]
    said = _about_weight(places[:2], places, "crankcase")
    assert said == "the usual share of this place is 38 % of failed tests (the trade's judgement)"
    assert _about_weight([], places, "crankcase") == "" == _about_weight(places[4:], places, "crankcase")


def test_headlines_in_their_order() -> None:
    groups = (
        SimpleNamespace(group="x", name="x", probability=0.9),
        SimpleNamespace(group="y", name="y", probability=0.1),
    )
    assert headline(groups, BOTH, SURE).startswith("Consistent with the x: 90 % by the trade's judgement and these")
    heard = headline(groups, replace(BOTH, complaint=Complaint()), SURE)
    assert "judgement, this complaint and these" in heard
    passing = replace(BOTH, verdicts=(PASSED,))
    seen = tuple(SimpleNamespace(**vars(PASSED), direction="pressure", would_see_pa_s=None) for _ in range(1))
    passes = headline(groups, replace(passing, verdicts=seen), SURE)
    assert passes.startswith("The tests pass their limits.") and "most like the x" in passes
    assert headline(groups, replace(passing, verdicts=seen, vacuum=None), SURE).startswith("Consistent")
    tank = tuple(SimpleNamespace(**(vars(one) | {"circuit": "tank"})) for one in seen)
    assert headline(groups, replace(passing, verdicts=tank, circuit="tank"), SURE).startswith("Consistent")
    strange = replace(SURE, together=0.5)
    assert headline(groups, BOTH, strange) == "Cannot tell: these tests do not fit one engine as it stood."
    doubts = (Flag("not-together", "Day."), Flag("copied", "One is the other."))
    assert (
        headline(groups, replace(BOTH, belonging=Belonging(doubts=doubts)), strange) == "Cannot tell. One is the other."
    )
    assert headline(groups, BOTH, replace(SURE, together=0.51)).startswith("Consistent")
    cool = replace(SURE, causes={"cooling": 0.51, "vapour": 0.3})
    assert headline(groups, BOTH, cool) == (
        "No leak, but cooling, explains what was lost (51 %): let engine and air come to one temperature and repeat "
        "both directions."
    )
    assert headline(groups, BOTH, replace(SURE, causes={"cooling": 0.5})).startswith("Consistent")
    none = (SimpleNamespace(group=NO_LEAK, name="no leak", probability=0.9), groups[1])
    assert headline(none, replace(BOTH, pressure=HOLDING, vacuum=HOLDING), SURE).startswith("No leak found under")
    wet = replace(SURE, places=SURE.places | {NO_LEAK: 0.7}, causes={"vapour": 0.4})
    said = headline(none, replace(BOTH, pressure=HOLDING, vacuum=HOLDING), wet)
    assert said.endswith("position. Vapour would explain what was lost: dry the case, wait, and repeat.")
    hardly = replace(wet, causes={"vapour": 0.3})
    assert "Vapour" not in headline(none, replace(BOTH, pressure=HOLDING, vacuum=HOLDING), hardly)


def test_reasons_of_one_group_stand_in_the_order_of_their_weight() -> None:
    """The figures first, then what was touched, seen and said, then the decay, and what is usual last."""
    place = {"weight": {"crankcase": 3.0}, "sections": ("boot",), "hole": 0.9, "odd": {"step": 2.0}}
    boot, lid = KnownPlace("flap", "flap", "flaps", **place), KnownPlace("lid", "lid", "lids", {"crankcase": 1.0})
    none = KnownPlace(NO_LEAK, "no leak", NO_LEAK, {"crankcase": 1.0}, pattern="tight")
    look = replace(KNOWN.observations["bubbles-base"], seen={"flap": 3.0, "lid": 0.5})
    known = replace(KNOWN, observations={look.id: look}, why={})
    evidence = replace(
        BOTH, ratio=Ratio(3.0, 2.0, 4.0), shares=(_share("boot"),), seen=(look.id,), shapes=frozenset(("step",)),
        marks=(MarkOutcome("a", "pressure", MarkEffect(30.0, "bent", Interval(0.4, 0.3, 0.5)), "flap", True, False),),
        tests=(replace(PLAIN, hole_like=0.95),),
        complaint=Complaint({}, (Answer("a", True, "it hangs", {"flap": 2.0}),)),
    )  # fmt: skip
    places = (lid, boot, none)

    def said(group: str, odds: Odds = SURE, evidence: Evidence = evidence) -> list[str]:
        return [text.split(" ")[0] for text in reasons(group, places, evidence, known, odds)]

    sight = look.ask.split(" ")[0]
    assert said("flaps") == ["vacuum", "50", "after", sight, "complaint:", "the", "the", "the"]
    *_, decay, jump, usual = reasons("flaps", places, evidence, known, SURE)
    assert decay.startswith("the decay is a hole's") and jump == "the reading jumped" and " 75 % of failed" in usual
    assert said("lids") == ["vacuum", sight, "the"]
    cool = replace(SURE, causes={"cooling": 0.4})
    held = replace(BOTH, pressure=HOLDING, vacuum=HOLDING)
    assert said(NO_LEAK, cool, held) == ["no", "cooling"] and said("flaps", cool, held) == ["the"]


# ---------------------------------------------------------------- what the tests of one direction show together


def _sized(low: float, leak: bool = True, **said: Any) -> Any:
    one = _test(**said)
    one.analysis.leak = object() if leak else None
    one.rate_pa_s = Interval(2.0 * low, low, 3.0 * low)
    return one


def test_one_direction_of_several_tests() -> None:
    """The largest lower end among those that leak, in kPa a minute: 100 Pa/s is 6."""
    assert _direction([]) is None and _direction([_sized(1.0, leak=False)]) is None
    found = _direction([_sized(50.0), _sized(100.0), _sized(900.0, detected=False), _sized(999.0, leak=False)])
    assert found == DirectionResult(False, pytest.approx(6.0), False)
    held = _direction([_sized(50.0, detected=False), _sized(10.0, detected=False, codes=("pressure-rises",))])
    assert held == DirectionResult(True, pytest.approx(3.0), True)


def test_a_rig_that_held_both_ways_counts_without_a_volume() -> None:
    def told(
        *tests: Any, circuit: str = "crankcase", seen: tuple[str, ...] = (), not_seen: tuple[str, ...] = ()
    ) -> Any:
        return _told_by_rig(
            SimpleNamespace(circuit=circuit, unsized=tests), SimpleNamespace(seen=seen, not_seen=not_seen)
        )

    out, into = _test(detected=False), _test(detected=False, inward=True)
    assert told(out, into) == ("rig-tight",) and told(out) == () == told(into, into) and told() == ()
    assert told(out, into, _test(inward=True)) == () and told(out, into, circuit="rig") == ()
    assert told(out, into, seen=("rig-tight",)) == () == told(out, into, not_seen=("rig-tight",))
