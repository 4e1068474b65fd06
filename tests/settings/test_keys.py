"""Every setting: what is accepted, what it means in SI, what is refused and with which words."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from leakdown.circuits import CIRCUITS
from leakdown.errors import UsageError
from leakdown.settings import KEYS, NAMES, ShopSettings, read_settings, set_value
from leakdown.settings.keys import key_named, key_of

# name, text, accessor, value in SI (by hand or by definition)
SI = [
    ("unit", "in. Hg", "unit", "inHg"),
    ("unit", "psig", "unit", "psi"),
    ("barometer", "98.2 kPa", "barometer_pa", 98_200.0),
    ("barometer", "29 inHg", "barometer_pa", 98_205.3),  # 29 x 3386.388
    ("altitude", "1000 ft", "altitude_m", 304.8),
    ("temperature", "-5 degC", "temperature_k", 268.15),
    ("gauge", "auto", "gauge", "auto"),
    ("port", "COM7", "port", "COM7"),
    ("resolution", "0.5 mbar", "resolution_pa", 50.0),
    ("rig", "bench-1", "rig", "bench-1"),
    ("rigs", "/srv/rigs", "rigs", Path("/srv/rigs")),
    ("jobs", "~/jobs", "jobs", Path("~/jobs").expanduser()),
    ("shop", "Hütte & Söhne \"am Bach\" \\ 'Süd'", "shop", "Hütte & Söhne \"am Bach\" \\ 'Süd'"),
    ("mechanic", "松本", "mechanic", "松本"),
    ("pump_stroke", "15 cc", "pump_stroke_m3", 15e-6),
    ("air_needed", "12 cm3/min", "air_needed_m3_s", 12e-6 / 60),
]


@pytest.mark.parametrize(("name", "text", "accessor", "value"), SI)
def test_a_setting_is_kept_as_written_and_read_in_si(tmp_path, name, text, accessor, value):
    file = tmp_path / "settings.toml"
    set_value(name, text, file)
    found = read_settings(file)
    assert found.warnings == ()
    assert found.text(name) == (value if name == "unit" else text)
    got = getattr(found, accessor)
    assert got == (pytest.approx(value, rel=1e-6) if isinstance(value, float) else value)


def test_every_row_without_pattern_is_tried_above_and_has_an_accessor():
    assert {name for name, *_ in SI} == {key.name for key in KEYS if not key.is_pattern}
    nothing = ShopSettings(Path("none"))
    assert all(getattr(nothing, accessor) is None for _, _, accessor, _ in SI)


@pytest.mark.parametrize("name", NAMES)
def test_the_example_of_every_setting_is_accepted(tmp_path, name):
    key = key_of(name)
    set_value(name, key.example, tmp_path / "s.toml")
    found = read_settings(tmp_path / "s.toml")
    assert found.warnings == () and found.texts == ((name, key.kept(key.example, name)),)


def test_limits_and_volumes_by_circuit(tmp_path):
    file = tmp_path / "s.toml"
    set_value("limit.case.Vacuum", "6 kPa in 60 s", file)
    set_value("volume.Fuel Line", "12 mL", file)
    found = read_settings(file)
    assert found.limit_text("crankcase", "vacuum") == "6 kPa in 60 s"
    assert found.limit_text("crankcase", "pressure") is None
    assert found.text("volume.fuel-line") == "12 mL"
    assert found.volume_m3("fuel-line") == pytest.approx(12e-6)
    assert found.volume_m3("tank") is None


def test_the_altitude_stands_for_a_barometer(tmp_path):
    set_value("altitude", "1000 m", tmp_path / "s.toml")
    # U.S. Standard Atmosphere 1976, table I: 898.76 mb at 1000 m
    assert read_settings(tmp_path / "s.toml").barometer_pa == pytest.approx(89_876, abs=1)


REFUSED = [
    ("unit", "furlong", "unknown unit"),
    ("unit", "kPa abs", "absolute"),
    ("barometer", "98.2", "no unit"),
    ("barometer", "1 bar of course", "unknown unit"),
    ("barometer", "4 psi", "outside 30..120 kPa"),
    ("altitude", "850", "no unit"),
    ("altitude", "90 km", "outside -500..11000 m"),
    ("temperature", "20 mm", "unknown unit"),
    ("temperature", "900 degC", "outside"),
    ("resolution", "0 psi", "no size"),
    ("resolution", "1e308 MPa", "no size"),
    ("pump_stroke", "-3 cm3", "not above zero"),
    ("air_needed", "12 cm3", "unknown unit"),
    ("air_needed", "1.7e308 L/min", "no size"),
    ("volume.tank", "big", "no number"),
    ("jobs", "jobs", "wherever the program is started"),
    ("gauge", "mine.toml", "wherever the program is started"),
    ("rigs", "~nobody-of-that-name/rigs", "home"),
    ("shop", "", "empty"),
    ("shop", " \t", "empty"),
    ("shop", "a\0b", "control character"),
    ("mechanic", "\x1b[2Jx", "control character"),
    ("shop", "a\u202eb", "control character"),
    ("shop", "a\udc80b", "control character"),
    ("port", "x" * 2000, "longer than"),
]


@pytest.mark.parametrize(("name", "text", "why"), REFUSED)
def test_impossible_values_are_refused_with_an_example_and_nothing_is_written(tmp_path, name, text, why):
    with pytest.raises(UsageError, match=why) as caught:
        set_value(name, text, tmp_path / "s.toml")
    assert f'leakdown settings set {name} "' in caught.value.remedy
    assert str(caught.value).isprintable() or "\n" in str(caught.value)
    assert not any(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("altitud", "altitude"),
        ("units", "unit"),
        ("pump_strok", "pump_stroke"),
        ("limit.crankcase", "limit.crankcase.vacuum"),
        ("volumes.tank", "volume.tank"),
    ],
)
def test_an_unknown_setting_is_refused_with_the_closest(tmp_path, name, near):
    with pytest.raises(UsageError, match="no setting") as caught:
        set_value(name, "1", tmp_path / "s.toml")
    assert near in caught.value.remedy


@pytest.mark.parametrize(
    ("name", "why"), [("volume.moon", "unknown circuit"), ("limit.tank.sideways", "neither pressure nor vacuum")]
)
def test_an_unknown_circuit_or_direction_is_named(name, why):
    with pytest.raises(UsageError, match=why):
        key_named(name)


@pytest.mark.parametrize("name", ["", ".", "xyzzy", "\0", "unit.kPa", "limit..", "a" * 5000])
def test_what_is_like_nothing_gets_the_list_or_a_circuit(name):
    with pytest.raises(UsageError) as caught:
        key_named(name)
    assert len(str(caught.value)) < 600


def test_names_are_written_as_people_write_them():
    assert key_named(" Pump-Stroke ")[1] == "pump_stroke"
    assert key_named("limit.Tank Vent.PRESSURE")[1] == "limit.tank.pressure"


def test_further_checks_see_what_was_read(tmp_path):
    seen = []
    set_value("gauge", "~/g.toml", tmp_path / "s.toml", {"gauge": seen.append, "rig": seen.append})
    assert seen == [str(Path("~/g.toml").expanduser())]

    def refuse(text):
        raise UsageError("limit: no", remedy="Write it so.")

    with pytest.raises(UsageError, match="limit: no") as caught:
        set_value("limit.tank.vacuum", "x", tmp_path / "s.toml", {"limit": refuse})
    assert caught.value.remedy.startswith("Write it so. Example: leakdown settings set limit.tank.vacuum")


def test_every_circuit_has_its_volume_and_both_limits():
    assert {f"volume.{circuit}" for circuit in CIRCUITS} <= set(NAMES)
    assert sum(name.startswith("limit.") for name in NAMES) == 2 * len(CIRCUITS)


def test_reading_loads_neither_arrays_nor_the_editor(tmp_path):
    set_value("altitude", "850 m", tmp_path / "s.toml")
    code = (
        "import sys; from leakdown.settings import read_settings; read_settings().barometer_pa; "
        "print(*sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
        env={"LEAKDOWN_SETTINGS": str(tmp_path / "s.toml")},
    )
    assert not set(done.stdout.split()) & {"numpy", "pandas", "scipy", "tomlkit", "typer", "platformdirs"}
