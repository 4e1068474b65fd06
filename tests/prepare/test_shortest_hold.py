"""The search for the shortest hold, on invented tests whose outcome by hold is known."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.prepare import shortest_hold
from leakdown.prepare.planned_test import planned_test
from leakdown.prepare.shortest_hold import shortest
from leakdown.prepare.simulate import Count, simulated


class Invented:
    """Counts as a `Simulator` gives them; `share` of hold and seed says how many of the tests are decided."""

    def __init__(self, share, every_s=1.0, limit="2.5 cm3/min"):
        self.test = planned_test(volume_m3=250e-6, resolution_pa=100.0, limit=limit, every_s=every_s)
        self.share, self.batches = share, []

    def counts(self, batches):
        self.batches += batches
        return [self._count(batch) for batch in batches]

    def _count(self, batch):
        tried = (batch.rounds, batch.rounds, (batch.rounds + 1) // 2)
        missed = round((1.0 - self.share(batch.hold_s, batch.seed)) * sum(tried))
        decided = []
        for count in tried:
            decided.append(max(count - missed, 0))
            missed -= count - decided[-1]
        return Count(tuple(decided), tried)

    @property
    def tests(self):
        return sum(2.5 * batch.rounds for batch in self.batches)


@pytest.fixture(autouse=True)
def sees_everything(monkeypatch):
    """The detection limit rules no hold out."""
    monkeypatch.setattr(shortest_hold, "detection_pa_s", lambda test, hold_s: 0.0)


def test_the_first_hold_that_decides_is_found_with_few_tests():
    simulator = Invented(lambda hold_s, _: float(hold_s >= 60.0))
    found = shortest(simulator, 1800.0, 10.0)
    assert 60.0 <= found.hold_s < 66.0 and found.open_s is None
    assert found.count.share == 1.0 and found.half_count.share == 0.0
    assert 16 <= found.count.leaks_tried <= 40 and 12 <= found.half_count.leaks_tried <= 40
    assert simulator.tests < 250
    assert shortest(Invented(lambda *_: 0.5), 600.0, 10.0).hold_s is None


def test_a_hold_of_which_half_does_as_well_is_shortened():
    """30 s decides all, 20 s nine in ten, 15 s a little less and 10 s little: 20 s is the answer."""
    shares = {30.0: 1.0, 20.0: 0.92, 14.0: 0.88, 0.0: 0.3}
    found = shortest(Invented(lambda hold_s, _: next(s for h, s in shares.items() if hold_s >= h)), 1800.0, 10.0)
    assert 20.0 <= found.hold_s < 24.0
    assert found.half_count.share < 0.5


def test_few_readings_make_longer_holds_suspect():
    """What decides in 3 s but not in 4 to 12 s; and in 30 s but not in 40 to 125 s, which is not asked."""
    few = Invented(lambda hold_s, _: 1.0 if hold_s == 3.0 or hold_s > 12.0 else 0.4)
    found = shortest(few, 1800.0, 10.0)
    assert found.hold_s == 3.0 and found.open_s == 5.0
    many = Invented(lambda hold_s, _: 1.0 if 30.0 <= hold_s < 40.0 or hold_s > 125.0 else 0.4)
    found = shortest(many, 1800.0, 10.0)
    assert 30.0 <= found.hold_s < 40.0 and found.open_s is None


@pytest.mark.parametrize(("missed_share", "accepted"), [(0.07, True), (0.15, False)])
def test_a_sheet_may_miss_next_to_none(missed_share, accepted):
    """A miss in each process of the second half of the proof, or two."""

    def share(hold_s, seed):
        return (1.0 - missed_share if seed % 1000 == 151 else 1.0) if hold_s >= 60.0 else 0.0

    found = shortest(Invented(share, 10.0), 600.0, 10.0)
    assert (found.hold_s == 60.0) is accepted


def test_half_of_a_hold_is_left_once_it_is_clear():
    simulator = Invented(lambda hold_s, _: float(hold_s >= 60.0))
    shortest(simulator, 1800.0, 10.0)
    half = next(batch for batch in simulator.batches if batch.seed % 1000 == 201)
    assert 0.2 * 2.5 * half.rounds < half.most_missed < 0.8 * 2.5 * half.rounds


def test_a_hold_that_sees_twice_the_limit_at_best_is_not_tried(monkeypatch):
    """1000 Pa/s over the hold is seen; the limit allows 10: less than 50 s cannot decide, 100 s may."""
    monkeypatch.setattr(shortest_hold, "detection_pa_s", lambda test, hold_s: 1000.0 / hold_s)
    simulator = Invented(lambda hold_s, _: 1.0)
    assert 40.0 <= shortest(simulator, 1800.0, 10.0).hold_s <= 70.0


def test_readings_scatter_by_a_fraction_of_a_step():
    test = planned_test(volume_m3=250e-6, resolution_pa=100.0, limit="7 kPa in 60 s", every_s=1.0)
    read = [simulated(test, 0.0, 60.0, seed).recording.pressure_pa for seed in range(16)]
    assert 20.0 < max(float(np.std(pressure_pa)) for pressure_pa in read) < 60.0
