"""Small pieces of locating, by hand and against scipy: likelihoods, mixtures, prior odds, costs of what comes next."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import optimize, stats

from leakdown.fit.model import DRIFT, ZERO
from leakdown.uncertainty import Interval
from leakdown.where.belonging import Belonging, _hours_apart, _stage, about_one
from leakdown.where.compare import _beyond_scatter, _bounds, _one_sided, _word
from leakdown.where.directional import _part, _warming
from leakdown.where.evidence import DirectionResult, Evidence, _of_mark, could_show, factor_of_cause, factor_of_finding
from leakdown.where.knowledge import KnownPlace, Observation, knowledge
from leakdown.where.located import Ratio
from leakdown.where.measured import Measured, _slope, hole_like, mean_rate_pa_s
from leakdown.where.next_test import (
    Priced,
    Repairs,
    _as_next,
    _chances,
    _next,
    _ratio_bins,
    cheapest,
    direction_of,
    possible,
    priced,
)
from leakdown.where.odds import Odds, _both, _capped, _pairs, _shares, _splits, place_odds, prior_of
from leakdown.where.sections import _chi2_at, _flags
from leakdown.where.stories import (
    CASES,
    SIZES,
    Bench,
    Story,
    _inward,
    _lognormal,
    _outward,
    _quantiles,
    _scattered,
    log_ratio_cases,
)
from leakdown.where.tests import sort_tests

KNOWN = knowledge()
PLACES = KNOWN.of_circuit("crankcase")
PLAIN = Measured("a", False, frozenset(), 100.0, 5.0, 10.0, 1.0, 1.0, 0.5, False, -7.5, False, False)
NOTHING = Evidence("crankcase", (), (), Belonging(), None, None, None)
LEAKING, HOLDING = DirectionResult(False, 5.0, False), DirectionResult(True, 0.0, False)


def test_a_test_fits_by_the_side_it_is_missed_on():
    """exp(-z^2/2) with the deviation below under its loss and the one above over it, on top of the surprise."""
    found = PLAIN.fits(np.array([90.0, 95.0, 100.0, 110.0, 130.0]), 0.01)
    assert found == pytest.approx(0.01 + np.exp(-0.5 * np.array([2.0, 1.0, 0.0, 1.0, 3.0]) ** 2))


def test_a_story_is_integrated_over_its_sizes():
    """One test of 100 Pa/s +/- 5 %, sizes log-normal about 30: quadrature by scipy's normal density in fine steps."""
    usual = _lognormal(30.0, 1.2)
    assert usual.sum() == pytest.approx(1.0)
    assert float(usual @ np.log(SIZES)) == pytest.approx(math.log(30.0), abs=0.02)
    assert float(usual @ (np.log(SIZES) - math.log(30.0)) ** 2) == pytest.approx(1.2**2, rel=0.03)
    one = np.ones((1, CASES))
    shape = np.linspace(0.5, 1.5, CASES)
    story = Story(2.0 * one, 10.0 * one, shape, usual, np.zeros(CASES), np.ones(CASES), 0.001)
    fits = story.fits([PLAIN])
    predicted = 2.0 * SIZES + 10.0
    by_hand = PLAIN.fits(predicted, 0.001)
    assert fits[0].shape == (CASES, SIZES.size) and fits[0][7] == pytest.approx(by_hand)
    assert story.likelihood(fits) == pytest.approx(float(by_hand @ usual) * shape)
    assert story.likelihood(fits, 0.001) == pytest.approx(float((by_hand - 0.001) @ usual) * shape)
    assert story.likelihood([*fits, *fits]) == pytest.approx(float((by_hand**2) @ usual) * shape)
    assert story.likelihood([]) == pytest.approx(shape)


def test_quantiles_are_the_normal_distribution_s():
    assert _quantiles(160) == pytest.approx(stats.norm.ppf((np.arange(160) + 0.5) / 160), abs=2e-4)
    assert _quantiles(1) == pytest.approx([0.0], abs=1e-9)
    mixed = _scattered(np.arange(50.0), 3)
    assert sorted(mixed) == list(range(50)) and list(mixed) != list(range(50))
    assert list(mixed) == list(_scattered(np.arange(50.0), 3)) != list(_scattered(np.arange(50.0), 4))


def test_cases_of_a_mixture_have_its_quantiles():
    """(share, 5 %, 50 %, 95 %): the cases' own quantiles are these, shares by count."""
    cases = log_ratio_cases(((1.0, 0.8, 1.0, 1.5),))
    assert cases.size == CASES
    assert np.exp(np.quantile(cases, [0.05, 0.5, 0.95])) == pytest.approx([0.8, 1.0, 1.5], rel=0.02)
    two = log_ratio_cases(((0.25, 0.45, 0.5, 0.55), (0.75, 1.8, 2.0, 2.2)))
    assert two.size == CASES and int(np.sum(two < 0.0)) == 40
    thirds = np.sort(log_ratio_cases(((1 / 3, 0.09, 0.1, 0.11), (1 / 3, 0.9, 1.0, 1.1), (1 / 3, 4.0, 5.0, 5.9))))
    assert [int(np.sum(thirds < -1.0)), int(np.sum(thirds > 1.0)), thirds.size] == [
        54,
        53,
        160,
    ]  # the first has the rest
    rare = log_ratio_cases(((0.999, 0.9, 1.0, 1.1), (0.001, 4.0, 5.0, 5.9)))
    assert rare.size == CASES and int(np.sum(rare > 1.0)) == 1  # what is named is looked at
    for sign, ends in ((1.0, (50.0, 100.0, 200.0)), (-1.0, (0.005, 0.01, 0.02))):
        far = sign * log_ratio_cases(((1.0, *ends),))
        shut = np.isclose(far, far.max())  # every second one of those far from 1 is as good as shut
        assert np.all(far > 0.0) and np.sum(shut) == CASES // 2 and far.max() > np.sort(far)[CASES // 2 - 1] + 0.3


def test_what_a_leak_passes_each_way():
    """Half the logarithm each way near 1; beyond, the weaker direction alone goes on falling."""
    ratio = np.array([0.0, 0.4, -0.4])
    assert _inward(ratio) == pytest.approx(0.5 * ratio) and _outward(ratio) == pytest.approx(-0.5 * ratio)
    for far in (math.log(1e3), -math.log(1e3)):
        one = np.array([far])
        assert _inward(one) - _outward(one) == pytest.approx(far)
        weaker, stronger = (_outward, _inward) if far > 0 else (_inward, _outward)
        beyond = np.array([2.0 * far])
        assert stronger(beyond) == pytest.approx(stronger(one)) and weaker(beyond)[0] < weaker(one)[0] - 5.0


def bench(*tests, **more):
    return Bench(**({"tests": tests, "sections": (), "nameless": (), "intake": "", "lips": "", "codes": frozenset(),
                     "other_laws": 0.0} | more))  # fmt: skip


def test_giving_back_speaks_only_under_vacuum_alone():
    gives = replace(PLAIN, gave_back=True)
    inward, gives_inward = replace(PLAIN, inward=True), replace(gives, inward=True)
    assert bench(gives_inward)._of_giving_back(0.3) == pytest.approx(0.3)
    assert bench(inward)._of_giving_back(0.3) == pytest.approx(0.7)
    assert bench(inward, gives_inward, gives_inward)._of_giving_back(0.3) == pytest.approx(0.063)
    assert bench(PLAIN, gives_inward)._of_giving_back(0.3) == pytest.approx(0.3)
    assert bench(gives, gives_inward)._of_giving_back(0.3) == 1.0  # pressure does so too: no vapour
    assert bench(PLAIN)._of_giving_back(0.3) == 1.0


def test_a_disturbance_moves_the_readings_its_own_way():
    vacuum = replace(PLAIN, inward=True, warming=7.5)
    rig = replace(PLAIN, of_rig=True)
    quiet, warm, cool, wet = (bench(PLAIN, vacuum, rig).without_leak(c) for c in ("", "warming", "cooling", "vapour"))
    assert np.all(quiet.besides == 0.0) and np.all(quiet.per_size[2] == 0.0) and np.all(quiet.per_size[:2] > 0.0)
    assert np.all(warm.besides[0] < 0.0) and np.all(warm.besides[1] > 0.0)  # losses towards zero
    assert cool.besides == pytest.approx(-warm.besides)
    assert np.all(wet.besides[0] == 0.0) and np.all(wet.besides[1] > 0.0)


def test_two_at_once_are_between_the_two():
    tests = (PLAIN, replace(PLAIN, inward=True))
    leaks = [p for p in PLACES if p.pattern == "leak"]
    story = bench(*tests).of_two(leaks[0], leaks[1], 0.1)
    alone = bench(*tests).of_place(leaks[0], 0.1)
    assert story.per_size.shape == (2, CASES) and np.all(story.per_size > 0.0)
    assert np.mean(story.first) == pytest.approx(0.5, abs=0.01) and np.all(alone.first == 1.0)
    assert story.log_ratio == pytest.approx(np.log(story.per_size[1] / story.per_size[0]))
    assert alone.log_ratio == pytest.approx(np.log(alone.per_size[1] / alone.per_size[0]))


def test_shares_pairs_and_caps():
    assert _shares({"a": 3.0, "b": 1.0}) == {"a": 0.75, "b": 0.25}
    assert _shares({"a": 0.0, "b": 0.0}) == {"a": 0.5, "b": 0.5}
    assert (_both(2.0, 3.0), _both(0.5, 0.5), _both(2.0, 0.5), _both(1.0, 1.0)) == (3.0, 0.25, 1.0, 1.0)
    assert _both(0.0, 5.0) == _both(5.0, 0.0) == 0.0
    odds = {"a": 0.7, "b": 0.2, "c": 0.06, "d": 0.04}
    groups = {"a": "x", "b": "x", "c": "y", "d": "z"}
    assert _capped(odds, groups, 0.95) == odds
    capped = _capped(odds, groups, 0.6)  # 0.3 over goes to c and d by their shares
    assert capped == pytest.approx({"a": 0.7 * 0.6 / 0.9, "b": 0.2 * 0.6 / 0.9, "c": 0.24, "d": 0.16})
    alone = {"a": 1.0, "b": 0.0, "c": 0.0}
    assert _capped(alone, groups, 0.8) == pytest.approx({"a": 0.8, "b": 0.0, "c": 0.2})
    assert _capped({"a": 1.0}, groups, 0.8) == {"a": 1.0}


@pytest.mark.parametrize("n", [2, 3, 4])
def test_ways_to_part_a_few_tests_in_two(n):
    """Stirling numbers of the second kind, S(n, 2) = 2^(n-1) - 1."""
    splits = _splits([PLAIN] * n)
    assert len(splits) == 2 ** (n - 1) - 1
    assert all(sorted((*a, *b)) == list(range(n)) and 0 in a for a, b in splits)


def test_ways_to_part_many():
    tests = [replace(PLAIN, inward=k % 2 == 1, inside=frozenset({"boot"} if k < 2 else {"case"})) for k in range(6)]
    found = {frozenset((frozenset(a), frozenset(b))) for a, b in _splits(tests)}
    assert len(found) == len(_splits(tests)) and all(0 in a for a, _ in _splits(tests))  # each once
    whole = frozenset(range(6))
    wanted = [{1, 3, 5}, {0, 1}, *({k} for k in range(6))]
    assert found == {frozenset((frozenset(part), whole - frozenset(part))) for part in wanted}


def test_prior_odds_follow_weights_and_complaint():
    usual = prior_of(PLACES, NOTHING)
    assert sum(usual.values()) == pytest.approx(1.0)
    weights = {p.place: p.weight["crankcase"] for p in PLACES}
    assert usual == pytest.approx({k: v / sum(weights.values()) for k, v in weights.items()})
    pairs = _pairs(PLACES, usual, 0.2)
    leaking = [p for p in PLACES if p.pattern == "leak"]
    assert sum(share for *_, share in pairs) == pytest.approx(0.2 * sum(usual[p.place] for p in leaking))
    (a, b, one), (c, d, other) = pairs[0], pairs[-1]
    assert one / other == pytest.approx(usual[a.place] * usual[b.place] / (usual[c.place] * usual[d.place]))
    assert not any(p.healthy for pair in pairs for p in pair[:2]) and len(
        {(a.place, b.place) for a, b, _ in pairs}
    ) == len(pairs)


@pytest.mark.parametrize(
    ("share", "chance"),
    [
        (None, 0.5),
        (Interval(None, 0.0, 0.3), 0.5),
        (Interval(0.5, 0.3, 0.7), 0.5),
        (Interval(0.1, 0.0, 0.2), 1.0),
        (Interval(0.9, 0.8, 1.0), 0.0),
        (Interval(0.1, 0.0, 0.9), 0.5),  # too wide to tell
        (Interval(0.1, 0.0, 0.601), 0.5),
        # as wide as may be: sd 0.6/3.92 = 0.153, z = 1.31
        (Interval(0.3, 0.0, 0.6), 0.8267),
        # sd 0.4/3.92 = 0.102, z = 0.98, a quarter per deviation
        (Interval(0.4, 0.2, 0.6), 0.745),
    ],
)
def test_chance_of_a_hole(share, chance):
    leak = SimpleNamespace(viscous_share=share)
    assert hole_like(SimpleNamespace(analysis=SimpleNamespace(leak=leak))) == pytest.approx(chance, abs=1e-3)


def test_slope_of_the_last_half_is_the_regression_s():
    t = np.append(np.linspace(0.0, 40.0, 121), 60.0)  # the last reading, not the last but one, says where half is
    p = 40e3 - 900.0 * np.exp(-t / 5.0) + 3.0 * t + np.random.default_rng(1).normal(0.0, 20.0, t.size)
    readings = SimpleNamespace(time_s=t, pressure_pa=-p, sigma_pa=np.full(t.size, 20.0))
    found, doubt = _slope(SimpleNamespace(readings=readings, sign=-1.0))
    late = t >= 30.0
    known = stats.linregress(t[late], p[late])
    assert found == pytest.approx(-known.slope)
    own = 20.0 / math.sqrt(np.sum((t[late] - t[late].mean()) ** 2))
    assert doubt == pytest.approx(math.hypot(own, 0.3 * known.slope))


def test_the_mean_rate_is_the_exponential_s():
    """From 40 to 20 kPa in 50 s: tau = 50/ln 2; 35 kPa over that is 485 Pa/s."""
    hold = SimpleNamespace(start_pa=-40e3, end_pa=-20e3, start_s=10.0, end_s=60.0)
    one = SimpleNamespace(
        analysis=SimpleNamespace(hold=hold), found=SimpleNamespace(model=SimpleNamespace(quote_pa=35e3))
    )
    assert mean_rate_pa_s(one) == pytest.approx(35e3 * math.log(2.0) / 50.0)
    hold.end_pa = 0.0  # taken for 100 Pa
    assert mean_rate_pa_s(one) == pytest.approx(35e3 * math.log(400.0) / 50.0)
    hold.end_pa = -41e3  # it rose: as good as nothing, and no gain
    assert 0.0 < mean_rate_pa_s(one) < 1e-3


REPAIRS = Repairs(("a", "b", "c"), np.eye(3), np.array([10.0, 20.0, 60.0]), 1e6)


def test_repairs_are_made_in_the_order_that_loses_least():
    """Against every order (search with costs): minutes lost are those of the repairs before the right one."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        odds = rng.dirichlet(np.ones(3))

        def lost(order, odds=odds):
            before = np.cumsum([0.0, *REPAIRS.wrong_min[list(order)]])
            return sum(odds[k] * before[at] for at, k in enumerate(order))

        orders = {order: lost(order) for order in itertools.permutations(range(3))}
        # the last repair is never wrong: what is left is in it
        assert REPAIRS.minutes(odds[:, None])[0] == pytest.approx(min(orders.values()))
        assert REPAIRS.first(odds) == "abc"[min(orders, key=orders.get)[0]]
    assert REPAIRS.minutes(np.array([[2.0], [0.0], [0.0]])) == pytest.approx([0.0])


def test_after_a_wrong_repair_the_search_goes_on():
    """By hand: a at 10 min first (0.5/10); then b and c blindly, 0.2 x 20 of what is left, or half of 3 minutes."""
    odds = np.array([[0.5], [0.3], [0.2]])
    assert REPAIRS.minutes(odds) == pytest.approx([0.5 * 10.0 + 0.2 * 20.0])
    assert replace(REPAIRS, go_on_min=3.0).minutes(odds) == pytest.approx([0.5 * 10.0 + 0.5 * 3.0])


def _costs(minutes: float, then_min: float = 0.0, evacuates: bool = False) -> Priced:
    return Priced(replace(KNOWN.tests[0], minutes=minutes), minutes, then_min, evacuates)


def test_a_test_is_worth_its_minutes_when_it_saves_more():
    """One that tells all three apart, against one that tells nothing; dear ones do not pay."""
    now = np.array([0.4, 0.35, 0.25])
    mute = np.array([[1.0, 0.0, 0.0]] * 3)
    quick, nothing = _costs(1.0), _costs(0.5)
    assert cheapest(now, {quick: np.eye(3), nothing: mute}, REPAIRS) == quick.test
    assert cheapest(now, {nothing: mute}, REPAIRS) is None and cheapest(now, {}, REPAIRS) is None
    assert cheapest(now, {_costs(500.0): np.eye(3)}, REPAIRS) is None
    assert cheapest(np.array([1.0, 0.0, 0.0]), {quick: np.eye(3)}, REPAIRS) is None


def test_the_best_test_is_the_one_of_the_best_plan():
    """Against every plan of two tests, added up outcome by outcome: repair now, after one test, or after a second."""
    rng = np.random.default_rng(8)

    def repairing(odds):
        return float(REPAIRS.minutes(odds[:, None])[0])

    told = []
    for _ in range(40):
        now = rng.dirichlet(np.ones(3))
        tests = {}
        for count in rng.integers(2, 4, 3):
            table = rng.dirichlet(np.full(int(count), 0.3), 3)
            tests[_costs(float(rng.uniform(1.0, 4.0)), float(rng.uniform(0.0, 3.0)), bool(rng.random() < 0.5))] = table
        plans = {}
        for first, table in tests.items():
            plans[first] = first.minutes
            for outcome in table.T:
                left = now * outcome
                ways = [repairing(left)]
                for then, other in tests.items():
                    if then is not first:
                        minutes = then.minutes + (first.then_min if then.evacuates else 0.0)
                        ways.append(left.sum() * minutes + sum(repairing(left * c) for c in other.T))
                plans[first] += min(ways)
        best = min(plans, key=lambda one: plans[one])
        expected = best.test if plans[best] < repairing(now) else None
        assert cheapest(now, tests, REPAIRS) == expected
        told.append(-1 if expected is None else list(tests).index(best))
    assert min(told.count(k) for k in (-1, 0, 1, 2)) >= 5


def test_of_two_alike_the_first_is_done():
    now = np.array([0.4, 0.35, 0.25])
    first, second = _costs(1.0), replace(_costs(1.0), test=replace(KNOWN.tests[1], minutes=1.0))
    assert cheapest(now, {first: np.eye(3), second: np.eye(3)}, REPAIRS) == first.test
    free = _costs(0.0)  # tells nothing and costs nothing: no reason to do it
    assert cheapest(now, {free: np.ones((3, 1))}, REPAIRS) is None


def test_where_no_test_is_left_the_likeliest_place_is_repaired():
    """Of the repair that pays first: one for both of a pair (0.2 and 0.3), before the single one (0.4)."""
    places = (
        KnownPlace("single", "single", "other", {"crankcase": 1.0}),
        KnownPlace("left", "left", "pair", {"crankcase": 1.0}, whole_group=True, repair_min=7.0),
        KnownPlace("right", "right", "pair", {"crankcase": 1.0}, whole_group=True, repair_min=8.0),
    )
    known = replace(KNOWN, places=places, tests=())
    leaks = replace(NOTHING, pressure=LEAKING, vacuum=LEAKING)

    def next_of(**odds):
        return _next(Odds(odds, {}, 1.0, {}), leaks, known)

    assert next_of(single=0.4, left=0.2, right=0.3).do.startswith("Repair the right")
    assert next_of(single=0.4, left=0.2, right=0.3).minutes == 8.0
    assert next_of(single=0.4, left=0.3, right=0.2).minutes == 7.0
    assert next_of(single=0.8, left=0.1, right=0.1).do.startswith("Repair the single")


def test_what_wets_the_engine_comes_after_what_evacuates_it():
    """Two tests that are needed both, alike but for the drying between: the dry one first, or either."""
    now = np.array([0.4, 0.35, 0.25])
    one, other = np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 1.0]]), np.array([[0.0, 1.0], [1.0, 0.0], [0.0, 1.0]])
    soap, vacuum = _costs(2.0, then_min=3.0), _costs(2.0001, evacuates=True)
    dear = replace(REPAIRS, wrong_min=np.array([400.0, 400.0, 400.0]))
    assert cheapest(now, {soap: one, vacuum: other}, dear) == vacuum.test
    assert cheapest(now, {replace(soap, then_min=0.0): one, vacuum: other}, dear) == soap.test


def test_drying_takes_its_minutes_before_a_vacuum_test_alone():
    vacuum, soap = KNOWN.test("vacuum"), KNOWN.test("soap")
    dry_min, wet = KNOWN.numbers["dry_min"], replace(NOTHING, pressure=LEAKING, not_seen=("bubbles-plug",))
    assert priced(vacuum, wet, KNOWN).minutes == vacuum.minutes + dry_min
    assert priced(vacuum, replace(NOTHING, pressure=LEAKING), KNOWN).minutes == vacuum.minutes
    assert priced(KNOWN.test("push-boot"), wet, KNOWN).minutes == KNOWN.test("push-boot").minutes
    assert priced(soap, replace(NOTHING, pressure=LEAKING), KNOWN).then_min == dry_min
    assert not priced(vacuum, wet, KNOWN).then_min
    assert _as_next(vacuum, wet, KNOWN).do == f"First wipe and blow dry what was wetted. {vacuum.do}"
    pushed = replace(wet, not_seen=KNOWN.test("push-boot").answers)  # wets nothing
    assert priced(vacuum, pushed, KNOWN).minutes == vacuum.minutes and _as_next(vacuum, pushed, KNOWN).do == vacuum.do


def test_classes_of_the_ratio():
    """Edges 0.45, 0.7, 1.4, 2.5 vacuum over pressure (the knowledge's own); the last is for places without a ratio."""
    cases, weight = np.log([0.3, 0.5, 1.0, 1.2, 2.0, 9.0]), np.array([1.0, 1.0, 1.0, 1.0, 1.0, 5.0])
    rows = {"here": (cases, weight), "unlikely": (cases, 1e-9 * weight), "flat": (cases, np.zeros(6))}
    odds = Odds({}, {}, 1.0, {}, rows)
    for name in ("here", "unlikely"):
        assert _ratio_bins(SimpleNamespace(place=name), odds) == pytest.approx([0.1, 0.1, 0.2, 0.1, 0.5, 0.0])
    assert _ratio_bins(SimpleNamespace(place="flat"), odds) == pytest.approx(np.array([1, 1, 2, 1, 1, 0]) / 6)
    assert _ratio_bins(SimpleNamespace(place="other"), odds).tolist() == [0, 0, 0, 0, 0, 1]


def test_which_direction_and_whether_a_test_is_possible():
    vacuum_leaks = replace(NOTHING, pressure=HOLDING, vacuum=LEAKING)
    either = next(t for t in KNOWN.tests if t.direction == "leaking" and not t.when and not t.part)
    assert direction_of(either, vacuum_leaks) == "vacuum"
    assert direction_of(either, replace(vacuum_leaks, pressure=LEAKING)) is not None
    assert direction_of(either, replace(vacuum_leaks, vacuum=HOLDING)) is None
    other_way = KNOWN.test("vacuum")
    only_pressure = replace(NOTHING, pressure=LEAKING)
    assert possible(other_way, only_pressure, KNOWN) and not possible(other_way, vacuum_leaks, KNOWN)
    answered = replace(vacuum_leaks, not_seen=either.answers[:1])
    assert not possible(either, answered, KNOWN)
    for test in KNOWN.tests:
        if not test.when and test.answers and test.id not in ("vacuum", "pressure"):
            table = _chances(test, PLACES, replace(vacuum_leaks, pressure=LEAKING), Odds({}, {}, 1.0, {}), KNOWN)
            assert np.all(table >= 0.0) and table.sum(axis=1) == pytest.approx(np.ones(len(PLACES)))


@pytest.mark.parametrize(
    ("bounds", "word"),
    [
        ((0.1, 0.08, 0.12), "smaller"),
        ((9.0, 8.0, 10.0), "larger"),
        ((1.0, 0.95, 1.05), "same"),
        ((1.0, 0.5, 2.0), "unclear"),
        ((1.05, 1.01, 1.09), "same"),  # beyond one, but no more than seating anew does
        ((0.95, 0.91, 0.99), "same"),
        ((None, 0.0, 0.05), "smaller"),
        ((None, 30.0, None), "larger"),
        ((None, 0.0, None), "unclear"),
        ((None, 0.2, 3.0), "unclear"),
        ((1.2, 1.0, 1.4), "same"),
        ((1.5, 1.0, 2.0), "unclear"),
        ((0.9, 0.8, 1.0), "same"),
        ((1.0, 0.9, None), "unclear"),
        ((None, 0.95, 1.05), "unclear"),
        ((None, 0.0, 0.0), "smaller"),
        # ln 0.7 = -0.357 is beyond 2.8 x 0.08 = 0.224 and ln(0.8/0.7) = 0.134 in quadrature
        ((0.7, 0.6, 0.8), "smaller"),
        ((1.0 / 0.7, 1.0 / 0.8, 1.0 / 0.6), "larger"),
    ],
)
def test_the_word_for_a_change(bounds, word):
    assert _word(bounds) == word
    assert _one_sided(bounds) == (bounds[1] > 1.0 or (bounds[2] is not None and bounds[2] < 1.0))
    turned = (
        None
        if bounds[2] is None or bounds[1] == 0.0
        else tuple(b and 1.0 / b for b in (bounds[0], bounds[2], bounds[1]))
    )
    if turned is not None:
        assert _beyond_scatter(turned) == _beyond_scatter(bounds)[::-1]


@pytest.mark.parametrize(
    ("note", "source", "stage"),
    [
        ("as received", "x.csv", "before"),
        ("new seal fitted", "x.csv", "after"),
        ("", "02_after_seal.csv", "after"),
        ("", "before-repair.csv", "before"),
        ("before, and not after", "after.csv", "after"),  # a note that says both says nothing
        ("", "before_and_after.csv", ""),
        ("", "seal.after.csv", "after"),
        ("", "saw.old", ""),  # an ending says nothing
        ("", "knew.csv", ""),
    ],
)
def test_the_stage_that_a_note_or_name_tells(note, source, stage):
    conditions = SimpleNamespace(note=note, extra=())
    recording = SimpleNamespace(conditions=conditions, source=source)
    assert _stage(SimpleNamespace(analysis=SimpleNamespace(recording=recording))) == stage
    conditions.extra = (("stage", "After"),)
    assert _stage(SimpleNamespace(analysis=SimpleNamespace(recording=recording))) == "after"


def test_hours_between_two_tests():
    assert _hours_apart("2026-01-02T10:00", "2026-01-01T09:30") == pytest.approx(24.5)
    assert _hours_apart("2026-01-01T09:30", "2026-01-02T10:00") == pytest.approx(24.5)
    assert _hours_apart(None, "2026-01-01") is None and _hours_apart("2026-01-01", "soon") is None


def test_a_ratio_about_one():
    """0.7 to 1.4 (common practice); a bound where there is no value."""
    assert about_one(Ratio(1.0, 0.9, 1.1)) and about_one(Ratio(0.7, 0.6, 0.8)) and about_one(Ratio(1.4, 1.3, 1.5))
    assert not about_one(Ratio(0.69, 0.6, 0.8)) and not about_one(Ratio(1.41, 1.3, 1.5))


def test_what_looking_in_vain_says():
    boot = next(p for p in PLACES if "intake-boot" in (p.place, p.group))
    seal = next(p for p in PLACES if "intake-boot" not in (p.place, p.group) and p.pattern == "leak")
    under = next(o for o in KNOWN.observations.values() if o.under == "pressure")
    leaks = replace(NOTHING, pressure=LEAKING, vacuum=LEAKING)
    assert could_show(under, seal, leaks) and could_show(under, boot, leaks)
    assert not could_show(under, seal, replace(leaks, pressure=HOLDING))
    reeds = replace(leaks, intake="reed")
    assert could_show(under, seal, reeds) and not could_show(under, boot, reeds)
    assert could_show(under, boot, replace(reeds, circuit="tank"))
    for way in ("vacuum", ""):  # reeds open that way, or it is seen without any
        assert could_show(replace(under, under=way), boot, reeds)
    assert factor_of_finding(seal, leaks, KNOWN) == 1.0


def test_every_test_has_to_pass_for_a_pass():
    def said(*words, circuit="crankcase", lax=False):
        return replace(NOTHING, verdicts=tuple(SimpleNamespace(circuit=circuit, word=w, lax=lax) for w in words))

    assert said("pass", "pass").passes and not said("pass", "fail").passes and not said("undecided", "pass").passes
    assert not said().passes and not said("pass", circuit="tank").passes and not said("pass", lax=True).passes
    assert replace(NOTHING, pressure=LEAKING, vacuum=HOLDING).tight("vacuum")
    assert not replace(NOTHING, pressure=LEAKING, vacuum=HOLDING).tight("pressure") and not NOTHING.tight("vacuum")


def test_a_complaint_that_leaves_nothing_leaves_the_usual():
    none = SimpleNamespace(factor=lambda place: 0.0)
    assert prior_of(PLACES, replace(NOTHING, complaint=none)) == prior_of(PLACES, NOTHING)
    first = PLACES[0].place
    one = SimpleNamespace(factor=lambda place: 1.0 if place == first else 0.0)
    prior = prior_of(PLACES, replace(NOTHING, complaint=one))
    assert prior[first] == pytest.approx(1.0)
    pairs = _pairs(PLACES, usual := prior_of(PLACES, NOTHING), 0.2)
    gone = _pairs(PLACES, usual | {pairs[0][0].place: 0.0}, 0.2)
    assert all(pairs[0][0] not in pair for pair in gone) and 0 < len(gone) < len(pairs)
    assert _pairs(PLACES, prior, 0.2) == [] == _pairs([], {}, 0.2)  # nothing leaks beside it
    little = SimpleNamespace(factor=lambda place: 3e-6 if place == first else 1e-6)
    odds = prior_of(PLACES, replace(NOTHING, complaint=little))  # of any scale
    assert odds[first] / odds[PLACES[1].place] == pytest.approx(3.0 * usual[first] / usual[PLACES[1].place])


def test_a_mark_speaks_by_what_the_leak_did_then():
    def outcome(high, changed, steady, direction="pressure"):
        effect = SimpleNamespace(after_over_before=Interval(0.5 * high, 0.4 * high, high))
        return SimpleNamespace(changed=changed, steady=steady, effect=effect, direction=direction)

    boot = next(p for p in PLACES if "intake-boot" in (p.place, p.group))
    stopped, moved, steady, unclear = (
        _of_mark(outcome(*said), boot, NOTHING)
        for said in ((0.4, True, False), (0.6, True, False), (1.1, False, True), (2.0, False, False))
    )
    assert stopped > moved > 1.0 == unclear > steady > 0.0
    reeds = replace(NOTHING, intake="reed")
    assert _of_mark(outcome(1.1, False, True), boot, reeds) == 1.0
    assert _of_mark(outcome(1.1, False, True, "vacuum"), boot, reeds) == steady
    seal = next(p for p in PLACES if p.group == "shaft-seal")
    assert _of_mark(outcome(1.1, False, True), seal, reeds) == steady
    assert _of_mark(outcome(0.5, True, False), boot, NOTHING) == moved  # half is not less than half


def test_what_was_seen_and_not_seen_weighs_on_a_disturbance():
    """One cluster's factors multiply, each for its own answer; what names no disturbance says nothing of it."""
    look = Observation("look", "", "one", seen={"cooling": 3.0}, not_seen={"cooling": 0.4, "vapour": 0.7})
    known = replace(KNOWN, observations={"look": look, "again": replace(look, id="again", seen={"vapour": 2.0})})

    def factors(**said):
        return [factor_of_cause(cause, replace(NOTHING, **said), known) for cause in ("cooling", "warming", "vapour")]

    assert factors(seen=("look",)) == [3.0, 1.0, 1.0] and factors(not_seen=("look",)) == [0.4, 1.0, 0.7]
    assert factors(seen=("again",), not_seen=("look",)) == pytest.approx([0.4, 1.0, 1.4])


def test_a_look_in_vain_counts_only_where_it_could_have_shown():
    """Soap that shows nothing under pressure speaks against a place when that leaks, and says nothing when it holds."""
    told = [
        (o, p)
        for o in KNOWN.observations.values()
        for p in PLACES
        if o.under == "pressure" and not o.absence and o.factor(False, p) not in (1.0,)
    ]
    assert told
    cap = KNOWN.numbers["cluster_cap"]
    for observation, place in told:
        looked = replace(NOTHING, not_seen=(observation.id,), pressure=LEAKING)
        factor = factor_of_finding(place, looked, KNOWN)
        assert factor == pytest.approx(min(max(observation.factor(False, place), 1.0 / cap), cap))
        assert factor_of_finding(place, replace(looked, pressure=HOLDING), KNOWN) == 1.0
        seen = replace(NOTHING, seen=(observation.id,), pressure=HOLDING)
        assert factor_of_finding(place, seen, KNOWN) == pytest.approx(
            min(max(observation.factor(True, place), 1.0 / cap), cap)
        )


def test_the_next_step_of_an_engine_that_leaks_one_way_is_possible():
    """Whatever is proposed is a test that can be done, the repair of a place, or to stop."""
    odds = place_odds(replace(NOTHING, pressure=LEAKING, tests=(PLAIN,)), KNOWN)
    found = _next(odds, replace(NOTHING, pressure=LEAKING, tests=(PLAIN,)), KNOWN)
    ids = {t.id for t in KNOWN.tests if possible(t, replace(NOTHING, pressure=LEAKING, tests=(PLAIN,)), KNOWN)}
    assert found.id in ids and found.minutes > 0.0 and found.do


def test_a_part_that_is_not_fitted_is_not_tested():
    leaks = replace(NOTHING, pressure=LEAKING, vacuum=LEAKING)
    (own,) = (t for t in KNOWN.tests if t.part == "decompression-valve")
    if own.circuits:
        leaks = replace(leaks, circuit=own.circuits[0])
    assert possible(own, leaks, KNOWN) and possible(own, replace(leaks, seen=("no-other",)), KNOWN)
    assert not possible(own, replace(leaks, seen=("no-decompression",)), KNOWN)


def test_what_shared_warming_adds_to_a_ratio():
    """dp/dt = p T'/T: 1 K/min at 300 K and 136 kPa is 7.56 Pa/s; over leaks of 100 and 50 Pa/s, at 66 kPa the other."""

    def one(sign, rate):
        model = SimpleNamespace(ambient_pa=101e3, sign=sign, quote_pa=35e3)
        used = SimpleNamespace(temperature_k=SimpleNamespace(value=300.0))
        analysis = SimpleNamespace(used=used)
        return SimpleNamespace(
            found=SimpleNamespace(model=model), analysis=analysis, rate_pa_s=Interval(rate, 0.0, 1e3)
        )

    by_hand = 136e3 / 300.0 / 60.0 / 100.0 + 66e3 / 300.0 / 60.0 / 50.0
    assert _warming(one(1.0, 100.0), one(-1.0, 50.0)) == pytest.approx(by_hand)
    assert _warming(one(1.0, 100.0), one(-1.0, None)) == pytest.approx(136e3 / 300.0 / 60.0 / 100.0)


def sized(rate, volume=None, doubt=None, zero="assumed", gauge="one", detected=False):
    """A stand-in for a test that was fitted."""
    conditions = SimpleNamespace(gauge=gauge, serial=None, extra=())
    analysis = SimpleNamespace(
        hold=SimpleNamespace(zero=SimpleNamespace(source=zero)),
        used=SimpleNamespace(volume_u_m3=SimpleNamespace(value=doubt)),
        recording=SimpleNamespace(conditions=conditions, source="a"),
    )
    return SimpleNamespace(
        analysis=analysis, rate_pa_s=rate, volume_m3=volume, detected=detected, inward=True, found="fit"
    )


@pytest.mark.parametrize("zeros", [("assumed", "assumed"), ("assumed", "measured"), ("measured", "measured")])
def test_one_gauge_has_one_zero_where_nobody_read_it(zeros):
    """The walls' drift is shared by all; a zero only where both are unread."""
    part = _part(sized(Interval(1.0, 0.5, 2.0), zero=zeros[0]), sized(Interval(1.0, 0.5, 2.0), zero=zeros[1]))
    assert part.tied == ((DRIFT, ZERO) if zeros == ("assumed", "assumed") else (DRIFT,))
    assert part.second and part.scale == 1.0


def test_bounds_of_a_change_that_cannot_be_fitted():
    """After 1 to 4 over before 2 to 8 Pa/s in half the volume: by hand 1/8/2 and 4/2/2."""
    before, after = sized(Interval(None, 2.0, 8.0), 2e-4), sized(Interval(None, 1.0, 4.0), 1e-4)
    assert _bounds(before, after) == (None, pytest.approx(1.0 / 8.0 / 2.0), pytest.approx(4.0 / 2.0 / 2.0))
    assert _bounds(sized(Interval(None, 0.0, math.inf)), sized(Interval(None, 1.0, 4.0))) == (None, 0.0, None)
    assert _bounds(sized(Interval(None, 2.0, 8.0)), sized(Interval(None, 1.0, math.inf))) == (None, 0.125, None)


def test_one_volume_without_a_doubt_is_said():
    def codes(*tests):
        return [flag.code for flag in _flags(tests)]

    rate = Interval(1.0, 0.5, 2.0)
    known, unsure, none = sized(rate, 1e-4, 1e-6), sized(rate, 1e-4), sized(rate)
    assert codes(known, known) == [] and codes(known, unsure) == ["volume-uncertainty-unknown"]
    assert codes(unsure, none) == codes(known, none) == ["section-volume-missing"]


def test_a_share_of_all_or_of_nothing():
    """All sections together carry the whole, none of them nothing; anything else is impossible. Between: by scipy."""
    rng = np.random.default_rng(2)
    a, b = rng.uniform(0.0, 1.0, (5, 3)), rng.uniform(0.5, 1.0, 5)
    every, none, first = np.ones(3, dtype=bool), np.zeros(3, dtype=bool), np.array([True, False, False])
    best = optimize.nnls(a, b)[1] ** 2
    assert _chi2_at(a, b, every, 1.0) == pytest.approx(best) and _chi2_at(a, b, none, 0.0) == pytest.approx(best)
    assert _chi2_at(a, b, every, 0.5) == _chi2_at(a, b, every, 0.0) == _chi2_at(a, b, none, 1.0) == math.inf
    assert _chi2_at(a, b, first, 1.0) == pytest.approx(optimize.nnls(a[:, :1], b)[1] ** 2)
    assert _chi2_at(a, b, first, 0.0) == pytest.approx(optimize.nnls(a[:, 1:], b)[1] ** 2)
    third = np.array([1.0 - 0.3, -0.3, -0.3]) * 1e6
    held = optimize.nnls(np.vstack((a, third)), np.append(b, 0.0))[1] ** 2
    assert _chi2_at(a, b, first, 0.3) == pytest.approx(held, rel=1e-4)
    for unit in (1e-5, 1e5):  # whatever unit they are in
        assert _chi2_at(unit * a, unit * b, first, 0.3) == pytest.approx(unit**2 * held, rel=1e-4)


def test_tests_of_the_rig_alone_are_about_the_rig():
    def one(circuit, pressure, inward=False):
        conditions = SimpleNamespace(blocked=(), includes=(), gauge=None)
        recording = SimpleNamespace(
            time_s=np.arange(3.0), pressure_pa=np.full(3, pressure), conditions=conditions, source=f"{pressure}"
        )
        analysis = SimpleNamespace(circuit=circuit, recording=recording)
        return SimpleNamespace(analysis=analysis, inward=inward, volume_m3=1e-5, detected=False)

    rig, line, case = one("rig", 1.0), one("fuel-line", 2.0), one("crankcase", 3.0)
    assert sort_tests([rig]).circuit == "rig" and sort_tests([rig, one("rig", 4.0), line]).circuit == "fuel-line"
    assert len(sort_tests([rig, rig]).all) == 1 and sort_tests([rig, rig]).left_out[0].code == "same-readings"
    mixed = sort_tests([line, one("fuel-line", 5.0), case])
    assert (
        mixed.circuit == "fuel-line" and [f.code for f in mixed.left_out] == ["other-circuit"] and len(mixed.all) == 2
    )
