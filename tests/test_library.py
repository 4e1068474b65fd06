"""The library as a script or a notebook uses it: names, checks, frames, results that compare and print."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import leakdown

DATASETS = Path(__file__).parents[1] / "datasets"
PRESSURE, VACUUM = DATASETS / "2_crankcase_pressure.csv", DATASETS / "3_crankcase_vacuum.csv"
SETTINGS = leakdown.Settings(limit="6 kPa in 60 s from 40 kPa")  # the invented maker's figure


@pytest.fixture(scope="module")
def result():
    return leakdown.analyse(leakdown.read(VACUUM), SETTINGS)


def test_every_name_is_there_and_typed():
    for name in leakdown.__all__:
        assert getattr(leakdown, name) is not None, name
    assert set(leakdown.__all__) <= set(dir(leakdown))
    assert Path(leakdown.__file__).with_name("py.typed").exists()
    with pytest.raises(AttributeError, match="no attribute"):
        _ = leakdown.analyze_everything


def test_importing_it_loads_nothing_heavy():
    code = "import leakdown, sys; print('numpy' in sys.modules, 'typer' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.split() == ["False", "False"]


def test_options_of_read_are_texts_or_si(tmp_path):
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("time (s),pressure (psi)\n0,6\n20,5.8\n40,5.6\n60,5.5\n")
    said = leakdown.read(sheet, volume="250 cm3", circuit="intake", barometer="98 kPa")
    si = leakdown.read(sheet, volume_m3=250e-6, circuit="intake", barometer_pa=98e3)
    assert said == si and said.conditions.volume_m3 == pytest.approx(250e-6)
    with pytest.raises(leakdown.LeakdownError, match="unknown option 'volum'"):
        leakdown.read(sheet, volum="250 cm3")
    with pytest.raises(leakdown.LeakdownError, match="cm3"):
        leakdown.read(sheet, volume="250 m3")


def test_a_recording_takes_lists_and_checks_itself():
    told = leakdown.Conditions("crankcase", "pressure", 250e-6)
    recording = leakdown.Recording([0, 20, 40, 60], [40e3, 39e3, 38e3, 37e3], conditions=told)
    assert leakdown.analyse(recording, SETTINGS).verdict.word in ("pass", "fail", "undecided")
    with pytest.raises(leakdown.LeakdownError, match="4 times, 3 pressures"):
        leakdown.Recording([0, 20, 40, 60], [40e3, 39e3, 38e3])
    with pytest.raises(leakdown.LeakdownError, match="do not increase"):
        leakdown.Recording([0, 20, 10], [40e3, 39e3, 38e3])
    with pytest.raises(leakdown.LeakdownError, match="no number"):
        leakdown.Recording([0, "x"], [40e3, 39e3])


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"circuit": "cylinder"}, "unknown circuit 'cylinder'"),
        ({"direction": "up"}, "'up'"),
        ({"volume_m3": 250.0}, "volume"),
        ({"volume_m3": -1e-6}, "volume"),
        ({"barometer_pa": 98.0}, "barometer"),
        ({"temperature_k": 20.0}, "temperature"),
        ({"resolution_pa": -1.0}, "resolution_pa"),
        ({"unit": "cubit"}, "cubit"),
    ],
)
def test_conditions_check_themselves(wrong, words):
    with pytest.raises(leakdown.LeakdownError, match=words):
        leakdown.Conditions(**wrong)


@pytest.mark.parametrize(
    "wrong",
    [{"limit": "seven"}, {"quote_pa": 0.0}, {"hold_s": (60.0, 10.0)}, {"vent_kind": "flap"}, {"swept_m3": -1.0}],
)
def test_settings_check_themselves(wrong):
    with pytest.raises(leakdown.LeakdownError):
        leakdown.Settings(**wrong)


def test_results_compare_hash_and_print(result):
    again = leakdown.analyse(leakdown.read(VACUUM), SETTINGS)
    assert result == again and hash(result) == hash(again)
    assert result != replace(result, direction="pressure") and (result == 3) is False
    assert leakdown.read(VACUUM) == leakdown.read(VACUUM) != leakdown.read(PRESSURE)
    text = repr(result)
    assert 2 <= text.count("\n") + 1 <= 12 and "FAIL" in text and len(text) < 1500
    assert len(repr(leakdown.read(VACUUM)).splitlines()) <= 4
    html = result._repr_html_()
    assert "FAIL" in html and "<script" not in html


def test_frames_go_in_and_out(result):
    frame = leakdown.read(VACUUM).to_frame()
    assert list(frame.columns)[:2] == ["time_s", "pressure_kpa"] and frame["pressure_kpa"].min() < -40
    back = leakdown.Recording(frame["time_s"], frame["pressure_kpa"] * 1e3)
    assert np.allclose(back.pressure_pa, leakdown.read(VACUUM).pressure_pa)
    table = leakdown.table([result, leakdown.analyse(leakdown.read(PRESSURE), SETTINGS)])
    assert isinstance(table, pd.DataFrame) and len(table) == 2
    assert table["leak_cm3_per_min"].dtype == float and len(leakdown.table(result)) == 1
    with pytest.raises(leakdown.LeakdownError):
        leakdown.table([3])


@pytest.mark.slow
def test_the_rest_of_the_job(result):
    pressure, vacuum = leakdown.read(PRESSURE), leakdown.read(VACUUM)
    located = leakdown.locate([pressure, vacuum], settings=SETTINGS)
    assert located.groups[0].group == "shaft-seal" and located.places and located.next_test is not None
    assert "shaft seal" in repr(located)
    change = leakdown.compare(vacuum, leakdown.read(DATASETS / "6_after_repair_vacuum.csv"), settings=SETTINGS)
    assert change.word == "smaller" and "smaller" in repr(change)
    planned = leakdown.plan(volume_m3=250e-6, resolution_pa=1.7e3, limit="7 kPa in 60 s", workers=1)
    assert planned.hold_s and 2 <= len(repr(planned).splitlines()) <= 22
    figure = leakdown.figure(result)
    assert type(figure).__module__.startswith("plotly.") and len(figure.data) >= 2
    with pytest.raises(leakdown.LeakdownError):
        leakdown.figure(pressure)
