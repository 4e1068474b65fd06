"""What goes into an analysis, at its edges: by hand, and by numpy's least squares."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from leakdown.analysis import Phase, Quantity
from leakdown.errors import UsageError
from leakdown.fit.inputs import (
    _zero_speed_pa_s,
    ambient_pa,
    inputs_of,
    priors_of,
    temperature_corrected,
    temperature_k,
    zero_corrected,
)
from leakdown.fit.priors import start_warmth, waited_warmth
from tests.fit.test_reckoned import _recording, _used, _window

STEP = Quantity(10.0, "inferred")


def test_the_highest_reading_of_a_vacuum_is_its_magnitude() -> None:
    assert inputs_of(_recording([-40e3, -10e3], resolution_pa=20e3), 0.61, STEP)
    with pytest.raises(UsageError, match="coarser than half"):
        inputs_of(_recording([-40e3, -10e3], resolution_pa=20.1e3), 0.61, STEP)


def test_what_nobody_gave_is_the_standard_s() -> None:
    """101 325 Pa and 20 degC; a thermometer's or a barometer's own value otherwise."""
    none = _used(barometer_pa=(None, "none"), temperature_k=(None, "none"))
    assert (ambient_pa(none), temperature_k(none)) == (101_325.0, 293.15)
    assert (ambient_pa(_used()), temperature_k(_used())) == (1e5, 293.0)


def test_a_sheet_has_less_than_thirty_readings() -> None:
    """From thirty on the log tells the filling, absolute and off its zero, never below 1 kPa."""
    for count in (29, 30):
        t = np.arange(float(count))
        p = np.where(t < 10.0, 5.0 + 4e3 * t, 40e3 + 5.0)
        said = _recording(p)
        found = priors_of(said, _window(None), _used(), closed_s=12.0).warmth
        if count == 29:
            wanted = waited_warmth(40e3, 1e5, 0.0, 1.0)
        else:
            wanted = start_warmth(t, 1e5 + p - 5.0, 12.0, 1e5, 1.0)
        assert found.unseen == pytest.approx(wanted.unseen) and found.centre == pytest.approx(wanted.centre)
    deep = np.concatenate((np.linspace(0.0, -99.9e3, 20), np.full(20, -99.9e3)))
    found = priors_of(_recording(deep), _window(None, "assumed"), _used(), closed_s=30.0).warmth
    wanted = start_warmth(np.arange(40.0), np.maximum(1e5 + deep, 1e3), 30.0, 1e5, -1.0)
    assert found.centre == pytest.approx(wanted.centre) and np.isfinite(found.centre).all()
    assert abs(found.centre[-1]) > 0.1


def test_a_zero_that_moved_the_other_way_leaves_the_same_doubt() -> None:
    said = _recording()
    up, down = (priors_of(said, _window(drift), _used()).drift_sd for drift in (900.0, -900.0))
    assert up == down > priors_of(said, _window(0.0), _used()).drift_sd


def test_a_drifting_gauge_looks_like_more_of_a_vacuum_s_gas() -> None:
    """The same Pa/s are 140/60 times as much of 60 kPa as of 140 (100 kPa of air, 40 either way), beside the walls."""
    own = []
    for signed_pa in (40e3, -40e3):
        said = _recording([signed_pa] * 5)
        walls = priors_of(said, _window(0.0), _used()).drift_sd
        own.append(np.sqrt(priors_of(said, _window(900.0), _used()).drift_sd ** 2 - walls**2))
    assert own[1] / own[0] == pytest.approx(140.0 / 60.0)


def test_a_zero_s_drift_has_a_middle_and_two_ends() -> None:
    """Taken off about the middle of the whole; nothing where no zero was read, or where both are the same time."""
    three = _window(900.0)
    three.phases = (three.phases[0], Phase("hold", 0.0, 60.0), three.phases[1])
    said = _recording()
    moved = zero_corrected(said, three).pressure_pa - said.pressure_pa
    assert moved == pytest.approx(-900.0 / 95.0 * (said.time_s - 35.0))  # -20 to 90 s
    for source in ("measured", "given"):
        none = _window(900.0, source)
        none.phases = ()
        assert _zero_speed_pa_s(none) == 0.0 and zero_corrected(said, none) is said
    for source, ends in (("given", (5.0, 5.0)), ("given", (5.0, 4.0)), ("measured", (5.0, 5.0))):
        odd = _window(900.0, source)
        odd.phases = (Phase("zero", *ends),)
        assert _zero_speed_pa_s(odd) == 0.0
    short = SimpleNamespace(zero=three.zero, phases=(Phase("zero", 0.0, 0.2), Phase("zero", 0.4, 0.6)))
    assert _zero_speed_pa_s(short) == pytest.approx(900.0 / 0.4)  # type: ignore[arg-type]
    assert _zero_speed_pa_s(_window(100.0)) == pytest.approx(100.0 / 95.0)


def test_smooth_temperatures_by_least_squares() -> None:
    """A straight line through up to five, a quadratic from six on; gaps are bridged."""
    rng = np.random.default_rng(3)
    for count, degree in ((3, 1), (5, 1), (6, 2), (9, 2)):
        walls = np.append(293.0 + rng.normal(0.0, 0.5, count), [np.nan, np.nan])
        said = _recording(np.linspace(40e3, 30e3, count + 2), column=walls)
        said.time_s[:] += 50.0
        t = said.time_s - 50.0
        rows = np.stack([t**k for k in range(degree + 1)], axis=1)
        by, *_ = np.linalg.lstsq(rows[:count], walls[:count], rcond=None)
        smooth = rows @ by
        found, moved = temperature_corrected(said, _used())
        assert found.pressure_pa == pytest.approx((said.pressure_pa + 1e5) * smooth[0] / smooth - 1e5)
        assert moved == pytest.approx(float(smooth.max() - smooth.min())) and not math.isnan(moved)
    two = _recording([40e3, 39e3, 38e3], column=np.array([293.0, 294.0, np.nan]))
    assert temperature_corrected(two, _used()) == (two, None)
