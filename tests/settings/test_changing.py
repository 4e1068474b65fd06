"""Set and unset: only one value changes, whole or not at all; what cannot be done is one clear line."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from leakdown import shop_files as files
from leakdown.errors import InputError, OutputError, UsageError
from leakdown.settings import read_settings, set_value, unset

WRITTEN = """\
# our bench

altitude = "850 m"   # on the hill
zz_later = [1, 2]    # of a newer version

[limit.crankcase]
# the maker's
vacuum = "6 kPa in 60 s"  # book, page 12

[volume]
tank = '1 L'
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "settings.toml"
    path.write_text(WRITTEN, encoding="utf-8")
    return path


def test_a_new_file_in_a_new_folder(tmp_path):
    path = tmp_path / "a" / "b" / "settings.toml"
    change = set_value("unit", "inches of mercury", path)
    assert (change.name, change.text, change.before, change.path) == ("unit", "inHg", None, path)
    assert path.read_text("utf-8").endswith('\nunit = "inHg"\n')
    assert [p.name for p in path.parent.iterdir()] == ["settings.toml"]


def test_only_the_value_changes(file):
    change = set_value("altitude", "900 m", file)
    assert change.before == "850 m"
    assert file.read_text("utf-8") == WRITTEN.replace('"850 m"', '"900 m"')
    set_value("limit.crankcase.vacuum", "7 kPa in 60 s", file)
    assert file.read_text("utf-8") == WRITTEN.replace('"850 m"', '"900 m"').replace('"6 kPa', '"7 kPa')


def test_new_settings_go_where_they_belong(file):
    for name, text in [
        ("shop", 'The "Hut" \\ 2'),
        ("limit.crankcase.pressure", "1 kPa in 9 s"),
        ("limit.tank.vacuum", "2 kPa in 9 s"),
        ("volume.rig", "12 cm3"),
    ]:
        set_value(name, text, file)
        assert read_settings(file).text(name) == text
    text = file.read_text("utf-8")
    assert [line for line in WRITTEN.splitlines() if line not in text.splitlines()] == []
    assert tomllib.loads(text)["zz_later"] == [1, 2]


def test_unset_takes_the_line_and_an_empty_table(file):
    assert unset("volume.tank", file).before == "1 L"
    assert "volume" not in tomllib.loads(file.read_text("utf-8"))
    unset("limit.case.vacuum", file)  # its comment keeps the table
    assert "# the maker's" in file.read_text("utf-8")
    assert read_settings(file).texts == (("altitude", "850 m"),)


def test_unset_of_nothing_writes_nothing(file, tmp_path):
    assert unset("shop", file).before is None
    assert file.read_text("utf-8") == WRITTEN
    unset("shop", tmp_path / "none.toml")
    assert not (tmp_path / "none.toml").exists()


def test_what_a_warning_named_can_be_unset(file):
    assert unset("zz_later", file).key is None
    assert "zz_later" not in file.read_text("utf-8")
    with pytest.raises(UsageError, match="no setting 'zz_later'"):
        unset("zz_later", file)


def test_setting_twice_is_setting_once(file):
    set_value("shop", "Mill Lane", file)
    before = (file.read_bytes(), file.stat().st_mtime_ns, file.stat().st_ino)
    set_value("shop", " Mill Lane ", file)
    assert (file.read_bytes(), file.stat().st_mtime_ns, file.stat().st_ino) == before


def test_barometer_and_altitude_replace_each_other(file):
    change = set_value("barometer", "98 kPa", file)
    assert change.also_unset == (("altitude", "850 m"),)
    assert read_settings(file).altitude_m is None
    change = set_value("altitude", "850 m", file)
    assert change.also_unset == (("barometer", "98 kPa"),)
    assert read_settings(file).text("barometer") is None


def test_a_value_without_quotes_is_put_right(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text("altitude = 850 # m\n", encoding="utf-8")
    set_value("altitude", "850 m", path)
    assert path.read_text("utf-8") == 'altitude = "850 m" # m\n'


def test_a_file_without_a_last_line_end_can_be_added_to(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text('zz.a.b = "1"', encoding="utf-8")
    set_value("shop", "A", path)
    assert path.read_text("utf-8") == 'zz.a.b = "1"\nshop = "A"\n'


def test_line_ends_stay_as_they_are(tmp_path):
    path = tmp_path / "s.toml"
    path.write_bytes(b'\xef\xbb\xbfunit = "psi"\r\n[volume]\r\ntank = "1 L"\r\n')
    set_value("shop", "A", path)
    data = path.read_bytes()
    assert data.count(b"\n") == data.count(b"\r\n") and read_settings(path).shop == "A"


@pytest.mark.parametrize(
    "text",
    [
        'limit = {crankcase = {vacuum = "1 kPa in 9 s"}}',
        'limit.crankcase.vacuum = "1 kPa in 9 s"',
        '[limit.crankcase]\nvacuum = "1 kPa in 9 s"\n[volume]\ntank = "1 L"\n[limit.intake]\nvacuum = "x"',
    ],
)
def test_other_ways_to_write_a_table_can_be_added_to(tmp_path, text):
    path = tmp_path / "s.toml"
    path.write_text(text, encoding="utf-8")
    set_value("limit.tank.vacuum", "2 kPa in 9 s", path)
    set_value("limit.crankcase.vacuum", "3 kPa in 9 s", path)
    found = read_settings(path)
    assert found.limit_text("tank", "vacuum") == "2 kPa in 9 s"
    assert found.limit_text("crankcase", "vacuum") == "3 kPa in 9 s"


@pytest.mark.parametrize(
    ("text", "name"),
    [('volume = "1 L"', "volume.tank"), ("[[limit]]", "limit.tank.vacuum"), ("[shop]\nname = 1", "shop")],
)
def test_no_room_is_said_and_nothing_lost(tmp_path, text, name):
    path = tmp_path / "s.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UsageError, match="no room"):
        set_value(name, "1 L", path)
    assert path.read_text("utf-8") == text


def test_a_damaged_file_is_not_written_over(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text('unit = "psi"\n???\n', encoding="utf-8")
    for attempt in (lambda: set_value("shop", "A", path), lambda: unset("unit", path)):
        with pytest.raises(InputError) as caught:
            attempt()
        assert caught.value.where == f"{path}:2"
    assert path.read_text("utf-8") == 'unit = "psi"\n???\n'


def _refused(path: Path) -> str:
    with pytest.raises((OutputError, InputError)) as caught:
        set_value("shop", "A", path)
    error = caught.value
    assert error.where.startswith(str(path)) and error.remedy and "\n" not in error.what
    return error.what


def test_places_where_nothing_can_be_kept(tmp_path):
    (tmp_path / "plain").write_text("x", encoding="utf-8")
    assert "a file stands where its folder" in _refused(tmp_path / "plain" / "settings.toml")
    assert "a file stands where its folder" in _refused(tmp_path / "plain" / "deeper" / "settings.toml")
    assert "folder, not a file" in _refused(tmp_path)
    assert "no plain file" in _refused(Path(os.devnull))
    assert _refused(tmp_path / "a\0b")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plain"]


@pytest.mark.skipif(os.name != "posix", reason="links need rights elsewhere")
def test_a_link_is_not_replaced(file, tmp_path):
    (tmp_path / "link").symlink_to(file)
    assert "link" in _refused(tmp_path / "link")
    assert (tmp_path / "link").is_symlink() and file.read_text("utf-8") == WRITTEN


@pytest.mark.parametrize("fails", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_file_and_no_scraps(file, monkeypatch, fails):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, fails, full)
    assert "No space left" in _refused(file)
    assert file.read_text("utf-8") == WRITTEN and len(list(file.parent.iterdir())) == 1


def test_a_folder_without_rights(file, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(files.os, "fsync", refuse)
        assert "Permission denied" in _refused(file)
    with monkeypatch.context() as patch:
        patch.setattr(files.os, "open", refuse)
        assert "cannot be read: Permission denied" in _refused(file)
    assert file.read_bytes().decode() == WRITTEN


@pytest.mark.skipif(os.name != "posix", reason="rights of another kind")
def test_the_files_rights_stay(file):
    file.chmod(0o640)
    set_value("shop", "A", file)
    assert stat.S_IMODE(file.stat().st_mode) == 0o640


def test_two_at_once_never_leave_half_a_file(tmp_path):
    path = tmp_path / "settings.toml"
    code = (
        "import sys; from pathlib import Path; from leakdown.settings import set_value\n"
        "for n in range(60): set_value(sys.argv[2], f'{sys.argv[2]} {n} ' + 'x' * 400, Path(sys.argv[1]))"
    )
    root = Path(__file__).parents[2]
    writers = [
        subprocess.Popen([sys.executable, "-c", code, str(path), key], cwd=root, stderr=subprocess.PIPE)
        for key in ("shop", "mechanic")
    ]
    looks = 0
    while any(writer.poll() is None for writer in writers):
        found = read_settings(path)
        assert found.warnings == () and all(len(text) > 400 for _, text in found.texts)
        looks += 1
    for writer in writers:
        assert writer.communicate()[1] == b"" and writer.returncode == 0
    assert looks > 10 and "59" in str(read_settings(path).texts)
    assert [p.name for p in tmp_path.iterdir()] == ["settings.toml"]
