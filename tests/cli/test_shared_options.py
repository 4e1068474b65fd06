"""Options that several commands share do the same in each; machine lines hold nothing that breaks a line."""

from __future__ import annotations

import json
import math

import pytest

from leakdown.analysis import LeakEstimate
from leakdown.uncertainty import Interval
from tests.cli.program import leakdown as run

pytestmark = pytest.mark.slow


def rows(start, tau, over=0.0):
    return "".join(f"{5 * k},{over + start * math.exp(-5 * k / tau):.2f}\n" for k in range(13))


@pytest.fixture()
def bench(tmp_path):
    (tmp_path / "odd.csv").write_text(
        "# volume: 250 cm3\n# barometer: 101 kPa\n" + rows(45, 400, 2.0) + rows(45, 90, 2.0)
    )
    (tmp_path / "tank.csv").write_text(
        "# circuit: tank\n# direction: vacuum\n# volume: 400 cm3\n# barometer: 101 kPa\ntime (s),kPa\n"
        + "".join(f"{k},{8 * math.exp(-k / 30):.2f}\n" for k in range(60))
    )
    return tmp_path


TOLD = ("--columns", "time (s), pressure (kPa)", "--zero", "2 kPa", "--test")


def test_zero_test_and_columns_are_the_same_everywhere(bench):
    sizes = []
    for test in ("1", "2"):
        (found,) = run("analyse", "odd.csv", *TOLD, test, "--json", cwd=bench).objects
        assert found["hold"]["zero"]["offset_kpa"] == pytest.approx(2.0) and found["hold"]["zero"]["source"] == "given"
        sizes.append(found["leak_rate"]["value_pa_m3_s"])
    assert sizes[1] > 3 * sizes[0]
    (change,) = run("compare", "odd.csv", "odd.csv", *TOLD, "2", "--json", cwd=bench).objects
    assert change["after_over_before"]["value"] == pytest.approx(1.0, abs=0.02)
    (place,) = run("locate", "odd.csv", *TOLD, "1", "--json", cwd=bench).objects
    assert place["groups"]


def test_a_job_reads_its_recordings_again_as_they_were_told(bench):
    assert run("job", "new", "J", cwd=bench).status == 0
    for test in ("1", "2"):  # two tests of one file are two entries
        done = run("job", "add", "J", "odd.csv", *TOLD, test, "--no-report", cwd=bench)
        assert done.status == 0, done.err
    assert "already" in run("job", "add", "J", "odd.csv", *TOLD, "2", "--no-report", cwd=bench).err
    assert run("job", "report", "J", cwd=bench).status == 0
    entries = json.loads((bench / "jobs" / "J" / "job.json").read_text())["entries"]
    assert [(e["inputs"]["test"], e["inputs"]["zero_pa"]) for e in entries] == [(1, 2000.0), (2, 2000.0)]
    sizes = [e["result"]["figures"]["loss_kpa_per_min"]["value"] for e in entries]
    assert sizes[1] > 3 * sizes[0]


def test_the_air_needed_is_told_kept_and_named(bench):
    words = {}
    for need in ("12 cm3/min", "200 cm3/min"):
        (found,) = run("analyse", "tank.csv", "--air-needed", need, "--json", cwd=bench).objects
        words[need] = found["verdict"]
        assert f"{need} (given)" in found["verdict_detail"]["reason"] and found["limit"]["source"] == "given"
    assert words == {"12 cm3/min": "pass", "200 cm3/min": "fail"}
    (bench / "own.csv").write_text("# air needed: 200 cm3/min\n" + (bench / "tank.csv").read_text())
    (found,) = run("analyse", "own.csv", "--json", cwd=bench).objects
    assert (found["verdict"], found["limit"]["source"]) == ("fail", "file")
    (bench / "set.toml").write_text('air_needed = "200 cm3/min"\n')
    shop = {"LEAKDOWN_SETTINGS": str(bench / "set.toml")}
    (found,) = run("analyse", "tank.csv", "--json", cwd=bench, **shop).objects
    assert (found["verdict"], found["limit"]["source"]) == ("fail", "settings")
    run("job", "new", "J", cwd=bench)
    assert "the shop's own" in run("job", "add", "J", "tank.csv", "--no-report", cwd=bench, **shop).out
    assert run("job", "report", "J", cwd=bench).status == 0  # judged again, without that shop's settings
    told = run("job", "add", "J", "own.csv", "--air-needed", "12 cm3/min", "--no-report", cwd=bench)
    assert "12 cm3/min (given)" in " ".join(told.out.replace("\u00b3", "3").split())


def test_machine_lines_hold_nothing_that_ends_a_line_or_steers_a_terminal(bench):
    odd = "a\u2028b\u2029c\x85d\x9be\x7ff\u202eg.csv"
    (bench / odd).write_text((bench / "tank.csv").read_text())
    done = run("analyse", odd, "--json", cwd=bench, PYTHONUTF8="1")
    assert len(done.out.splitlines()) == 1 and done.objects[0]["file"] == odd
    assert not set("\u2028\u2029\x85\x9b\x7f\u202e") & set(done.out)


def test_a_share_is_one():
    tiny = Interval(-1e-9, -1e-9, 1.0 + 1e-12)
    leak = LeakEstimate(1.0, True, Interval(1.0, 0.5, 2.0), 0.1, None, None, None, tiny)
    assert leak.viscous_share == Interval(0.0, 0.0, 1.0)
