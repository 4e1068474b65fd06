"""Sentences of ratios and changes: every form, with the figures in the right place."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from leakdown.where.belonging import Belonging
from leakdown.where.compare import _sentence
from leakdown.where.evidence import DirectionResult, Evidence
from leakdown.where.knowledge import NO_LEAK
from leakdown.where.located import Ratio
from leakdown.where.odds import Odds
from leakdown.where.reasons import _about_tightness, _side, ratio_words

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
    assert "could not be sized" in said((None, 0.0, None), "unclear")
    same = said((1.0, 0.9, 1.05), "same")
    assert "the same within" in same and "(90 % to 105" in same
    assert said((1.05, 1.01, 1.09), "same").startswith("No change that counts: it came out at 105")
    assert said((1.0, 0.5, 2.0), "unclear").startswith("Cannot say whether the leak changed (50 % to 200")
