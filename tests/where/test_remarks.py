"""What stands beside an answer: each warning by its own condition, and what the files tell of one engine."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Flag, MarkEffect
from leakdown.uncertainty import Interval
from leakdown.where.belonging import Belonging, _copied, _doubts, _two_volumes, belonging
from leakdown.where.evidence import DirectionResult, Evidence
from leakdown.where.knowledge import knowledge
from leakdown.where.located import MarkOutcome, Ratio, SectionShare
from leakdown.where.odds import Odds
from leakdown.where.remarks import about_belonging, not_tested, ruled_out, unclear_blanks, warnings

KNOWN = knowledge()
PLACES = KNOWN.of_circuit("crankcase")
NOTHING = Evidence("crankcase", (), (), Belonging(asked=True), None, None, None)
LEAKING, HOLDING = DirectionResult(False, 5.0, False), DirectionResult(True, 0.0, False)
BOTH = replace(NOTHING, pressure=LEAKING, vacuum=LEAKING, ratio=Ratio(1.0, 0.9, 1.1), lips="in", intake="reed")
SURE = Odds({p.place: 0.05 for p in PLACES}, {}, 1.0, {p.place: 0.05 for p in PLACES})
PASSING = (SimpleNamespace(circuit="crankcase", word="pass", lax=False, unproven=False),)


def _test(**said: Any) -> Any:
    """A stand-in for a test that was fitted."""
    given = {"gauge": None, "includes": (), "blocked": (), "extra": (), "note": "", "started": None} | said
    recording = SimpleNamespace(
        conditions=SimpleNamespace(
            **{k: given[k] for k in ("gauge", "includes", "blocked", "extra", "note", "started")}
        ),
        source=said.get("source", "a.csv"),
        time_s=said.get("time_s", np.arange(5.0)),
        pressure_pa=said.get("pressure_pa", np.arange(5.0)),
    )
    codes = said.get("codes", ())
    analysis = SimpleNamespace(
        recording=recording,
        hold=SimpleNamespace(start_pa=said.get("start_pa", -40e3)),
        flags=tuple(Flag(code, f"{code} said.") for code in codes),
        circuit=said.get("circuit", "crankcase"),
        verdict=said.get("verdict"),
        used=SimpleNamespace(volume_u_m3=SimpleNamespace(value=said.get("doubt"))),
    )
    return SimpleNamespace(
        analysis=analysis,
        has=lambda code: code in codes,
        inward=said.get("inward", False),
        volume_m3=said.get("volume_m3"),
        detected=said.get("detected", True),
        tight=not said.get("detected", True),
    )


def _codes(evidence: Evidence, odds: Odds = SURE, pressure: Any = (), vacuum: Any = (), tests: Any = ()) -> list[str]:
    return [flag.code for flag in warnings(evidence, odds, pressure, vacuum, tests)]


SEAL_LIKE = replace(BOTH, ratio=Ratio(3.0, 2.5, 3.5))
BOUND = replace(BOTH, ratio=Ratio(None, 2.0, None, at_least=2.0))
DEEP, VAPOUR = _test(start_pa=-46e3), _test(codes=("levels-off",))


_EACH_WARNING_HAS_ITS_OWN_REASON: list[Any] = [
        (BOTH, {}, []),
        (replace(BOTH, ratio=None), {}, ["one-direction"]),
        (replace(BOTH, ratio=None, circuit="fuel-line"), {}, ["one-direction"]),
        (replace(BOTH, ratio=None, circuit="carburettor-inlet"), {}, []),  # vacuum seats the needle: one is enough
        (BOTH, {"pressure": [_test(gauge="a")], "vacuum": [_test(gauge="b")]}, ["two-gauges"]),
        (BOTH, {"pressure": [_test(gauge="a")], "vacuum": [_test(gauge="a")]}, []),
        (replace(BOTH, vacuum=DirectionResult(True, 0.0, True)), {}, ["reading-rises"]),
        (replace(BOTH, ratio=Ratio(1.0, 0.9, 1.1, same_law=False)), {}, ["laws-differ"]),
        (replace(BOTH, ratio=Ratio(1.0, 0.9, 1.1, warming_log_per_k_min=1.1)), {}, ["temperature-matters"]),
        (replace(BOTH, ratio=Ratio(1.0, 0.9, 1.1, warming_log_per_k_min=0.9)), {}, []),
        (replace(BOTH, ratio=Ratio(None, 0.0, 1.0, warming_log_per_k_min=9.0)), {}, []),
        (SEAL_LIKE, {}, ["ask-dry"]),
        (BOUND, {}, ["ask-dry"]),
        (replace(BOTH, ratio=Ratio(1.4, 1.3, 1.5)), {"vacuum": [DEEP]}, []),
        (replace(SEAL_LIKE, seen=("case-dry",)), {"vacuum": [DEEP]}, ["deep-vacuum"]),
        (replace(SEAL_LIKE, seen=("case-dry",)), {"vacuum": [_test(start_pa=-44e3)]}, []),
        (replace(SEAL_LIKE, seen=("case-dry",), circuit="intake"), {"vacuum": [DEEP]}, []),
        (replace(SEAL_LIKE, seen=("case-dry",)), {"pressure": [DEEP]}, []),
        (replace(SEAL_LIKE, not_seen=("case-dry",)), {}, []),
        (replace(SEAL_LIKE, seen=("case-wet",)), {}, ["case-wet"]),
        (replace(BOTH, seen=("case-wet",)), {}, ["case-wet"]),
        (replace(BOTH, seen=("case-wet",), circuit="fuel-line"), {}, []),
        (replace(BOTH, not_seen=("case-wet",)), {}, []),
        (BOTH, {"vacuum": [VAPOUR]}, ["ask-dry"]),
        (BOTH, {"vacuum": [_test(codes=("leak-shrinks",))]}, ["ask-dry"]),
        (BOTH, {"vacuum": [_test(codes=("not-settled",))]}, ["ask-dry"]),
        (BOTH, {"vacuum": [_test(codes=("leak-grows",))]}, []),
        (BOTH, {"pressure": [VAPOUR]}, []),
        (replace(BOTH, circuit="fuel-line"), {"vacuum": [VAPOUR]}, []),
        (replace(BOTH, intake="unknown"), {}, ["ask-intake"]),
        (replace(BOTH, intake="unknown", circuit="fuel-line"), {}, []),
        (replace(BOTH, lips="unknown"), {}, ["ask-lips"]),
        (replace(BOTH, lips="unknown", circuit="intake"), {}, []),
        (replace(BOTH, lips="unknown", ratio=None), {}, ["one-direction"]),
        (replace(BOTH, lips="unknown", intake="unknown", verdicts=PASSING), {"vacuum": [VAPOUR]}, []),
        (replace(BOTH, intake="unknown", verdicts=PASSING, vacuum=None), {}, ["ask-intake"]),
    ]  # fmt: skip


def test_each_warning_has_its_own_reason() -> None:
    for case in _EACH_WARNING_HAS_ITS_OWN_REASON:
        _each_warning_has_its_own_reason(*case)


def _each_warning_has_its_own_reason(evidence: Evidence, more: dict[str, Any], codes: list[str]) -> None:
    assert _codes(evidence, **more) == codes


def test_the_figures_and_reasons_of_warnings() -> None:
    """1.1 per K/min at 0.1 K/min unseen is 11 % of the ratio."""
    (warm,) = warnings(replace(BOTH, ratio=Ratio(1.0, 0.9, 1.1, warming_log_per_k_min=1.1)), SURE, (), (), ())
    assert "11 %" in warm.text
    one = replace(BOTH, ratio=None)
    (alone,) = warnings(one, SURE, [_test()], [], ())
    (apart,) = warnings(one, SURE, [_test()], [_test()], ())
    (other,) = warnings(one, SURE, [], [_test()], ())
    assert "Only one direction was tested" in alone.text == other.text
    assert "were not tested on the same blanks, or one of them gave no size" in apart.text
    causes = replace(SURE, causes={"vapour": 0.3, "cooling": 0.6, "warming": 0.1})
    assert _codes(BOTH, causes) == ["cooling", "vapour"]
    first, other = (
        _test(codes=("step", "resolution"), source="1.csv"),
        _test(codes=("step", "fast-leak"), source="2.csv"),
    )
    passed = warnings(BOTH, SURE, (), (), (first, other))
    assert [(f.code, f.text) for f in passed] == [
        ("step", "1.csv, 2.csv: step said."), ("fast-leak", "2.csv: fast-leak said.")
    ]  # fmt: skip


DOUBT, NAMED = Flag("not-together", "Another day."), Flag("copied", "One is the other.")


_WHETHER_TESTS_BELONG_TOGETHER_IS_SAID_OR_ASKED: list[Any] = [
    (Belonging(), 0.99, None, []),
    (Belonging(), 0.5, None, ["not-together"]),
    (Belonging(doubts=(NAMED,)), 0.4, None, ["copied"]),
    (Belonging(doubts=(NAMED,)), 0.99, None, ["copied"]),
    (Belonging(doubts=(DOUBT,)), 0.99, None, ["ask-together", "not-together-perhaps"]),
    (Belonging(doubts=(DOUBT, NAMED)), 0.99, None, ["copied"]),
    (Belonging(), 0.84, None, ["ask-together"]),
    (Belonging(), 0.86, None, []),
    (Belonging(), 0.99, Ratio(3.0, 2.0, 4.0), ["ask-together"]),
    (Belonging(), 0.99, Ratio(1.0, 0.9, 1.1), []),
    (Belonging(asked=True), 0.6, Ratio(3.0, 2.0, 4.0), []),
]


def test_whether_tests_belong_together_is_said_or_asked() -> None:
    for case in _WHETHER_TESTS_BELONG_TOGETHER_IS_SAID_OR_ASKED:
        _whether_tests_belong_together_is_said_or_asked(*case)


def _whether_tests_belong_together_is_said_or_asked(
    known: Belonging, together: float, ratio: Ratio | None, codes: list[str]
) -> None:
    odds = replace(SURE, together=together)
    found = about_belonging(replace(NOTHING, belonging=known, ratio=ratio), odds)
    assert [flag.code for flag in found] == codes
    if codes == ["not-together"]:
        assert "No place and no two places" in found[0].text
        (why,) = about_belonging(replace(NOTHING, belonging=Belonging(doubts=(DOUBT, DOUBT))), odds)
        assert "Another day. Another day." in why.text
    passing = replace(NOTHING, belonging=replace(known, doubts=()), ratio=ratio, verdicts=PASSING)
    assert together <= 0.5 or about_belonging(passing, odds) == ()


RIG, BLANKS, ANGLES = "the rig alone, capped", "the blanks (reseat, soap)", "other crank positions"
WARM, PLAY = "a warm engine", "main-bearing play: a seal can hold at rest and leak at speed"


_WHAT_THESE_TESTS_CANNOT_SPEAK_ABOUT: list[Any] = [
    ({}, False, ["pressure", "vacuum", RIG, BLANKS, ANGLES, WARM, PLAY]),
    ({"pressure": LEAKING}, False, ["vacuum", RIG, BLANKS, ANGLES, WARM, PLAY]),
    ({"vacuum": LEAKING}, False, ["pressure", RIG, BLANKS, ANGLES, WARM, PLAY]),
    ({}, True, ["pressure", "vacuum", BLANKS, ANGLES, WARM, PLAY]),
    ({"seen": ("rig-tight",)}, False, ["pressure", "vacuum", BLANKS, ANGLES, WARM, PLAY]),
    ({"not_seen": ("reseat-changes",)}, False, ["pressure", "vacuum", RIG, ANGLES, WARM, PLAY]),
    ({"seen": ("bubbles-blanks",)}, False, ["pressure", "vacuum", RIG, ANGLES, WARM, PLAY]),
    ({"not_seen": ("angle-changes",)}, False, ["pressure", "vacuum", RIG, BLANKS, WARM, PLAY]),
    ({"seen": ("bearing-play",)}, False, ["pressure", "vacuum", RIG, BLANKS, ANGLES, WARM]),
    ({"circuit": "carburettor-inlet"}, False, ["pressure", RIG, BLANKS]),
    ({"circuit": "rig"}, False, ["pressure", BLANKS]),
]


def test_what_these_tests_cannot_speak_about() -> None:
    for case in _WHAT_THESE_TESTS_CANNOT_SPEAK_ABOUT:
        _what_these_tests_cannot_speak_about(*case)


def _what_these_tests_cannot_speak_about(more: dict[str, Any], rig: bool, names: list[str]) -> None:
    assert list(not_tested(replace(NOTHING, **more), rig)) == names


def test_blanks_that_name_no_part_are_asked_about() -> None:
    tests = SimpleNamespace(
        all=(_test(source="1.csv"), _test(source="2.csv")),
        inside=SimpleNamespace(blocked=(("boot", "gizmo", "doohickey"), ("boot",))),
    )
    (asked,) = unclear_blanks(tests, PLACES)
    assert asked.code == "ask-blocked" and "1.csv" in asked.text and "gizmo, doohickey" in asked.text


def _out(evidence: Evidence, by_tests: float = 0.05, chance: float = 0.0001, together: float = 1.0) -> dict[str, str]:
    names = [p.place for p in PLACES]
    odds = Odds(dict.fromkeys(names, chance), {}, together, dict.fromkeys(names, by_tests))
    return dict(ruled_out(odds, PLACES, evidence, KNOWN))


def test_why_a_place_is_out() -> None:
    """Below 1 in 100 and below a fifth of what is usual (common practice, no source), and the evidence says why."""
    differ = "the two directions differ in another way than it would make them"
    tight = "tight in both directions, cold, at this crank position"
    assert set(_out(BOTH, by_tests=0.009).values()) == {differ} and _out(BOTH, by_tests=0.01) == {}
    assert _out(replace(BOTH, ratio=None), by_tests=0.0) == {}
    assert set(_out(replace(BOTH, pressure=HOLDING, vacuum=HOLDING)).values()) == {tight}
    assert _out(replace(BOTH, pressure=HOLDING)) == {} == _out(replace(BOTH, vacuum=None, pressure=HOLDING))
    assert _out(BOTH, 0.0, together=0.5) == {} and _out(BOTH, 0.0, together=0.51)
    leaking = {p.name: p for p in PLACES if p.pattern == "leak"}
    assert set(_out(BOTH, 0.0)) == set(leaking)  # what shows as tight is never ruled out
    total = sum(p.weight["crankcase"] for p in PLACES)
    for chance in (0.002, 0.0095, 0.0101):
        wanted = {n for n, p in leaking.items() if chance <= min(0.01, 0.2 * p.weight["crankcase"] / total)}
        assert set(_out(BOTH, 0.0, chance=chance)) == wanted
    effect = MarkEffect(30.0, "boot pressed", Interval(1.0, 0.9, 1.1))
    boot = next(p for p in PLACES if "intake-boot" in (p.place, p.group))
    for touched in (boot.place, boot.group):
        mark = MarkOutcome("a", "pressure", effect, touched, False, True)
        marked = _out(replace(BOTH, marks=(mark,)))
        assert marked[boot.name].startswith("after 'boot pressed' the leak stayed as it was")
        assert set(marked) == {p.name for p in PLACES if touched in (p.place, p.group)}
        assert boot.name not in _out(replace(BOTH, marks=(replace(mark, steady=False, changed=True),)))


def test_a_section_that_carries_little_takes_its_places_out() -> None:
    def share(name: str, *highs: float) -> SectionShare:
        ways = zip(("pressure", "vacuum"), highs, strict=False)
        return SectionShare(name, tuple((way, Interval(0.5 * high, 0.0, high)) for way, high in ways))

    boot = next(p for p in PLACES if "intake-boot" in (p.place, p.group))
    for highs, out in (((0.14, 0.1), True), ((0.15,), False), ((0.1, 0.2), False), ((), False)):
        found = _out(replace(BOTH, shares=(share("boot", *highs), share("rest", 0.9))), by_tests=0.0)
        assert (boot.name in found) is out
        if out:
            assert found == {boot.name: "little of the leak goes through section 'boot'"}


def _pair(first: dict[str, Any], second: dict[str, Any], same: bool = True) -> list[tuple[float, str]]:
    found = _doubts(_test(**({"source": "1.csv"} | first)), _test(**({"source": "2.csv"} | second)), same)
    assert all("1.csv" in flag.text and "2.csv" in flag.text for _, flag in found)
    return [(factor, flag.code) for factor, flag in found]


_WHAT_SPEAKS_AGAINST_ONE_ENGINE: list[Any] = [
    ({}, {}, []),
    ({"volume_m3": 2e-4}, {"volume_m3": 2.2e-4}, [0.03]),
    ({"volume_m3": 2e-4}, {"volume_m3": 2.05e-4}, []),
    ({"volume_m3": 2e-4, "circuit": "rig"}, {"volume_m3": 3e-4}, []),
    ({"volume_m3": 2e-4}, {"volume_m3": 3e-4, "circuit": "rig"}, []),
    ({"extra": (("engine", "A"),)}, {"extra": (("engine", "B"),)}, [0.02]),
    ({"extra": (("serial", "A"),)}, {"extra": (("serial", " a "),)}, []),
    ({"extra": (("model", "A"),)}, {"extra": (("serial", "B"),)}, []),
    ({"extra": (("machine", "A"),)}, {}, []),
    ({"note": "before repair"}, {"note": "after repair"}, [0.01]),
    ({"note": "new seal"}, {}, [0.15]),
    ({}, {"note": "new seal"}, [0.15]),
    ({"note": "before"}, {}, []),
    ({"note": "new seal"}, {"note": "new seal"}, []),
    ({"note": "new seal", "circuit": "rig"}, {}, []),
    ({"started": "2026-01-01T08:00"}, {"started": "2026-01-01T16:00"}, []),
    ({"started": "2026-01-01T08:00"}, {"started": "2026-01-01T16:01"}, [0.5]),
]


def test_what_speaks_against_one_engine() -> None:
    for case in _WHAT_SPEAKS_AGAINST_ONE_ENGINE:
        _what_speaks_against_one_engine(*case)


def _what_speaks_against_one_engine(first: dict[str, Any], second: dict[str, Any], factors: list[float]) -> None:
    """The factors are the tuned table's (common practice, no source)."""
    assert [factor for factor, _ in _pair(first, second)] == factors
    odds = 0.98 / 0.02 * math.prod(factors)
    tests = [_test(source="1.csv", **first), _test(source="2.csv", **second)]
    both = belonging(tests, [frozenset("a")] * 2)
    assert both.usual == pytest.approx(odds / (1.0 + odds)) and len(both.doubts) == len(factors) and not both.asked
    if "volume_m3" in first:
        assert _pair(first, second, same=False) == []


def test_figures_of_doubts() -> None:
    day = _doubts(_test(started="2026-01-01T08:00"), _test(started="2026-01-04T07:00"), True)[0][1]
    assert "3 day(s)" in day.text
    soon = _doubts(_test(started="2026-01-01T08:00"), _test(started="2026-01-01T17:00"), True)[0][1]
    assert "1 day(s)" in soon.text
    volumes = _doubts(_test(volume_m3=2e-4), _test(volume_m3=2.5e-4), True)[0][1]
    assert "200" in volumes.text and "250" in volumes.text


def test_two_statements_of_one_volume() -> None:
    """5 % apart, or within their own doubts in quadrature: 6 % and 8 % make 10 %."""

    def two(a: Any, b: Any, first: Any = None, second: Any = None) -> bool:
        return _two_volumes(_test(volume_m3=a, doubt=first), _test(volume_m3=b, doubt=second))

    assert two(1e-4, 1.06e-4) and two(1.06e-4, 1e-4) and not two(1e-4, 1.04e-4)
    assert not two(1e-4, 1.1e-4, 0.06e-4, 0.088e-4) and two(1e-4, 1.12e-4, 0.06e-4, 0.088e-4)
    assert not two(None, 1e-4) and not two(1e-4, None) and not two(0.0, 1e-4)


def test_what_was_said_and_what_no_answer_removes() -> None:
    apart = [frozenset("a")] * 2
    tests = [_test(source="1.csv", volume_m3=2e-4), _test(source="2.csv", volume_m3=3e-4, inward=True)]
    assert belonging(tests[:1], apart[:1]) == Belonging() and belonging(tests[:1], apart[:1], "yes").asked
    no = belonging(tests, apart, "no")
    assert (no.usual, no.most, no.asked) == (0.02, 1.0, True) and len(no.doubts) == 1
    named = belonging(tests, apart, "yes")  # two volumes stand in the files, whatever is said
    odds = 0.995 / 0.005 * 0.03
    assert named.usual == pytest.approx(odds / (1.0 + odds)) and named.most == 0.5 and named.asked
    new = [_test(source="1.csv", note="new seal"), _test(source="2.csv", inward=True)]
    assert belonging(new, apart, "yes") == Belonging(pytest.approx(0.995), 1.0, (), True)
    sections = [frozenset("a"), frozenset("b")]
    shut = [_test(source="1.csv"), _test(source="2.csv", inward=True, detected=False)]
    assert belonging(shut, apart).most == 0.79 and belonging(shut, apart, "yes").most == 1.0
    assert belonging(shut, sections).most == 1.0
    leaking = [_test(source="1.csv"), _test(source="2.csv", inward=True)]
    far, near = Ratio(3.0, 2.0, 4.0), Ratio(1.0, 0.9, 1.1)
    assert belonging(leaking, apart, None, far).most == 0.79 and belonging(leaking, apart, None, near).most == 1.0
    assert belonging(leaking, sections, None, far).most == 1.0 and belonging(leaking, apart, None, None).most == 1.0
    rig = [*leaking, _test(source="3.csv", circuit="rig")]
    assert belonging(rig, [*apart, frozenset("r")], None, far).most == 0.79


def test_a_doubt_that_several_pairs_share_counts_once_and_at_its_worst() -> None:
    three = [_test(source="x.csv", note=note) for note in ("before", "after", "after")]
    odds = 0.98 / 0.02 * 0.01
    found = belonging(three, [frozenset("a")] * 3)
    assert found.usual == pytest.approx(odds / (1.0 + odds)) and len(found.doubts) == 1


def test_one_file_with_the_other_s_readings() -> None:
    """Turned about and scaled they stay one; two holds that scatter by themselves are two."""
    t = np.arange(12.0)
    rng = np.random.default_rng(5)
    p = 40e3 * np.exp(-t / 30.0) + rng.normal(0.0, 100.0, t.size)
    other = 40e3 * np.exp(-t / 30.0) + rng.normal(0.0, 100.0, t.size)

    def copy(q: Any, s: Any = t, inward: bool = True, first: Any = p, at: Any = t) -> bool:
        return _copied(_test(pressure_pa=first, time_s=at), _test(pressure_pa=q, time_s=s, inward=inward))

    assert copy(-p) and copy(-1.2 * p) and copy(-p, t + 7.0) and copy(-p + rng.normal(0.0, 20.0, t.size))
    assert not copy(-other) and not copy(-p, inward=False) and not copy(-p, 1.01 * t) and not copy(-p[:-1], t[:-1])
    assert not copy(-p[:5], t[:5], first=p[:5], at=t[:5])
    assert copy(-p[:8], t[:8], first=p[:8], at=t[:8])  # eight readings bend six times
    assert not copy(-p[:7], t[:7], first=p[:7], at=t[:7])
    even = 40e3 - 100.0 * t
    assert not copy(-even, first=even) and not copy(-np.round(even, -3), first=np.full(12, 40e3))
