"""The project's own recordings: exact round trip, killed writers, keys, size."""

from __future__ import annotations

import io
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdown.circuits import CIRCUITS
from leakdown.errors import InputError, OutputError
from leakdown.recording import Conditions, Mark, Recording
from leakdown.sheets.file import read, read_bytes
from leakdown.sheets.native_write import write
from leakdown.sheets.options import ReadingOptions
from tests.sheets.reading import refused_with

HEAD = "# circuit: crankcase\n# volume: 250 cm3\n"
LOG = HEAD + "time_s,pressure_kpa,temperature_degc,mark,raw\n"


def _read(text: str, **options: Any) -> Recording:
    return read_bytes(text.encode(), "log.csv", ReadingOptions(**options))


def _written(recording: Recording) -> str:
    stream = io.StringIO()
    write(recording, stream)
    return stream.getvalue()


_WORDS = (
    st.text(alphabet="abcdefgh 0123456789-+äß,;\"'", min_size=1, max_size=20)
    .map(lambda text: " ".join(text.split()))
    .filter(lambda text: text.strip(",;\"' -+0123456789"))
)
_NAMES = st.lists(st.sampled_from(["boot", "seal side", "base-gasket", "hose"]), unique=True, max_size=3).map(tuple)
_CONDITIONS = st.builds(
    Conditions,
    circuit=st.none() | st.sampled_from(CIRCUITS),
    direction=st.none() | st.just("pressure"),
    volume_m3=st.none() | st.floats(1e-6, 1e-2),
    barometer_pa=st.none() | st.floats(60e3, 108e3),
    temperature_k=st.none() | st.floats(250.0, 330.0),
    gauge=st.none() | _WORDS,
    resolution_pa=st.none() | st.floats(1.0, 1e4),
    includes=_NAMES,
    blocked=_NAMES,
    note=st.none() | _WORDS,
    started=st.none() | st.just("2024-05-01T14:05:00+02:00"),
    unit=st.sampled_from(["kPa", "psi", "inHg"]),
    extra=st.just(()) | st.just((("Owner", "J. Doe: second call"), ("test", "no. 4"))),
)


@st.composite
def _recordings(draw: st.DrawFn) -> Recording:
    steps = draw(st.lists(st.floats(1e-4, 1e3), min_size=2, max_size=20))
    n = len(steps)
    time_s = np.cumsum(steps)
    pressure = np.array(draw(st.lists(st.floats(0.5, 3e5), min_size=n, max_size=n)))
    warm = draw(st.booleans())
    kelvin = np.array(draw(st.lists(st.floats(250.0, 350.0) | st.just(float("nan")), min_size=n, max_size=n)))
    marks = draw(st.lists(st.builds(Mark, st.sampled_from([*time_s.tolist(), 0.00005]), _WORDS), max_size=3))
    conditions = draw(_CONDITIONS)
    if conditions.volume_m3:
        conditions = replace(conditions, volume_u_m3=conditions.volume_m3 * draw(st.floats(0.01, 0.5)))
    return Recording(
        time_s,
        pressure,
        kelvin if warm and np.isfinite(kelvin).any() else None,
        tuple(sorted(marks, key=lambda mark: mark.time_s)),
        conditions,
        "log.csv",
        draw(st.booleans()),
        (),
        draw(st.integers(0, 5)),
    )


@settings(max_examples=60, deadline=None)
@given(_recordings())
def test_what_was_written_is_read_back(recording: Recording) -> None:
    again = _read(_written(recording))
    np.testing.assert_allclose(again.time_s, recording.time_s, rtol=1e-12)
    np.testing.assert_allclose(again.pressure_pa, recording.pressure_pa, rtol=1e-9)
    if recording.temperature_k is None:
        assert again.temperature_k is None
    else:
        np.testing.assert_allclose(again.temperature_k, recording.temperature_k, rtol=1e-9)  # type: ignore[arg-type]
    assert [m.text for m in again.marks] == [m.text for m in recording.marks]
    np.testing.assert_allclose([m.time_s for m in again.marks], [m.time_s for m in recording.marks], rtol=1e-12)
    assert (again.by_hand, again.unreadable) == (recording.by_hand, recording.unreadable)
    for name, value in vars(recording.conditions).items():
        back = getattr(again.conditions, name)
        assert back == pytest.approx(value, rel=1e-9) if isinstance(value, float) else back == value


def test_every_key_is_understood() -> None:
    keys = (
        "# circuit: intake\n# direction: vacuum\n# volume: 250 cc\n# volume_uncertainty: 10 %\n"
        "# barometer: 29.92 inHg\n# temperature: 68 F\n# gauge: needle\n# resolution: 0.25 psi\n"
        "# includes: boot, intake gasket\n# blocked: exhaust\n# note: cold: very\n"
        "# started: 2024-05-01T14:05\n"
        "# owner: J. Doe\n"
    )
    conditions = _read(keys + "time_s,pressure_kpa\n0,-40\n10,-39\n").conditions
    assert conditions.circuit == "intake"
    assert conditions.direction == "vacuum"
    assert conditions.volume_m3 == pytest.approx(250e-6)
    assert conditions.volume_u_m3 == pytest.approx(25e-6)
    assert conditions.barometer_pa == pytest.approx(101320.7, abs=1)  # NIST SP 811 App. B.8: 3386.389 Pa
    assert conditions.temperature_k == pytest.approx(293.15)
    assert conditions.resolution_pa == pytest.approx(1723.689, abs=0.01)
    assert conditions.includes == ("boot", "intake gasket")
    assert conditions.blocked == ("exhaust",)
    assert conditions.note == "cold: very"
    assert conditions.started == "2024-05-01T14:05"
    assert conditions.extra == (("owner", "J. Doe"),)


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("# circuit: moon", "circuit"),
        ("# direction: up", "direction"),
        ("# volume: 250", "unit"),
        ("# volume: -3 cm3", "zero"),
        ("# barometer: 1013", "unit"),
        ("# temperature: 20 x", "unit"),
        ("# resolution: fine", "number"),
        ("# barometer: 3 bar", "barometer"),
    ],
)
def test_a_key_that_cannot_be_read_is_refused_with_its_line(line: str, word: str) -> None:
    with pytest.raises(InputError, match=word) as caught:
        _read(f"# note: x\n{line}\ntime_s,pressure_kpa\n0,40\n10,39\n")
    assert caught.value.where == "log.csv:2"


def test_other_keys_are_kept_as_they_are() -> None:
    text = "# test: no. 4\n# Temp: warm\n# unit: psi\ntime_s,pressure_kpa\n0,-40\n10,-39\n"
    recording = _read(text)
    assert recording.conditions.extra == (("test", "no. 4"), ("Temp", "warm"), ("unit", "psi"))
    assert recording.pressure_pa.tolist() == [-40e3, -39e3]


def test_raw_texts_are_counted_and_marks_kept() -> None:
    recording = _read(LOG + "0,40,20.5,,\n1,,,,OL\n2,,,,----\n3,,,soap on the boot,\n4,39,,let go,39.0 kPa\n5,38,,,\n")
    assert recording.time_s.tolist() == [0, 4, 5]
    assert recording.unreadable == 2
    assert recording.marks == (Mark(3.0, "soap on the boot"), Mark(4.0, "let go"))
    assert recording.temperature_k is not None
    assert recording.temperature_k[0] == pytest.approx(293.65)
    assert np.isnan(recording.temperature_k[1])
    assert not recording.by_hand


@pytest.mark.parametrize("last", ["4", "4,", "4,3", "4,37.5,", "4,37.5,20", "4,37.5,20,so", "4,37.5\0\0\0\0", "4."])
def test_a_torn_last_line_is_left_out_and_said(last: str) -> None:
    recording = _read(LOG + "0,40.0,,,\n1,39.5,,,\n2,38.5,,,\n" + last)
    assert recording.time_s.tolist() == [0, 1, 2]
    assert any("torn" in remark for remark in recording.remarks)


@pytest.mark.parametrize(("last", "kept"), [("3,37.125", 4), ("3,3", 3), ("3,37.", 3), ("3,", 3), ("3", 3), ("3,-", 3)])
def test_a_torn_number_in_two_columns(last: str, kept: int) -> None:
    recording = _read("time_s,pressure_kpa\n0,40.125\n1,39.250\n2,38.500\n" + last)
    assert recording.time_s.size == kept
    assert bool(recording.remarks) == (kept == 3)


def test_a_file_that_ends_without_a_line_feed_is_whole() -> None:
    assert _read("time_s,pressure_kpa\n0,40\n10,39.5\n20,39").pressure_pa.tolist() == [40e3, 39.5e3, 39e3]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("0,40\n1,39\n0.5,38\n", ["row 6", "0.5", "goes back", ":6"]),
        ("0,40\n1,39\n1,38\n", ["twice", "39", "38"]),
        ("0,40\n1,3O\n2,38\n", ["3O", "pressure_kpa", ":5"]),
        ("0,40,00\n1,39,50\n", ["fields", "comma"]),
        ("0,40\n", ["one reading is no decay"]),
        ("", ["no readings"]),
        ("0,-120\n1,-119\n", ["vacuum", "-120"]),
        ("0,4\n,3\n2,1\n", ["time_s", ":5"]),
        ("0,40\n1,1e9\n", ["1e+09", ":5"]),
        ("0,40\n1,inf\n2,1e400\n", ["1e400"]),
    ],
)
def test_own_rows_that_are_refused(rows: str, words: list[str]) -> None:
    refused_with(words, HEAD + "time_s,pressure_kpa\n" + rows, "log.csv")


def test_options_win_over_keys() -> None:
    text = "# direction: pressure\n# barometer: 90 kPa\ntime_s,pressure_kpa\n0,40\n10,39\n"
    recording = _read(text, direction="vacuum", barometer_pa=1e5)
    assert recording.pressure_pa.tolist() == [-40e3, -39e3]
    assert recording.conditions.direction == "vacuum"
    assert recording.conditions.barometer_pa == 1e5
    assert _read(text.replace("0,40", "0,140").replace("10,39", "10,139"), absolute=True).pressure_pa.tolist() == [
        50e3,
        49e3,
    ]
    with pytest.raises(InputError, match="barometer"):
        _read("time_s,pressure_kpa\n0,140\n10,139\n", absolute=True)


def test_to_a_file_and_to_a_folder_that_is_not_there(tmp_path: Path) -> None:
    recording = _read("time_s,pressure_kpa\n0,40\n10,39\n")
    write(recording, tmp_path / "out.csv")
    assert read(tmp_path / "out.csv").pressure_pa.tolist() == [40e3, 39e3]
    with pytest.raises(OutputError):
        write(recording, tmp_path / "none" / "out.csv")


def test_a_large_log_reads_the_same_through_pandas() -> None:
    from leakdown.sheets.native_form import large_columns, parsed_rows

    rows = "".join(f"{i / 10},{40 - i / 1000:.3f},{20 + i % 3},{'soap' if i % 50 == 7 else ''},\n" for i in range(500))
    body = rows + "60,,,,OL\n61,,,late,\n62,1,,,raw text\n"
    names = ["time_s", "pressure_kpa", "temperature_degc", "mark", "raw"]
    fast, slow = large_columns(body, names), parsed_rows(body, names, 1, "log.csv")
    assert fast is not None
    np.testing.assert_array_equal(fast.time_s, slow.time_s)
    np.testing.assert_allclose(fast.pressure_pa, slow.pressure_pa, rtol=1e-15)
    np.testing.assert_allclose(fast.temperature_k, slow.temperature_k, rtol=1e-15)
    assert (fast.marks, fast.unreadable) == (slow.marks, slow.unreadable)


@pytest.mark.parametrize(
    "odd", ["7,3O,,,\n", "7,1,2,3,4,5\n", "6,40,,,\n", "0,40,,,\n", ",40,,,\n", "7,inf,,,\n", '7,1,,"soap, wet",\n']
)
def test_whatever_is_odd_is_left_to_the_careful_reader(odd: str) -> None:
    from leakdown.sheets.native_form import large_columns

    names = ["time_s", "pressure_kpa", "temperature_degc", "mark", "raw"]
    assert large_columns("5,41,,,\n6,40,,,\n" + odd, names) is None


@pytest.mark.parametrize("form", ["own", "foreign"])
def test_two_hundred_thousand_rows(form: str) -> None:
    if form == "own":
        text = "# circuit: crankcase\ntime_s,pressure_kpa\n" + "".join(
            f"{i / 10},{40 - i / 1e4:.4f}\n" for i in range(200_000)
        )
    else:
        text = "# gauge: box, reads to 1 mbar\nZeit (s);Druck (mbar);T (°C)\n" + "".join(
            f"{i / 10};{400 - i / 1e3:.3f};21\n" for i in range(200_000)
        ).replace(".", ",")
    recording = _read(text)
    assert recording.time_s.size == 200_000
    assert not recording.by_hand
    np.testing.assert_allclose(recording.time_s[[0, 1, -1]], [0, 0.1, 19_999.9])
    np.testing.assert_allclose(recording.pressure_pa[[0, -1]], [40e3, 20_000.1], rtol=1e-9)
    if form == "foreign":
        assert recording.temperature_k is not None
        assert recording.temperature_k[-1] == pytest.approx(294.15)
        assert recording.conditions.resolution_pa == 100.0


@pytest.mark.slow
def test_a_mistake_deep_in_a_large_file_is_named_by_its_line() -> None:
    rows = [f"{i / 10},{40 - i / 1e4:.4f}\n" for i in range(30_000)]
    rows[24_000] = "2400.0,2B.0\n"
    for head, line in (("time_s,pressure_kpa\n", 24_002), ("t (s),kPa\n", 24_002)):
        with pytest.raises(InputError, match="2B.0") as caught:
            _read(head + "".join(rows))
        assert caught.value.where == f"log.csv:{line}"


def test_small_sheets_do_not_load_pandas_or_the_workbook_library() -> None:
    code = (
        "import sys; from leakdown.sheets.file import read_bytes;"
        " read_bytes(b't (s),kPa\\n0,40\\n9,39\\n', 'x');"
        "sys.exit(bool({'pandas', 'python_calamine', 'scipy'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
