"""What the reader doubts reaches the verdict; what a person may answer is asked for or taken."""

from __future__ import annotations

import os
import time
import zipfile
from pathlib import Path

import pytest

from leakdown.errors import InputError, UsageError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.reading import read
from leakdown.recording import Doubt, Recording
from leakdown.sheets.options import ReadingOptions
from leakdown.words.terminal import summary
from tests.sheets.reading import read_sheet

TITLES = (
    *("Vacuum", "VACUUM", "Vac.", "- vacuum -", "*** Vacuum ***", "vacuum:", "Unterdruck", "Vakuum"),
    *("Vakuum Test", "Unterdruckprüfung", "dépression", "sous vide", "Vacío", "prueba de vacío", "Vakuumtest"),
    *("depressione", "vacuum side", "Kurbelgehäuse Unterdruck"),
    *("vuoto", "Onderdruk", "Undertryck", "vácuo", "真空", "Вакуум", "# Vacuum", "# vac", "Vacuum test 2"),
    *("crankcase vacuum", "Test: vacuum", "cold vacuum hold no. 3", "Vac. test", "Mit Unterdruck", "under vacuum"),
)
ROWS = (
    "sec,kPa\n0,40\n30,36\n60,32.4\n",
    "time (s),pressure (kPa)\n0,40\n30,36\n60,32.4\n",
    "s;mbar\n0;400\n30;360\n60;324\n",
)


@pytest.mark.parametrize("title", TITLES)
@pytest.mark.parametrize("rows", ROWS)
@pytest.mark.parametrize("more", ["", "# volume: 236 cm3\n"])
def test_a_title_sets_the_direction(title: str, rows: str, more: str) -> None:
    found = read_sheet(f"{more}{title}\n{rows}")
    assert found.direction == "vacuum"
    assert found.pressure_pa[0] == pytest.approx(-40e3)
    assert found.doubts == ()


@pytest.mark.parametrize(
    "title", ["vacuum pump with 60 cm3", "pressure then vacuum", "Vacuum gauge no. 7 broken", "no vacuum"]
)
def test_other_words_for_vacuum_set_nothing(title: str) -> None:
    assert read_sheet(f"{title}\n{ROWS[0]}").direction == "pressure"


def test_a_barring_doubt_leaves_no_pass() -> None:
    plain = read_sheet("# resolution: 0.1 kPa\ns,kPa\n" + "".join(f"{10 * i},40\n" for i in range(12)))
    assert _word(plain) == "pass"
    for bars, word in ((True, "undecided"), (False, "pass")):
        found = analyse(plain.with_said([Doubt("odd", "line 3: is that so?", bars)]), Settings())
        assert found.verdict is not None
        assert found.verdict.word == word
        assert ("odd", "line 3: is that so?") in [(flag.code, flag.text) for flag in found.flags]
        assert ("Line 3: is that so?" in summary(found)) == bars


def _word(recording: Recording) -> str:
    verdict = analyse(recording, Settings()).verdict
    return verdict.word if verdict else "undecided"


@pytest.mark.parametrize("unit", ["psi", "kPa", "bar"])
@pytest.mark.parametrize("falls", [(0, 5, 10), (0, 0, 0), (0, 20, 35)])
def test_ten_times_too_much_is_said_first(unit: str, falls: tuple[int, ...]) -> None:
    factor = {"psi": 1.0, "kPa": 7.0, "bar": 0.07}[unit]
    cells = "".join(f"{30 * i},{(80 - fall) * factor:g}\n" for i, fall in enumerate(falls))
    found = analyse(read_sheet(f"# volume: 236 cm3\nsec,{unit}\n{cells}"), Settings())
    assert "far above" in " ".join(summary(found).split("\n")[:2])
    assert "a slip for" in " ".join(summary(found).split())
    assert found.verdict is not None
    assert found.verdict.word != "pass"
    assert "far-above-caution" in {flag.code for flag in found.flags}


def test_eight_is_not_far_above() -> None:
    found = analyse(read_sheet("sec,psi\n0,8\n30,8\n60,8\n90,8\n"), Settings())
    assert "far above" not in summary(found)
    needle = analyse(read_sheet("# circuit: carburettor-inlet\nsec,psi\n0,60\n30,60\n60,60\n90,60\n"), Settings())
    assert "far above" not in summary(needle)


@pytest.mark.parametrize("head", ["min;psi\n", "time (min);psi\n", "Zeit (min);Druck (psi)\n"])
@pytest.mark.parametrize(
    "times",
    [
        *("0.00 0.30 1.00 2.00", "0.00 0.30 1.00 1.30", "0.00 0.15 0.30 1.00", "0.00 1.30", "0 0.3 1 1.3 2"),
        "0.20 0.40 1.00",
    ],
)
def test_minutes_that_may_be_minutes_and_seconds_are_asked_about(head: str, times: str) -> None:
    rows = "".join(f"{t};{8 - i / 2}\n" for i, t in enumerate(times.split()))
    with pytest.raises(InputError, match="decimal minutes, or minutes and seconds"):
        read_sheet(head + rows)
    told = read_sheet(rows, columns=("time (m:ss)", "pressure (psi)")) if "0.00" in times else None
    assert told is None or told.time_s[1] in (15, 30, 90)


@pytest.mark.parametrize(
    ("times", "doubted"),
    [
        ("0.00 0.50 1.00 2.00", True),
        ("0.00 0.25 0.50 0.75", False),
        ("0 0.5 1 1.5", False),
        ("0.00 0.50 1.00 1.50", False),
    ],
)
def test_other_minutes_are_read(times: str, doubted: bool) -> None:
    found = read_sheet("min;psi\n" + "".join(f"{t};{8 - i / 2}\n" for i, t in enumerate(times.split())))
    assert found.time_s[1] == pytest.approx(60 * float(times.split()[1]))
    assert bool(found.doubts) == doubted


@pytest.mark.parametrize(
    ("columns", "rows", "seconds", "pa"),
    [
        ("time (ms), -, pressure (bar)", "0,17,0.30\n1000,18,0.29\n2000,19,0.28\n", 1.0, 30e3),
        ("pressure (psi), time (s)", "8;0\n7.5;30\n7;60\n", 30.0, 55158.06),
        ("-, t (min), vacuum (kPa)", "a\t0\t40\nb\t0.5\t39\nc\t1\t38\n", 30.0, -40e3),
        ("time (s), p (mbar)", "# a note\n0 400 1\n10 390 2\n20 380 3\n", 10.0, 40e3),
    ],
)
def test_columns_are_named_by_hand(columns: str, rows: str, seconds: float, pa: float) -> None:
    found = read_sheet(rows, columns=ReadingOptions.columns_of(columns))
    assert found.time_s[1] == seconds
    assert found.pressure_pa[0] == pytest.approx(pa, rel=1e-6)


def test_columns_that_do_not_fit() -> None:
    with pytest.raises(InputError, match="3 columns are named"):
        read_sheet("0,8\n30,7\n", columns=("time (s)", "-", "psi"))
    with pytest.raises(UsageError, match="--columns"):
        ReadingOptions.columns_of("time (s), -")


SAID = [
    ("8 down to 5.75 psi in 3 min, vol 300 cc", 300),
    ("8 to 5.75 psi in 3 min, volume 300 cm3", 300),
    ("volume 300 cc: 8 psi to 5.75 psi in 180 s", None),
    ("start 8 psi / end 5.75 psi / 3 min", None),
    ("start 8 psi, end 5.75 psi, 3 min", None),
    ("Start: 8 psi\nEnd: 5.75 psi\nTime: 3 min", None),
    ("start 8 psi\nend 5.75 psi\n3 min\nvolume: 300 cc", 300),
    ("begin 8 psi; final 5.75 psi after 180 s", None),
    ("Anfang 8 psi, Ende 5,75 psi nach 3 min", None),
    ("début 8 psi / fin 5,75 psi / 3 min", None),
    ("start pressure 8 psi, end pressure 5.75 psi in 3:00", None),
]


@pytest.mark.parametrize(("text", "cm3"), SAID)
def test_two_readings_in_words(text: str, cm3: float | None) -> None:
    found = read_sheet(text + "\n")
    assert found.time_s.tolist() == [0, 180]
    assert found.pressure_pa / 6894.757 == pytest.approx([8, 5.75], rel=1e-6)
    if cm3 is not None:
        assert found.conditions.volume_m3 == pytest.approx(cm3 * 1e-6)


@pytest.mark.parametrize(
    ("text", "command"),
    [
        (
            "would not build above 3 psi, 15 cm3 pump, one stroke a second",
            '--held "3 psi" --strokes 60 --in "60 s" --stroke "15 cm3"',
        ),
        ("won't go past 20 kPa, 30 strokes in 20 s", '--held "20 kPa" --strokes 30 --in "20 s"'),
        ("would not build beyond 3 psi\n15 cc pump\n2 strokes per second", '--strokes 120 --in "60 s" --stroke'),
        ("vacuum would not go past 3 inHg, 40 strokes a minute", '--held "-3 inHg" --strokes 40 --in "60 s"'),
        ("stuck at 0.2 bar, 25 ml pump, 1 stroke/s", '--strokes 60 --in "60 s" --stroke "25 cm3"'),
        ("kommt nicht über 20 kPa, ein Hub pro Sekunde, Pumpe 15 ccm", '--held "20 kPa" --strokes 60'),
        ("never got above 3 psi however many strokes", '--held "3 psi" --strokes COUNT'),
    ],
)
def test_what_would_not_build_up_names_the_command(text: str, command: str) -> None:
    with pytest.raises(InputError, match="reckon pump") as caught:
        read_sheet(text + "\n")
    assert command in str(caught.value)


@pytest.mark.parametrize("far", ["XFD1048576", "B1048576", "XFD2"])
def test_a_far_cell_is_refused_unread(tmp_path: Path, far: str) -> None:
    cells = {"A1": "0", "B1": "40", "A2": "30", "B2": "39", far: "1"}
    rows: dict[str, str] = {}
    for place, value in cells.items():
        number = place.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        rows[number] = rows.get(number, "") + f'<c r="{place}"><v>{value}</v></c>'
    data = "".join(f'<row r="{number}">{text}</row>' for number, text in rows.items())
    path = tmp_path / "far.xlsx"
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("xl/worksheets/sheet1.xml", f"<worksheet><sheetData>{data}</sheetData></worksheet>")
    with pytest.raises(InputError) as caught:
        read(path)
    assert ("reaches over" in str(caught.value)) == (far == "XFD1048576")


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/null", "fifo"])
def test_devices_and_pipes_are_refused_at_once(tmp_path: Path, name: str) -> None:
    path = Path(name) if name.startswith("/") else tmp_path / name
    if name == "fifo":
        os.mkfifo(path)
    begun = time.monotonic()
    with pytest.raises(InputError, match="device or a pipe"):
        read(path)
    assert time.monotonic() - begun < 2.0
