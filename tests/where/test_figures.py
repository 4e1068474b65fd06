"""The figures that locating works with, by hand: losses, volumes, shares, what a question is worth."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import MarkEffect
from leakdown.errors import UsageError
from leakdown.recording import Recording
from leakdown.uncertainty import Interval
from leakdown.where import locate as locating
from leakdown.where.answers import (
    Answers,
    EngineFacts,
    all_observations,
    check_engine,
    checked_for_suspects,
    complaint_name,
    fact_name,
    for_suspects,
    sorted_answers,
)
from leakdown.where.compare import _bounds as change_bounds
from leakdown.where.compare import _check_comparable, _flags, _verdict, compare_fitted
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.directional import (
    _bounded,
    _lip_doubt,
    _moving_doubt,
    directional,
    other_laws,
    unshared_doubt,
    volume_scale,
)
from leakdown.where.knowledge import KnownPlace, knowledge
from leakdown.where.located import MarkOutcome, Ratio, TestVerdict
from leakdown.where.measured import _gave_back, _measured, _moving, _volumes, measured
from leakdown.where.sections import _groups, _named, _share, _sizes, _solve, _tangled, section_shares
from leakdown.where.sections import _volumes as section_volumes
from leakdown.where.stories import CASES, SIZES, Bench, names, section_of
from leakdown.where.suspects import (
    _before_all,
    _gain,
    _plain,
    _reasons,
    _speaks,
    _worth_of_question,
    information,
    probabilities,
    questions,
)
from leakdown.where.tests import RIG, contents, plain_name, sort_tests
from tests.where.test_remarks import _test

Z = 1.959963984540054


def _sized(rate: Interval, **said: Any) -> Any:
    """A stand-in for a fitted test with a size; the model is a vacuum's or a pressure's at 35 kPa."""
    one = _test(**({"detected": rate.value is not None} | said))
    weep, hole = (0.5, 0.8) if one.inward else (1.0, 1.0)  # what one fixed leak passes

    def leak(_: Any) -> Any:
        return SimpleNamespace(viscous=1.0 / weep, orifice=1.0 / hole)

    model = SimpleNamespace(
        ambient_pa=101e3, sign=-1.0 if one.inward else 1.0, quote_pa=35e3, inward=one.inward, leak=leak
    )
    one.found = SimpleNamespace(model=model)
    one.rate_pa_s = rate
    one.analysis.leak = SimpleNamespace(viscous_share=None) if said.get("leak", True) else None
    one.analysis.used.temperature_k = SimpleNamespace(value=said.get("temperature_k", 300.0))
    one.analysis.hold = SimpleNamespace(start_pa=-40e3, end_pa=-20e3, start_s=10.0, end_s=60.0)
    return one


def _figures(one: Any, volume: float = 1.0, doubt: float = 0.0) -> Any:
    return _measured(one, frozenset("a"), one.found.model, volume, doubt)


def test_a_loss_and_its_doubts() -> None:
    """(value - low)/1.96 and (high - value)/1.96, each with 8 % of the value in quadrature (common practice)."""
    found = _figures(_sized(Interval(100.0, 90.0, 130.0)), 2.0, 0.06)
    scatter = math.hypot(0.08, 0.06) * 100.0
    assert found.loss == 200.0 and found.warming == pytest.approx(-2.0 * 136e3 / 60.0 / 300.0)
    assert found.below == pytest.approx(2.0 * math.hypot(10.0 / Z, scatter))
    assert found.above == pytest.approx(2.0 * math.hypot(30.0 / Z, scatter))
    assert (found.weep, found.hole, found.hole_like) == (1.0, 1.0, 0.5)
    vacuum = _sized(Interval(100.0, 90.0, 130.0), inward=True)
    second = _measured(vacuum, A, _sized(RATE).found.model, 1.0, 0.0)
    assert (second.weep, second.hole) == (0.5, 0.8)
    assert not (found.tight or found.of_rig or found.inward or found.gave_back)
    tight = _figures(_sized(Interval(None, 0.0, 10.0), circuit=RIG, inward=True, temperature_k=None))
    assert tight.loss == 0.0 and tight.below == math.inf and tight.above == pytest.approx(10.0 / Z)
    assert tight.tight and tight.of_rig and tight.inward
    assert tight.warming == pytest.approx(66e3 / 60.0 / 293.15)


def test_which_tests_are_measured_and_against_which() -> None:
    """What one fixed leak passes is told over the first test; one without a leak's fit is left out."""
    out, into = _sized(RATE, source="1"), _sized(RATE, source="2", inward=True)
    first, second = measured([out, into], [A, AB])
    assert [(one.source, one.inside) for one in (first, second)] == [("1", A), ("2", AB)]
    assert (first.weep, first.hole, second.weep, second.hole) == (1.0, 1.0, 0.5, 0.8)
    none = _sized(RATE, leak=False)
    assert measured([none, out], [A, AB]) == (first_alone := measured([out], [AB])) and len(first_alone) == 1
    assert measured([none], [A]) == () == measured([], [])


def test_a_leak_that_moves_with_the_pressure() -> None:
    """From 40 to 20 kPa in 50 s is 35e3 ln 2 / 50 = 485 Pa/s over all: between that and the fit's the middle."""
    over_all = 35e3 * math.log(2.0) / 50.0
    moving = _sized(Interval(100.0, 90.0, 130.0), codes=("leak-grows",))
    centre = math.sqrt(90.0 * over_all)
    assert _moving(moving) == pytest.approx((centre, (centre - 90.0) / Z, (over_all - centre) / Z))
    assert _figures(moving).loss == pytest.approx(centre)
    assert _moving_doubt(moving) == pytest.approx(math.log(over_all / 100.0))
    faster = _sized(Interval(2.0 * over_all, 900.0, 1100.0), codes=("leak-grows",))
    assert _moving_doubt(faster) == pytest.approx(math.log(2.0))
    assert _moving_doubt(_sized(Interval(100.0, 90.0, 130.0))) == 0.0
    assert _moving_doubt(_sized(Interval(None, 0.0, 130.0), codes=("leak-grows",))) == 0.0


@pytest.mark.parametrize(
    ("rate", "codes", "gave"),
    [(100.0, ("creep",), True), (100.0, (), False), (369.0, ("levels-off",), True), (371.0, ("levels-off",), False),
     (100.0, ("not-settled",), True), (100.0, ("leak-grows",), False)],
)  # fmt: skip
def test_what_was_given_back_at_first(rate: float, codes: tuple[str, ...], gave: bool) -> None:
    """20 kPa lost, the leak's part of it over 50 s taken off: more than 1.5 kPa has to be left (practice)."""
    assert _gave_back(_sized(Interval(rate, 0.0, 2.0 * rate), codes=codes)) is gave


@pytest.mark.parametrize(("end_pa", "gave"), [(-38.5e3, False), (-38.49e3, True)])
def test_what_was_given_back_where_nothing_leaks(end_pa: float, gave: bool) -> None:
    """All of what was lost, and more than 1.5 kPa."""
    one = _sized(Interval(None, 0.0, 5.0), codes=("creep",))
    one.analysis.hold.end_pa = end_pa
    assert _gave_back(one) is gave


A, AB, B = frozenset("a"), frozenset("ab"), frozenset("b")
RATE = Interval(100.0, 90.0, 110.0)


def test_volumes_over_the_first_test_s() -> None:
    """Same sections have one volume, the mean of what is stated; a blanked one without is 0.87 to 10 % (practice)."""

    def volumes(*rows: tuple[frozenset[str], float | None, float | None]) -> Any:
        return _volumes([(_sized(RATE, volume_m3=v, doubt=u), s) for s, v, u in rows])

    assert volumes((AB, None, None), (AB, None, None)) == ([1.0, 1.0], [0.0, 0.0])
    assert volumes((AB, 2e-4, 1e-5), (AB, 2e-4, None)) == ([1.0, 1.0], [0.0, 0.0])
    found, doubts = volumes((AB, 2e-4, 1e-5), (A, 1e-4, None))
    assert found == [1.0, 0.5] and doubts == pytest.approx([0.05 / Z, 0.0])
    found, doubts = volumes((AB, 2e-4, None), (A, None, None), (AB, 3e-4, None))
    assert found == pytest.approx([1.0, 0.87, 1.0]) and doubts == [0.0, 0.10, 0.0]
    assert volumes((A, None, None), (AB, None, None)) == ([0.87, 1.0], [0.10, 0.0])
    assert volumes((A, None, None), (AB, 2e-4, None)) == ([0.87, 1.0], [0.10, 0.0])
    assert volumes((AB, None, None), (A, 1e-4, None)) == ([1.0, 1.0], [0.10, 0.0])


def test_volumes_of_sections() -> None:
    def volumes(*rows: tuple[frozenset[str], float | None, float | None]) -> Any:
        found = section_volumes([_sized(RATE, volume_m3=v, doubt=u) for _, v, u in rows], [s for s, _, _ in rows])
        return [part.tolist() for part in found]

    assert volumes((AB, None, None), (A, None, None)) == [[1.0, 0.87], [0.0, 0.10]]
    assert volumes((AB, None, None), (A, 1e-4, None)) == [[1e-4, 1e-4], [0.10, 0.0]]
    found, doubts = volumes((AB, 2e-4, 1e-5), (A, 1e-4, 2e-6))
    assert found == [2e-4, 1e-4] and doubts == pytest.approx([0.05 / Z, 0.02 / Z])


def test_sizes_of_tests_and_what_they_share() -> None:
    """Each its own variance; tests of the same sections and volume share the volume's."""
    tests = [
        _sized(Interval(100.0, 90.0, 110.0), volume_m3=2e-4, doubt=1e-5),
        _sized(Interval(50.0, 40.0, 60.0), volume_m3=2e-4, doubt=1e-5),
        _sized(Interval(None, 0.0, 20.0), volume_m3=1e-4),
    ]
    size, covariance = _sizes(tests, [AB, AB, A])
    assert size == pytest.approx([0.02, 0.01, 0.0])
    own = np.array([10.0 / Z * 2e-4, 10.0 / Z * 2e-4, 20.0 / Z * 1e-4]) ** 2
    shared = np.array([0.02, 0.01]) * 0.05 / Z
    assert np.diag(covariance) == pytest.approx(own + np.array([*shared**2, 0.0]))
    assert covariance[0, 1] == pytest.approx(shared[0] * shared[1]) and covariance[0, 2] == covariance[1, 2] == 0.0
    other = _sizes([tests[0], _sized(RATE, volume_m3=1.9e-4, doubt=1e-5)], [AB, AB])[1]
    assert other[0, 1] == 0.0


def test_shares_of_sections_that_can_and_cannot_be_told_apart() -> None:
    whole, blanked = _sized(RATE, volume_m3=2e-4), _sized(Interval(40.0, 38.0, 42.0), volume_m3=2e-4)
    boot, rest = _solve([(whole, AB), (blanked, B)], ("a", "b"))
    assert boot.own.value == pytest.approx(0.6, abs=1e-6) and rest.own.value == pytest.approx(0.4, abs=1e-6)
    assert boot.among == (0,) and boot.together == boot.own and boot.own.low < 0.6 < boot.own.high
    three = _solve([(whole, frozenset("abc")), (blanked, frozenset("c"))], ("a", "b", "c"))
    assert [s.among for s in three] == [(0, 1), (0, 1), (2,)] and three[0].own.value is None
    assert three[0].together.value == pytest.approx(0.6, abs=1e-6) and three[0].own.low == 0.0
    assert three[0].own.high == three[0].together.high
    cross = [(whole, frozenset("ab")), (whole, frozenset("cd")), (blanked, frozenset("ac")), (whole, frozenset("bd"))]
    tangled = _solve(cross, ("a", "b", "c", "d"))
    assert len(tangled) == 4 and all(s.own.value is None and 0.0 <= s.own.low <= s.own.high <= 1.0 for s in tangled)
    assert all(s.together.high == pytest.approx(1.0) for s in tangled)
    named = _named(0, ("a", "b", "c"), {"pressure": three})
    assert (named.section, named.separable, named.with_) == ("a", False, ("b",)) and named.told == named.together
    alone = _named(2, ("a", "b", "c"), {"pressure": three, "vacuum": three})
    assert alone.separable and alone.with_ == () and alone.together == () and len(alone.shares) == 2
    assert [share.section for share in (named, alone)] == ["a", "c"] and named.names == ("a", "b")


def test_a_pair_that_no_test_parts_is_told_together() -> None:
    """The pair carries 1 of 1 + 2; which of them does, no test tells."""
    a, b = np.array([[1.0, 1.0, 0.0], [0.0, 0.0, 1.0]]) / 0.1, np.array([1.0, 2.0]) / 0.1
    other = _tangled(a, b, 1, (0, 1))
    pair, own = (_tangled(a, b, 0, group) for group in ((0, 1), (0,)))
    assert other.together == pair.together
    assert pair.together.value == pytest.approx(1.0 / 3.0) and (pair.own.value, pair.own.low) == (None, 0.0)
    assert pair.own.high == pytest.approx(pair.together.high, abs=1e-6) and own.own == own.together


def test_which_sections_hang_together() -> None:
    assert _groups(np.array([[1.0, 1.0], [0.0, 1.0]])) == [(0,), (1,)] and _groups(np.ones((1, 3))) == [(0, 1, 2)]
    assert _groups(np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 1.0]])) == [(0, 1), (2,)]


def test_a_share_s_ends_are_where_chi2_has_risen_by_3_84() -> None:
    """Two sections seen alone, 3 +/- 0.3 and 1 +/- 0.1: x/(x + y) by its own formula, 1-sd sqrt(2) 0.1 of 0.1875."""
    a, b = np.diag([1.0 / 0.3, 1.0 / 0.1]), np.array([3.0 / 0.3, 1.0 / 0.1])
    share = _share(a, b, 0)
    sd = 0.75 * 0.25 * math.hypot(0.1, 0.1)
    assert share.value == pytest.approx(0.75)
    assert share.low == pytest.approx(0.75 - Z * sd, abs=0.006) and share.high == pytest.approx(
        0.75 + Z * sd, abs=0.006
    )
    assert _share(a, b, 0, 1).low == pytest.approx(1.0) and _share(a, b, 0, 1).high == 1.0
    far = _share(np.diag([1.0, 1.0]), np.array([9.0, 0.0]), 1)
    assert far.value == 0.0 == far.low and 0.1 < far.high < 0.3
    assert _share(np.diag([1.0, 1.0]), np.zeros(2), 0).value == 0.0  # nothing leaks: no share of it
    wide, tall = np.array([[1.0, 1.0, 0.0], [0.0, 0.0, 1.0]]), np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
    assert _share(wide, np.array([1.0, 3.0]), 2).value == pytest.approx(0.75)
    assert _share(tall, np.array([1.0, 3.0, 4.0]), 1).value == pytest.approx(0.75)


def test_sections_need_two_sets_of_blanks_and_a_leak() -> None:
    """One direction may be told where the other is not."""
    inside = contents([_test(includes=("a", "b")).analysis.recording.conditions,
                       _test(includes=("b",)).analysis.recording.conditions], ["crankcase"] * 2)  # fmt: skip
    tight = Interval(None, 0.0, 10.0)
    for rates, told in (((RATE, Interval(40.0, 38.0, 42.0)), True), ((tight, tight), False), ((RATE, tight), True)):
        tests = [_sized(rate, volume_m3=2e-4, doubt=1e-6) for rate in rates]
        shares, flags = section_shares(tests, inside)
        assert [s.section for s in shares] == (["a", "b"] if told else []) and flags == ()
        assert all([way for way, _ in s.shares] == ["pressure"] for s in shares)
    same = replace(inside, tests=(AB, AB))
    assert section_shares([_sized(RATE)] * 2, same) == ((), ())
    one = [_sized(RATE, volume_m3=2e-4), _sized(RATE, volume_m3=2e-4, leak=False)]
    assert section_shares(one, inside) == ((), ())


def test_ratios_of_what_leaks_and_what_holds() -> None:
    """The least that one direction allows against the most of the other, 90/9 and 9/90, by the law that says less."""
    leaks, holds = _sized(RATE), _sized(Interval(None, 0.0, 9.0))
    inward = {"inward": True}
    leaks_v, holds_v = _sized(RATE, **inward), _sized(Interval(None, 0.0, 9.0), **inward)
    assert directional([holds], [holds_v]) == Ratio(None, 0.0, None)
    assert directional([], []) is None and directional([leaks], []) is None
    rising = _sized(RATE, codes=("pressure-rises",), **inward)
    assert directional([holds], [rising]) is None
    up, down = directional([holds], [leaks_v]), directional([leaks], [holds_v])
    assert up is not None and up.value is None and up.high is None and up.low == up.at_least
    assert down is not None and down.value is None and down.low == 0.0 and down.at_least is None
    assert up.at_least is not None and down.high is not None
    assert up.at_least == pytest.approx(90.0 / 9.0 / 0.8) and down.high == pytest.approx(9.0 / 90.0 / 0.5)
    finer = _bounded([_sized(Interval(None, 0.0, 18.0)), holds], [leaks_v, _sized(Interval(200.0, 180.0, 220.0))], True)
    assert finer == up
    assert _bounded([holds_v], [_sized(Interval(None, 0.0, 0.0)), leaks], False).high == pytest.approx(
        _bounded([holds_v], [_sized(Interval(1.0, 1e-9, 2.0))], False).high
    )


def test_a_bound_counts_what_leaks_not_how_fast_the_pressure_moves() -> None:
    """Rate times volume: 90 in 3 against 9 in 2, and 9 in 3 against 90 in 2."""
    held, leaks = Interval(None, 0.0, 9.0), RATE
    out, into = {"volume_m3": 2e-4}, {"volume_m3": 3e-4, "inward": True}
    up, down = directional([_sized(held, **out)], [_sized(leaks, **into)]), directional([_sized(leaks, **out)], [_sized(held, **into)])  # fmt: skip  # noqa: E501
    assert up is not None and up.at_least == pytest.approx(90.0 * 3.0 / (9.0 * 2.0) / 0.8)
    assert down is not None and down.high == pytest.approx(9.0 * 3.0 / (90.0 * 2.0) / 0.5)


def test_the_ratio_of_a_joint_fit_with_what_that_cannot_see(monkeypatch: pytest.MonkeyPatch) -> None:
    """Logarithms in quadrature: 2.5 % of gauges, a leak that moves, a lip's law (0.8/0.5).

    Downward other flow laws too, by which a fixed hole passes up to 6.5 % more inward.
    """
    out = [_sized(Interval(100.0, 90.0, 110.0), volume_m3=2e-4, gauge="a"), _sized(RATE, volume_m3=4e-4, gauge="a")]
    into = [_sized(Interval(50.0, 40.0, 60.0), inward=True, volume_m3=2e-4, gauge="b", codes=("leak-grows",))]
    for one in (*out, *into):
        one.analysis.hold.zero = SimpleNamespace(source="assumed")
    given: list[Any] = []
    fit = SimpleNamespace(ratio=Interval(2.0, 1.8, 2.5), same_law=False)
    monkeypatch.setattr("leakdown.where.directional.compared", lambda parts: given.extend(parts) or fit)
    found = directional(out, into)
    assert found is not None and [(part.found, part.second, part.scale) for part in given] == [
        (out[0].found, False, 1.0), (out[1].found, False, 0.5), (into[0].found, True, 1.0)
    ]  # fmt: skip
    assert [len(part.tied) for part in given] == [2, 2, 1]  # a zero is shared by one gauge's tests alone
    over_all = 35e3 * math.log(2.0) / 50.0
    both = [0.025, math.log(over_all / 50.0), math.log(0.8 / 0.5)]
    below = math.hypot(math.log(2.0 / 1.8), *both, math.log(1.065))
    assert (found.value, found.low) == (2.0, pytest.approx(2.0 * math.exp(-below)))
    assert found.high == pytest.approx(2.0 * math.exp(math.hypot(math.log(2.5 / 2.0), *both)))
    assert not found.same_law and found.at_least is None
    drift = 136e3 / 60.0 / 300.0 / 100.0 + 66e3 / 60.0 / 300.0 / 50.0
    assert found.warming_log_per_k_min == pytest.approx(drift)
    fit.ratio = Interval(None, 0.1, 9.0)
    assert directional(out, into) is None
    monkeypatch.setattr("leakdown.where.directional.compared", lambda parts: None)
    assert directional(out, into) is None


def test_a_change_of_a_joint_fit_or_of_two_rates(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fitted where both leaks were seen, with the gauges' 2.5 % on top; else the ends of the two rates, by volume."""
    given: list[Any] = []
    fits = [SimpleNamespace(ratio=Interval(0.5, 0.4, 0.6))]
    monkeypatch.setattr("leakdown.where.compare.compared", lambda parts: given.append(parts) or fits[0])
    rate, volumes = Interval(100.0, 80.0, 120.0), {"volume_m3": 2e-4}
    before, after = _sized(rate, gauge="a", volume_m3=4e-4), _sized(Interval(50.0, 30.0, 60.0), gauge="b", **volumes)
    value, low, high = change_bounds(before, after)
    assert value == 0.5 and low == pytest.approx(0.5 * math.exp(-math.hypot(math.log(0.5 / 0.4), 0.025)))
    assert high == pytest.approx(0.5 * math.exp(math.hypot(math.log(0.6 / 0.5), 0.025)))
    ((first, second),) = given
    assert (first.found, first.second, first.scale) == (before.found, False, 1.0)
    assert (second.found, second.second, second.scale) == (after.found, True, 2.0)
    fits[0] = None
    ends = (None, pytest.approx(30.0 / 120.0 / 2.0), pytest.approx(60.0 / 80.0 / 2.0))
    assert change_bounds(before, after) == ends and len(given) == 2
    fits[0] = SimpleNamespace(ratio=Interval(9.0, 8.0, 10.0))
    for seen in ((True, False), (False, True), (False, False)):
        (before.detected, after.detected) = seen
        assert change_bounds(before, after) == ends
    for one, low, high in (
        (Interval(None, 0.0, math.inf), 0.0, None),
        (Interval(None, 0.0, 0.0), 0.0, None),
        (Interval(None, 0.5, 0.5), 30.0 / 0.5, 60.0 / 0.5),  # a rate below 1 Pa/s is a rate
        (Interval(None, 0.5, math.inf), 0.0, 60.0 / 0.5),
    ):
        assert change_bounds(_sized(one), _sized(Interval(None, 30.0, 60.0))) == (None, low, high)
    assert change_bounds(_sized(rate, detected=False), _sized(Interval(None, 0.0, math.inf)))[1:] == (0.0, None)


def test_what_is_said_of_a_change_is_of_the_right_test() -> None:
    """Tight before, 90 Pa/s at least after: ten times what 9 Pa/s could have missed."""
    full = {"volume_m3": 1e-4, "codes": ("step",)}
    before, after = _sized(Interval(None, 0.0, 9.0), source="1.csv", **full), _sized(RATE, source="2.csv", **full)
    after.analysis.verdict = SimpleNamespace(word="fail")
    for one in (before, after):
        one.analysis.direction = "pressure"
    change = compare_fitted(before, after)
    assert change.after_over_before == (None, pytest.approx(10.0), None) and change.word == "larger"
    assert "at least 10 times" in change.sentence and change.direction == "pressure"
    assert (change.verdict_before, change.verdict_after) == ("undecided", "fail")
    assert [flag.text for flag in change.warnings] == ["1.csv: step said.", "2.csv: step said."]
    turned = compare_fitted(after, before)
    assert turned.after_over_before == (None, 0.0, pytest.approx(0.1)) and turned.word == "smaller"
    assert (turned.verdict_before, turned.verdict_after) == ("fail", "undecided")
    after.analysis.direction = "vacuum"
    with pytest.raises(UsageError, match="^1.csv is a pressure test and 2.csv a vacuum test"):
        compare_fitted(before, after)


def test_doubts_that_no_ratio_takes_out() -> None:
    """2.5 % of another gauge (practice), and the doubts of two volumes in quadrature: 5 % and 4 %."""
    first = _sized(RATE, volume_m3=2e-4, doubt=1e-5, gauge="a")
    other = _sized(RATE, volume_m3=3e-4, doubt=1.2e-5, gauge="a")
    assert unshared_doubt([first, first]) == 0.0
    assert unshared_doubt([first, other]) == pytest.approx(math.hypot(0.05, 0.04))
    assert unshared_doubt([first, _sized(RATE, volume_m3=2e-4, gauge="b")]) == 0.025
    assert unshared_doubt([first, first, _sized(RATE, volume_m3=3e-4, gauge="b")]) == pytest.approx(
        math.hypot(0.025, 0.05)
    )
    assert volume_scale(first, other) == pytest.approx(2.0 / 3.0) and volume_scale(first, first) == 1.0
    assert volume_scale(first, _sized(RATE)) == 1.0 == volume_scale(_sized(RATE), first)
    assert volume_scale(first, _sized(RATE, volume_m3=2.02e-4)) != 1.0
    into = _sized(RATE, inward=True)
    assert _lip_doubt(first, into) == pytest.approx(math.log(0.8 / 0.5))  # a weep's 0.5, a hole's 0.8
    assert other_laws(35e3) == pytest.approx(math.log(1.065)) and other_laws(0.0) == 0.0


def test_what_cannot_be_compared_names_both_files() -> None:
    def one(source: str, direction: str = "pressure", circuit: str = "crankcase", **said: Any) -> Any:
        test = _sized(RATE, source=source, circuit=circuit, **said)
        test.analysis.direction = direction
        return test

    with pytest.raises(UsageError, match="^1.csv is a pressure test and 2.csv a vacuum test"):
        _check_comparable(one("1.csv"), one("2.csv", "vacuum"))
    with pytest.raises(UsageError, match="^1.csv is a test of the crankcase, 2.csv of the tank"):
        _check_comparable(one("1.csv"), one("2.csv", circuit="tank"))
    _check_comparable(one("1.csv"), one("2.csv"))

    def codes(first: dict[str, Any], second: dict[str, Any]) -> list[str]:
        full = {"volume_m3": 1e-4}
        return [f.code for f in _flags(one("1.csv", **(full | first)), one("2.csv", **(full | second)))]

    assert codes({}, {}) == []
    assert codes({"includes": ("a", "b")}, {"includes": ("b", "a")}) == []
    assert codes({"includes": ("a",)}, {}) == ["other-blanks"] == codes({}, {"blocked": ("boot",)})
    assert codes({"volume_m3": None}, {}) == ["volume-assumed-equal"] == codes({}, {"volume_m3": None})
    assert codes({"gauge": "a"}, {"gauge": "b"}) == ["two-gauges"]
    assert codes({"codes": ("step", "spikes")}, {"codes": ("lax-limit",)}) == ["step", "lax-limit"]
    (said,) = _flags(one("1.csv", volume_m3=1e-4), one("2.csv", volume_m3=1e-4, codes=("step",)))
    assert said.text == "2.csv: step said."
    assert (
        _verdict(one("1.csv")) == "undecided" and _verdict(one("1.csv", verdict=SimpleNamespace(word="fail"))) == "fail"
    )


# ---------------------------------------------------------------- which tests, which sections


def test_names_of_sections() -> None:
    place = KnownPlace("intake-boot", "boot", "intake-boot", {}, sections=("boot", "intake"))
    assert plain_name("the Carb. port") == "carburettor" and plain_name("the side") == "the side"
    assert names(place, "Manifold") and not names(place, "case")
    assert section_of(place, ["case", "the boots", "intake"]) == "the boots" and section_of(place, ["case"]) is None


def test_which_tests_belong_to_the_circuit() -> None:
    def one(circuit: str, source: str, **said: Any) -> Any:
        return _sized(RATE, circuit=circuit, source=source, pressure_pa=np.full(5, float(source)), **said)

    engine, rig = one("crankcase", "1"), one(RIG, "2", volume_m3=1e-5)
    loose, leaking = one(RIG, "3"), one(RIG, "4", volume_m3=None)
    found = sort_tests([engine, rig, loose])
    assert [h.analysis.recording.source for h in found.all] == ["1", "2"] and found.circuit == "crankcase"
    assert [h.analysis.recording.source for h in found.unsized] == ["3"]
    assert [h.analysis.recording.source for h in found.rig] == ["2", "3"]
    assert [f.code for f in sort_tests([engine, leaking]).left_out] == ["rig-volume-missing"]
    tight = _sized(Interval(None, 0.0, 9.0), circuit=RIG, source="5", pressure_pa=np.full(5, 5.0))
    assert sort_tests([engine, tight]).left_out == () and sort_tests([loose]).all != ()
    part = one("intake", "6", includes=("boot",))
    assert sort_tests([engine, part]).left_out == ()
    for stranger in (
        one("intake", "7"),
        one("tank", "8", includes=("boot",)),
        one("fuel-line", "9", blocked=("boot",)),
    ):
        assert [f.code for f in sort_tests([engine, stranger]).left_out] == ["other-circuit"]
    assert sort_tests([engine, one("intake", "10", blocked=("boot",))]).left_out == ()


def test_what_each_test_contained() -> None:
    """What it lists, or all that anybody names but what it blocked; a rig is in every test that has one beside it."""

    def inside(*rows: tuple[str, tuple[str, ...], tuple[str, ...]]) -> tuple[Any, ...]:
        conditions = [_test(includes=i, blocked=b).analysis.recording.conditions for _, i, b in rows]
        found = contents(conditions, [circuit for circuit, _, _ in rows])
        return found.sections, [sorted(one) for one in found.tests], found.named

    case = "crankcase"
    assert inside((case, (), ()), (case, (), ())) == ((), [[], []], False)
    assert inside((case, (), ("boot",))) == (("boot", "rest"), [["rest"]], True)
    assert inside((case, ("a", "b"), ()), (case, (), ("a",))) == (("a", "b"), [["a", "b"], ["b"]], True)
    assert inside((RIG, (), ()), (RIG, (), ())) == (("rig",), [["rig"], ["rig"]], False)
    assert inside((case, (), ()), (RIG, (), ())) == (("rest", "rig"), [["rest", "rig"], ["rig"]], True)
    assert inside((case, ("a", "rig"), ()), (RIG, (), ())) == (("a", "rig"), [["a", "rig"], ["rig"]], True)


def test_which_circuit_the_tests_are_about() -> None:
    """The crankcase where one of an engine's is of it, else what most are of; a named part only of an engine."""

    def one(circuit: str, source: str, **said: Any) -> Any:
        return _sized(RATE, circuit=circuit, source=source, pressure_pa=np.full(5, float(source)), **said)

    intake, again, case = one("intake", "1"), one("intake", "2"), one("crankcase", "3")
    tank, full, boot = one("tank", "4"), one("tank", "5"), one("intake", "6", blocked=("boot",))
    rows = [((intake, again), "intake"), ((intake, again, case), "crankcase"), ((tank, full, case), "tank")]
    assert [sort_tests(tests).circuit for tests, _ in rows] == [circuit for _, circuit in rows]
    assert [f.code for f in sort_tests([tank, full, boot]).left_out] == ["other-circuit"]
    rig, inward = one(RIG, "7", volume_m3=1e-5), one("crankcase", "8", inward=True)
    assert sort_tests([rig]).towards(False) == [rig] and sort_tests([case, rig, inward]).towards(False) == [case]
    short, long = one("tank", "9"), one("tank", "9")
    long.analysis.recording.time_s = np.array([0.0, 1.0, 2.0, 3.0, 5.0])
    assert sort_tests([long, short]).all == sort_tests([short, long]).all == (short, long)


def test_tests_on_the_same_blanks() -> None:
    def pressure(source: str) -> Any:
        return _sized(RATE, source=source)

    def vacuum(source: str) -> Any:
        return _sized(RATE, source=source, inward=True)

    every = (pressure("1"), pressure("2"), vacuum("3"), vacuum("4"))
    inside = contents([_test().analysis.recording.conditions], ["crankcase"])
    tests = replace(sort_tests(every), all=every, inside=replace(inside, tests=(AB, A, A, B)))

    def sources(chosen: Any) -> list[str]:
        return [h.analysis.recording.source for h in chosen]

    pair = tests.pair()
    assert pair is not None and [sources(part) for part in pair] == [["2"], ["3"]]
    assert sources(tests.towards(False)) == ["1", "2"] and sources(tests.towards(True)) == ["3", "4"]
    both = replace(tests, inside=replace(inside, tests=(AB, A, A, AB))).pair()  # the fuller of two
    assert both is not None and [sources(part) for part in both] == [["1"], ["4"]]
    apart = replace(tests, inside=replace(inside, tests=(AB, A, frozenset("c"), B)))
    assert apart.pair() is None and sources(apart.fullest(False)) == ["1"] and sources(apart.fullest(True)) == ["3"]


# ---------------------------------------------------------------- stories


def test_a_leak_is_seen_only_where_its_section_is_open() -> None:
    place = KnownPlace("intake-boot", "boot", "intake-boot", {}, sections=("boot",), hole=1.0)
    full = _figures(_sized(RATE))
    tests = (replace(full, inside=frozenset(("boot", "case"))), replace(full, inside=frozenset(("case",))))
    bench = Bench(tests, ("boot", "case"), (), "", "", frozenset(), 0.0)
    seen = bench.of_place(place, 0.0).per_size
    assert np.all(seen[0] > 0.0) and np.all(seen[1] == 0.0) and bench.homes(place) == ("boot",)
    stranger = replace(place, sections=("pump",))
    assert bench.homes(stranger) == () and np.all(bench.of_place(stranger, 0.0).per_size > 0.0)
    nameless = replace(bench, nameless=("case", "boot"))
    halves = nameless.of_place(stranger, 0.0).per_size
    assert np.count_nonzero(halves[1]) == CASES // 2 and np.all(halves[0] > 0.0)
    assert SIZES[0] == pytest.approx(0.3) and 8e3 < SIZES[-1] < 9e3  # Pa/s: below any gauge's step, above any hold's


# ---------------------------------------------------------------- suspects and answers

KNOWN = complaint_knowledge()


def test_what_a_question_is_worth_where_its_cluster_was_heard() -> None:
    """By brute force: the mean over both answers of the relative entropy to what is thought now."""
    first, second = _two_alike()
    answers = Answers((first.id,))
    now = probabilities(answers, KNOWN)
    wanted = 0.0
    for seen in (True, False):
        then = probabilities(answers.and_(second.id, seen), KNOWN)
        chance = {s.id: KNOWN.chance_of_yes(second, s) for s in KNOWN.suspects}
        share = sum(now[i] * (chance[i] if seen else 1.0 - chance[i]) for i in now)
        wanted += share * sum(p * math.log2(p / now[i]) for i, p in then.items() if p > 0.0)
    assert _worth_of_question(second, answers, now, KNOWN) == pytest.approx(wanted)
    other = next(c for c in KNOWN.complaints.values() if c.cluster != first.cluster)
    chance = {s.id: KNOWN.chance_of_yes(other, s) for s in KNOWN.suspects}
    assert _worth_of_question(other, answers, now, KNOWN) == pytest.approx(information(now, chance))
    assert _gain({"a": 0.5, "b": 0.5, "c": 0.0}, {"a": 0.25, "b": 0.75, "c": 0.0}) == pytest.approx(
        0.5 * math.log2(2.0) + 0.5 * math.log2(2.0 / 3.0)
    )
    assert _gain({"a": 1.0}, {"a": 0.0}) == 0.0


def _two_alike() -> Any:
    rows = list(KNOWN.complaints.values())
    return next((a, b) for a, b in itertools.combinations(rows, 2) if a.cluster == b.cluster)


def test_what_is_asked() -> None:
    heard = list(KNOWN.complaints)[:5]
    assert questions(heard, Answers(), KNOWN) == tuple(heard[:3])
    assert questions(heard, Answers((heard[0],)), KNOWN) == tuple(heard[1:4])
    assert questions((), Answers((heard[0],)), KNOWN) == ()
    asked = questions((), Answers(), KNOWN)
    assert len(asked) == 3 == len(set(asked))
    filled = questions((asked[1],), Answers(), KNOWN)
    assert filled[0] == asked[1] and len(set(filled)) == 3 and asked[0] in filled


@pytest.mark.parametrize(
    ("leak", "fuel", "found", "begins"),
    [
        (0.1, 0.1, "none", "No leak test will tell you this: the best is not a leak."),
        (0.1, 0.15, "none", "A leak test will hardly tell you this"),
        (0.1, 0.1, "leak", "A leak test will hardly tell you this"),
        (0.24, 0.25, "fuel", "Test the fuel side"),
        (0.1, 0.3, "none", "Test the fuel side"),
        (0.25, 0.3, "leak", "A leak test is worth it, after the quick checks."),
        (0.25, 0.0, "none", "A leak test is worth it, after the quick checks: the likeliest suspect is no leak."),
    ],
)
def test_what_a_leak_test_can_tell(leak: float, fuel: float, found: str, begins: str) -> None:
    """A quarter is the least (common practice, no source)."""
    assert _plain(leak, fuel, [SimpleNamespace(found=found, name="the best")]).startswith(begins)


def test_how_an_answer_speaks() -> None:
    said = [_speaks(factor) for factor in (1.5, 4.0, 0.5, 0.25, 0.0)]
    assert said == [
        "speaks for",
        "speaks strongly for",
        "speaks against",
        "speaks strongly against",
        "speaks strongly against",
    ]
    ids = list(KNOWN.complaints)
    for suspect in KNOWN.suspects:
        *lines, usual = _reasons(suspect, Answers(tuple(ids[:20]), tuple(ids[20:40])), KNOWN)
        factors = {i: KNOWN.factor(KNOWN.complaints[i], suspect, i in ids[:20]) for i in ids[:40]}
        up = sorted((f for f in factors.values() if f >= 1.25), reverse=True)
        down = sorted(f for f in factors.values() if f <= 0.8)
        assert [line.endswith(" for it") for line in lines] == [True] * len(up) + [False] * len(down)
        assert ["strongly" in line for line in lines] == [f >= 4.0 for f in up] + [f <= 0.25 for f in down]
        share = 100.0 * suspect.weight / sum(s.weight for s in KNOWN.suspects)
        assert usual == f"the cause in about {share:.2g} of 100 such engines"


def test_what_comes_before_any_odds() -> None:
    cure = next(c for c in KNOWN.complaints.values() if c.cure and not c.never_run)
    stop = next(c for c in KNOWN.complaints.values() if c.never_run)
    first = next(c for c in KNOWN.checks if c.when == "never-run")
    step = _before_all(Answers((cure.id,)), KNOWN, ())
    assert step is not None and (step.id, step.do, step.kind, step.minutes) == (
        f"cure-{cure.id}",
        cure.cure,
        "check",
        5.0,
    )
    assert step.why == f"{cure.says}: that is put right before anything is tested" and step.finds == {}
    assert _before_all(Answers((cure.id,)), KNOWN, (f"cure-{cure.id}",)) is None
    assert _before_all(Answers((), (cure.id, stop.id)), KNOWN, ()) is None
    assert _before_all(Answers((cure.id, stop.id)), KNOWN, ()) == first
    after = _before_all(Answers((cure.id, stop.id)), KNOWN, (first.id,))
    assert after is not None and after.id in (f"cure-{cure.id}", f"cure-{stop.id}")


def test_facts_by_either_name() -> None:
    bench = knowledge().observations
    pairs = [(c.id, c.same_as) for c in KNOWN.complaints.values() if c.id not in bench and len(c.same_as) == 1]
    assert pairs
    for complaint, (same,) in pairs:
        if same in bench:
            assert fact_name(complaint) == same and checked_for_suspects(Answers((complaint,))).seen == (complaint,)
    several = next((c.id for c in KNOWN.complaints.values() if len([i for i in c.same_as if i in bench]) > 1), None)
    assert several is None or fact_name(several) == several
    assert fact_name("case-dry") == "case-dry" and fact_name("nonsense") == "nonsense" == complaint_name("nonsense")
    only_bench = next(i for i in bench if complaint_name(i) not in KNOWN.complaints)
    with pytest.raises(UsageError, match="unknown observation"):
        checked_for_suspects(Answers((only_bench,)))
    with pytest.raises(UsageError, match="unknown observation"):
        checked_for_suspects(Answers((), (only_bench,)))
    own = next(iter(KNOWN.complaints))
    assert for_suspects([(own, True), (only_bench, True), (own, False)]) == Answers((), (own,))
    listed = all_observations()
    assert [o.id for o in listed if o.kind == "bench"] == list(bench)
    assert {o.id for o in listed if o.kind == "complaint"} == {i for i in KNOWN.complaints if fact_name(i) not in bench}
    at_bench, heard = sorted_answers(("case-dry", "dies-cap"), ())
    assert at_bench.seen == ("case-dry",) and heard.seen == ("dies-cap",)


def test_words_that_are_not_known() -> None:
    with pytest.raises(UsageError, match="case-dry' is both seen and not seen"):
        sorted_answers(("case-dry",), ("case-dry",))
    with pytest.raises(UsageError, match="unknown observation 'case-dri'") as caught:
        sorted_answers(("case-dri",), ())
    assert (
        "Perhaps case-" in str(caught.value)
        and "case-dry" in str(caught.value)
        and "leakdown locate --observations" in str(caught.value)
    )
    with pytest.raises(UsageError) as nothing:
        Answers(("zzz",)).check(("case-dry",), "suspects")
    assert "Perhaps" not in str(nothing.value)
    for intake, lips, what in (("port", "in", "--intake 'port'"), ("reed", "up", "--seal-lips 'up'")):
        with pytest.raises(UsageError, match=what):
            check_engine(intake, lips)
    check_engine("reed", "in")


def test_the_evidence_of_several_tests(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every test's verdict, marks and shapes under its own name; what was said of the set-up; 6.5 % at 35 kPa."""
    effect = MarkEffect(30.0, "boot", Interval(0.4, 0.3, 0.5))
    out = _sized(RATE, source="1", blocked=("boot",), codes=("step", "lax-limit"), verdict=SimpleNamespace(word="fail"))
    into = _sized(Interval(None, 0.0, 9.0), source="2", inward=True, codes=("connection-not-proven",))
    into.analysis.recording.pressure_pa = -np.arange(5.0)
    for one, way, would in ((out, "pressure", 3.0), (into, "vacuum", 4.0)):
        one.analysis.direction, one.analysis.leak.detection_rate_pa_s = way, would
    into.found.model.quote_pa = 20e3
    mark = SimpleNamespace(effect=effect, place="intake-boot", changed=True, steady=False)
    monkeypatch.setattr(locating, "moved", lambda h: [mark] if h is out else [])

    def found(*tests: Any, **said: Any) -> Any:
        return locating.evidence_of(sort_tests(tests), EngineFacts(**said))[0]

    evidence = found(out, into, seen=("case-dry", "dies-cap"), not_seen=("same-setup",), intake="reed", seal_lips="in")
    assert evidence.verdicts == (
        TestVerdict("1", "crankcase", "pressure", "fail", True, False, 3.0),
        TestVerdict("2", "crankcase", "vacuum", "undecided", False, True, 4.0),
    )
    assert evidence.marks == (MarkOutcome("1", "pressure", effect, "intake-boot", True, False),)
    assert evidence.shapes == frozenset(("step",)) and evidence.other_laws == pytest.approx(math.log(1.065))
    assert evidence.sections == ("boot", "rest") and evidence.shares == ()
    assert (evidence.seen, evidence.not_seen) == (("case-dry",), ("same-setup",))
    assert (evidence.intake, evidence.lips, evidence.circuit) == ("reed", "in", "crankcase")
    assert evidence.complaint is not None and [a.id for a in evidence.complaint.answers] == ["dies-cap"]
    assert evidence.pressure == locating.DirectionResult(False, pytest.approx(5.4), False)
    assert evidence.vacuum == locating.DirectionResult(True, 0.0, False)
    assert [one.source for one in evidence.tests] == ["1", "2"] and evidence.ratio is None  # other blanks
    whole = _sized(RATE, source="3", volume_m3=1e-4)
    whole.analysis.direction, whole.analysis.leak = "pressure", None
    other = _sized(Interval(200.0, 180.0, 220.0), source="0", pressure_pa=np.arange(5.0) + 1.0)
    other.analysis.direction, other.analysis.leak.detection_rate_pa_s = "pressure", 3.0
    more = found(into, out, other)
    assert [s.section for s in more.shares] == ["boot", "rest"] and more.ratio is not None
    assert [v.file for v in more.verdicts] == ["0", "1", "2"]
    plain = found(whole, into)
    assert plain.sections == () == plain.shares and plain.complaint is None and plain.pressure is None
    assert plain.verdicts[0].would_see_pa_s is None
    beliefs = [found(out, into, **said).belonging for said in ({}, {"seen": ("same-setup",)})]
    beliefs.append(evidence.belonging)
    assert [(b.usual, b.asked) for b in beliefs] == [(pytest.approx(u), a) for u, a in ((0.98, False), (0.995, True), (0.02, True))]  # fmt: skip  # noqa: E501


def test_what_is_located_is_told_by_place_and_direction() -> None:
    """The likeliest place first, under its own name and group; two gauges, one for each direction, are said."""
    sides = (("1", False, "a"), ("2", True, "b"))
    out, into = (_sized(Interval(None, 0.0, 9.0), source=s, inward=i, gauge=g) for s, i, g in sides)
    into.analysis.recording.pressure_pa = -np.arange(5.0)
    for one, way in ((out, "pressure"), (into, "vacuum")):
        one.analysis.direction, one.analysis.leak.detection_rate_pa_s, one.analysis.recording.marks = way, 3.0, ()
    found = locating.locate_fitted([out, into])
    chances = [place.probability for place in found.places]
    assert chances == sorted(chances, reverse=True) and sum(chances) == pytest.approx(1.0)
    known = {p.place: p for p in knowledge().of_circuit("crankcase")}
    assert {(p.place, p.group, p.name) for p in found.places} == {(p.place, p.group, p.name) for p in known.values()}
    codes = [flag.code for flag in found.warnings]
    assert "two-gauges" in codes and "ask-together" not in codes and not found.next_test.do.startswith("First:")
    assert found.files == ("1", "2") and found.headline.startswith("No leak found under pressure and vacuum")
    into.rate_pa_s, into.detected, into.tight = RATE, True, False  # one direction leaks, the other holds
    found = locating.locate_fitted([out, into])
    codes = [flag.code for flag in found.warnings]
    assert "ask-together" in codes and "two-gauges" in codes and found.next_test.do.startswith("First:")


def test_what_is_said_is_checked_before_the_work(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(locating, "fitted", lambda *_: pytest.fail("it was fitted"))
    with pytest.raises(UsageError, match="unknown observation 'nonsense'"):
        locating.locate([Recording(np.arange(3.0), np.arange(3.0))], seen=("nonsense",))


def test_a_circuit_of_which_nothing_is_known_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(locating, "knowledge", lambda: SimpleNamespace(of_circuit=lambda name: ()))
    with pytest.raises(UsageError, match="no places are known for the circuit 'crankcase'") as caught:
        locating.locate_fitted([_sized(RATE)])
    assert "Add them to places.toml." in str(caught.value)
