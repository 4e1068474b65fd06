"""What the live view is made of: phases, digits, curve, marks, pump strokes, and when to stop."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.errors import UsageError
from leakdown.live.bench.connection import MARKS, fill_warning, mark_for, strokes_to, volume_by_strokes_m3
from leakdown.live.bench.drawing import big, plot
from leakdown.live.bench.keyboard import legend
from leakdown.live.bench.prompts import PhaseWatch
from leakdown.live.bench.view import LiveState, Picture
from leakdown.live.capture.session import Remark, Row
from leakdown.live.virtual.vessel import Scenario, Vessel

AIR_PA = 101_325.0


@pytest.mark.parametrize("target_pa", [40e3, -40e3])
@pytest.mark.parametrize("hole_m", [0.0, 0.1e-3, 0.5e-3])
def test_phases_of_a_played_test(target_pa, hole_m):
    scenario = Scenario(target_pa=target_pa, hole_m=hole_m, zero_s=3.0, fill_s=5.0, hold_s=40.0, vent_s=5.0)
    vessel, watch, noise = Vessel(scenario), PhaseWatch(), np.random.default_rng(1)
    seen = [(0.1 * i, watch.feed(0.1 * i, vessel.gauge_pa(0.1 * i) + noise.normal(0, 30)).phase) for i in range(520)]
    order = [phase for i, (_, phase) in enumerate(seen) if i == 0 or phase != seen[i - 1][1]]
    assert order[:3] == ["zero", "fill", "stabilise"]
    begins = {phase: next(t for t, p in seen if p == phase) for phase in order}
    assert begins["fill"] == pytest.approx(3.0, abs=1.0)
    assert begins["stabilise"] == pytest.approx(8.0, abs=1.7)
    if hole_m < 0.3e-3:
        assert order[:5] == ["zero", "fill", "stabilise", "hold", "vent"]
        assert begins["vent"] == pytest.approx(48.0, abs=1.0)


def test_a_huge_leak_is_no_vent_but_an_opened_valve_is():
    watch = PhaseWatch()
    for i in range(200):  # 45 kPa lost at a time constant of 2.5 s, as through a torn boot
        pressure = 9e3 * 0.1 * i if i < 50 else 45e3 * np.exp(-0.1 * (i - 50) / 2.5)
        assert watch.feed(0.1 * i, pressure).phase != "vent" or pressure < 1.5e3
    watch, seen = PhaseWatch(), []
    for i in range(200):  # a slow leak, and the valve opened at 15 s
        pressure = 9e3 * 0.1 * i if i < 50 else 45e3 if i < 150 else 45e3 * np.exp(-0.1 * (i - 150) / 0.6)
        seen.append(watch.feed(0.1 * i, pressure).phase)
    assert "vent" in seen[150:162] and "vent" not in seen[:150]


def phase_after(*levels_pa: float) -> str:
    """Phase after a quick fill to the first level and a second at it and at each of the others."""
    watch, now = PhaseWatch(), 0.0
    for pressure_pa in [levels_pa[0] * i / 30 for i in range(30)] + [p for p in levels_pa for _ in range(10)]:
        phase, now = watch.feed(now, pressure_pa).phase, now + 0.1
    return phase


def test_what_is_left_tells_an_opened_valve_from_a_huge_leak_just_after_filling():
    assert phase_after(45e3, 6e3) == "vent"
    assert phase_after(45e3, 26e3) == "stabilise"


def test_a_torn_boot_empties_by_the_orifice_law_and_is_no_vent():
    watch = PhaseWatch()
    for time_s in np.arange(145) / 20.0:
        pressure = 15e3 * time_s if time_s < 3.0 else 45e3 * (1.0 - (time_s - 3.0) / 4.5) ** 2
        assert watch.feed(time_s, pressure).phase != "vent" or pressure < 1.5e3


@pytest.mark.parametrize(("start_pa", "fall_pa_s", "phase"), [(4e3, 600, "stabilise"), (5e3, 1300, "zero")])
def test_what_falls_too_fast_at_first_is_not_yet_a_hold(start_pa, fall_pa_s, phase):
    watch = PhaseWatch()
    assert [watch.feed(0.1 * i, start_pa - fall_pa_s * 0.1 * i).phase for i in range(11)][-1] == phase


@pytest.mark.parametrize(("level_pa", "phase"), [(1.2e3, "zero"), (4e3, "hold")])
def test_a_needles_width_is_open_to_air(level_pa, phase):
    watch = PhaseWatch()
    assert [watch.feed(0.1 * i, level_pa).phase for i in range(150)][-1] == phase


def test_a_log_that_begins_in_the_hold_is_seen_as_one():
    watch = PhaseWatch()
    seen = [watch.feed(0.1 * i, 40e3 * np.exp(-0.1 * i / 60.0)).phase for i in range(240)]
    assert set(seen[:8]) == {"zero"} and seen[15] == "stabilise" and seen[-1] == "hold"


@pytest.mark.parametrize(("width", "height"), [(20, 5), (60, 12), (200, 40)])
@pytest.mark.parametrize("unicode", [True, False])
def test_digits_can_be_told_apart_and_fill_their_box(width, height, unicode):
    shapes = {char: tuple(big(char, width, height, unicode)) for char in "0123456789-."}
    assert len(set(shapes.values())) == 12
    rows = big("-40.1", width, height, unicode)
    ink = {"\u2588", "\u2580", "\u2584"} if unicode else {"#"}
    assert len(rows) <= height and all(len(row) <= width and set(row) <= ink | {" "} for row in rows)
    assert max(map(len, rows)) > 0.5 * min(width, 12 * 17) or len(rows) > 0.7 * height
    assert big("40.1", 6, 5) == ["40.1"], "too narrow for shapes: the number itself"


def test_the_curve_falls_where_the_pressure_falls():
    falling = Picture(
        tuple((0.1 * i, 40.0 - 0.1 * i) for i in range(400)), marks=((20.0, "S"),), phases=((0.0, "hold"),)
    )
    for unicode in (True, False):
        rows = ["".join(sign for sign, _ in row) for row in plot(falling, 60, 12, unicode)]
        assert len(rows) == 12 and all(len(row) == 60 for row in rows)
        body = [row[8:] for row in rows[:-2]]
        assert body[0][0].strip("\u2800 ") and not body[0][-1].strip("\u2800 ")
        assert body[-1][-1].strip("\u2800 ") and not body[-1][0].strip("\u2800 ")
        assert rows[0].lstrip().startswith("40") and "hold" in rows[-2] and "S" in rows[-2] and "20 s" in rows[-1]
        assert all(row.isascii() for row in rows) is not unicode


def test_the_limit_and_the_band_stand_in_the_curve():
    steady = tuple((float(i), 40.0) for i in range(30))
    drawn = plot(
        Picture(steady, limit=((0.0, 40.0), (60.0, 33.0)), band=((5.0, 20.0, 22.0), (25.0, 18.0, 20.0))), 60, 16
    )
    roles = {role for row in drawn for _, role in row}
    assert {"limit", "band", "reading", "axis"} <= roles
    assert plot(Picture(), 60, 12) == [] and plot(Picture(steady), 10, 12) == []


def test_one_key_marks():
    assert {mark_for(key) for key in "pbtsgo"} == set(MARKS.values())
    assert mark_for("B") == "boot moved" and mark_for("x") is None
    assert all(f"{key} {text}" in legend()[0] for key, text in MARKS.items())
    assert len(legend(58)) == 3 and all(len(line) <= 58 for line in legend(58))
    assert legend(58, "boot")[0] == "note: boot_   Enter keeps, Esc drops"


# A 15 cm3 pump to +40 kPa at sea level: common practice figures, no source, each recomputed by Boyle's law.
@pytest.mark.parametrize(("volume_cm3", "strokes"), [(40, 1.1), (200, 5.3)])
def test_strokes_to_forty_kpa(volume_cm3, strokes):
    assert strokes_to(40e3, volume_cm3 * 1e-6, AIR_PA) == pytest.approx(strokes, abs=0.05)
    assert strokes_to(40e3, volume_cm3 * 1e-6, AIR_PA) == pytest.approx(volume_cm3 * 40e3 / (AIR_PA * 15), rel=1e-12)


@pytest.mark.parametrize(("volume_cm3", "rise_kpa"), [(250, 6), (20, 76), (5, 300)])
def test_what_one_stroke_adds(volume_cm3, rise_kpa):
    assert 1.0 / strokes_to(rise_kpa * 1e3, volume_cm3 * 1e-6, AIR_PA) == pytest.approx(1.0, rel=0.02)


def test_a_vacuum_pump_takes_ever_less():
    volume = 200e-6
    strokes = strokes_to(-40e3, volume, AIR_PA)
    pressure = AIR_PA * (volume / (volume + 15e-6)) ** strokes
    assert pressure - AIR_PA == pytest.approx(-40e3, rel=1e-9)
    with pytest.raises(UsageError, match="perfect vacuum"):
        strokes_to(-102e3, volume, AIR_PA)


@pytest.mark.parametrize("target_pa", [40e3, -40e3])
def test_counted_strokes_give_the_volume_back(target_pa):
    count = strokes_to(target_pa, 180e-6, AIR_PA)
    assert volume_by_strokes_m3(count, target_pa, AIR_PA) == pytest.approx(180e-6, rel=1e-9)
    with pytest.raises(UsageError):
        volume_by_strokes_m3(0, target_pa, AIR_PA)


def test_small_volumes_are_warned_about_before_pumping():
    assert "adds 304 kPa in 5 cm3" in fill_warning(40e3, 5e-6, AIR_PA)
    assert fill_warning(40e3, 250e-6, AIR_PA) == ""
    assert fill_warning(-40e3, 5e-6, AIR_PA) == ""


def test_the_view_follows_the_log():
    state = LiveState("kPa")
    assert state.view().digits == "--.-"
    for i in range(300):
        state.feed(Row(0.1 * i, 40e3 - 10.0 * max(i - 100, 0) if i > 20 else 1e3 * 2 * i))
    state.feed(Row(30.05, None, raw="OL", why="no number"))
    state.feed(Row(30.06, None, mark="soap"))
    state.feed(Remark("a remark"))
    view = state.view()
    assert (view.digits, view.unit, view.phase) == ("38.0", "kPa", "hold")
    assert (view.readings, view.unreadable) == (300, 1)
    assert view.lost == "1.7 kPa lost in 17 s" and not view.alarming
    state.feed(Row(31.0, 60e3))
    assert "Over 55 kPa: seals" in state.view().said.lead


def test_the_view_in_another_unit():
    state = LiveState("psi")
    state.feed(Row(0.0, 34_473.8))
    assert state.view().digits == "5.00"
