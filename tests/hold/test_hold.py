"""The parts of a test told apart in whole logs: common practice of a bench test, invented numbers."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.errors import InputError
from leakdown.hold.parts import find
from leakdown.recording import Conditions, Recording
from tests.fit import truth
from tests.fit.helpers import analysed, codes


def _whole(rng: np.random.Generator, style: str, case: truth.Case, zero_pa: float) -> tuple[Recording, float, float]:
    """Zero, fill in one of three ways, the hold of `case`, vent, zero; with the true ends of the hold."""
    step = float(case.time_s[1])
    noise = float(np.std(np.diff(case.pressure_pa, 2))) / 6**0.5
    target = case.pressure_pa[0]
    count = int(rng.uniform(3, 9) / step)
    ramp = np.linspace(0, 1, count + 2)[1:-1]
    strokes = int(rng.integers(3, 9))
    fill = (
        target
        * {
            "ramp": ramp,
            "slowing": (1 - np.exp(-4 * ramp)) / (1 - np.exp(-4)),
            "strokes": np.ceil(ramp * strokes) / strokes,
        }[style]
    )
    before = np.zeros(int(rng.uniform(2, 6) / step))
    vent = case.pressure_pa[-1] * np.exp(-np.arange(1, int(1.2 / step)) * step / 0.25)
    after = np.zeros(int(rng.uniform(3, 8) / step))
    quiet = [part + rng.normal(0, noise, part.size) for part in (before, fill)]
    late = [part + rng.normal(0, noise, part.size) for part in (vent, after)]
    pressure = np.concatenate([*quiet, case.pressure_pa, *late]) + zero_pa
    time_s = np.arange(pressure.size) * step
    closed = (before.size + fill.size) * step
    said = Conditions(
        circuit="crankcase",
        direction="vacuum" if case.vacuum else "pressure",
        volume_m3=case.volume_m3,
        barometer_pa=case.ambient_pa,
        temperature_k=293.15,
    )
    return Recording(time_s, pressure, conditions=said, source="virtual"), closed, closed + case.time_s[-1]


@pytest.mark.parametrize("style", ["ramp", "slowing", "strokes"])
@pytest.mark.parametrize("seed", range(6))
def test_whole_logs_are_taken_apart(style: str, seed: int) -> None:
    rng = np.random.default_rng([7, seed])
    case = truth.dense(rng, tight=seed == 5)
    zero = float(rng.normal(0, 200))
    recording, closed, end = _whole(rng, style, case, zero)
    window = find(recording, 1.0)
    assert window.zero.source == "measured"
    assert abs(window.zero.offset_pa - zero) < 40.0
    # a fill that creeps up, or a tight hold, hides the exact moment in the noise
    assert closed - 2.0 <= window.closed_s <= closed + 3.5
    emptied = abs(case.pressure_pa[-1]) < 0.04 * abs(case.pressure_pa[0])
    assert window.end_s <= end + 0.3
    assert emptied or window.end_s >= end - 0.5
    names = [phase.name for phase in window.phases]
    assert names[0] == "zero" and names[1] == "fill" and names[-1] == "zero"


def test_a_whole_log_gives_the_same_leak_as_its_hold() -> None:
    rng = np.random.default_rng(3)
    case = truth.dense(rng)
    recording, closed, _ = _whole(rng, "ramp", case, 150.0)
    alone = analysed(
        case.time_s,
        case.pressure_pa,
        volume_m3=case.volume_m3,
        barometer_pa=case.ambient_pa,
        direction=recording.direction,
    )
    whole = analysed(
        recording.time_s,
        recording.pressure_pa,
        volume_m3=case.volume_m3,
        barometer_pa=case.ambient_pa,
        direction=recording.direction,
    )
    assert whole.leak is not None and alone.leak is not None
    assert whole.leak.rate_pa_s.value == pytest.approx(alone.leak.rate_pa_s.value, rel=0.02)
    assert {p.name for p in whole.hold.phases} >= {"zero", "fill", "hold", "vent"}


def test_a_hold_chosen_by_hand_wins() -> None:
    t = np.arange(0, 60, 0.1)
    found = analysed(t, 40e3 * np.exp(-t / 200), hold_s=(20.0, 40.0))
    assert (found.hold.start_s, found.hold.end_s, found.hold.given) == (20.0, 40.0, True)
    assert found.hold.readings == 201


def test_a_hold_with_no_readings_in_it_is_refused() -> None:
    t = np.arange(0, 60, 0.1)
    with pytest.raises(InputError, match="holds 0 readings"):
        analysed(t, 40e3 * np.exp(-t / 200), hold_s=(70.0, 80.0))


def test_a_step_parts_the_hold_and_is_said() -> None:
    t = np.arange(0, 60, 0.1)
    k, a = truth.geometry(200.0, 1.0, 101_325.0, 1.0)
    p = truth.isothermal(t, 141_325.0, 101_325.0, k, a) - 101_325.0 + np.random.default_rng(0).normal(0, 30, t.size)
    p[350:] -= 2000.0
    found = analysed(t, p)
    assert "step" in codes(found)
    assert found.hold.steps[0].time_s == pytest.approx(35.0, abs=1.0)
    assert found.hold.steps[0].change_pa == pytest.approx(-2000.0, abs=200.0)
    assert found.leak is not None and found.leak.rate_pa_s.low <= 200.0 <= found.leak.rate_pa_s.high


def test_two_holds_in_one_log_are_said() -> None:
    t = np.arange(0, 40, 0.1)
    one = 40e3 * np.exp(-t / 150)
    up = np.linspace(0, 40e3, 30)
    gap = np.zeros(40)
    p = np.concatenate([gap, up, one, gap, up, one, gap]) + np.random.default_rng(1).normal(0, 20, 2 * 430 + 120)
    found = analysed(np.arange(p.size) * 0.1, p)
    assert "several-holds" in codes(found)
    assert found.time_constant_s == pytest.approx(150, rel=0.05)


def test_a_sheet_with_zero_and_fill_rows_keeps_its_hold() -> None:
    t = np.array([0, 10, 20, 30, 60, 90, 120, 125.0])
    p = np.array([0, 20e3, 40e3, 39e3, 36e3, 33.4e3, 31e3, 0.0])
    found = analysed(t, p, by_hand=True)
    assert (found.hold.start_s, found.hold.end_s) == (20.0, 120.0)
