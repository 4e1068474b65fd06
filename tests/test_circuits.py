"""Circuits: every one complete, targets inside their cautions, four-strokes refused kindly."""

import json
from importlib import resources

import pytest

from leakdown.circuits import CIRCUITS, circuit, circuit_named, for_engine
from leakdown.errors import UsageError
from leakdown.judge.limits import practice_limit
from leakdown.words.circuits import circuit_lines, circuit_object


@pytest.mark.parametrize("name", CIRCUITS)
def test_every_circuit_is_complete(name):
    found = circuit(name)
    assert found.steps and found.mind and found.healthy and found.ways and found.sealed and found.harm
    for way in found.ways:
        assert 0 < way.target_pa <= way.caution_pa
        assert (practice_limit(name, way.direction) is None) == (way.limit == "")
    text = "\n".join(circuit_lines(found, 80, lambda words, *_: [words]))
    assert "maker's service manual" in text
    json.dumps(circuit_object(found), allow_nan=False)


def test_only_known_circuits():
    for read in (circuit, circuit_named):
        with pytest.raises(UsageError, match="unknown circuit"):
            read("cylinder")
    assert circuit(None).id == "crankcase"
    assert circuit_named("Pulse line") == "impulse"


def test_synonyms_name_one_circuit_each():
    names = [word for name in CIRCUITS for word in circuit(name).synonyms]
    assert len(names) == len(set(names)) and not set(names) & set(CIRCUITS)


@pytest.mark.parametrize("name", ["crankcase", "impulse"])
def test_four_strokes_are_refused_kindly(name):
    with pytest.raises(UsageError, match="four-stroke") as error:
        for_engine(name, "four-stroke")
    for other in ("intake", "fuel-line", "tank", "carburettor-inlet", "float-inlet"):
        assert other in error.value.remedy
    assert "manual" in error.value.remedy


@pytest.mark.parametrize("name", ["intake", "fuel-line", "tank", "carburettor-inlet", "float-inlet"])
def test_the_other_tests_stay_valid_on_four_strokes(name):
    assert for_engine(name, "four-stroke").id == name


def test_thin_tanks_and_float_bowls_are_spared():
    # common practice, no source: tanks +20/-10 kPa, float bowls 15 to 30 kPa at most
    tank = circuit("tank")
    assert tank.caution_pa("pressure") <= 20e3 and tank.caution_pa("vacuum") <= 10e3
    assert circuit("float-inlet").caution_pa("pressure") <= 30e3


MARKED = {"four_stroke", "volume_cm3", "healthy", "target_kpa", "caution_kpa", "limit", "sealed", "both"}


def test_every_entry_is_marked_as_practice():
    text = resources.files("leakdown").joinpath("circuits.toml").read_text("utf-8")
    for line in text.splitlines():
        if (
            line.split("=")[0].strip()
            in ("four_stroke", "volume_cm3", "healthy", "target_kpa", "caution_kpa", "limit", "sealed", "harm", "both")
            or line.strip() == "]"
        ):
            assert "(practice)" in line, line
