"""Sentences of ratios and changes: every form, with the figures in the right place."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from leakdown.analysis import MarkEffect
from leakdown.uncertainty import Interval
from leakdown.where.belonging import Belonging, _shut
from leakdown.where.compare import _sentence
from leakdown.where.evidence import DirectionResult, Evidence
from leakdown.where.heard import _worth_asking
from leakdown.where.knowledge import NO_LEAK
from leakdown.where.located import Ratio
from leakdown.where.odds import Odds
from leakdown.where.phrases import Concept
from leakdown.where.reasons import (
    _about_tightness,
    _nothing_found,
    _passed,
    _ranked,
    _side,
    _split,
    mark_words,
    ratio_words,
)

NOTHING = Evidence("crankcase", (), (), Belonging(), None, None, None)
LEAKING, HOLDING = DirectionResult(False, 5.0, False), DirectionResult(True, 0.0, False)


@pytest.mark.parametrize(
    ("ratio", "said"),
    [
        (Ratio(2.0, 1.5, 2.6), "vacuum leaks 2.00 times what pressure leaks (1.50 to 2.60)"),
        (Ratio(2.0, 1.5, None), "(1.50 to 2.00)"),
        (Ratio(None, 0.0, 0.4), "at most 0.400 times what pressure leaks (vacuum was tight)"),
        (Ratio(None, 0.0, None, 6.0), "at least 6.00 times what pressure leaks (pressure was tight)"),
        (Ratio(None, 0.0, None), "neither direction leaks"),
    ],
)
def test_a_ratio_in_words(ratio, said):
    assert said in ratio_words(ratio)


def test_the_side_of_a_ratio():
    """0.7 to 1.4 is the same (common practice, no source)."""
    sides = [_side(Ratio(value, value, value)) for value in (0.69, 0.7, 1.0, 1.4, 1.41)]
    assert sides == ["less", "same", "same", "same", "more"]
    assert _side(Ratio(1.0, 0.9, 3.0)) == "same" and _side(Ratio(None, 6.0, None, 6.0)) == "more"
    assert _side(Ratio(None, 0.0, 0.4)) == "less" and _side(Ratio(None, 0.0, None)) == "same"


def test_why_it_may_be_no_leak():
    odds = Odds({NO_LEAK: 0.6}, {"cooling": 0.5, "vapour": 0.01}, 1.0, {})
    both = replace(NOTHING, pressure=HOLDING, vacuum=HOLDING)
    first, cause = _about_tightness(NO_LEAK, both, odds)
    assert first.endswith("under pressure and vacuum") and cause.startswith("cooling explains")
    assert _about_tightness("seal", both, odds) == []
    rising = replace(NOTHING, pressure=LEAKING, vacuum=DirectionResult(True, 0.0, True))
    assert _about_tightness(NO_LEAK, rising, replace(odds, causes={})) == ["no leak moves a reading away from zero"]
    assert _about_tightness(NO_LEAK, replace(NOTHING, pressure=LEAKING), replace(odds, causes={})) == []


def test_a_change_in_words():
    leaks, tight = SimpleNamespace(tight=False), SimpleNamespace(tight=True)

    def said(bounds, word, first=leaks, second=leaks):
        return _sentence(bounds, word, first, second)

    assert said((0.25, 0.2, 0.3), "smaller") == "The leak is 75 % smaller (70 % to 80 %)."
    assert said((4.0, 3.0, 5.0), "larger") == "The leak is 4 times as large (3 to 5)."
    assert "Neither test saw a leak" in said((None, 0.0, None), "unclear", tight, tight)
    gone = said((None, 0.0, 0.05), "smaller", leaks, tight)
    assert gone.startswith("The leak is at least 95 % smaller. No leak seen afterwards: at most 5.0 %")
    assert said((None, 0.0, 0.9), "unclear", leaks, tight).startswith("No leak seen afterwards: at most 90 %")
    assert "at least 30 times" in said((None, 30.0, None), "larger", tight, leaks)
    for unsized in ((None, 0.0, None), (None, 0.2, 3.0), (1.0, 0.9, None)):
        assert "could not be sized" in said(unsized, "unclear")
    assert "could not be sized" in said((None, 0.0, None), "unclear", leaks, tight)
    assert "could not be sized" in said((None, 0.2, None), "unclear", tight, leaks)
    assert "at least 1.3 times" in said((None, 1.3, None), "larger", tight, leaks)
    assert said((0.5004, 0.5, 0.501), "smaller") == "The leak is 50.0 % smaller (49.9 % to 50.0 %)."  # as fine as known
    same = said((1.0, 0.9, 1.05), "same")
    assert "the same within" in same and "(90 % to 105" in same
    scattered = said((1.05, 1.01, 1.09), "same")  # e^(2.8 x 0.08) is 1.25 (ISO 5725-6's limit of two tests)
    assert scattered.startswith("No change that counts: it came out at 105") and "up to 25 % (practice)" in scattered
    assert said((1.0, 0.5, 2.0), "unclear").startswith("Cannot say whether the leak changed (50 % to 200")


SEAL = SimpleNamespace(group="shaft-seal", name="shaft seal", probability=0.9)
BOOT = SimpleNamespace(group="intake-boot", name="intake boot", probability=0.3)
NONE = SimpleNamespace(group=NO_LEAK, name="no leak", probability=0.9)


def verdict(direction, would, circuit="crankcase"):
    return SimpleNamespace(circuit=circuit, direction=direction, would_see_pa_s=would)


def test_tests_that_pass_say_what_they_would_have_seen():
    """10 Pa/s is 0.6 kPa a minute; of several the finest counts, of other circuits none."""
    said = (
        verdict("pressure", 30.0),
        verdict("pressure", 10.0),
        verdict("vacuum", 20.0),
        verdict("vacuum", 1.0, "tank"),
    )
    tight = _passed(NONE, replace(NOTHING, verdicts=said))
    assert tight.startswith("The tests pass: no leak that a gauge can show")
    assert tight.endswith("a loss above 0.60 kPa a minute under pressure and 1.2 kPa a minute under vacuum.")
    assert tight == _passed(NONE, replace(NOTHING, verdicts=said[::-1]))  # the keenest of each direction
    little = _passed(SEAL, replace(NOTHING, verdicts=said))
    assert little.startswith("The tests pass their limits.") and "most like the shaft seal" in little
    assert "would have seen" not in _passed(NONE, replace(NOTHING, verdicts=(verdict("pressure", None),)))


def test_how_sure_the_headline_is():
    """85 % is clear, half is likely (common practice, no source)."""
    for chance, begins in (
        (0.85, "Consistent with"),
        (0.84, "Most consistent"),
        (0.5, "Most"),
        (0.49, "Cannot tell yet"),
    ):
        first = SimpleNamespace(**(vars(SEAL) | {"probability": chance}))
        said = _ranked((first, BOOT), ", this complaint")
        assert said.startswith(begins) and "shaft seal" in said
        assert ("intake boot" in said) == (chance < 0.5) and (", this complaint" in said) == (chance >= 0.85)


def test_sections_that_carry_a_real_part_are_named_together():
    """A sixth and more (common practice, no source); one alone is no split."""

    def share(name, *values):
        told = tuple((d, Interval(v, 0.0, 1.0)) for d, v in zip(("pressure", "vacuum"), values, strict=False))
        return SimpleNamespace(names=(name,), told=told)

    both = _split(replace(NOTHING, shares=(share("boot", 0.2, 0.4), share("rest", 0.6), share("rig", 0.1))))
    assert both == "More than one section leaks: boot up to 40 %; rest up to 60 %."
    assert _split(replace(NOTHING, shares=(share("boot", 0.95), share("rest", 0.05)))) == ""
    assert _split(replace(NOTHING, shares=(share("boot", None), share("rest", 0.9)))) == ""


def test_nothing_found_in_words():
    both = replace(NOTHING, pressure=HOLDING, vacuum=HOLDING)
    assert _nothing_found(NONE, both) == "No leak found under pressure and vacuum, cold, at this crank position."
    for direction in ("pressure", "vacuum"):
        assert "explain this best" in _nothing_found(NONE, replace(both, **{direction: LEAKING}))
    tank = replace(both, circuit="tank")
    assert "as it should (90 %)" in _nothing_found(NONE, tank)
    assert "loses pressure" in _nothing_found(NONE, replace(tank, pressure=LEAKING))
    assert "as it should" in _nothing_found(NONE, replace(tank, pressure=None, vacuum=LEAKING))


@pytest.mark.parametrize(
    ("value", "low", "high", "said"),
    [
        (0.38, 0.32, 0.45, "the leak fell by 62 % (55 to 68)"),
        (1.5, 1.2, 1.9, "the leak grew by 50 % (20 to 90)"),
        (1.0, 0.9, 1.2, "stayed as it was (-10 to +20 %)"),
        (0.95, 0.9, 1.0, "stayed as it was (-10 to +0 %)"),
        (1.05, 1.0, 1.1, "stayed as it was (+0 to +10 %)"),
    ],
)
def test_what_a_mark_did_in_words(value, low, high, said):
    assert said in mark_words(MarkEffect(12.0, "boot", Interval(value, low, high)))


def test_one_direction_that_leaks_and_one_that_holds():
    """A shut lip does that, and a repair in between; a leak that passes its limit, or a rising reading, is none."""

    def one(inward, detected, word, rises=False):
        analysis = SimpleNamespace(verdict=None if word is None else SimpleNamespace(word=word))
        return SimpleNamespace(
            inward=inward, detected=detected, tight=not detected, analysis=analysis, has=lambda code: rises
        )

    holds = one(False, False, "pass")
    for word in ("fail", "undecided", None):
        assert _shut(one(True, True, word), holds) and _shut(holds, one(True, True, word))
    assert not _shut(one(True, True, "pass"), holds)
    assert not _shut(one(False, True, "fail"), holds) and not _shut(one(True, False, "fail"), holds)
    assert not _shut(one(True, True, "fail"), one(False, True, "fail"))
    assert not _shut(one(True, True, "fail", True), holds)


def test_only_one_of_a_kind_is_asked_about():
    """Half said and more; not where another of its cluster was taken already."""
    known = SimpleNamespace(complaints={n: SimpleNamespace(cluster=c) for n, c in (("a", "x"), ("b", "x"), ("c", "y"))})
    assert _worth_asking("a", 0.5, set(), known) and _worth_asking("a", 0.9, {"c"}, known)
    assert not _worth_asking("a", 0.49, set(), known) and not _worth_asking("a", 0.9, {"b", "c"}, known)


def test_the_longest_form_of_a_word_comes_first():
    concept = Concept.of(["boot", "intake boot", "rubber intake boot", "!boot lace"])
    assert [len(form.parts) for form in concept.forms] == [3, 2, 1] and len(concept.others) == 1
