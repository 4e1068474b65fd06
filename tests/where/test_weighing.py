"""How each kind of evidence weighs, and when it is said: the numbers that no formula gives, one by one."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import MarkEffect
from leakdown.judge.analyse import fitted
from leakdown.uncertainty import Interval
from leakdown.where.answers import Answers
from leakdown.where.compare import _word, compare
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.directional import one_volume
from leakdown.where.evidence import DirectionResult, Evidence, direction_result, factor_of_finding
from leakdown.where.knowledge import NO_LEAK, knowledge
from leakdown.where.located import Answer, Complaint, Group, MarkOutcome, Ratio, SectionShare, for_and_against
from leakdown.where.next_test import next_test
from leakdown.where.odds import place_odds
from leakdown.where.placing import measured_sections
from leakdown.where.reasons import headline, reasons
from leakdown.where.remarks import ruled_out, warnings
from leakdown.where.sections import _volumes
from leakdown.where.suspects import next_question, suspects
from tests.where.engines import Engine, Leak, run

KNOWN = knowledge()
PLACES = KNOWN.of_circuit("crankcase")
NOTHING = Evidence("crankcase", None, None, None, frozenset(), (), (), (), (), "unknown", "unknown")
LEAKING = DirectionResult(False, 5.0, 0.5, False)
BOTH = replace(NOTHING, pressure=LEAKING, vacuum=LEAKING)
FIXED = replace(BOTH, ratio=Ratio(1.0, 0.95, 1.05))


def _groups(evidence: Evidence) -> dict[str, float]:
    odds = place_odds(evidence, KNOWN)
    return {g: sum(odds[p.place] for p in PLACES if p.group == g) for g in {p.group for p in PLACES}}


def _reasons(group: str, evidence: Evidence) -> str:
    return "; ".join(reasons(group, PLACES, evidence, KNOWN))


def _shares(**parts: float) -> tuple[SectionShare, ...]:
    return tuple(
        SectionShare(name, (("pressure", Interval(v, max(v - 0.02, 0.0), v + 0.02)),)) for name, v in parts.items()
    )


# ---------------------------------------------------------------- ratio and change


def test_two_gauges_and_two_volumes_widen_a_change() -> None:
    rng = np.random.default_rng(1)
    one, two = (run(Engine((Leak(400.0, 0.4),)), rng, 1.0) for _ in range(2))
    other = replace(two, conditions=replace(two.conditions, gauge="B"))
    plain = compare(one, two).after_over_before
    named = compare(replace(one, conditions=replace(one.conditions, gauge="A")), other).after_over_before
    plain_half, half = (0.5 * np.log((high or 9.0) / low) for _, low, high in (plain, named))
    assert half == pytest.approx(np.hypot(plain_half, 0.025), rel=0.1)


def test_a_wide_interval_does_not_say_the_same() -> None:
    assert _word((1.0, 0.9, 1.2)) == "same" and _word((1.0, 0.7, 1.3)) == "unclear"


def test_volumes_that_are_as_good_as_one_are_one() -> None:
    one, near, far = (SimpleNamespace(volume_m3=v) for v in (250e-6, 250.5e-6, 255e-6))
    assert one_volume(one, near) and not one_volume(one, far)  # type: ignore[arg-type]


# ---------------------------------------------------------------- evidence of one direction


def _hole(value: float, low: float, high: float) -> float:
    share = Interval(value, low, high)
    leak = SimpleNamespace(viscous_share=share)
    one: Any = SimpleNamespace(
        analysis=SimpleNamespace(leak=leak), detected=True, rate_pa_s=Interval(100.0, 90.0, 110.0),
        has=lambda code: False,
    )  # fmt: skip
    found = direction_result([one])
    assert found is not None
    return found.sure_hole


def test_the_flow_law_counts_as_far_as_it_is_known() -> None:
    assert _hole(0.2, 0.0, 1.0) == 0.5  # not told
    assert _hole(0.4, 0.2, 0.6) == pytest.approx(0.75, abs=0.02)  # one sigma below one half
    assert _hole(0.1, 0.0, 0.2) == 1.0 and _hole(0.9, 0.8, 1.0) == 0.0
    assert _hole(0.45, 0.449, 0.451) == pytest.approx(0.75)  # never surer than its least sigma


def test_marks_weigh_by_what_the_leak_did() -> None:
    boot = next(p for p in PLACES if p.place == "intake-boot")

    def factor(low: float, high: float, changed: bool, steady: bool) -> float:
        effect = MarkEffect(30.0, "boot", Interval(0.5 * (low + high), low, high))
        marks = (MarkOutcome("", effect, "intake-boot", changed, steady),)
        return factor_of_finding(boot, replace(NOTHING, marks=marks), KNOWN)

    stopped, changed, steady = factor(0.1, 0.4, True, False), factor(0.5, 0.8, True, False), 0.35
    assert KNOWN.numbers["cluster_cap"] >= stopped > 2.0 * changed > 10.0
    assert factor(0.9, 1.1, False, True) == pytest.approx(steady, abs=0.1)
    assert factor(0.6, 1.5, False, False) == 1.0


# ---------------------------------------------------------------- odds of places


def test_a_story_may_miss_a_measured_share_a_little_or_not_be_it() -> None:
    inside = measured_sections(PLACES, _shares(boot=0.5, case=0.5))
    pair = [next(p for p in PLACES if p.place == name) for name in ("intake-boot", "base-gasket")]
    same, near, far = (float(inside.likelihood(pair, np.array([f]), np.array([f]))[0]) for f in (0.5, 0.6, 1.0))
    assert 0.25 < near / same < 0.6  # two sections, each one sigma off: exp(-1)
    assert far == pytest.approx(0.02**2, rel=0.5)


def test_vapour_explains_a_vacuum_loss_but_a_leak_may_be_beside_it() -> None:
    no_leak = _groups(replace(BOTH, pressure=DirectionResult(False, 5.0, 0.5, True)))[NO_LEAK]
    assert 0.7 < no_leak < 0.95


def test_hole_or_weep_is_weak_evidence() -> None:
    def boot_over_seal(sure_hole: float) -> float:
        one = replace(LEAKING, sure_hole=sure_hole)
        groups = _groups(replace(FIXED, pressure=one, vacuum=one))
        return groups["intake-boot"] / groups["shaft-seal"]

    assert 1.3 < boot_over_seal(1.0) / boot_over_seal(0.0) < 4.0


def test_a_leak_that_one_direction_shuts_is_no_matter_of_degree() -> None:
    tight = replace(BOTH, pressure=DirectionResult(True, 0.0, 0.5, False))
    of = {least: _groups(replace(tight, ratio=Ratio(None, least, None, least))) for least in (3.0, 6.0, 90.0)}
    assert of[6.0] == of[90.0] != of[3.0]
    words = _reasons("shaft-seal", replace(tight, ratio=Ratio(None, 90.0, None, 90.0)))
    assert "90.0 or more is consistent with" in words


def test_a_small_loss_may_be_no_leak_and_a_large_one_may_not() -> None:
    def no_leak(loss: float) -> float:
        one = DirectionResult(False, loss, 0.5, False)
        return _groups(replace(FIXED, pressure=one, vacuum=one))[NO_LEAK]

    assert no_leak(0.05) > 0.02 > 1e-4 > no_leak(2.0) > 0.0
    assert no_leak(0.01) < 0.5  # it was detected, after all
    assert 1e-10 < no_leak(5.0) / no_leak(0.01) < 1e-4**2 / 4.0  # in both directions at once


# ---------------------------------------------------------------- words


def test_the_headline_is_as_sure_as_the_odds() -> None:
    def said(first: float) -> str:
        pair = (Group("shaft-seal", "shaft seal", first, ()), Group("other", "others", 1 - first, ()))
        return headline(pair, FIXED).split(" the ")[0].split(":")[0]

    assert [said(p) for p in (0.9, 0.8, 0.55, 0.45)] == [
        "Consistent with", "Most consistent with", "Most consistent with", "Cannot tell yet",
    ]  # fmt: skip


def test_two_leaking_sections_are_in_the_headline() -> None:
    groups = (Group("other", "others", 0.9, ()), Group("shaft-seal", "shaft seal", 0.1, ()))
    two, one = (headline(groups, replace(FIXED, shares=_shares(boot=b, case=1 - b))) for b in (0.25, 0.1))
    assert two.endswith("More than one section leaks: boot up to 25 %; case up to 75 %.")
    assert "section" not in one


def test_a_small_loss_is_said_to_be_small() -> None:
    for loss, small in ((0.3, True), (0.6, False)):
        evidence = replace(BOTH, vacuum=DirectionResult(False, loss, 0.5, False))
        assert ("so small that" in _reasons(NO_LEAK, evidence)) is small


def test_a_ratio_near_one_is_a_fixed_hole() -> None:
    for ratio, fixed in ((0.6, False), (0.8, True), (1.3, True), (1.6, False)):
        words = _reasons("shaft-seal", replace(BOTH, ratio=Ratio(ratio, 0.97 * ratio, 1.03 * ratio)))
        assert ("outside diameter" in words) is fixed
        asked = warnings(replace(FIXED, ratio=Ratio(ratio, ratio, ratio)), (), (), ())
        assert ("ask-dry" in [flag.code for flag in asked]) is (ratio > 1.4)


def test_a_ratio_near_the_span_is_consistent_with_it() -> None:
    for ratio, near in ((1.5, True), (1.9, False)):  # a gasket is expected at 0.7 to 1.4
        words = _reasons("gasket-or-joint", replace(BOTH, ratio=Ratio(ratio, ratio, 1.1 * ratio)))
        assert ("is consistent with the" in words) is near


def test_the_decay_is_named_only_when_it_is_clear() -> None:
    for sure, named in ((0.95, True), (0.8, False)):
        one = replace(LEAKING, sure_hole=sure)
        assert ("hole-like" in _reasons("intake-boot", replace(FIXED, pressure=one, vacuum=one))) is named
    one = replace(LEAKING, sure_hole=1.0)
    assert "like" not in _reasons("gasket-or-joint", replace(FIXED, pressure=one, vacuum=one))


def test_a_small_leak_minds_the_temperature() -> None:
    for shift, minds in ((0.8, False), (1.5, True)):
        flags = warnings(replace(BOTH, ratio=Ratio(1.0, 0.9, 1.1, warming_log_per_k_min=shift)), (), (), ())
        assert ("temperature-matters" in [flag.code for flag in flags]) is minds


def test_a_deep_vacuum_is_said_to_lift_lips() -> None:
    for start_pa, deep in ((-48e3, True), (-40e3, False)):
        test: Any = fitted(run(Engine((Leak(300.0, 0.5),)), np.random.default_rng(1), -1.0, start_pa=-start_pa))
        flags = warnings(replace(BOTH, ratio=Ratio(3.0, 2.9, 3.1)), (), [test], ())
        assert ("deep-vacuum" in [flag.code for flag in flags]) is deep


def test_only_evidence_rules_a_place_out() -> None:
    def out(evidence: Evidence) -> dict[str, str]:
        return dict(ruled_out(place_odds(evidence, KNOWN), PLACES, evidence, KNOWN))

    assert out(NOTHING) == {}  # rare places are not ruled out by being rare
    seen = replace(FIXED, seen=("no-decompression",), not_seen=("bubbles-base",))
    assert out(seen)["decompression valve"] == "by what was seen" and "base gasket" not in out(seen)
    seal_like = out(replace(BOTH, ratio=Ratio(6.0, 5.9, 6.1)))
    assert "the directional ratio is far from what they show" in seal_like.values()
    both_tight = replace(BOTH, pressure=DirectionResult(True, 0.0, 0.5, False))
    both_tight = replace(both_tight, vacuum=both_tight.pressure)
    for place, share, gone in (("seal-drive-side", 0.02, False), ("seal-drive-side", 0.005, True),
                               ("crack", 0.006, False), ("crack", 0.002, True)):  # fmt: skip
        odds = {p.place: share if p.place == place else 0.5 for p in PLACES}  # usual: 0.104 and 0.016
        assert bool(ruled_out(odds, PLACES, both_tight, KNOWN)) is gone
    mild = replace(FIXED, pressure=replace(LEAKING, sure_hole=0.6))
    assert "by what was seen" not in out(mild).values()


def test_a_section_that_carries_little_is_ruled_out() -> None:
    def out(boot: float) -> list[str]:
        evidence = replace(FIXED, shares=_shares(boot=boot, case=1.0 - boot))
        odds = dict.fromkeys(place_odds(evidence, KNOWN), 1e-4)
        return [name for name, why in ruled_out(odds, PLACES, evidence, KNOWN) if "boot" in why]

    assert out(0.05) and not out(0.2)


# ---------------------------------------------------------------- sections


def test_a_blanked_test_without_a_volume_is_the_smaller_one() -> None:
    rng = np.random.default_rng(1)
    tests = [fitted(run(Engine((Leak(300.0, 0.5),)), rng, 1.0, volume_m3=None)) for _ in range(2)]
    volume, _ = _volumes(tests, [frozenset(("boot", "case")), frozenset(("case",))])
    assert 0.75 < volume[1] / volume[0] < 0.95  # 5 to 25 % is what blanking a boot takes away


# ---------------------------------------------------------------- next steps and suspects


def _tests_with(*pairs: tuple[str, float, float]) -> Any:
    """Tests (name, minutes, chance of finding the seal) that tell the seals from everything else."""
    first = KNOWN.tests[0]
    tests = tuple(
        replace(first, id=name, do=name, minutes=minutes, needs="", circuits=(),
                outcome={"found": {"shaft-seal": chance}})
        for name, minutes, chance in pairs
    )  # fmt: skip
    return replace(KNOWN, tests=tests)


def test_short_tests_do_not_win_by_being_short() -> None:
    odds = place_odds(FIXED, KNOWN)
    found = next_test(odds, FIXED, _tests_with(("glance", 0.1, 0.4), ("look", 2.0, 0.95)))
    assert found is not None and found.do == "look"
    found = next_test(odds, FIXED, _tests_with(("short", 3.0, 0.95), ("long", 60.0, 1.0)))
    assert found is not None and found.do == "short"


def test_nothing_is_proposed_when_nothing_would_tell() -> None:
    odds = place_odds(replace(BOTH, ratio=Ratio(3.0, 2.9, 3.1)), KNOWN)
    assert next_test(odds, FIXED, _tests_with(("guess", 1.0, 0.03))) is None  # 0.010 bit
    assert next_test(odds, FIXED, _tests_with(("look", 1.0, 0.1))) is not None  # 0.034 bit


def test_questions_go_on_while_they_tell() -> None:
    answers, known = Answers(), complaint_knowledge()
    while question := next_question(answers, known):
        answers = answers.and_(question.id, False)
    assert 20 <= len(answers.not_seen) <= 30


def test_only_what_moves_the_odds_is_a_reason() -> None:
    slight, clear = (Answer(name, True, name, {"x": f}) for name, f in (("slight", 1.1), ("clear", 1.5)))
    assert for_and_against(Complaint({}, (slight, clear)), ["x"]) == (("clear",), ())
    found = {s.place: s.reasons for s in suspects(Answers(("dies-at-once",))).suspects}
    assert len(found["old-fuel"]) == 1  # 1.2, no reason
    assert "times 1.6" in found["pickup-line-in-tank"][0]
