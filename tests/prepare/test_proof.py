"""What a plan promises, against simulated days at the bench: the hold decides, half of it does not."""

import pytest

from leakdown.prepare.shortest_hold import CLEARLY_FEWER
from tests.prepare.bench_day import days
from tests.prepare.cases import AT_THE_EDGE, CASES, QUICK, TOO_COARSE, bench, planned

pytestmark = pytest.mark.slow

DECIDES = 0.9


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in CASES if name not in (*TOO_COARSE, *AT_THE_EDGE)])
def test_the_hold_decides_and_half_of_it_does_not(name, full):
    if not full and name not in QUICK:
        pytest.skip("the long form runs with --full")
    times = 50 if full else 8
    found = planned(name)
    assert found.hold_s is not None
    whole = days(bench(name), found.hold_s, times, seed=1)
    assert whole.share >= DECIDES
    assert whole.wrong <= 0.05 * whole.tried
    half = days(bench(name), 0.5 * found.hold_s, times, seed=2)
    assert half.share < DECIDES
    # what the plan says of itself, within chance: 16 tests or more against as many
    assert found.count.share >= DECIDES
    assert found.half_count.share <= CLEARLY_FEWER
    assert found.half_count.share == pytest.approx(half.share, abs=0.4)


@pytest.mark.slow
@pytest.mark.parametrize("name", TOO_COARSE)
def test_a_gauge_that_cannot_tell_is_refused_and_indeed_cannot(name, full):
    if not full:
        pytest.skip("the long form runs with --full")
    assert planned(name).hold_s is None
    for hold_s in (60.0, 180.0):
        assert days(bench(name), hold_s, 25, seed=3).share < DECIDES


@pytest.mark.slow
@pytest.mark.parametrize("name", AT_THE_EDGE)
def test_a_gauge_that_can_hardly_tell_is_refused_or_held_long_enough(name, full):
    """A count more or less makes it the one or the other; a hold that is named must decide, within a test's chance."""
    if not full:
        pytest.skip("the long form runs with --full")
    found = planned(name)
    if found.hold_s is not None:
        assert days(bench(name), found.hold_s, 50, seed=1).share >= DECIDES - 0.06  # two deviations of 100 tests
        assert found.half_count.share <= CLEARLY_FEWER or "Half of this hold would often do as well" in " ".join(
            found.notes
        )


@pytest.mark.slow
@pytest.mark.parametrize("name", ["a needle and the usual limit", "vacuum levels", "logged", "logged finely"])
def test_gas_that_settles_during_the_hold_takes_nothing_away(name, full):
    if not full:
        pytest.skip("the long form runs with --full")
    assert days(bench(name), planned(name).hold_s, 50, seed=4, settling=True).share >= DECIDES
