"""Rig leaks kept and taken off, and a known orifice, against simulated holds and hand sums."""

import json

import numpy as np
import pytest

from leakdown.errors import RecordError, UsageError
from leakdown.judge.analyse import analyse
from leakdown.judge.rig import Rig, cleared, difference, orifice_check, rig_leak, with_leak
from leakdown.judge.rig_store import folder_of, load, load_or_new, names, save
from leakdown.physics.flow import orifice_throughput
from leakdown.recording import Conditions, Recording
from leakdown.uncertainty import InputQuantity, Interval
from leakdown.words.bench_results import check_object, cleared_lines, cleared_object, rig_lines, rig_object

AMBIENT = 101_325.0


def hold(area_m2, volume, circuit="crankcase", start=45e3, seconds=60.0, every=0.5, seed=2):
    """A hole emptying a vessel at constant temperature, stepped at 10 ms, read with 5 Pa noise."""
    rng, p, out = np.random.default_rng(seed), start + AMBIENT, []
    t = np.arange(0.0, seconds + 1e-9, every)
    for _ in t:
        out.append(p - AMBIENT)
        for _ in range(round(every / 0.01)):
            p -= orifice_throughput(p, AMBIENT, area_m2, 293.15) / volume * 0.01 if p - AMBIENT > 1 else 0.0
    told = Conditions(circuit, "pressure", volume, 0.03 * volume, AMBIENT, 293.15, resolution_pa=10.0)
    return analyse(Recording(t, np.round((np.array(out) + rng.normal(0, 5, t.size)) / 10) * 10, conditions=told))


RIG_AREA, ENGINE_AREA = 2e-10, 4e-9


@pytest.fixture(scope="module")
def rig():
    return with_leak(Rig("bench 1"), rig_leak(hold(RIG_AREA, 12e-6, "rig"), "2026-01-05"), 12e-6, 1e-6)


def test_the_rigs_leak_is_taken_off(rig):
    found = cleared(hold(RIG_AREA + ENGINE_AREA, 250e-6), rig)
    true = orifice_throughput(AMBIENT + 35e3, AMBIENT, ENGINE_AREA, 293.15)
    assert found.left_pa_m3_s.low <= true <= found.left_pa_m3_s.high
    assert found.left_pa_m3_s.value == pytest.approx(true, rel=0.05)
    assert found.left_pa_m3_s.value < found.test_pa_m3_s.value
    assert "blanks-not-covered" in [flag.code for flag in found.flags]


def test_difference_by_hand():
    # 10 (8 to 12) less 4 (3 to 5): 6, doubt hypot(2, 1) = 2.236 both ways
    left = difference(Interval(10.0, 8.0, 12.0), Interval(4.0, 3.0, 5.0))
    assert (left.value, left.low, left.high) == pytest.approx((6.0, 6 - 5**0.5, 6 + 5**0.5))
    # an undetected rig leak of at most 3: nothing off, but doubt below: hypot(2, 3) = 3.606
    tight = difference(Interval(10.0, 8.0, 12.0), Interval(None, 0.0, 3.0))
    assert (tight.value, tight.low, tight.high) == pytest.approx((10.0, 10 - 13**0.5, 12.0))
    # nothing that stands out is left
    assert difference(Interval(5.0, 4.0, 6.0), Interval(4.5, 4.0, 5.0)).value is None
    bound = difference(Interval(None, 0.0, 2.0), Interval(1.0, 0.5, 1.5))
    assert (bound.value, bound.low, bound.high) == (None, 0.0, 1.5)


def test_a_rig_is_kept_and_read_back(rig, tmp_path):
    save(rig, tmp_path / "new")
    assert load("bench 1", tmp_path / "new") == rig
    assert names(tmp_path / "new") == ["bench 1"]
    assert [p.name for p in (tmp_path / "new").iterdir()] == ["bench 1.json"]
    assert load_or_new("other", tmp_path) == Rig("other")


def test_one_result_for_each_direction(rig):
    again = with_leak(rig, rig_leak(hold(RIG_AREA, 12e-6, "rig", seed=5), "2026-02-01"))
    assert len(again.leaks) == 1 and again.leaks[0].measured == "2026-02-01"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        '{"version": 9}',
        "[1]",
        '{"version": 1, "name": "x", "volume_m3": -1, "volume_u_m3": null, "leaks": []}',
    ],
)
def test_a_damaged_file_is_refused(tmp_path, text):
    (tmp_path / "bench.json").write_text(text)
    with pytest.raises(RecordError, match="damaged"):
        load("bench", tmp_path)


def test_names_cannot_leave_the_folder(tmp_path):
    for name in ("../x", "a/b", "", ".hidden", "x" * 80, "nul\0"):
        with pytest.raises(UsageError, match="no name"):
            save(Rig(name), tmp_path)
    with pytest.raises(RecordError, match="Kept there: none"):
        load("none", tmp_path)


def test_where_rigs_are_kept(tmp_path, monkeypatch):
    monkeypatch.setenv("LEAKDOWN_RIGS", str(tmp_path / "a"))
    assert folder_of() == tmp_path / "a"
    assert folder_of(tmp_path) == tmp_path
    monkeypatch.delenv("LEAKDOWN_RIGS")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert folder_of() == tmp_path / "leakdown" / "rigs"


def test_what_does_not_match_is_refused(rig):
    without = hold(ENGINE_AREA, 250e-6)
    from dataclasses import replace

    with pytest.raises(UsageError, match="never tested under"):
        cleared(without, Rig("empty"))
    off = replace(rig, leaks=(replace(rig.leaks[0], at_pa=20e3),))
    with pytest.raises(UsageError, match="Quote both"):
        cleared(without, off)


def test_a_known_orifice():
    diameter = 0.3e-3
    area = 0.61 * np.pi / 4 * diameter**2
    result = hold(area, 512e-6, "rig")
    found = orifice_check(result, InputQuantity("orifice", diameter, 0.005e-3, "given", ""))
    assert found.agrees
    assert found.ratio.value == pytest.approx(1.0, rel=0.05)
    wrong = orifice_check(result, InputQuantity("orifice", 2 * diameter, 0.005e-3, "given", ""))
    assert not wrong.agrees and "NOT agree" in wrong.sentence
    json.dumps(check_object(found), allow_nan=False)


def test_objects_and_lines(rig):
    json.dumps(rig_object(rig), allow_nan=False)
    assert "bench 1: 12 cm3" in rig_lines(rig)[0]
    found = cleared(hold(RIG_AREA + ENGINE_AREA, 250e-6), rig)
    json.dumps(cleared_object(found), allow_nan=False)
    assert cleared_lines(found)[0].startswith("Without the rig bench 1")
