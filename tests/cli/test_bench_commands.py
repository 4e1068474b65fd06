"""The commands around a test: volume, plan, suspects, reckon, circuits, rig, repeats."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from leakdown.cli import analyse, circuits, plan, reckon, repeats, rig, suspects, volume
from leakdown.errors import RecordError, UsageError

pytestmark = pytest.mark.slow

program = typer.Typer()
for module in (analyse, circuits, plan, reckon, repeats, rig, suspects, volume):
    module.register(program)


def run(*words: str | Path):
    """One JSON object (or the text) of a command; errors of the project come through as they are."""
    done = CliRunner().invoke(program, [str(w) for w in words], catch_exceptions=True)
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout) if "--json" in words and done.stdout.count("\n") == 1 else done.stdout


def test_volume_bottle_syringe_engine():
    # 100 (50/16 - 1) and 101.325 x 10/4.82 by hand
    bottle = run("volume", "bottle", "--bottle", "100 cm3", "--before", "50 kPa", "--after", "16 kPa", "--json")
    assert bottle["volume_cm3"]["value"] == pytest.approx(212.5)
    syringe = run(
        "volume", "syringe", "--injected", "10 cm3", "--rise", "4.82 kPa", "--barometer", "101.325 kPa", "--json"
    )
    assert syringe["volume_cm3"]["value"] == pytest.approx(210.218, abs=1e-3)
    words = ("volume", "engine", "--bore", "44 mm", "--stroke", "32 mm", "--crankcase-ratio", "1.45")
    opened = run(*words, "--clearance", "4 cm3", "--rig", "12 cm3", "--json")["volume_cm3"]
    assert opened["value"] == pytest.approx(172.784, abs=0.01)
    closed = run(*words, "--ports", "closed", "--json")["volume_cm3"]
    for found in (bottle["volume_cm3"], syringe["volume_cm3"], opened, closed):
        assert 0 < found["low"] < found["value"] < found["high"]
    assert "--volume" in run(*words)
    with pytest.raises(UsageError, match="neither open nor closed"):
        run(*words, "--ports", "ajar")
    with pytest.raises(UsageError, match="no unit"):
        run("volume", "bottle", "--bottle", "100", "--before", "50 kPa", "--after", "16 kPa")


def test_plan():
    found = run("plan", "--volume", "250 cm3", "--limit", "7 kPa in 60 s", "--resolution", "0.25 psi", "--json")
    assert 20 <= found["hold_s"] <= 90
    assert found["detection_limit_pa_m3_s"] > 0 and found["loss_kpa_per_min"] > 0
    assert found["used"]["every_s"] == 10
    with pytest.raises(UsageError, match="needs the volume"):
        run("plan", "--limit", "7 kPa in 60 s")


def test_suspects():
    text = "runs, dies within a minute, restarts at once, worse below half a tank, compression good"
    found = run("suspects", text, "--json")
    assert "pickup-line-in-tank" in [s["place"] for s in found["suspects"][:2]]
    assert set(found["suspects"][0]) >= {"place", "probability", "reasons"}
    assert found["next_test"]["do"]
    assert "below-half-tank" in run("suspects", "--observations")
    by_id = run("suspects", "--seen", "floods", "--not-seen", "stored", "--json")
    assert by_id["suspects"][0]["place"] == "inlet-needle"
    with pytest.raises(UsageError, match="needs a terminal"):
        run("suspects", "--ask")


def test_sums():
    leak = run("reckon", "pump", "--held", "8 kPa", "--strokes", "10", "--in", "10 s", "--json")
    assert leak["leak_rate_pa_m3_s"]["value"] == pytest.approx(1.52, abs=0.005)
    share = run("reckon", "idle", "--hole", "0.5 mm", "--displacement", "50 cm3", "--json")
    assert share["share_of_idle_air"]["value"] == pytest.approx(0.024, rel=0.1)
    seal = run("reckon", "neighbour", "--rise", "2 kPa", "--in", "60 s", "--volume", "250 cm3", "--json")
    assert seal["centre_seal_pa_m3_s"]["value"] == pytest.approx(8.333e-3, rel=1e-3)


def test_circuits():
    assert "crankcase" in run("circuits")
    assert run("circuits", "tank", "--json")["circuit"] == "tank"
    with pytest.raises(UsageError, match="four-stroke"):
        run("circuits", "crankcase", "--engine", "four-stroke")


def _sheet(folder: Path, name: str, pressure_kpa: np.ndarray, time_s: np.ndarray, *head: str) -> Path:
    path = folder / name
    rows = "\n".join(f"{t:.2f},{p:.3f}" for t, p in zip(time_s, pressure_kpa, strict=True))
    path.write_text("\n".join([*(f"# {line}" for line in head), "time_s,pressure_kpa", rows]) + "\n")
    return path


def test_one_way_parts_are_judged_by_analyse(tmp_path):
    t = np.arange(0.0, 60.5, 1.0)
    vacuum = _sheet(tmp_path, "vacuum.csv", -2 - 6 * np.exp(-t / 8), t, "circuit: tank")
    pressure = _sheet(tmp_path, "pressure.csv", 15 * np.exp(-t / 30), t, "circuit: tank")
    for sheet, words in ((vacuum, ("--air-needed", "33 cm3/min")), (pressure, ("--vent-kind", "breather"))):
        assert run("analyse", sheet, "--volume", "500 cm3", *words, "--json")["verdict"] == "pass"
    assert run("analyse", vacuum, "--volume", "500 cm3", "--air-needed", "2 L/min", "--json")["verdict"] == "fail"
    one = np.concatenate((np.linspace(0, 100, 50), 60 + 40 * np.exp(-1.2 * np.arange(1, 47)), 60 * 0.5 ** np.arange(9)))
    log = np.tile(one, 5)
    needle = _sheet(tmp_path, "needle.csv", log, np.arange(log.size) * 0.05, "circuit: carburettor-inlet")
    told = run("analyse", needle, "--gauge-range", "200 kPa", "--json")
    assert told["verdict"] == "pass" and "range-unknown" not in [w["code"] for w in told["warnings"]]
    assert "70 % of where it closes" in run("analyse", needle, "--gauge-range", "200 kPa")


def test_rig_kept_shown_and_taken_off(tmp_path):
    t = np.arange(0.0, 60.5, 1.0)
    own = _sheet(tmp_path, "rig.csv", 45 * np.exp(-t / 800), t, "circuit: rig")
    test = _sheet(tmp_path, "test.csv", 45 * np.exp(-t / 300), t, "circuit: crankcase")
    kept = run("rig", "keep", "bench-1", own, "--volume", "12 cm3", "--rigs", tmp_path / "rigs", "--json")
    assert kept["volume_cm3"] == pytest.approx(12.0)
    assert "bench-1" in run("rig", "show", "--rigs", tmp_path / "rigs")
    left = run("rig", "subtract", "bench-1", test, "--volume", "250 cm3", "--rigs", tmp_path / "rigs", "--json")
    assert 0 < left["left_pa_m3_s"]["value"] < left["test_pa_m3_s"]["value"]


def test_repeats(tmp_path):
    t = np.arange(0.0, 61.0, 2.0)
    rng = np.random.default_rng(3)
    holds = [
        _sheet(tmp_path, f"{k}.csv", 45 * np.exp(-t / 400) + rng.normal(0, 0.02, t.size), t, "circuit: crankcase")
        for k in range(3)
    ]
    found = run("repeats", *holds, "--json")
    assert found["agree"] and len(found["holds"]) == 3
    assert "agree" in run("repeats", *holds)


def test_analyse_keeps_a_rig_and_takes_it_off(tmp_path):
    t = np.arange(0.0, 60.5, 1.0)
    own = _sheet(tmp_path, "rig.csv", 45 * np.exp(-t / 800), t, "circuit: rig", "volume: 12 cm3")
    test = _sheet(tmp_path, "test.csv", 45 * np.exp(-t / 300), t, "circuit: crankcase", "volume: 250 cm3")
    rigs = ("--rig", "bench-1", "--rigs", tmp_path / "rigs")
    assert run("analyse", own, "--circuit", "rig", *rigs, "--json")["circuit"] == "rig"
    plain, cleared = run("analyse", test, "--json"), run("analyse", test, *rigs, "--json")
    assert 0 < cleared["leak_rate"]["value_pa_m3_s"] < plain["leak_rate"]["value_pa_m3_s"]
    assert "rig" in [finding["name"] for finding in cleared["findings"]]
    with pytest.raises(RecordError, match="no rig"):
        run("analyse", test, "--rig", "bench-2", "--rigs", tmp_path / "rigs")


def test_analyse_judges_a_tank_s_vent_and_a_needle(tmp_path):
    t = np.arange(0.0, 60.5, 1.0)
    head = ("circuit: tank", "direction: vacuum")
    healthy = _sheet(tmp_path, "in.csv", -1.5 - 6.5 * np.exp(-t / 4), t, *head)
    blocked = _sheet(tmp_path, "blocked.csv", -8.0 + 0.0 * t, t, *head)
    found = run("analyse", healthy, "--volume", "500 cm3", "--json")
    assert found["verdict"] == "pass" and found["limit"]["kind"] == "inflow"
    assert found["findings"][0]["figures"]["air_in_cm3_per_min"]["low"] > 33
    assert "BLOCKED" in run("analyse", blocked, "--volume", "500 cm3")
    assert run("analyse", blocked, "--json")["verdict"] == "fail"


def test_analyse_asks_how_much_of_the_idle_air(tmp_path):
    t = np.arange(0.0, 30.2, 0.2)
    test = _sheet(tmp_path, "big.csv", 45 * np.exp(-t / 6), t, "circuit: crankcase", "volume: 250 cm3")
    shares = [
        run("analyse", test, "--displacement", size, "--json")["findings"][0]["figures"]
        for size in ("30 cm3", "60 cm3")
    ]
    low, high = (s["share_of_idle_air_percent"]["value"] for s in reversed(shares))
    assert high == pytest.approx(2 * low)
    with pytest.raises(UsageError, match="displacement"):
        run("analyse", test, "--displacement", "0 cm3")
