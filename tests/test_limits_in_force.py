"""One order of limits everywhere: given, the file's, the job's maker figure, the shop's, common practice."""

from __future__ import annotations

from pathlib import Path

import pytest

import leakdown
from leakdown.circuits import circuit
from leakdown.judge.limits import limit_in_force, parse_limit
from leakdown.recording import Conditions, Recording
from leakdown.settings import ShopSettings
from tests.cli.program import leakdown as run

pytestmark = pytest.mark.slow

ROWS = "time (s),kPa\n0,40\n20,38\n40,36\n60,34.2\n"
SHOP = ShopSettings(Path("settings.toml"), (("limit.crankcase.pressure", "2 kPa in 60 s"),))


def recording(own: str | None = None) -> Recording:
    extra = (("limit", own),) if own else ()
    told = Conditions("crankcase", "pressure", extra=extra)
    return Recording([0.0, 20.0, 40.0, 60.0], [40e3, 38e3, 36e3, 34.2e3], conditions=told)


def test_the_order():
    given, job = parse_limit("1 kPa in 60 s"), parse_limit("4 kPa in 60 s")
    order = [
        limit_in_force(recording("3 kPa in 60 s"), given, job, SHOP),
        limit_in_force(recording("3 kPa in 60 s"), None, job, SHOP),
        limit_in_force(recording(), None, job, SHOP),
        limit_in_force(recording(), None, None, SHOP),
        limit_in_force(recording(), None, None, None),
    ]
    assert [limit.source for limit in order] == ["given", "file", "job", "settings", "practice"]
    assert [limit.drop_pa for limit in order] == [1e3, 3e3, 4e3, 2e3, 7e3]
    assert order[-1].text == circuit("crankcase").way("pressure").limit


@pytest.fixture()
def bench(tmp_path, monkeypatch):
    """A shop with a strict limit of its own, and two files of the same readings."""
    (tmp_path / "settings.toml").write_text('[limit.crankcase]\npressure = "2 kPa in 60 s"\n')
    monkeypatch.setenv("LEAKDOWN_SETTINGS", str(tmp_path / "settings.toml"))
    (tmp_path / "plain.csv").write_text("# volume: 250 cm3\n" + ROWS)
    (tmp_path / "own.csv").write_text("# volume: 250 cm3\n# limit: 20 kPa in 60 s\n" + ROWS)
    return tmp_path


@pytest.mark.parametrize(("name", "word", "source"), [("plain.csv", "fail", "settings"), ("own.csv", "pass", "file")])
def test_the_same_bytes_give_the_same_verdict_everywhere(bench, name, word, source):
    (analysed,) = run("analyse", name, "--json", cwd=bench).objects
    assert (analysed["verdict"], analysed["limit"]["source"]) == (word, source)
    found = leakdown.analyse(leakdown.read(bench / name))
    assert (found.verdict.word, found.verdict.limit.source) == (word, source)
    (bench / "again.csv").write_text((bench / name).read_text() + "80,33\n")
    (compared,) = run("compare", name, "again.csv", "--json", cwd=bench).objects
    assert (compared["verdict_before"], compared["verdict_after"]) == (word, word)
    run("job", "new", "J1", cwd=bench)
    assert run("job", "add", "J1", name, "--no-report", cwd=bench).status == 0
    (job,) = run("job", "show", "J1", "--json", cwd=bench).objects
    test = next(entry for entry in job["entries"] if entry["kind"] == "test")
    assert test["verdict"] == word and test["limit"]["source"] == source
    assert leakdown.analyse(leakdown.read(bench / name), leakdown.Settings()).verdict.limit.source != "settings"


def test_what_the_shop_set_is_said_as_its_own(bench):
    (bench / "settings.toml").write_text('barometer = "95 kPa"\nunit = "inHg"\n[volume]\ncrankcase = "300 cm3"\n')
    (bench / "bare.csv").write_text(ROWS)
    (found,) = run("analyse", "bare.csv", "--json", cwd=bench).objects
    assert found["used"]["barometer_kpa"] == {"value": 95.0, "source": "settings"}
    assert found["used"]["volume_cm3"]["source"] == "settings"
    (told,) = run("analyse", "bare.csv", "--json", "--barometer", "99 kPa", cwd=bench).objects
    assert told["used"]["barometer_kpa"]["source"] == "given"
    (own,) = run("analyse", "plain.csv", "--json", cwd=bench).objects
    assert own["used"]["volume_cm3"]["source"] == "given"
    assert "inHg lost" in run("analyse", "bare.csv", "--quiet", cwd=bench).out


def test_circuits_say_whose_each_limit_is(bench):
    (found,) = run("circuits", "crankcase", "--json", cwd=bench).objects
    sources = {t["direction"]: (t["limit"], t["source"]) for t in found["targets"]}
    assert sources["pressure"] == ("2 kPa in 60 s", "settings")
    assert sources["vacuum"][1] == "practice"


def test_the_shop_s_folder_of_jobs_is_used_unless_another_is_given(bench):
    (bench / "settings.toml").write_text(f'jobs = "{bench / "kept"}"\n')
    assert run("job", "new", "J2", cwd=bench).status == 0
    assert (bench / "kept" / "J2" / "job.json").exists()
    assert run("job", "new", "J3", "--folder", "jobs", cwd=bench).status == 0
    assert (bench / "jobs" / "J3").exists()
