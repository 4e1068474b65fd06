"""The file: where it is, what in it counts, what only warns, what stops everything with file and line."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import platformdirs
import pytest

from leakdown.errors import InputError, UsageError
from leakdown.settings import ShopSettings, knowledge_folder, read_settings, settings_path


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "settings.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


@pytest.fixture
def bare(monkeypatch):
    monkeypatch.delenv("LEAKDOWN_SETTINGS", raising=False)
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    return monkeypatch


def test_the_place_is_the_platforms_own(bare):
    assert settings_path() == platformdirs.user_config_path("leakdown", appauthor=False) / "settings.toml"


def test_xdg_config_home_is_honoured_on_every_system(bare, tmp_path):
    bare.setenv("XDG_CONFIG_HOME", str(tmp_path))
    for system in ("linux", "darwin", "win32"):
        bare.setattr(sys, "platform", system)
        assert settings_path() == tmp_path / "leakdown" / "settings.toml"
    assert knowledge_folder() == tmp_path / "leakdown" / "knowledge"


@pytest.mark.skipif(os.name != "posix", reason="paths of another system")
def test_a_variable_names_another_file(bare, tmp_path):
    bare.setenv("XDG_CONFIG_HOME", str(tmp_path))
    bare.setenv("LEAKDOWN_SETTINGS", str(tmp_path / "mine.toml"))
    assert settings_path() == tmp_path / "mine.toml" == read_settings().path
    assert knowledge_folder() == tmp_path / "knowledge"
    bare.setenv("LEAKDOWN_SETTINGS", "")
    assert settings_path() == tmp_path / "leakdown" / "settings.toml"


@pytest.mark.parametrize("place", ["none.toml", "no/such/folder/s.toml"])
def test_no_file_is_no_settings(tmp_path, place):
    assert read_settings(tmp_path / place) == ShopSettings(tmp_path / place)


def test_the_null_device_and_a_file_for_a_folder_are_no_settings(tmp_path):
    assert read_settings(Path(os.devnull)).texts == ()
    written(tmp_path, "")
    assert read_settings(tmp_path / "settings.toml" / "leakdown" / "settings.toml").texts == ()


def test_settings_compare_and_can_be_keys(tmp_path):
    path = written(tmp_path, 'unit = "psi"\n[volume]\ntank = "1 L"\n')
    assert read_settings(path) == read_settings(path)
    assert len({read_settings(path), read_settings(path)}) == 1


@pytest.mark.parametrize(
    "text",
    [
        'limit.crankcase.vacuum = "6 kPa in 60 s"',
        '[limit.crankcase]\r\nvacuum = "6 kPa in 60 s"\r\n',
        'limit = { crankcase = { vacuum = "6 kPa in 60 s" } }',
        '\ufeff[limit]\ncrankcase.vacuum = " 6 kPa in 60 s "',
    ],
)
def test_every_way_to_write_a_table(tmp_path, text):
    found = read_settings(written(tmp_path, text))
    assert found.texts == (("limit.crankcase.vacuum", "6 kPa in 60 s"),) and not found.warnings


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('altitud = "850 m"', "altitud is no setting of this version and is left alone (near: altitude)"),
        ('[limit.case]\nvacuum = "1 kPa in 1 s"', "(near: limit.crankcase.vacuum)"),
        ('limit = "6 kPa in 60 s"', "limit is no setting"),
        ('"limit.tank.vacuum" = "6 kPa in 60 s"', "'limit.tank.vacuum' is no setting"),
        ('[unit]\nname = "kPa"', "unit.name is no setting"),
        ('[[volume]]\ntank = "1 L"', "volume is no setting"),
        ('"a\\u001b[31m\\nb" = 1', "'a\\x1b[31m\\nb' is no setting"),
        ("altitude = 850", 'altitude does not count: 850 is no text; write it in quotes, such as altitude = "'),
        ("altitude = nan", "altitude does not count"),
        ("altitude = 2020-01-01", "altitude does not count"),
        ('altitude = "850"', "altitude does not count: no unit in '850'"),
        ('altitude = ""', "altitude does not count: the value is empty"),
        ('shop = "a\\u0000b"', "shop does not count: a control character is in 'a\\x00b'"),
        ('jobs = "jobs"', "jobs does not count: 'jobs' would be another folder"),
        ("port = true", "port does not count: True is no text"),
    ],
)
def test_what_cannot_be_used_warns_by_name_and_the_rest_counts(tmp_path, text, why):
    path = written(tmp_path, f'mechanic = "A"\n{text}\n')
    found = read_settings(path)
    assert found.texts == (("mechanic", "A"),)
    [warning] = found.warnings
    assert warning.startswith(f"{path}: ") and why in warning and warning.isprintable()


def test_of_barometer_and_altitude_the_barometer_counts(tmp_path):
    found = read_settings(written(tmp_path, 'altitude = "2000 m"\nbarometer = "98 kPa"\n'))
    assert found.barometer_pa == 98_000 and found.altitude_m is None
    assert "barometer counts" in found.warnings[0]


def test_a_further_check_warns_too(tmp_path):
    def refuse(text):
        raise UsageError(f"limit: cannot read {text!r}")

    path = written(tmp_path, '[limit.tank]\nvacuum = "tight"\n')
    assert read_settings(path).limit_text("tank", "vacuum") == "tight"
    found = read_settings(path, {"limit": refuse})
    assert found.texts == () and "limit.tank.vacuum does not count: limit: cannot read" in found.warnings[0]


@pytest.mark.parametrize(
    ("text", "line", "why"),
    [
        ('unit = "psi"\n\naltitude 850 m\n', ":3", "no TOML"),
        ('unit = "psi"\nunit = "kPa"\n', ":2", "no TOML"),
        ('unit = "psi"\n# a\nport = "unclosed', ":3", "no TOML"),
        ('unit = "p\0si"', ":1", "no TOML"),
        (b'unit = "psi"\nshop = "caf\xe9"\n', ":2", "not UTF-8"),
        ('unit = "psi"'.encode("utf-16"), ":1", "not UTF-8"),
        (f"x = {'[' * 3000}{']' * 3000}", "", "nothing that a setting"),
        (f"x = {'[' * 30}{']' * 30}", "", "too deep"),
        (f"{'.'.join('a' * 40)} = 1", "", "too deep"),
        (f"x = {'9' * 5000}", "", "nothing that a setting"),
        ("# " + "x" * 300_000, "", "larger than"),
    ],
)
def test_a_file_that_is_no_settings_file_stops_with_file_and_line(tmp_path, text, line, why):
    path = written(tmp_path, text)
    with pytest.raises(InputError, match=why) as caught:
        read_settings(path)
    assert caught.value.where == f"{path}{line}"
    assert "LEAKDOWN_SETTINGS" in caught.value.remedy
    assert str(caught.value).count("\n") == 1


def test_a_folder_in_place_of_the_file(tmp_path):
    with pytest.raises(InputError, match="folder, not a file"):
        read_settings(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="no plain file"):
        read_settings(tmp_path / "pipe")


@pytest.mark.skipif(os.name != "posix", reason="links need rights elsewhere")
def test_links_are_read_and_a_broken_one_is_said(tmp_path):
    path = written(tmp_path, 'unit = "psi"\n')
    (tmp_path / "good").symlink_to(path)
    (tmp_path / "broken").symlink_to(tmp_path / "gone")
    assert read_settings(tmp_path / "good").unit == "psi"
    assert "link to nowhere" in read_settings(tmp_path / "broken").warnings[0]
