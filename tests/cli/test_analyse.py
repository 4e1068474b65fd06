"""`leakdown analyse` and `convert` as scripts rely on them: streams, exit statuses, keys, refusals."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from tests.cli.program import leakdown

pytestmark = pytest.mark.slow

SHEET = "time (s),psi\n" + "".join(f"{10 * k},{round(4 * 6.5 * 0.93**k) / 4}\n" for k in range(13))
KEYS = {
    "file",
    "circuit",
    "direction",
    "hold",
    "start_pressure_kpa",
    "end_pressure_kpa",
    "exponential",
    "leak_rate",
    "loss_kpa_per_min",
    "equivalent_hole_mm",
    "viscous_share",
    "limit",
    "verdict",
    "warnings",
    "used",
}


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sheets") / "sheet.csv"
    path.write_text(SHEET)
    return path


def test_json_has_the_promised_keys_and_only_finite_numbers(sheet: Path) -> None:
    ran = leakdown("analyse", sheet, "--volume", "250 cm3", "--barometer", "100 kPa", "--json")
    assert ran.status == 0 and ran.err == ""
    (found,) = ran.objects
    assert set(found) >= KEYS
    assert found["leak_rate"]["low_pa_m3_s"] < found["leak_rate"]["value_pa_m3_s"] < found["leak_rate"]["high_pa_m3_s"]
    assert found["leak_rate"]["at_pressure_kpa"] == 35.0 and found["leak_rate"]["confidence"] == 0.95
    # throughput at the quoted pressure is loss times volume (V dp/dt, settled): 250 cm3, 60 s a minute
    loss = found["loss_kpa_per_min"]["value"] * 1e3 / 60
    assert found["leak_rate"]["value_pa_m3_s"] == pytest.approx(loss * 250e-6, rel=1e-9)
    assert found["used"]["barometer_kpa"] == {"value": 100.0, "source": "given"}
    assert found["used"]["temperature_degc"]["source"] == "assumed"


def test_without_a_volume_the_rest_is_given(sheet: Path) -> None:
    (found,) = leakdown("analyze", sheet, "--json").objects
    assert found["leak_rate"] is None and found["equivalent_hole_mm"] is None
    assert math.isfinite(found["loss_kpa_per_min"]["value"])
    assert "volume-unknown" in {w["code"] for w in found["warnings"]}


def test_half_life_is_the_time_constant_times_ln_2(sheet: Path) -> None:
    (found,) = leakdown("analyse", sheet, "--json").objects
    exponential = found["exponential"]
    t = 10.0 * np.arange(13)
    readings = np.round(4 * 6.5 * 0.93 ** np.arange(13)) / 4
    outside, _ = curve_fit(lambda t, p0, tau: p0 * np.exp(-t / tau), t, readings, p0=[6.0, 100.0])  # scipy's own fit
    assert exponential["time_constant_s"] == pytest.approx(outside[1], rel=1e-4)
    assert exponential["half_life_s"] == pytest.approx(exponential["time_constant_s"] * math.log(2))


@pytest.mark.parametrize(
    ("limit", "status", "word"),
    [
        ("30 kPa in 20 s from 40 kPa", 0, "pass"),
        ("0.5 kPa in 20 s from 40 kPa", 10, "fail"),
        ("2.5 cm3/min", 11, "undecided"),
    ],
)
def test_verdicts_as_exit_statuses(sheet: Path, limit: str, status: int, word: str) -> None:
    ran = leakdown("analyse", sheet, "--limit", limit, "--json", "--verdict-status")
    assert (ran.status, ran.objects[0]["verdict"]) == (status, word)
    assert leakdown("analyse", sheet, "--limit", limit, "--json").status == 0


def test_a_bad_file_among_good_ones_is_named_and_the_rest_is_done(sheet: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("time,pressure\n0,30\n30,29\n")
    ran = leakdown("analyse", sheet, bad, sheet, "--json")
    assert ran.status == 2
    assert [found["file"] for found in ran.objects] == [str(sheet), str(sheet)]
    assert "bad.csv:1" in ran.err and "unit" in ran.err


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["--volume", "250"], "cm3"),
        (["--volume", "250 furlongs"], "furlongs"),
        (["--quote-at", "35"], "kPa"),
        (["--barometer", "29 psi"], "30..120 kPa"),
        (["--hold", "40..20"], "START..END"),
        (["--limit", "soon"], "kPa"),
        (["--direction", "sideways"], "pressure or vacuum"),
        (["--circuit", "gearbox"], "crankcase"),
        (["--altitude", "90 km"], "altitude"),
        (["--volume-uncertainty", "10 %"], "--volume"),
        (["--barometer", "101.3 kPa", "--altitude", "1500 m"], "sea-level"),
    ],
)
def test_what_cannot_be_used_is_said_in_two_lines(sheet: Path, words: list[str], named: str) -> None:
    ran = leakdown("analyse", sheet, *words)
    assert ran.status == 2 and ran.out == ""
    assert named in ran.err and "Traceback" not in ran.err
    assert 1 <= len(ran.err.strip().splitlines()) <= 2


def test_a_missing_file_and_an_unwritable_report(sheet: Path, tmp_path: Path) -> None:
    ran = leakdown("analyse", tmp_path / "none.csv")
    assert ran.status == 2 and "none.csv" in ran.err
    ran = leakdown("analyse", sheet, "--report", tmp_path / "no" / "page.html")
    assert ran.status == 1 and "page.html" in ran.err and "Traceback" not in ran.err


def test_report_and_chart_are_written(sheet: Path, tmp_path: Path) -> None:
    page, chart = tmp_path / "page.html", tmp_path / "chart.svg"
    ran = leakdown("analyse", sheet, "--volume", "250 cm3", "--report", page, "--chart", chart)
    assert ran.status == 0
    assert "<html" in page.read_text("utf-8") and "<svg" in chart.read_text("utf-8")
    assert page.stat().st_size < 2_300_000


def test_no_colour_where_there_is_no_terminal(sheet: Path) -> None:
    ran = leakdown("analyse", sheet, "--quiet", FORCE_COLOR="1")
    assert "\x1b" not in ran.out and ran.err == ""


def test_a_poor_encoding_does_not_stop_it(sheet: Path, tmp_path: Path) -> None:
    odd = tmp_path / "Prüfung\u2212ø.csv"
    odd.write_text("# note: dichtung ø 5 \u2212 ok\n" + SHEET, encoding="utf-8")
    ran = leakdown("analyse", odd, PYTHONIOENCODING="ascii")
    assert ran.status == 0 and "Traceback" not in ran.err


def test_convert_shows_what_was_understood(tmp_path: Path) -> None:
    sheet = tmp_path / "vac.csv"
    sheet.write_text("time (m:ss);vacuum inHg\n0:00;12,0\n0:30;11,5\n1:00;11,0\n")
    ran = leakdown("convert", sheet)
    assert ran.status == 0
    rows = [line.split(",") for line in ran.out.splitlines() if not line.startswith("#")]
    assert rows[0] == ["time_s", "pressure_kpa"]
    # conventional inHg 3386.388640 Pa (NIST SP 811 App. B.8: 3386.389)
    assert [(float(t), round(float(p), 4)) for t, p in rows[1:]] == [(0, -40.6367), (30, -38.9435), (60, -37.2503)]


def test_a_recording_survives_convert_and_gives_the_same_leak(sheet: Path, tmp_path: Path) -> None:
    out = tmp_path / "own.csv"
    assert leakdown("convert", sheet, "--out", out).status == 0
    (one,) = leakdown("analyse", sheet, "--json").objects
    (two,) = leakdown("analyse", out, "--json").objects
    assert two["loss_kpa_per_min"]["value"] == pytest.approx(one["loss_kpa_per_min"]["value"], rel=1e-6)


def test_altitude_stands_in_for_the_barometer(sheet: Path) -> None:
    (found,) = leakdown("analyse", sheet, "--altitude", "1000 m", "--json").objects
    # U.S. Standard Atmosphere 1976, geometric altitude 1000 m: 89 876 Pa
    assert found["used"]["barometer_kpa"]["value"] == pytest.approx(89.876, abs=0.001)


def test_the_demo_runs_and_says_what_it_wrote(tmp_path: Path) -> None:
    ran = leakdown("demo", tmp_path / "demo")
    assert ran.status == 0 and "FAIL" in ran.out and "PASS" in ran.out
    named = [line.strip() for line in ran.out.splitlines() if line.startswith("  ") and str(tmp_path) in line]
    written = [line for line in named if Path(line).is_file()]
    assert len(written) == 23


def test_help_is_about_pressure_and_vacuum_tests_and_prints_cautions() -> None:
    ran = leakdown("--help")
    assert ran.status == 0
    words = " ".join(ran.out.split())
    assert "Crankcase and fuel-system pressure/vacuum test" in words and "eye protection" in words


def test_many_files_give_a_table_and_the_same_results_as_one_by_one(sheet: Path, tmp_path: Path) -> None:
    files = []
    for k in range(5):
        files.append(tmp_path / f"{k}.csv")
        files[-1].write_text(SHEET.replace("0,6.5", f"0,{6.5 + k / 4}"))
    files.append(tmp_path / "=bad.csv")
    files[-1].write_text("time,pressure\n0,30\n")
    table = tmp_path / "table.csv"
    together = leakdown("analyse", *files, "--json", "--csv", table)
    assert together.status == 2
    alone = [leakdown("analyse", path, "--json").objects[0] for path in files[:5]]
    assert together.objects == alone
    rows = table.read_text("utf-8").splitlines()
    assert len(rows) == 7 and rows[0].startswith("file,circuit") and "unit" in rows[-1]
