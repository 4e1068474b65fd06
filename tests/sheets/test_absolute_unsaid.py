"""Absolute pressures that nobody called so: refused or asked about; a needle's log from +97 kPa is read."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from leakdown.errors import InputError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions

HEADS = ["time (s);pressure (kPa)\n", "time_s,pressure_kpa\n"]


def _read(text: str, **options: Any) -> Recording:
    return read_bytes(text.encode(), "log.csv", ReadingOptions(**options))


def _log(kpa: NDArray[np.float64], head: str, keys: str = "") -> str:
    mark = ";" if ";" in head else ","
    noise = np.random.default_rng(3).normal(0, 0.02, kpa.size)
    return keys + head + "".join(f"{i / 10:.1f}{mark}{p:.3f}\n" for i, p in enumerate(kpa + noise))


def _test(air: float, hold: float, vent: bool, ease: float = 0.98) -> NDArray[np.float64]:
    """Five seconds open to air, two of filling, thirty of hold, and perhaps five vented."""
    held = air + (hold - air) * ease ** (np.arange(300) / 100)
    parts = [np.full(50, air), np.linspace(air, hold, 20), held, np.full(50 * vent, air)]
    return np.concatenate(parts)


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("hold", [137.0, 57.0])
@pytest.mark.parametrize("vent", [True, False])
@pytest.mark.parametrize("air", [86.0, 97.0, 101.3])
def test_a_log_that_rests_at_an_atmosphere_is_refused(head: str, hold: float, vent: bool, air: float) -> None:
    with pytest.raises(InputError, match="absolute") as caught:
        _read(_log(_test(air, hold, vent), head))
    assert "--absolute --barometer" in str(caught.value)
    assert "gauge" in str(caught.value)


@pytest.mark.parametrize("head", HEADS)
def test_a_log_from_the_hold_to_the_vent_is_refused(head: str) -> None:
    with pytest.raises(InputError, match="at the end"):
        _read(_log(_test(97.0, 137.0, True)[70:], head))


@pytest.mark.parametrize("head", HEADS)
def test_the_ways_out(head: str) -> None:
    text = _log(_test(97.0, 137.0, True), head)
    assert _read(text, absolute=True, barometer_pa=97e3).pressure_pa[0] == pytest.approx(0.0, abs=100)
    assert _read(text, unit="kPa gauge").pressure_pa[0] == pytest.approx(97e3, rel=1e-3)


@pytest.mark.parametrize("heading", ["kPa gauge", "kPag", "Überdruck kPa"])
def test_a_heading_that_says_gauge_is_believed(heading: str) -> None:
    assert _read(f"time s;{heading}\n0;101.3\n2;120\n4;141\n14;139\n24;137\n").pressure_pa[0] == 101.3e3


@pytest.mark.parametrize("head", HEADS)
def test_a_needles_log_from_97_kpa_is_read(head: str) -> None:
    rise = np.linspace(97.0, 195.0, 80)
    popped = np.concatenate([rise, np.full(100, 120.0), np.linspace(120, 190, 50), np.full(100, 121.0)])
    assert _read(_log(popped, head)).pressure_pa[0] == pytest.approx(97e3, rel=1e-2)
    resting = np.concatenate([np.full(40, 97.0), popped])
    assert _read(_log(resting, head)).pressure_pa[0] == pytest.approx(97e3, rel=1e-2)


def test_a_needles_circuit_is_left_alone() -> None:
    text = _log(_test(97.0, 150.0, True), HEADS[1], "# circuit: carburettor-inlet\n")
    assert _read(text).pressure_pa.max() == pytest.approx(150e3, rel=1e-2)


def test_a_gauge_log_from_zero_is_read() -> None:
    for hold in (40.0, -50.0, 97.0):
        assert _read(_log(_test(0.0, hold, True), HEADS[0])).remarks == ()


@pytest.mark.parametrize(
    ("cells", "refused"),
    [
        ([101.3, 120, 141, 139, 137, 135.1, 133.3], True),
        ([98, 48, 49, 50.1, 51], True),
        ([141, 139, 137, 135, 101], True),
        ([97, 120, 150, 180, 200, 130, 128], False),
        ([97, 95, 93, 91, 89], False),
        ([130, 115, 99.8], False),
        ([0, 95, 93, 91], False),
        ([95, 93, 91, 0], False),
    ],
)
def test_hand_sheets_near_an_atmosphere(cells: list[float], refused: bool) -> None:
    text = "time s;kPa\n" + "".join(f"{10 * i};{cell}\n" for i, cell in enumerate(cells))
    if refused:
        with pytest.raises(InputError, match="absolute"):
            _read(text)
    else:
        assert _read(text).pressure_pa[0] == pytest.approx(cells[0] * 1e3)


@pytest.mark.parametrize(
    "text",
    [
        "time s;pressure hPa\n0;1413\n10;1393\n20;1375\n30;1358\n",
        "time s,pressure bar\n0,1.40\n10,1.38\n20,1.36\n30,1.305\n",
        "time s;mbar\n0;510\n10;530\n20;549\n30;567\n",
    ],
)
def test_numbers_alone_are_asked_about_first(text: str) -> None:
    recording = _read(text)
    assert "--absolute" in recording.remarks[0]
    assert [(doubt.code, doubt.bars_pass) for doubt in recording.doubts] == [("maybe-absolute", True)]
    assert not any("--absolute" in remark for remark in _read(text, absolute=True, barometer_pa=1e5).remarks)


def test_a_large_log_is_judged_too() -> None:
    with pytest.raises(InputError, match="absolute"):
        _read(_log(np.repeat(_test(97.0, 137.0, True), 40), HEADS[0]))


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("second", [137.0, 57.0])
def test_two_absolute_tests_in_one_log(head: str, second: float) -> None:
    both = np.concatenate([_test(97.0, 137.0, True), _test(97.0, second, True)])
    with pytest.raises(InputError, match="absolute"):
        _read(_log(both, head))


@pytest.mark.parametrize("head", HEADS)
def test_a_needle_that_comes_to_rest_near_an_atmosphere_is_read(head: str) -> None:
    once = np.concatenate([np.linspace(92, 150, 60), np.full(60, 98.0)])
    log = np.concatenate([once, np.linspace(98, 148, 60), np.full(60, 97.0)])
    assert _read(_log(log, head)).pressure_pa[0] == pytest.approx(92e3, rel=1e-2)


UNITS = {"kPa": 1.0, "hPa": 10.0, "mbar": 10.0, "bar": 0.01, "psi": 0.1450377}
HEADINGS = (
    *("time (s);{}\n", "Zeit (s);Druck [{}]\n", "temps (s);pression ({})\n", "# volume: 236 cm3\nsec;{}\n"),
    "Zeit [s];p [{}]\n",
)


@pytest.mark.parametrize(("head", "unit"), list(zip(HEADINGS, UNITS, strict=True)))
def test_absolute_readings_never_pass(head: str, unit: str) -> None:
    """A tight vacuum is the same either way; whatever moves, or lies above the air, is asked about."""
    asked = 0
    for air, over, tau_s, count in itertools.product([95.0, 101.3], [25.0, 45.0, -45.0], [30.0, 400.0, 1e9], [2, 5]):
        t = np.arange(count) * 30.0
        level = np.round((air + over * np.exp(-t / tau_s)) * UNITS[unit], 2 if unit in ("kPa", "psi") else 4)
        if over < 0 and level[-1] - level[0] < 1.1 * UNITS[unit]:
            continue
        title = "vacuum\n" if over < 0 else ""
        text = title + head.format(unit) + "".join(f"{s:g};{p:g}\n" for s, p in zip(t, level, strict=True))
        try:
            recording = _read(text)
        except InputError as error:
            assert "--absolute" in str(error) or "gauge" in str(error)
            continue
        asked += 1
        assert any(doubt.code == "maybe-absolute" and doubt.bars_pass for doubt in recording.doubts)
        verdict = analyse(recording, Settings()).verdict if unit == "hPa" and count == 5 and air == 95.0 else None
        assert verdict is None or verdict.word != "pass"
        told = _read(text, absolute=True, barometer_pa=air * 1e3)
        assert not any(doubt.code == "maybe-absolute" for doubt in told.doubts)
    assert asked > 0


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("unit_s", [40.0, 120.0])
def test_a_log_of_a_hold_alone_is_asked_about(head: str, unit_s: float) -> None:
    for over in (42.0, -48.0):
        recording = _read(_log(101.3 + over * np.exp(-np.arange(400) / 10 / unit_s), head))
        assert [doubt.code for doubt in recording.doubts] == ["maybe-absolute"]


@pytest.mark.parametrize(("last", "asked"), [(51.5, True), (50.8, False)])
def test_a_vacuum_that_grows(last: float, asked: bool) -> None:
    text = f"vacuum\ntime s;kPa\n0;50.4\n30;{(50.4 + last) / 2}\n60;{last}\n"
    assert any("grow" in doubt.text for doubt in _read(text).doubts) == asked


@pytest.mark.parametrize(("last", "refused"), [(101.5, True), (94, False), (80, False)])
def test_readings_that_come_to_rest_at_the_air(last: float, refused: bool) -> None:
    text = f"time s;mbar\n0;1560\n30;1260\n60;1110\n90;1050\n120;{10 * last}\n"
    if refused:
        with pytest.raises(InputError, match="come to rest"):
            _read(text)
    else:
        assert _read(text).time_s.size == 5


_TIGHT = "# volume: 250 cm3\n# barometer: 101 kPa\nVacuum test\ntime (s);{unit}\n"


def _tight(cells: list[float], head: str = "kPa", **options: Any) -> Recording:
    return _read(_TIGHT.format(unit=head) + "".join(f"{10 * i};{c}\n" for i, c in enumerate(cells)), **options)


@pytest.mark.parametrize(
    ("cells", "unit"),
    [
        ([50.0, 50.0, 50.1, 50.1, 50.1, 50.2, 50.2], "kPa"),  # 51 kPa of vacuum, leaking a little, or 50 that deepen
        ([50.0] * 7, "kPa"),
        ([702.0, 702, 702, 703, 703, 703, 703], "hPa"),  # 31 kPa of vacuum, an ordinary test
    ],
)
def test_a_tight_vacuum_that_may_be_absolute(cells: list[float], unit: str) -> None:
    recording = _tight(cells, unit)
    assert ("maybe-absolute", True) in [(doubt.code, doubt.bars_pass) for doubt in recording.doubts]
    found = analyse(recording, Settings()).verdict
    assert found is not None and found.word == "undecided"
    assert _tight(cells, unit, unit=f"{unit} gauge").doubts == ()


@pytest.mark.parametrize(
    ("cells", "unit"),
    [
        ([50.0, 49.6, 49.2, 48.8, 48.4, 48.0, 47.6], "kPa"),  # a loss: an absolute gauge would rise
        ([-50.0] * 7, "kPa"),  # signed
        ([15.0] * 7, "inHg"),
        ([30.0] * 7, "kPa"),  # 71 kPa of vacuum would be far above what a crankcase is given
        ([0.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0], "kPa"),  # it shows 0 open to air
    ],
)
def test_a_vacuum_that_can_only_be_a_gauge_s(cells: list[float], unit: str) -> None:
    assert "maybe-absolute" not in [doubt.code for doubt in _tight(cells, unit).doubts]
