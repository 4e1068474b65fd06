"""What was done before the watch: valve shut, topped up, waited, pump off; typed in many ways, by our own invention."""

from __future__ import annotations

import csv
import io

import pytest

from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.report.blank_sheet import blank_sheet, csv_text
from leakdown.sheets.file import read_bytes
from leakdown.sheets.native_write import write
from leakdown.words.cautions import limits_of_test
from leakdown.words.objects import analysis_object
from leakdown.words.terminal import terminal_report
from tests.sheets.reading import read_sheet as read

ROWS = "time (s),pressure (kPa)\n0,38.5\n10,38.2\n30,37.5\n60,36.6\n"
NOT_ZERO = "time (s),pressure (kPa)\n10,38.2\n30,37.5\n60,36.6\n"
WITH_REMARKS = "time (s),pressure (kPa),remarks\n"
SEMICOLONS = "0;38,5\n10;38,2\n30;37,5\n60;36,6\n"
HOLD = [0, 10, 30, 60]
RUSSIAN = "\u043a\u0440\u0430\u043d \u0437\u0430\u043a\u0440\u044b\u0442: 42 \u043a\u041f\u0430\n"
RUSSIAN += "\u043d\u0430\u0441\u043e\u0441 \u043e\u0442\u043a\u043b\u044e\u0447\u0435\u043d: \u0434\u0430\n"

# name -> sheet, (shut kPa, waited s, topped up, pump off), times of the hold
SHEETS = {
    "keys as on the sheet": (
        "Reading when the valve was shut: 42.0 kPa\nTopped up to: 40\nPump off the circuit: yes\n" + ROWS,
        (42.0, 30.0, True, True), HOLD),
    "the start in a box of its own": (
        "reading when the valve was shut: 40.0 kPa\ntopped up to: 40\nreading when the watch was started: 38.5\n"
        + NOT_ZERO, (40.0, 30.0, True, None), HOLD),
    "the start in both": (
        "valve shut: 40\nwatch started at: 38.5 kPa\n" + ROWS, (40.0, 30.0, None, None), HOLD),
    "a wait that is said": ("valve shut: 40 kPa\nwaited: 10 s\n" + ROWS, (40.0, 10.0, None, None), HOLD),
    "a wait in minutes": ("valve shut: 40 kPa\nwait before the watch: 0:20\n" + ROWS, (40.0, 20.0, None, None), HOLD),
    "the wait in the heading of its box": (
        "Waited before the watch (s),15,\nReading when the valve was shut (kPa),40.0,\n" + ROWS,
        (40.0, 15.0, None, None), HOLD),
    "a sentence": (
        "# valve shut at 42 kPa, topped up to 40 kPa, watch started after 20 s, pump off\n" + ROWS,
        (42.0, 20.0, True, True), HOLD),
    "a sentence without units": (
        "# valve shut at 42, topped up to 40; pump and regulator off the circuit\n" + ROWS,
        (42.0, 30.0, True, True), HOLD),
    "ticks": ("# [x] pump off the circuit\n# [ ] topped up\n" + ROWS, (None, None, None, True), HOLD),
    "ticks of another kind": ("\u2611 pump disconnected\n\u2610 topped up\n" + ROWS, (None, None, None, True), HOLD),
    "the pump left on": ("pump off: no\nvalve shut: 40\n" + ROWS, (40.0, 30.0, None, False), HOLD),
    "the pump left on, in words": ("# pump still connected\n" + ROWS, (None, None, None, False), HOLD),
    "not topped up": ("# not topped up\nvalve shut: 41\n" + ROWS, (41.0, 30.0, False, None), HOLD),
    "rows before zero": (
        WITH_REMARKS + "-30,40.0,\n-15,38.0,\n" + ROWS.partition("\n")[2], (40.0, 30.0, None, None), HOLD),
    "rows before zero, topped up": (
        WITH_REMARKS + "-30,40.0,\n-16,37.0,\n-15,40.0,\n" + ROWS.partition("\n")[2], (40.0, 15.0, True, None), HOLD),
    "seconds before zero": (
        "time,pressure kPa\n-30 s,40.0\n0 s,38.5\n10 s,38.2\n30 s,37.5\n60 s,36.6\n", (40.0, 30.0, None, None), HOLD),
    "rows named": ("time (s),kPa\nshut,40.0\nstart,38.5\n10,38.2\n30,37.5\n60,36.6\n", (40.0, 30.0, None, None), HOLD),
    "rows named, three of them": (
        "time (s),kPa\nvalve shut,40.0\ntopped up,40.0\nwatch started,38.5\n10,38.2\n30,37.5\n60,36.6\n",
        (40.0, 30.0, True, None), HOLD),
    "rows named, by blanks": (
        "time  pressure kPa\nshut  40.0\n0  38.5\n10  38.2\n30  37.5\n60  36.6\n", (40.0, 30.0, None, None), HOLD),
    "remarks beside a clock": (
        "Uhrzeit;Druck (kPa);Bemerkung\n10:00:00;40,0;Ventil zu\n10:00:15;40,0;nachgepumpt\n"
        "10:00:35;38,5;Uhr gestartet\n"
        "10:00:45;38,2;\n10:01:05;37,5;\n10:01:35;36,6;Pumpe ab\n", (40.0, 20.0, True, True), HOLD),
    "a watch that ran from the valve": (
        WITH_REMARKS + "0,40.0,valve shut\n15,40.0,topped up\n40,38.5,watch started\n50,38.2,\n70,37.5,\n100,36.6,\n",
        (40.0, 25.0, True, None), HOLD),
    "a watch set back": (
        WITH_REMARKS + "0,40.0,valve shut\n15,40.0,topped up\n0,38.5,watch started\n10,38.2,\n30,37.5,\n60,36.6,\n",
        (40.0, 30.0, True, None), HOLD),
    "a watch set back, unmarked": (
        WITH_REMARKS + "0,40.0,valve shut\n15,40.0,topped up to 40\n0,38.5,\n10,38.2,\n30,37.5,\n60,36.6,\n",
        (40.0, 30.0, True, None), HOLD),
    "the watch started with the valve": (
        WITH_REMARKS + "0,40.0,valve shut\n10,38.2,\n30,37.5,\n60,36.6,\n", (40.0, 0.0, None, None), HOLD),
    "German": (
        "Anzeige beim Schlie\u00dfen: 42,0 kPa\nnachgepumpt auf: 40\nPumpe ab: ja\nZeit (s);Druck (kPa)\n" + SEMICOLONS,
        (42.0, 30.0, True, True), HOLD),
    "French": (
        "lecture \u00e0 la fermeture: 42,0 kPa\ncompl\u00e9t\u00e9 \u00e0: 40 kPa\n"
        "pompe d\u00e9branch\u00e9e: oui\nattente: 20 s\n"
        "temps (s);pression (kPa)\n" + SEMICOLONS, (42.0, 20.0, True, True), HOLD),
    "Spanish": (
        "v\u00e1lvula cerrada: 42 kPa\nrellenado a: 40 kPa\nbomba desconectada: s\u00ed\n"
        "tiempo (s);presi\u00f3n (kPa)\n" + SEMICOLONS,
        (42.0, 30.0, True, True), HOLD),
    "Russian": (RUSSIAN + ROWS, (42.0, 30.0, None, True), HOLD),
    "slashes and several waits": (
        "shut valve 41 kPa / waited 15 s / topped 40 kPa / waited 20 s / start watch 38.5 kPa\n" + NOT_ZERO,
        (41.0, 20.0, True, None), HOLD),
    "lines that name the moments": (
        "Valve shut at: 41 kPa\nAfter 15 s topped up to 40 kPa\nWatch started at: 38.5 kPa after 20 s\n" + NOT_ZERO,
        (41.0, 20.0, True, None), HOLD),
    "capitals": ("PUMP OFF: YES\nVALVE SHUT 41.0 KPA\n" + ROWS, (41.0, 30.0, None, True), HOLD),
    "equal signs": ("valve shut=41kPa;topped up=40kPa;pump off=y\n" + ROWS, (41.0, 30.0, True, True), HOLD),
    "a pump that is not on": ("Pump on the circuit: no\n" + ROWS, (None, None, None, True), HOLD),
    "a question answered": ("Pump off circuit? yes\n" + ROWS, (None, None, None, True), HOLD),
    "a note": ("Note: closed the valve at 41 kPa, pump hose off\n" + ROWS, (41.0, 30.0, None, True), HOLD),
    "steps in the remarks of rows without a time": (
        WITH_REMARKS + ",41.0,valve shut\n,40.0,topped up\n" + ROWS.partition("\n")[2], (41.0, 30.0, True, None), HOLD),
    "minutes before zero": (
        "min:sec,kPa\n-0:30,41\n0:00,38.5\n0:10,38.2\n0:30,37.5\n1:00,36.6\n", (41.0, 30.0, None, None), HOLD),
    "a day's date is none of it": ("started: 38.5 kPa\nshut: 41 kPa\n" + NOT_ZERO, (41.0, 30.0, None, None), HOLD),
}  # fmt: skip


def found(recording) -> tuple:
    c = recording.conditions
    shut = None if c.shut_pa is None else pytest.approx(c.shut_pa / 1e3, abs=1e-6)
    return shut, c.waited_s, c.topped_up, c.pump_off


@pytest.mark.parametrize("name", SHEETS)
def test_sheets_are_read_as_they_are_typed(name):
    sheet, expected, times = SHEETS[name]
    recording = read(sheet)
    assert expected == found(recording)
    assert recording.time_s.tolist() == times
    assert abs(recording.pressure_pa[0]) == pytest.approx(
        38.5e3 if name != "the watch started with the valve" else 40e3
    )
    left_on = expected[-1] is False  # the one thing of these that no pass can rest on
    assert [doubt.code for doubt in recording.doubts if doubt.bars_pass] == ["pump-on"] * left_on, recording.doubts
    again = read_bytes(written(recording), "again.csv")
    assert found(again) == expected and again.time_s.tolist() == times


def written(recording) -> bytes:
    stream = io.StringIO()
    write(recording, stream)
    return stream.getvalue().encode()


def test_a_workbook_and_a_sentence():
    openpyxl = pytest.importorskip("openpyxl")
    book, stream = openpyxl.Workbook(), io.BytesIO()
    blank = blank_sheet("crankcase", "pressure", "kPa", 10.0, 60.0, None, None)
    for row in csv.reader(io.StringIO(csv_text(blank))):
        value = {"Reading when": 42.0, "Topped up": 40, "Pump and": "x"}
        told = next((v for key, v in value.items() if row[0].startswith(key)), None)
        book.active.append([row[0], 38.5 - int(row[0]) / 30 if row[0].isdigit() else told or "".join(row[1:2])])
    book.save(stream)
    assert found(read_bytes(stream.getvalue(), "sheet.xlsx")) == (42.0, 30.0, True, True)
    two = read("valve shut at 7.5 psi, topped up to 7.5 psi\n7 to 5 psi in 40 s\npump off")
    assert two.conditions.pump_off and two.conditions.topped_up and two.time_s.tolist() == [0.0, 40.0]


@pytest.mark.parametrize(
    "sheet",
    ["# shut: nonsense\ntime_s,pressure_kpa\n0,38.5\n10,38\n", "# waited: -5 s\ntime_s,pressure_kpa\n0,38.5\n10,38\n"],
)
def test_our_own_form_must_spell_them_right(sheet):
    with pytest.raises(Exception, match="sheet.csv"):
        read(sheet)


@pytest.mark.parametrize("unit", ["kPa", "inHg", "psi"])
@pytest.mark.parametrize("direction", ["pressure", "vacuum"])
def test_our_own_blank_sheet_filled_in_by_hand(direction, unit):
    blank = blank_sheet("crankcase", direction, unit, 10.0, 60.0, None, None)
    filled = {"Reading when": "12.5", "Topped up": "12.5", "Waited": "20", "Pump and": "yes"}
    rows = list(csv.reader(io.StringIO(csv_text(blank))))
    for row in rows:
        row[1:2] = (
            [next((value for key, value in filled.items() if row[0].startswith(key)), *row[1:2])] if row[1:] else []
        )
        if row[0].isdigit():
            row[1] = f"{12.0 - 0.01 * int(row[0]):.2f}"
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    recording = read(out.getvalue())
    c, sign = recording.conditions, -1.0 if direction == "vacuum" else 1.0
    assert (c.waited_s, c.topped_up, c.pump_off) == (20.0, True, True)
    assert c.shut_pa / recording.pressure_pa[0] == pytest.approx(12.5 / 12.0) and c.shut_pa * sign > 0
    empty = read(csv_text(blank).replace("\n0,,", "\n0,12,").replace("\n10,,", "\n10,11,"))
    assert found(empty) == (None, None, None, None)
    assert not [doubt for doubt in empty.doubts if "was not used" in doubt.text or doubt.code == "not-used"], (
        empty.doubts
    )


def test_a_first_block_is_no_part_of_the_hold():
    """Four rows with a step beside each; a fifth makes it another test."""
    rows = "".join(f"{k},4{k}.0,topped up\n" for k in range(1, 5))
    recording = read(WITH_REMARKS + rows + ROWS.partition("\n")[2])
    assert recording.time_s.tolist() == HOLD and recording.conditions.topped_up


def test_absolute_readings_have_an_absolute_reading_at_the_valve():
    sheet = "Barometer: 100 kPa\nvalve shut: 142 kPa\n" + ROWS.replace("(kPa)", "(kPa abs)").replace(",3", ",13")
    recording = read(sheet)
    assert recording.conditions.shut_pa == pytest.approx(42e3) and recording.pressure_pa[0] == pytest.approx(38.5e3)


def test_reading_alike_at_the_valve_and_the_watch_tells_of_no_wait():
    """Nothing moved, or nobody waited: no settled gas may be taken for granted."""
    assert read("valve shut: 38.5 kPa\n" + ROWS).conditions.waited_s is None
    assert read("valve shut: 38.5 kPa\ntopped up: yes\n" + ROWS).conditions.waited_s == 30.0


@pytest.mark.parametrize(
    ("line", "code", "bars"),
    [
        ("valve shut: 4.0 kPa", "not-used", False),  # a point slipped
        ("valve shut: 400 kPa", "not-used", False),
        ("valve shut: 40 kg", "not-used", False),
        ("waited: 7200 s\nvalve shut: 40 kPa", "not-used", False),
        ("waited: long", "not-used", False),
        ("pump off: perhaps", "not-used", False),
        ("valve shut: 30 kPa", "rose-unexplained", True),  # fed, or topped up
        ("watch started at: 30 kPa", "watch-reading", True),  # the row at 0 s says 38.5
        ("closed: exhaust", "not-used", False),
    ],
)
def test_what_cannot_be_is_said_and_left_out(line, code, bars):
    recording = read(f"{line}\n{ROWS}")
    assert [d.bars_pass for d in recording.doubts if d.code == code] == [bars], recording.doubts
    assert line.partition(":")[2].strip().split()[0].split("\n")[0] in " ".join(recording.remarks)


def test_a_named_row_among_the_readings_is_refused_with_its_line():
    with pytest.raises(Exception, match="sheet.csv:4"):
        read("time (s),kPa\n0,40.0\n10,39.0\nvalve shut,38.5\n30,38.0\n")


def test_rows_pumped_up_until_zero_are_no_closing():
    recording = read("time (s),kPa\n-20,10.0\n-10,25.0\n0,40.0\n10,39.0\n30,38.0\n")
    assert recording.time_s[0] == -20.0 and recording.conditions.shut_pa is None


def test_marks_of_a_log_tell_of_the_pump():
    log = "# circuit: crankcase\ntime_s,pressure_kpa,mark\n0,38.5,\n1,38.4,pump off the circuit\n2,38.3,\n"
    assert read(log).conditions.pump_off is True


def test_a_rise_that_nobody_explained_is_no_pass():
    rows = "".join(f"{t},{40.0 - t / 200:.2f}\n" for t in range(0, 130, 10))
    sheet = "valve shut: 35 kPa\ncircuit: crankcase\nvolume: 250 cm3\ntime (s),pressure (kPa)\n" + rows
    shut, topped = (analyse(read(text), Settings()) for text in (sheet, "topped up: yes\n" + sheet))
    assert topped.verdict.word == "pass" and shut.verdict.word == "undecided"
    assert "pump" in shut.verdict.reason


@pytest.mark.parametrize(("line", "word"), [("", "pass"), ("pump off: yes", "pass"), ("pump off: no", "undecided")])
def test_a_pump_on_the_circuit_is_asked_for_only_where_nothing_falls(line, word):
    head = f"{line}\ncircuit: crankcase\nvolume: 250 cm3\nresolution: 0.1 kPa\ntime (s),pressure (kPa)\n".lstrip()
    held = analyse(read(head + "".join(f"{t},40.0\n" for t in range(0, 130, 10))), Settings())
    falls = analyse(read(head + "".join(f"{t},{40.0 - t / 4:.1f}\n" for t in range(0, 130, 10))), Settings())
    assert held.verdict.word == word and falls.verdict.word == "fail"
    asked = "pump off the circuit: not said"
    assert (asked in terminal_report(held, 2000)) is (not line) and asked not in terminal_report(falls, 2000)
    codes = [[flag.code for flag in test.flags].count("pump-off-unsaid") for test in (held, falls)]
    assert codes == [int(not line), 0]
    assert not any("Pump off" in text for text in limits_of_test(held)), "a flag says it"
    assert analysis_object(held)["before_watch"]["pump_off"] == {"": None, "pump off: yes": True}.get(line, False)


def test_a_level_keeps_its_own_unit():
    recording = read("valve shut: 6 psi\n" + ROWS)
    assert recording.conditions.shut_pa == pytest.approx(6 * 6894.757, rel=1e-6)
