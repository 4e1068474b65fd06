"""How each kind of evidence weighs, and when it is said: the numbers that no formula gives, one by one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import MarkEffect
from leakdown.judge.analyse import fitted
from leakdown.recording import Recording
from leakdown.uncertainty import Interval
from leakdown.where.answers import Answers, EngineFacts
from leakdown.where.belonging import Belonging
from leakdown.where.compare import _word, compare
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.directional import one_volume
from leakdown.where.evidence import DirectionResult, Evidence, factor_of_finding
from leakdown.where.knowledge import NO_LEAK, knowledge
from leakdown.where.locate import locate_fitted
from leakdown.where.located import Answer, Complaint, Group, Located, MarkOutcome, Ratio, SectionShare, for_and_against
from leakdown.where.measured import Measured, hole_like, measured
from leakdown.where.next_test import Priced, Repairs, cheapest
from leakdown.where.odds import Odds, place_odds
from leakdown.where.reasons import headline, reasons
from leakdown.where.remarks import ruled_out, warnings
from leakdown.where.sections import _volumes
from leakdown.where.suspects import next_question, suspects
from tests.where.engines import Engine, Leak, fitted_once, run
from tests.workshop.engines import drawn
from tests.workshop.strange import cooled, copied, mismeasured, wet

KNOWN = knowledge()
PLACES = KNOWN.of_circuit("crankcase")
NOTHING = Evidence("crankcase", (), (), Belonging(), None, None, None)
LEAKING, HOLDING = DirectionResult(False, 5.0, False), DirectionResult(True, 0.0, False)
BOTH = replace(NOTHING, pressure=LEAKING, vacuum=LEAKING)
FIXED = replace(BOTH, ratio=Ratio(1.0, 0.95, 1.05))
SURE = Odds({p.place: 0.05 for p in PLACES}, {}, 1.0, {})


def _test(loss: float, inward: bool = False, **other: object) -> Measured:
    """A test that lost this (Pa/s), to 5 %; one that lost nothing would have seen 3."""
    tight = loss == 0.0
    sd = max(0.05 * loss, 1.0)
    warming = (1.0 if inward else -1.0) * 7.5
    below = np.inf if tight else sd
    plain = Measured("p", inward, frozenset(), loss, below, sd, 1.0, 1.0, 0.5, False, warming, tight, False)
    return replace(plain, **other)  # type: ignore[arg-type]


def _evidence(*tests: Measured, **other: object) -> Evidence:
    """What these tests of a crankcase show."""
    ways = {}
    for inward, name in ((False, "pressure"), (True, "vacuum")):
        own = [t for t in tests if t.inward is inward]
        if own:
            ways[name] = HOLDING if all(t.tight for t in own) else LEAKING
    belonging = Belonging(0.98) if len(tests) > 1 else Belonging()
    return replace(NOTHING, tests=tests, belonging=belonging, **ways, **other)  # type: ignore[arg-type]


def _groups(evidence: Evidence) -> dict[str, float]:
    odds = place_odds(evidence, KNOWN).places
    return {g: sum(odds[p.place] for p in PLACES if p.group == g) for g in {p.group for p in PLACES}}


def _reasons(group: str, evidence: Evidence) -> str:
    return "; ".join(reasons(group, PLACES, evidence, KNOWN, place_odds(evidence, KNOWN)))


def _shares(**parts: float) -> tuple[SectionShare, ...]:
    return tuple(
        SectionShare(name, (("pressure", Interval(v, max(v - 0.02, 0.0), v + 0.02)),)) for name, v in parts.items()
    )


def _located(*logs: Recording, **facts: Any) -> tuple[Located, list[str]]:
    found = locate_fitted([fitted_once(log) for log in logs], EngineFacts(**facts))
    return found, [flag.code for flag in found.warnings]


@cache
def _honest(seed: int) -> tuple[Recording, Recording]:
    """Both tests of one engine as it stood."""
    engine = drawn(seed)
    return engine.hold(False), engine.hold(True)


# ---------------------------------------------------------------- ratio and change


@pytest.mark.slow
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


# ---------------------------------------------------------------- what one test says


def _hole(value: float, low: float, high: float) -> float:
    leak = SimpleNamespace(viscous_share=Interval(value, low, high))
    one: Any = SimpleNamespace(analysis=SimpleNamespace(leak=leak))
    return hole_like(one)


def test_the_flow_law_counts_as_far_as_it_is_known() -> None:
    assert _hole(0.2, 0.0, 1.0) == 0.5  # not told
    assert _hole(0.4, 0.2, 0.6) == pytest.approx(0.75, abs=0.02)  # one sigma below one half
    assert _hole(0.1, 0.0, 0.2) == 1.0 and _hole(0.9, 0.8, 1.0) == 0.0
    assert _hole(0.45, 0.449, 0.451) == pytest.approx(0.75)  # never surer than its least sigma


def test_marks_weigh_by_what_the_leak_did() -> None:
    boot = next(p for p in PLACES if p.place == "intake-boot")

    def factor(low: float, high: float, changed: bool, steady: bool) -> float:
        effect = MarkEffect(30.0, "boot", Interval(0.5 * (low + high), low, high))
        marks = (MarkOutcome("", "pressure", effect, "intake-boot", changed, steady),)
        return factor_of_finding(boot, replace(NOTHING, marks=marks), KNOWN)

    stopped, changed, steady = factor(0.1, 0.4, True, False), factor(0.5, 0.8, True, False), 0.35
    assert KNOWN.numbers["cluster_cap"] >= stopped > 2.0 * changed > 10.0
    assert factor(0.9, 1.1, False, True) == pytest.approx(steady, abs=0.1)
    assert factor(0.6, 1.5, False, False) == 1.0


def test_repeats_scatter() -> None:
    test = fitted(run(Engine((Leak(400.0, 0.4),)), np.random.default_rng(1), 1.0))
    found = measured([test], [frozenset()])[0]
    assert 0.06 < found.below / found.loss < 0.12  # the fit alone knows it to 1 %


# ---------------------------------------------------------------- odds of places


def test_one_strange_test_does_not_decide() -> None:
    plain = _evidence(_test(200.0), _test(200.0, True), _test(210.0, True))
    strange = _evidence(_test(200.0), _test(200.0, True), _test(2000.0, True))
    assert _test(200.0).fits(np.array([2000.0]), 0.003)[0] == pytest.approx(0.003)
    assert _groups(strange)["shaft-seal"] < 0.6  # one in three says ten times as much as its twin
    assert place_odds(strange, KNOWN).together < 0.5 < place_odds(plain, KNOWN).together


def test_hole_or_weep_is_weak_evidence() -> None:
    def boot_over_seal(sure_hole: float) -> float:
        groups = _groups(_evidence(_test(200.0, hole_like=sure_hole), _test(200.0, True, hole_like=sure_hole)))
        return groups["intake-boot"] / groups["shaft-seal"]

    assert 1.3 < boot_over_seal(1.0) / boot_over_seal(0.0) < 8.0


def test_a_small_loss_may_be_no_leak_and_a_large_one_may_not() -> None:
    def no_leak(loss: float) -> float:
        return _groups(_evidence(_test(loss), _test(loss, True)))[NO_LEAK]

    assert no_leak(2.0) > 0.5 > 0.1 > no_leak(117.0) > no_leak(300.0)  # 7 kPa in 60 s is 117 Pa/s


def test_a_leak_that_one_direction_shuts_is_no_matter_of_degree() -> None:
    of = {loss: _groups(_evidence(_test(0.0), _test(loss, True))) for loss in (60.0, 200.0, 600.0)}
    for groups in of.values():
        assert groups["shaft-seal"] + groups["intake-boot"] > 5.0 * groups["gasket-or-joint"]
    shares = [groups["shaft-seal"] / (1.0 - groups[NO_LEAK]) for groups in of.values()]
    assert max(shares) < 1.3 * min(shares)


def test_a_failed_test_needs_a_reason() -> None:
    assert _groups(_evidence(_test(300.0), _test(300.0, True)))[NO_LEAK] < 0.01  # nothing cools and warms at once


def test_a_blocked_leak_leaves_a_little() -> None:
    def boot(left: float) -> float:
        whole, part = frozenset(("boot", "case")), frozenset(("case",))
        tests = (_test(200.0, inside=whole), _test(left, inside=part))
        return _groups(_evidence(*tests, sections=("boot", "case"), intake="piston-port"))["intake-boot"]

    assert boot(0.0) > 0.85 and boot(4.0) > 0.8 and boot(190.0) < 0.1


def test_the_order_of_the_tests_does_not_matter() -> None:
    tests = (_test(200.0), _test(90.0, True), _test(220.0))
    one, other = (place_odds(_evidence(*order), KNOWN).places for order in (tests, tests[::-1]))
    assert one == pytest.approx(other, rel=1e-9)


# ---------------------------------------------------------------- disturbances


@pytest.mark.slow
def test_cooling_is_named() -> None:
    found, codes = _located(*cooled(1000)[1])
    assert "cooling" in codes and found.groups[0].group == NO_LEAK and found.next_test.id == "repeat"
    _, codes = _located(*_honest(1000))  # its walls drift 0.05 K/min
    assert not {"cooling", "warming"} & set(codes)
    tests = _test(12.0), _test(-11.0, True)  # 1.5 K/min: a cooling pressure test loses, a vacuum test gains
    assert (
        place_odds(_evidence(*tests), KNOWN).causes["cooling"]
        > 0.2
        > 0.05
        > place_odds(_evidence(_test(400.0), _test(-390.0, True)), KNOWN).causes["cooling"]
    )  # no engine cools by 50 K/min


@pytest.mark.slow
def test_vapour_is_named() -> None:
    found, codes = _located(*wet(1000)[1])
    assert "vapour" in codes and found.groups[0].group == NO_LEAK and found.next_test.id == "dry"
    gave = _evidence(_test(0.0), _test(60.0, True, gave_back=True))
    kept = _evidence(_test(0.0), _test(60.0, True))
    much = _evidence(_test(0.0), _test(900.0, True))
    gave_odds, kept_odds, much_odds = (place_odds(e, KNOWN).causes["vapour"] for e in (gave, kept, much))
    assert gave_odds / (1.0 - gave_odds) > 4.0 * kept_odds / (1.0 - kept_odds) and much_odds < 0.1 * gave_odds
    all_settling = replace(_test(0.0, True, gave_back=True), loss=0.0, above=3.7)  # the fit took all of it for settling
    assert place_odds(_evidence(_test(0.0), all_settling), KNOWN).likely_cause == "vapour"


# ---------------------------------------------------------------- tests that belong together


def test_a_shut_direction_is_asked_about() -> None:
    engine = Engine((Leak(400.0, 0.9, ratio=60.0),))
    rng = np.random.default_rng(3)
    small = Engine((Leak(0.5, 0.9),))
    tests = run(small, rng, 1.0), run(engine, rng, -1.0)
    found, codes = _located(*tests)
    assert "ask-together" in codes and found.together.probability <= 0.8
    assert max(p.probability for p in found.places) <= 0.8
    assert found.next_test.do.startswith("First:") and found.next_test.enter[0].what == "same-setup"
    found, codes = _located(*tests, seen=("same-setup",))
    assert "ask-together" not in codes and found.together.probability > 0.8


@pytest.mark.slow
def test_strangers_are_told() -> None:
    one, two = _honest(1003)

    def said(**changes: Any) -> tuple[Located, list[str]]:
        return _located(one, replace(two, conditions=replace(two.conditions, **changes)))

    usual = said()[0].together.probability
    assert usual > 0.5
    no, codes = _located(one, two, not_seen=("same-setup",))
    assert "not-together" in codes and no.together.probability < 0.2 and no.next_test.id == "repeat"
    first = replace(one, conditions=replace(one.conditions, extra=(("engine", "A-1"),), started="2026-03-02 10:00"))
    for changes, sure in (
        ({"extra": (("engine", "B-2"),)}, True),
        ({"started": "2026-03-09 10:00"}, False),
        ({"note": "after the new seals"}, False),
    ):
        found, codes = _located(first, replace(two, conditions=replace(two.conditions, **changes)))
        assert found.together.probability <= (0.5 if sure else usual)
        assert ("not-together" in codes) is sure or "ask-together" in codes
        assert ("ask-together" in codes) or sure
    later = replace(two, conditions=replace(two.conditions, extra=(("stage", "after"),)))
    found, codes = _located(replace(one, conditions=replace(one.conditions, extra=(("stage", "before"),))), later)
    assert "not-together" in codes and found.together.probability < 0.5
    # readings alone: a tight case cannot leak more without its boot than with it
    whole, part = frozenset(("boot", "case")), frozenset(("case",))
    tests = (_test(100.0, inside=whole), _test(900.0, inside=part))
    assert place_odds(_evidence(*tests, sections=("boot", "case")), KNOWN).together < 0.5


@pytest.mark.slow
def test_a_copy_is_named() -> None:
    found, codes = _located(*copied(1000)[1])
    assert "copied" in codes and found.together.probability <= 0.5
    one, two = _honest(1000)
    assert "copied" not in _located(one, two)[1]
    n = min(one.time_s.size, two.time_s.size)  # one scatter on two decays is no copy
    scatter = one.pressure_pa[:n] - np.poly1d(np.polyfit(one.time_s[:n], one.pressure_pa[:n], 6))(one.time_s[:n])
    smooth = np.poly1d(np.polyfit(two.time_s[:n], two.pressure_pa[:n], 6))(two.time_s[:n])
    same = replace(two, time_s=one.time_s[:n], pressure_pa=smooth - scatter)
    first = replace(one, time_s=one.time_s[:n], pressure_pa=one.pressure_pa[:n])
    assert "copied" not in _located(first, same)[1]


def test_two_volumes_are_named() -> None:
    found, codes = _located(*mismeasured(1000)[1])
    assert "two-volumes" in codes and found.together.probability <= 0.5
    one, two = _honest(1000)
    near = replace(two, conditions=replace(two.conditions, volume_m3=1.03 * (two.conditions.volume_m3 or 0.0)))
    assert "two-volumes" not in _located(one, near)[1]


# ---------------------------------------------------------------- words


def test_the_headline_is_as_sure_as_the_odds() -> None:
    def said(first: float) -> str:
        pair = (Group("shaft-seal", "shaft seal", first, ()), Group("other", "others", 1 - first, ()))
        return headline(pair, FIXED, SURE).split(" the ")[0].split(":")[0]

    assert [said(p) for p in (0.9, 0.8, 0.55, 0.45)] == [
        "Consistent with", "Most consistent with", "Most consistent with", "Cannot tell yet",
    ]  # fmt: skip


def test_two_leaking_sections_are_in_the_headline() -> None:
    groups = (Group("other", "others", 0.9, ()), Group("shaft-seal", "shaft seal", 0.1, ()))
    two, one = (headline(groups, replace(FIXED, shares=_shares(boot=b, case=1 - b)), SURE) for b in (0.25, 0.1))
    assert two.endswith("More than one section leaks: boot up to 25 %; case up to 75 %.")
    assert "section" not in one


def test_a_ratio_near_one_is_a_fixed_hole() -> None:
    for ratio, fixed in ((0.6, False), (0.8, True), (1.3, True), (1.6, False)):
        words = _reasons("shaft-seal", replace(BOTH, ratio=Ratio(ratio, 0.97 * ratio, 1.03 * ratio)))
        assert ("outside diameter" in words) is fixed
        asked = warnings(replace(FIXED, ratio=Ratio(ratio, ratio, ratio)), SURE, (), (), ())
        assert ("ask-dry" in [flag.code for flag in asked]) is (ratio > 1.4)


def test_the_decay_is_named_only_when_it_is_clear() -> None:
    for sure, named in ((0.95, True), (0.8, False)):
        tests = (_test(200.0, hole_like=sure), _test(200.0, True, hole_like=sure))
        assert ("a hole's" in _reasons("intake-boot", _evidence(*tests))) is named
    tests = (_test(200.0, hole_like=1.0), _test(200.0, True, hole_like=1.0))
    assert "a hole's" not in _reasons("gasket-or-joint", _evidence(*tests))


def test_a_small_leak_minds_the_temperature() -> None:
    for shift, minds in ((0.8, False), (1.5, True)):
        flags = warnings(replace(BOTH, ratio=Ratio(1.0, 0.9, 1.1, warming_log_per_k_min=shift)), SURE, (), (), ())
        assert ("temperature-matters" in [flag.code for flag in flags]) is minds


def test_a_deep_vacuum_is_said_to_lift_lips() -> None:
    for start_pa, deep in ((-48e3, True), (-40e3, False)):
        test: Any = fitted(run(Engine((Leak(300.0, 0.5),)), np.random.default_rng(1), -1.0, start_pa=-start_pa))
        flags = warnings(replace(BOTH, ratio=Ratio(3.0, 2.9, 3.1)), SURE, (), [test], ())
        assert ("deep-vacuum" in [flag.code for flag in flags]) is deep


def test_only_evidence_rules_a_place_out() -> None:
    def out(evidence: Evidence) -> dict[str, str]:
        return dict(ruled_out(place_odds(evidence, KNOWN), PLACES, evidence, KNOWN))

    assert out(NOTHING) == {}  # rare places are not ruled out by being rare
    seen = replace(FIXED, seen=("no-decompression",), not_seen=("bubbles-base",))
    assert out(seen)["decompression valve"] == "by what was seen" and "base gasket" not in out(seen)
    seal_like = out(
        _evidence(*(_test(loss, loss > 300.0) for loss in (50.0, 51.0, 400.0, 404.0)), ratio=Ratio(8.0, 7.9, 8.1))
    )
    assert "the two directions differ in another way than it would make them" in seal_like.values()
    tight = replace(BOTH, pressure=HOLDING, vacuum=HOLDING)
    for place, share, gone in (("seal-drive-side", 0.02, False), ("seal-drive-side", 0.005, True),
                               ("crack", 0.006, False), ("crack", 0.0015, True)):  # fmt: skip
        odds = {p.place: share if p.place == place else 0.5 for p in PLACES}  # usual: a tenth and a hundredth or so
        assert bool(ruled_out(Odds(odds, {}, 1.0, odds), PLACES, tight, KNOWN)) is gone


def test_a_section_that_carries_little_is_ruled_out() -> None:
    def out(boot: float) -> list[str]:
        evidence = replace(FIXED, shares=_shares(boot=boot, case=1.0 - boot))
        odds = dict.fromkeys((p.place for p in PLACES), 1e-4)
        return [name for name, _ in ruled_out(Odds(odds, {}, 1.0, odds), PLACES, evidence, KNOWN) if "boot" in name]

    assert out(0.05) and not out(0.2)


# ---------------------------------------------------------------- sections


def test_a_blanked_test_without_a_volume_is_the_smaller_one() -> None:
    rng = np.random.default_rng(1)
    tests = [fitted(run(Engine((Leak(300.0, 0.5),)), rng, 1.0, volume_m3=None)) for _ in range(2)]
    volume, _ = _volumes(tests, [frozenset(("boot", "case")), frozenset(("case",))])
    assert 0.75 < volume[1] / volume[0] < 0.95  # 5 to 25 % is what blanking a boot takes away


# ---------------------------------------------------------------- next steps and suspects


def _told_apart(minutes: float, chance: float) -> tuple[Any, np.ndarray]:
    """A test of the seals against everything else: found, or not."""
    found = np.array([chance if p.group == "shaft-seal" else 0.0 for p in PLACES])
    test = replace(KNOWN.tests[0], id=f"{minutes}", minutes=minutes)
    return Priced(test, minutes, 0.0, False), np.stack((found, 1.0 - found), axis=1)


@cache
def _of_a_fixed_hole() -> Odds:
    return place_odds(FIXED, KNOWN)


def _best(*tests: tuple[Any, np.ndarray]) -> float | None:
    now = np.array([_of_a_fixed_hole().places[p.place] for p in PLACES])
    found = cheapest(now, dict(tests), Repairs.of(PLACES, KNOWN))
    return None if found is None else found.minutes


def test_short_tests_do_not_win_by_being_short() -> None:
    assert _best(_told_apart(3.0, 0.95), _told_apart(60.0, 1.0)) == 3.0


def test_nothing_is_proposed_when_nothing_would_tell() -> None:
    assert _best(_told_apart(1.0, 0.02)) is None
    assert _best(_told_apart(1.0, 0.5)) == 1.0


def test_questions_go_on_while_they_tell() -> None:
    answers, known = Answers(), complaint_knowledge()
    while question := next_question(answers, known):
        answers = answers.and_(question.id, False)
    assert 20 <= len(answers.not_seen) <= 34


def test_only_what_moves_the_odds_is_a_reason() -> None:
    slight, clear = (Answer(name, True, name, {"x": f}) for name, f in (("slight", 1.1), ("clear", 1.5)))
    assert for_and_against(Complaint({}, (slight, clear)), ["x"]) == (("clear",), ())
    found = {s.place: s.reasons for s in suspects(Answers(("dies-at-once",))).suspects}
    assert len(found["old-fuel"]) == 1  # 1.2, no reason
    assert found["pickup-line-in-tank"][0].endswith("speaks for it")
    strong = {s.place: s.reasons for s in suspects(Answers(("floods",))).suspects}
    assert strong["inlet-needle"][0].endswith("speaks strongly for it")
