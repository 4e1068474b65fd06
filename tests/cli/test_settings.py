"""`leakdown settings`: streams, exit status, every key with its meaning, and words instead of tracebacks."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from leakdown.cli import settings
from leakdown.errors import UsageError
from leakdown.settings import KEYS
from tests.cli.program import leakdown

program = typer.Typer()
settings.register(program)


@pytest.fixture
def file(tmp_path, monkeypatch) -> Path:
    path = tmp_path / "bench" / "settings.toml"
    monkeypatch.setenv("LEAKDOWN_SETTINGS", str(path))
    monkeypatch.setenv("COLUMNS", "100")
    return path


def run(*words: str):
    done = CliRunner().invoke(program, ["settings", *words])
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code == 0, done.output
    return done


def test_show_names_every_key_with_its_meaning_and_the_file(file):
    out = run().stdout
    assert out == run("show").stdout
    lines = out.splitlines()
    assert lines[0] == f"{file} (no such file yet)"
    assert len(lines) == 1 + len(KEYS)
    for key, line in zip(KEYS, lines[1:], strict=True):
        assert line.split()[:2] == [key.name, "-"] and line.endswith(key.means)
    assert len({line.index(" - ") for line in lines[1:]}) == 1


def test_set_show_unset(file):
    run("set", "altitude", "850 m")
    said = run("set", "limit.case.vacuum", "6 kPa in 60 s")
    assert said.stdout == ""
    used = "used where neither --limit nor the file nor the job says one"
    assert said.stderr == f"limit.crankcase.vacuum: 6 kPa in 60 s, {used}\n"
    out = run().stdout
    assert out.splitlines()[0] == str(file)
    assert ["limit.crankcase.vacuum", "6 kPa in 60 s"] in [line.split(maxsplit=1) for line in out.splitlines()]
    assert "altitude" in out and " 850 m " in out
    assert run("unset", "altitude").stderr == "altitude: unset (it was 850 m)\n"
    assert run("unset", "altitude").stderr == "altitude: was not set\n"
    assert json.loads(run("show", "--json").stdout)["settings"] == {"limit.crankcase.vacuum": "6 kPa in 60 s"}


def test_one_that_replaces_another_says_so(file):
    run("set", "altitude", "850 m")
    said = run("set", "barometer", "92 kPa").stderr.splitlines()
    assert said[1] == "altitude: unset (it was 850 m), since barometer says the same"


def test_a_value_may_stand_without_quotes_and_below_zero(file):
    run("set", "temperature", "-5", "degC")
    run("set", "resolution", "0.25 psi")
    found = json.loads(run("--json").stdout)
    assert found == {
        "path": str(file),
        "settings": {"temperature": "-5 degC", "resolution": "0.25 psi"},
        "warnings": [],
    }


def test_json_is_one_object_and_holds_the_warnings(file):
    file.parent.mkdir()
    file.write_text('altitud = "850 m"\n[limit.tank]\nvacuum = "tight"\nrig = 1\n', encoding="utf-8")
    done = run("show", "--json")
    assert done.stdout.count("\n") == 1 and done.stderr == ""
    found = json.loads(done.stdout)
    assert found["settings"] == {} and len(found["warnings"]) == 3
    assert "cannot read 'tight'" in " ".join(found["warnings"])
    plain = run("show")
    assert plain.stderr.splitlines() == found["warnings"] and "altitud " not in plain.stdout


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("set", "altitud", "850 m"), "no setting 'altitud'"),
        (("set", "altitude", "850"), "no unit"),
        (("set", "limit.tank.vacuum", "6 kPa"), "cannot read '6 kPa'"),
        (("set", "volume.moon", "1 L"), "unknown circuit"),
        (("set", "gauge", "no-such-profile"), "no gauge profile"),
        (("set", "rig", "../x"), "no name for a rig"),
        (("set", "temperature", "--hot"), "no number"),
        (("unset", "altitud"), "no setting"),
        (("--json", "show"), "before the command"),
    ],
)
def test_refusals(file, words, why):
    with pytest.raises(UsageError, match=why):
        run(*words)
    assert not file.exists()


def test_long_values_and_narrow_screens(file, monkeypatch):
    long = "/srv/" + "folder/" * 12 + "jobs"
    run("set", "jobs", long)
    for columns in ("40", "60", "100"):
        monkeypatch.setenv("COLUMNS", columns)
        lines = run().stdout.splitlines()
        assert any(line.endswith(long) for line in lines)
        assert all(len(line) <= int(columns) for line in lines if long not in line and str(file) not in line)


def test_the_help_names_the_keys():
    out = " ".join(CliRunner().invoke(program, ["settings", "set", "--help"]).stdout.split())
    assert "altitude" in out and "limit.CIRCUIT.DIRECTION" in out


@pytest.mark.slow
def test_the_program_itself(tmp_path):
    place = {"XDG_CONFIG_HOME": str(tmp_path), "LEAKDOWN_SETTINGS": ""}
    ran = leakdown("settings", "path", **place)
    assert (ran.status, ran.out, ran.err) == (0, f"{tmp_path / 'leakdown' / 'settings.toml'}\n", "")
    assert leakdown("settings", "set", "shop", "Mill Lane", **place).status == 0
    assert leakdown("settings", "--json", **place).objects[0]["settings"] == {"shop": "Mill Lane"}
    ran = leakdown("settings", "set", "altitude", "850", **place)
    assert ran.status == 2 and ran.out == "" and "Traceback" not in ran.err
    (tmp_path / "leakdown" / "settings.toml").write_text("altitude 850", encoding="utf-8")
    ran = leakdown("settings", **place)
    assert ran.status == 2 and "settings.toml:1: is no TOML" in ran.err
    assert leakdown("settings", "path", **place).status == 0
    (tmp_path / "plain").write_text("", encoding="utf-8")
    ran = leakdown("settings", "set", "shop", "A", LEAKDOWN_SETTINGS=str(tmp_path / "plain" / "s.toml"))
    assert ran.status == 1 and ran.err.count("\n") == 2
