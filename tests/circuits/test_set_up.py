"""Circuits: every one complete, targets inside their cautions, four-strokes refused kindly."""

import json
from importlib import resources

import pytest

from leakdown.circuits.set_up import all_set_ups, set_up
from leakdown.circuits.show import set_up_lines, set_up_object
from leakdown.errors import UsageError
from leakdown.judge.limits import caution_pa, practice_limit
from leakdown.recording import CIRCUITS


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_every_circuit_is_complete(circuit):
    found = set_up(circuit)
    assert found.steps and found.mind and found.healthy and found.targets
    for target in found.targets:
        assert 0 < target.fill_kpa <= target.caution_kpa
        assert target.caution_kpa == pytest.approx(caution_pa(circuit, target.direction) / 1e3)
        usual = practice_limit(circuit, target.direction)
        assert (usual is None) == (target.limit == "")
    text = "\n".join(set_up_lines(found, 80, lambda words, *_: [words]))
    assert "maker's service manual" in text
    json.dumps(set_up_object(found), allow_nan=False)


def test_only_known_circuits():
    assert [s.circuit for s in all_set_ups()] == list(CIRCUITS)
    with pytest.raises(UsageError, match="unknown circuit"):
        set_up("cylinder")


@pytest.mark.parametrize("circuit", ["crankcase", "impulse"])
def test_four_strokes_are_refused_kindly(circuit):
    with pytest.raises(UsageError, match="four-stroke") as error:
        set_up(circuit, "four-stroke")
    for other in ("intake", "fuel-line", "tank", "carburettor-inlet", "float-inlet"):
        assert other in error.value.remedy
    assert "manual" in error.value.remedy


@pytest.mark.parametrize("circuit", ["intake", "fuel-line", "tank", "carburettor-inlet", "float-inlet"])
def test_the_other_tests_stay_valid_on_four_strokes(circuit):
    assert set_up(circuit, "four-stroke").circuit == circuit


def test_thin_tanks_and_float_bowls_are_spared():
    # common practice, no source: tanks +20/-10 kPa, float bowls 15 to 30 kPa at most
    tank = {t.direction: t for t in set_up("tank").targets}
    assert tank["pressure"].caution_kpa <= 20 and tank["vacuum"].caution_kpa <= 10
    assert set_up("float-inlet").targets[0].caution_kpa <= 30


def test_every_entry_is_marked_as_practice():
    text = resources.files("leakdown.circuits").joinpath("circuits.toml").read_text("utf-8")
    for line in text.splitlines():
        if line.split("=")[0].strip() in ("four_stroke", "volume_cm3", "healthy") or line.strip() == "]":
            assert "(practice)" in line, line
