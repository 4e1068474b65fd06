"""The search for the shortest hold, on invented tests whose outcome by hold is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from leakdown.analysis import Verdict
from leakdown.judge.limits import parse_limit
from leakdown.prepare import shortest_hold
from leakdown.prepare.planned_test import planned_test
from leakdown.prepare.shortest_hold import ShortestHold, shortest
from leakdown.prepare.simulate import HALF, TIGHT, TWICE, Count, margin, simulated
from leakdown.uncertainty import Interval


class Invented:
    """Counts as a `Simulator` gives them; `share` of hold and seed says how many of the tests are decided.

    margin: of the tests that are, by hold; of those that are not, minus `missed_by`.
    """

    def __init__(self, share, every_s=1.0, limit="2.5 cm3/min", margin=lambda hold_s: 0.5, missed_by=1.0):
        self.test = planned_test(volume_m3=250e-6, resolution_pa=100.0, limit=limit, every_s=every_s)
        self.share, self.margin, self.missed_by, self.batches = share, margin, missed_by, []

    def counts(self, batches):
        self.batches += batches
        return [self._count(batch) for batch in batches]

    def _count(self, batch):
        tried = (batch.rounds, batch.rounds, (batch.rounds + 1) // 2 if batch.tight else 0)
        missed = round((1.0 - self.share(batch.hold_s, batch.seed)) * sum(tried))
        decided = []
        for count in tried:
            decided.append(max(count - missed, 0))
            missed -= count - decided[-1]
        margin = self.margin(batch.hold_s)
        margins = [(margin,) * d + (-self.missed_by,) * (t - d) for d, t in zip(decided, tried, strict=True)]
        return Count(tuple(decided), tried, tuple(margins))

    @property
    def tests(self):
        return sum(2.5 * batch.rounds for batch in self.batches)


def test_the_first_hold_that_decides_is_found_with_few_tests():
    simulator = Invented(lambda hold_s, _: float(hold_s >= 60.0))
    found = shortest(simulator, 1800.0)
    assert 60.0 <= found.hold_s < 66.0 and found.open_s is None
    assert found.count.share == 1.0 and found.half_count.share == 0.0
    assert 12 <= found.count.leaks_tried <= 40 and 8 <= found.half_count.leaks_tried <= 40
    assert simulator.tests < 100
    assert shortest(Invented(lambda *_: 0.5), 600.0).hold_s is None


def test_margins_lead_to_the_hold_at_once():
    """Intervals that narrow as 1/t and meet the limit at 100 s: two looks are enough, however far the first was off."""
    simulator = Invented(lambda hold_s, _: float(hold_s >= 100.0), margin=lambda hold_s: 1.0 - 100.0 / hold_s)
    simulator._count = lambda batch: replace(
        Invented._count(simulator, batch), margins=((max(1.0 - 100.0 / batch.hold_s, -3.0),) * 4,) * 2 + ((1.0,),)
    )
    found = shortest(simulator, 1800.0)
    assert 100.0 <= found.hold_s < 125.0
    looks = {batch.hold_s for batch in simulator.batches if batch.seed % 1000 < 100}
    assert len(looks) <= 5


def test_where_time_hardly_helps_few_tests_say_so():
    """One test in four stays open however long it is held: no hold is the answer, after a few."""
    simulator = Invented(lambda *_: 0.75)
    assert shortest(simulator, 1800.0).hold_s is None
    assert len({batch.hold_s for batch in simulator.batches}) <= 8
    # looks that let it pass, proofs that never do
    simulator = Invented(lambda _, seed: float(seed % 1000 < 100))
    assert shortest(simulator, 1800.0).hold_s is None
    proved = {batch.hold_s for batch in simulator.batches if batch.seed % 1000 >= 100}
    assert max(proved) == max(shortest_hold.holds_worth_trying(simulator.test, 1800.0)) and len(proved) <= 8


def test_the_search_begins_where_the_slopes_suggest(monkeypatch):
    """A doubt of 10 s over the hold is a quarter at 40 s; one that ends at 0.5 begins near where it does."""
    monkeypatch.setattr(shortest_hold, "doubt", lambda test, leaks, hold_s, begin: 10.0 / hold_s)
    simulator = Invented(lambda *_: 1.0)
    shortest(simulator, 1800.0)
    assert 40.0 <= simulator.batches[0].hold_s <= 45.0
    monkeypatch.setattr(shortest_hold, "doubt", lambda test, leaks, hold_s, begin: max(10.0 / hold_s, 0.5))
    shortest(simulator := Invented(lambda *_: 1.0), 1800.0)
    assert 16.0 <= simulator.batches[0].hold_s <= 19.0


def test_a_hold_of_which_half_does_as_well_is_shortened():
    """30 s decides all, 20 s nine in ten, 15 s a little less and 10 s little: 20 s is the answer."""
    shares = {30.0: 1.0, 20.0: 0.92, 14.0: 0.8, 0.0: 0.3}
    found = shortest(Invented(lambda hold_s, _: next(s for h, s in shares.items() if hold_s >= h)), 1800.0)
    assert 20.0 <= found.hold_s < 34.0
    assert found.half_count.share < 0.9


def test_few_readings_make_longer_holds_suspect():
    """What decides in 3 s but not in 4 to 12 s; and in 30 s but not in 40 to 125 s, which is not asked."""
    few = Invented(lambda hold_s, _: 1.0 if hold_s == 3.0 or hold_s > 12.0 else 0.4)
    found = shortest_hold._surer(few, shortest_hold.holds_worth_trying(few.test, 1800.0), ShortestHold(3.0))
    assert found.hold_s == 3.0 and found.open_s == 5.0
    many = Invented(lambda hold_s, _: 0.4)
    kept = ShortestHold(30.0)
    assert shortest_hold._surer(many, shortest_hold.holds_worth_trying(many.test, 1800.0), kept) is kept


@pytest.mark.parametrize(
    ("missed", "accepted"), [({101: 1}, True), ({101: 2}, True), ({101: 2, 151: 1}, False), ({101: 3}, False)]
)
def test_a_sheet_may_miss_next_to_none(missed, accepted):
    """One of twenty will do; two are tested once more, and will do if that was all."""

    def share(hold_s, seed):
        return 1.0 - missed.get(seed, 0) / 20.0 if hold_s >= 60.0 else 0.0

    found = shortest(Invented(share, 10.0, missed_by=0.1), 600.0)
    assert (found.hold_s == 60.0) is accepted
    assert not accepted or found.count.missed == sum(missed.values())


def test_half_of_a_hold_is_left_once_it_is_clear():
    simulator = Invented(lambda hold_s, _: float(hold_s >= 60.0))
    shortest(simulator, 1800.0)
    half = next(batch for batch in simulator.batches if batch.seed % 1000 == 201)
    assert 0.2 * 2.0 * half.rounds < half.most_missed < 0.8 * 2.0 * half.rounds


def test_margins_by_hand():
    """A drop of 7 kPa: half of it seen as 3 to 5 kPa is clear by 2 of 3.5; twice as 12 to 16 by 5 of 7."""
    limit = parse_limit("7 kPa in 60 s")

    def verdict(word, low, high, limit=limit):
        return Verdict(word, limit, Interval(0.5 * (low + high), low, high), "model", "")

    assert margin(verdict("pass", 3e3, 5e3), HALF) == pytest.approx(2.0 / 3.5)
    assert margin(verdict("pass", 0.0, 1.4e3), TIGHT) == pytest.approx(0.8)
    assert margin(verdict("fail", 12e3, 16e3), TWICE) == pytest.approx(5.0 / 7.0)
    assert margin(verdict("undecided", 6e3, 16e3), TWICE) == pytest.approx(-1.0 / 7.0)
    assert margin(verdict("undecided", 3e3, 7.7e3), HALF) == pytest.approx(-0.7 / 3.5)
    # undecided for another reason, nothing to compare, or hopeless: as bad as it gets
    worst = margin(None, HALF)
    assert worst < -1.0
    assert margin(verdict("undecided", 3e3, 5e3), HALF) == margin(verdict("pass", 0.0, 90e3), HALF) == worst
    assert margin(Verdict("undecided", limit, None, "none", ""), TWICE) == worst
    rate = parse_limit("2.5 cm3/min")  # 4.2219e-3 Pa m3/s (by hand: 2.5e-6 x 101325 / 60)
    assert margin(verdict("pass", 1e-3, 2.11e-3, rate), HALF) == pytest.approx(2.112 / 2.111, rel=2e-3)


def test_the_reach_of_a_count_by_hand():
    """Margins 0.2, 0.4, 0.6 have a mean of 0.4 and a standard deviation of 0.2: one deviation reaches to 0.2."""
    one = Count((3, 3, 0), (3, 3, 0), ((0.2, 0.4, 0.6), (0.9, 0.9, 0.9), ()))
    assert one.reach == pytest.approx(0.8)
    assert Count((3, 3, 0), (3, 3, 0), ((0.9,) * 3, (0.2, 0.4, 0.6), ())).reach == pytest.approx(0.8)
    both = one.plus(Count((1, 1, 1), (1, 1, 1), ((0.4,), (0.9,), (1.0,))))
    assert both.reach == pytest.approx(1.0 - 0.4 + (0.08 / 3) ** 0.5) and both.margins[2] == (1.0,)
    assert Count((1, 1, 0), (1, 1, 0), ((0.5,), (0.5,), ())).reach == float("inf")
    # estimates that err away from the limit: 5 in 100 of the way are left, so that the next hold can be reckoned
    assert Count((2, 2, 0), (2, 2, 0), ((1.4, 1.4), (1.2, 1.2), ())).reach == 0.05


def test_tests_that_all_err_to_the_safe_side_lead_to_the_first_hold():
    found = shortest(Invented(lambda *_: 1.0, margin=lambda _: 1.3), 1800.0)
    assert found.hold_s <= 2.0  # a step of the search may lie below


def test_readings_scatter_by_a_fraction_of_a_step():
    test = planned_test(volume_m3=250e-6, resolution_pa=100.0, limit="7 kPa in 60 s", every_s=1.0)
    read = [simulated(test, 0.0, 60.0, seed).recording.pressure_pa for seed in range(16)]
    assert 20.0 < max(float(np.std(pressure_pa)) for pressure_pa in read) < 60.0
