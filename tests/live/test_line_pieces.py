"""Small pieces of reading a gauge's line, by hand: labels, numbers, tables, objects, and what refuses a number."""

# ruff: noqa: E501  (the lines of a gauge are as long as they are)
from __future__ import annotations

import json
from typing import Any

import pytest

from leakdown.live.lines.candidates import (
    MarkedBy,
    _both_units,
    _label_text,
    _place,
    best,
    reports_error,
    signed,
    text_candidates,
)
from leakdown.live.lines.jsonline import MAX_BRACKETS, MAX_OBJECT, JsonJoiner, _restarts, _stack, json_candidates
from leakdown.live.lines.labels import label, names_error, tokens, unit_word
from leakdown.live.lines.line import Line, LineSplitter, Sample, checksum, clean, split_sum
from leakdown.live.lines.look import LineLooker
from leakdown.live.lines.numbers import find_numbers, normalise
from leakdown.live.lines.table import (
    bare_row,
    cell_number,
    choose_column,
    comma_is_decimal,
    heading,
    is_burst,
    is_clock,
    row_by_heading,
    split_cells,
    with_units,
)
from leakdown.quantities import PRESSURE_PA, PressureUnit

KPA, BAR = PressureUnit("kPa", PRESSURE_PA["kPa"]), PressureUnit("bar", PRESSURE_PA["bar"])

# ---------------------------------------------------------------- labels


@pytest.mark.parametrize(
    ("text", "quantity", "unit", "vacuum", "disqualified"),
    [
        ("pressure", "pressure", None, False, False),
        ("gaugePressure_kPa", "pressure", "kPa", False, False),
        ("vacuum", "pressure", None, True, False),
        ("Vac (inHg)", "pressure", "inHg", True, False),
        ("Luftdruck", "ambient", None, False, False),
        ("barometric pressure", "ambient", None, False, False),
        ("temp", "temperature", None, False, False),
        ("pressure temp", "temperature", None, False, False),
        ("temp pressure", "pressure", None, False, False),
        ("humidity", "other", None, False, False),
        ("t_ms", "time", None, False, False),
        ("value", "neutral", None, False, False),
        ("sensor", "neutral", None, False, False),
        ("sensor value", "neutral", None, False, False),
        ("", "neutral", None, False, False),
        ("foo", "unknown", None, False, False),
        ("foo kPa", "pressure", "kPa", False, False),
        ("kPa foo", "unknown", "kPa", False, False),
        ("reading (mbar)", "pressure", "mbar", False, False),
        ("pkpa", "unknown", "kPa", False, False),
        ("PRESSUREbar", "pressure", "bar", False, False),
        ("p/kPa", "pressure", "kPa", False, False),
    ],
)
def test_what_a_label_says(text: str, quantity: str, unit: str | None, vacuum: bool, disqualified: bool) -> None:
    about = label(text)
    found = (about.quantity, about.unit.name if about.unit else None, about.vacuum, about.disqualified)
    assert found == (quantity, unit, vacuum, disqualified)
    assert about.time_unit_s == (1e-3 if text == "t_ms" else None)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("time [s]", 1.0),
        ("millis", 1e-3),
        ("elapsed_us", 1e-6),
        ("time min", 60.0),
        ("time", None),
        ("min pressure", None),
    ],
)
def test_the_unit_of_a_clock(text: str, seconds: float | None) -> None:
    assert label(text).time_unit_s == seconds


def test_words_that_are_units_and_words_that_only_look_so() -> None:
    assert tokens("gaugePressure_kPa 1") == ["gauge", "pressure", "k", "pa", "1"] or "gauge" in tokens(
        "gaugePressure_kPa 1"
    )
    for text, name in (
        ("kPa", "kPa"),
        (" (psi) ", "psi"),
        ("inHg.", "inHg"),
        ("at", None),
        ("lbs", None),
        ("D", None),
        ("", None),
        ("kPa" * 7, None),
    ):
        unit = unit_word(text)
        assert (unit and unit.name) == name


@pytest.mark.parametrize(
    "text",
    ["OL", "ERR", "over range", "----", "***", "___", "12?", "<<", ">>", "not ready", "out of range", "overload"],
)
def test_words_for_no_reading(text: str) -> None:
    assert names_error(text)


@pytest.mark.parametrize("text", ["pressure", "over-pressure", "over pressure", "-", "**", "__", "<", ">", "ok", ""])
def test_words_that_are_none_of_them(text: str) -> None:
    assert not names_error(text)


# ---------------------------------------------------------------- numbers


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("-35,2 mbar", "-35.2 mbar"),
        ("0,712", "0.712"),
        ("12,345", "12,345"),
        ("p: 12,3", "p: 12.3"),
        ("press 12,3", "press 12.3"),
        ("1;12,3", "1;12.3"),
        ("12.5 1,3", "12.5 1,3"),
        ("34,500 Pa", "34500 Pa"),
        ("34,500 kPa", "34.500 kPa"),
        ("034,500 Pa", "034.500 Pa"),
        ("12'345 Pa", "12345 Pa"),
        ("34.5 ± 0.2 kPa", "34.5 kPa"),
        ("34.5 +/- 0.2 kPa", "34.5 kPa"),
        ("(34.5) kPa", "-34.5 kPa"),
        ("(34.5) km", "(34.5) km"),
        ("= - 34.5", "=  -34.5"),
        ("\u221212.5", "-12.5"),
    ],
)  # fmt: skip
def test_a_line_made_plain(text: str, plain: str) -> None:
    assert normalise(text) == plain


@pytest.mark.parametrize(
    "clock", ["2026-01-31T10:11:12.5Z", "2026-01-31", "31.01.2026", "1/31/26", "10:11:12", "10:11", "Jul 29 2019"]
)
def test_clocks_and_dates_are_no_numbers(clock: str) -> None:
    line = normalise(f"{clock} 12.5 kPa")
    assert len(line) == len(f"{clock} 12.5 kPa") and [n.value for n in find_numbers(line)] == [12.5]


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("12.5 kPa 3 C", [(12.5, "kPa", ""), (3.0, None, "C")]),
        ("1,234.5 Pa", [(1234.5, "Pa", "")]),
        ("sensor 1: 12.5", [(12.5, None, "")]),
        ("#3 12.5", [(12.5, None, "")]),
        ("[0012] 12.5", [(12.5, None, "")]),
        ("ch 2 = 7.5", [(7.5, None, "")]),
        ("sensor 1:", [(1.0, None, "")]),
        ("1A2B 12.5", [(12.5, None, "")]),
        ("12.5 rpm", [(12.5, None, "rpm")]),
        ("12 % RH", [(12.0, None, "% RH")]),
        ("12 counts", [(12.0, None, "counts")]),
        ("12.5 kPa: 3", [(12.5, None, ""), (3.0, None, "")]),
        ("12.5 mm Hg 4", [(12.5, "mmHg", ""), (4.0, None, "")]),
        (".5 -.25 +3.", [(0.5, None, ""), (-0.25, None, ""), (3.0, None, "")]),
        ("1.5E+03 Pa", [(1500.0, "Pa", "")]),
        ("1.2.3 4", [(4.0, None, "")]),
    ],
)
def test_the_numbers_of_a_line(text: str, numbers: list[Any]) -> None:
    found = [(n.value, n.unit.name if n.unit else None, n.other_unit) for n in find_numbers(normalise(text))]
    assert found == numbers


def test_vacuum_after_a_unit() -> None:
    (said,) = find_numbers("12.3 inHg vac")
    (not_said,) = find_numbers("12.3 inHg 4"[:9])
    assert said.vacuum_word and not not_said.vacuum_word
    assert [c.sample.value for c in text_candidates("12.3 inHg (vac)")[0]] == [-12.3]


# ---------------------------------------------------------------- which number it is


@pytest.mark.parametrize(
    ("line", "marked", "value", "unit"),
    [
        ("Pressure: 12.5", MarkedBy.LABEL, 12.5, None),
        ("Pressure: 12.5 kPa", MarkedBy.LABEL, 12.5, "kPa"),
        ("12.5 kPa", MarkedBy.UNIT, 12.5, "kPa"),
        ("barometer 1013.2", MarkedBy.AMBIENT, 1013.2, None),
        ("12.5", MarkedBy.LONE, 12.5, None),
        ("12 counts", MarkedBy.LONE, 12.0, None),
        ("value: 12.5", MarkedBy.LONE, 12.5, None),
        ("VAL=35.2;UNIT=kPa", MarkedBy.UNIT, 35.2, "kPa"),
        ("A0:512", MarkedBy.TAGGED, 512.0, None),
        ("XY 12.5", MarkedBy.TAGGED, 12.5, None),
        ("vacuum 12.5 inHg", MarkedBy.LABEL, -12.5, "inHg"),
        ("current: 12.5 kPa", MarkedBy.UNIT, 12.5, "kPa"),
    ],
)  # fmt: skip
def test_how_a_number_is_marked(line: str, marked: MarkedBy, value: float, unit: str | None) -> None:
    found, why = text_candidates(line)
    one = best(found)
    assert one is not None and why == ""
    assert (one.marked_by, one.sample.value, one.sample.unit.name if one.sample.unit else None) == (marked, value, unit)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("no figure here", "no number"),
        ("status=ERR p=12.5", "the gauge reports an error"),
        ("error=3 p=12.5", "the gauge reports an error"),
        ("fault: E2 p=12.5", "the gauge reports an error"),
        ("p=12.5 p=12.4", "torn: parts of two messages"),
        ("press=12.5 elpress=12.4", "torn: parts of two messages"),
        ("12.5kPaPress 3", "torn: parts of two messages"),
        ("humidity: 45", "no pressure on this line"),
        ("temp: 22.5 C", "no pressure on this line"),
        ("12.5 V", "no pressure on this line"),
        ("pressure: >100 kPa", "no pressure on this line"),
        ("pressure: ~12.5", "no pressure on this line"),
        ("pressure: 12.5 OL", "no pressure on this line"),
        ("pressure ERR 12.5", "no pressure on this line"),
        ("pressure 9.9E37", "no pressure on this line"),
        ("1 2 3", "no pressure on this line"),
        ("leak rate: 12.5", "no pressure on this line"),
    ],
)
def test_lines_without_a_pressure(line: str, why: str) -> None:
    found, said = text_candidates(line)
    assert found == [] and said == why


def test_a_key_that_ends_like_another_is_torn_only_when_it_is_a_word() -> None:
    assert text_candidates("abc=1 press=12.5 xabc=3")[1] == "" and text_candidates("abcd=1 press=12.5 xabcd=3")[
        1
    ].startswith("torn")


def test_an_arrow_is_no_bound() -> None:
    assert [c.sample.value for c in text_candidates("10:11:12 -> 12.5 kPa")[0]] == [12.5]
    assert [c.sample.value for c in text_candidates("gauge - > 12.5 kPa")[0]] == [12.5]
    assert text_candidates("gauge >12.5 kPa")[0] == [] == text_candidates("p=> 12.5 kPa")[0]
    assert [c.sample.value for c in text_candidates("p=12.5 gap=12.4")[0]] == [12.5]


def test_a_clock_and_a_temperature_beside_it() -> None:
    (one,), _ = text_candidates("t_ms=1500 pressure=12.5 temp=22.1")
    assert (one.sample.device_s, one.sample.value, one.sample.temperature_degc) == (1.5, 12.5, 22.1)
    (warm,), _ = text_candidates("pressure=12.5 temp: 71.6 F")
    assert warm.sample.temperature_degc == pytest.approx(22.0)
    (kelvin,), _ = text_candidates("pressure=12.5 x: 295 K")
    assert kelvin.sample.temperature_degc == pytest.approx(21.85)
    (far,), _ = text_candidates("pressure=12.5 temp: 900")
    assert far.sample.temperature_degc is None and far.sample.device_s is None
    for degc, told in ((-49.9, True), (-50.5, False), (199.7, True), (200.5, False)):
        (cold,), _ = text_candidates(f"pressure=12.5 temp: {degc}")
        assert (cold.sample.temperature_degc == degc) is told
    (bare,), _ = text_candidates("t=1500 pressure=12.5")
    assert bare.sample.device_s is None
    (written,), _ = text_candidates("t=1500 ms pressure=12.5")
    assert written.sample.device_s == 1.5
    (other,), _ = text_candidates("lag=1500 ms pressure=12.5")
    assert other.sample.device_s is None  # milliseconds of something else


def test_gauge_before_absolute() -> None:
    found, _ = text_candidates("gauge pressure 12.5 kPa, absolute pressure 113.8 kPa")
    assert [one.sample.value for one in found] == [12.5]
    assert [one.sample.value for one in text_candidates("absolute pressure 113.8 kPa")[0]] == [113.8]
    both, _ = text_candidates("pressure 12.5 kPa, absolute pressure 113.8 kPa")
    assert len(both) == 2


def test_pieces_of_a_label() -> None:
    assert (
        _label_text("a=1, inlet pressure: ") == "inlet pressure" and _label_text("reading 12: pressure ") == "pressure"
    )
    assert _label_text("") == "" == _label_text(", ; ")
    assert _place("pressure") == "p" == _place("vac") and _place("gauge 2 pressure") == "2 pressure"
    assert _place("inlet pressure kpa") == "pressure kpa" and _place("foo [3] bar") == "foo bar"
    assert signed(12.0, True, KPA) == -12.0 and signed(-12.0, True, None) == -12.0 and signed(12.0, False, None) == 12.0
    absolute = PressureUnit("kPa", 1000.0, "absolute")
    assert signed(12.0, True, absolute) == 12.0 and str(signed(-0.0, False, None)) == "0.0"
    assert best([]) is None
    two, _ = text_candidates("barometer 1013.2, pressure 12.5")
    assert len(two) == 2 and best(two) == two[1] and best(two[::-1]) == two[1]
    assert _both_units("P: 12.3 kPa  P: 1.784 psi", "P") and not _both_units("P: 12.3 kPa  P: 2.9 psi", "P")


@pytest.mark.parametrize(
    ("field", "value", "bad"),
    [("error", "0", False), ("error", "none", False), ("err", "3", True), ("fault", "0x00", False), ("fault", "yes", True),
     ("status", "ok", False), ("status", "3", False), ("status", "OVER", True), ("state", "hold", False), ("ERR", "OK", False)],
)  # fmt: skip
def test_fields_that_report_an_error(field: str, value: str, bad: bool) -> None:
    assert reports_error(field, value) is bad


# ---------------------------------------------------------------- tables


def test_cells() -> None:
    assert split_cells(' a ;"b" ; c;;', ";") == ["a", "b", "c"] and split_cells("a  b", " ") == ["a", "b"]
    assert (
        split_cells("| a | b |", "|") == ["a", "b"] and split_cells("", ",") == [""] and split_cells(",,", ",") == [""]
    )
    for cell, value in (
        ("1.5", 1.5),
        ("1,5", 1.5),
        ("-1,5", -1.5),
        ("1e3", 1000.0),
        ("\u22122", -2.0),
        ("1,5,2", None),
        ("x", None),
        ("", None),
    ):
        assert cell_number(cell) == value


@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("time_ms,pressure_kpa,temp", (3, ",", 1, 0, 1e-3, 2, "kPa")),
        ("Time [s];Pressure (mbar)", (2, ";", 1, 0, 1.0, None, "mbar")),
        ("# time pressure", (2, " ", 1, None, 0.0, None, None)),
        ("time,foo", (2, ",", 1, None, 0.0, None, None)),
        ("pressure_kPa", (1, ",", 0, None, 0.0, None, "kPa")),
        ("time_s|ambient|pressure", (3, "|", 2, 0, 1.0, None, None)),
        ("pressure_drop,time_s,pressure", (3, ",", 2, 1, 1.0, None, None)),
        ("time\tbarometer", (2, "\t", 1, None, 0.0, None, None)),
    ],
)
def test_headings(text: str, columns: Any) -> None:
    head = heading(text)
    assert head is not None
    unit = head.unit.name if head.unit else None
    assert (
        head.columns,
        head.separator,
        head.pressure,
        head.clock,
        head.clock_unit_s,
        head.temperature,
        unit,
    ) == columns


@pytest.mark.parametrize(
    "text",
    [
        "foo,bar baz",
        "time,foo,qux",
        "time,12",
        "time,,pressure",
        "time,pressure: 3",
        "time,pressure:",
        "time," + "pressure" * 6,
        "pressure",
        "time temp",
        "hello pressure",
        "",
    ],
)
def test_what_is_no_heading(text: str) -> None:
    assert heading(text) is None


def test_rows_under_a_heading() -> None:
    head = heading("time_ms,pressure_kpa,temp")
    assert head is not None
    said = row_by_heading(head, "1500,12.5,22.1")
    assert (said.value, said.device_s, said.temperature_degc, said.number, said.unit and said.unit.name) == (
        12.5,
        1.5,
        22.1,
        "12.5",
        "kPa",
    )
    assert (
        row_by_heading(head, "1500,12.5 kPa,22.1").value == 12.5 and row_by_heading(head, "x,12.5,y").device_s is None
    )
    for wrong in ("1500,12.5", "1500,12.5,22.1,3", "1500,OL,22", "1500,12.5 foo,22", ""):
        assert row_by_heading(head, wrong) == Sample(why="not a row of this table")
    plain = heading("time,pressure")
    assert plain is not None
    units = with_units(plain, "# s,kPa")
    assert (
        units is not None
        and units.unit == KPA
        and with_units(plain, "s,kPa,C") is None
        and with_units(plain, "s,foo") is None
    )
    assert with_units(plain, "1,kPa") is None and with_units(head, "ms,bar,C").unit.name == "kPa"  # type: ignore[union-attr]
    water = with_units(plain, "s,cmH2O")
    assert water is not None and water.unit is not None and water.unit.name == "cmH2O"


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("1, 2.5;3", [1.0, 2.5, 3.0]),
        ("[1, 2.5]", [1.0, 2.5]),
        ("T+35: x35: 512,0,", [512.0, 0.0]),
        ("512 0   NO CROSSING", [512.0, 0.0]),
        ("12.5", None),
        ("1 2 x", None),
        ("1 2 kPa", None),
        ("1-2 3", None),
    ],
)
def test_bare_rows(text: str, row: list[float] | None) -> None:
    assert bare_row(text) == row


def test_which_column_moves() -> None:
    assert choose_column([[0.0, 40.1], [0.1, 40.0]]) == (1, "the column that is no clock")
    assert choose_column([[5.0, 40.0], [6.0, 40.0]]) == (1, "the column that is no clock")  # whole numbers count up
    assert choose_column([[5.1, 40.0], [6.1, 40.0]]) == (None, "")
    long = [[5.1 + k, 40.0] for k in range(40)]
    assert choose_column(long) == (1, "the column that is no clock")
    assert choose_column([[7.0, 40.1, 3.0], [7.0, 40.0, 3.0]]) == (1, "the only number that moves")
    assert choose_column([[0.0, 40.0, 0.0], [0.0, 40.0, 0.0]]) == (1, "the only number that is not zero")
    assert choose_column([[3.0, 41.5], [2.0, 40.0]]) == (None, "") == choose_column([[3.0, 40.0], [3.0, 40.0]])


def test_clocks_repeats_and_decimal_commas() -> None:
    assert is_clock([0.0, 1.0, 2.0]) and not is_clock([0.0, 0.0]) and not is_clock([2.0, 1.0]) and not is_clock([5.0])
    assert not is_clock([-1.0, 0.0, 1.0]) and not is_clock([0.0, 1.0, 10.0]) and is_clock([3.0, 4.0])
    assert (
        is_burst([100.0, 100.5])
        and is_burst([-100.0, -100.5])
        and not is_burst([100.0, 120.0])
        and is_burst([0.0, 0.0])
    )
    assert comma_is_decimal(["101,32", "101,28"]) and comma_is_decimal([" -0,32", "0,28 "])
    assert not comma_is_decimal(["101,32", "101,3"]) and not comma_is_decimal(["101,32", "101,32"])
    assert not comma_is_decimal(["1,32", "2,28", "3,11"]) and not comma_is_decimal(["101.32", "101,28"])


# ---------------------------------------------------------------- objects


def test_open_brackets() -> None:
    assert _stack('{"a": [') == (2, "[") and _stack('{"a[": "\\"{"') == (1, "{") and _stack("]}") == (0, "")
    assert _stack('{"a": [1]') == (1, "{") and _stack('"\\\\" [') == (1, "[")
    assert (
        _restarts('{"a": 1,', '{"b": 2')
        and not _restarts('{"a":', '{"b": 2')
        and not _restarts('[{"a": 1},', '{"b": 2')
    )
    assert not _restarts('{"a": 1,', '"b": 2')


def test_an_object_over_lines() -> None:
    joiner = JsonJoiner()
    assert [joiner.feed(line)[0] for line in ("{", '"p": 12.5,', '"u": "kPa"')] == ["more"] * 3 and joiner.open
    assert joiner.feed("}") == ("whole", {"p": 12.5, "u": "kPa"}) and not joiner.open
    assert joiner.feed("plain text") == ("none", None) and joiner.feed('"p": 12.5,') == ("torn", None) == joiner.feed(
        "}"
    )
    assert joiner.feed('{"p": 12.5, "u"') == ("torn", None) and joiner.feed("{p 12.5") == ("none", None)
    assert joiner.feed('I (12) log: {"p": 1.5} end') == ("whole", {"p": 1.5})
    assert joiner.feed("[12.5, 3]") == ("none", None) == joiner.feed("[I] 12.5")
    assert joiner.feed('["p", 12.5]') == ("whole", ["p", 12.5])
    joiner.feed('{"a": 1,')
    assert joiner.feed('"b": "torn') == ("torn", None) and not joiner.open
    joiner.feed('{"a": 1,')
    assert joiner.feed('{"b": 2,') == ("more", None) and joiner.feed('"c": 3}') == ("whole", {"b": 2, "c": 3})
    joiner.feed('{"a": [')
    assert joiner.feed('{"b": 2},') == ("more", None) and joiner.feed("]}")[0] == "torn"
    joiner.feed('{"a":')
    joiner.feed('{"a": 1,')
    assert joiner.feed('{"c": 3}') == ("whole", {"c": 3}) and not joiner.open  # a whole one ends what was torn
    joiner.feed('{"a": 1,')
    assert joiner.feed(" " * MAX_OBJECT)[0] == "torn" and not joiner.open
    assert joiner.feed("[" * (MAX_BRACKETS + 1) + '"p"')[0] == "torn"


@pytest.mark.parametrize(
    ("whole", "found"),
    [
        ({"pressure": 12.5}, [(MarkedBy.LABEL, 12.5, None, "pressure")]),
        ({"pressure_kpa": 12.5, "t_ms": 5}, [(MarkedBy.LABEL, 12.5, "kPa", "pressure_kpa")]),
        ({"barometer": 1013}, [(MarkedBy.AMBIENT, 1013.0, None, "barometer")]),
        ({"foo": 12.5}, [(MarkedBy.TAGGED, 12.5, None, "foo")]),
        ({"value": 12.5}, [(MarkedBy.LONE, 12.5, None, "value")]),
        ({"foo": 12.5, "qux": 3}, []),
        ({"foo": 12.5, "unit": "kPa"}, [(MarkedBy.UNIT, 12.5, "kPa", "foo")]),
        ({"foo": 12.5, "foo_unit": "kPa", "qux": 3}, [(MarkedBy.UNIT, 12.5, "kPa", "foo")]),
        ({"foo": "12.5 kPa", "qux": 3}, [(MarkedBy.UNIT, 12.5, "kPa", "foo")]),
        ({"foo": "12.5 kPa or so, or more"}, []),
        ({"p": True}, []),
        ({"pressure": None}, []),
        ({"pressure": 9.9e37}, []),
        ({"pressure": "OL"}, []),
        ({"name": "pressure", "value": 12.5, "qux": 3}, [(MarkedBy.LABEL, 12.5, None, "pressure.value")]),
        ({"name": "pressure", "foo": 12.5, "qux": 3}, []),
        ({"color": "pressure", "value": 12.5, "qux": 3}, []),
        ({"pressure": {"value": 12.5, "unit": "kPa"}}, [(MarkedBy.LABEL, 12.5, "kPa", "pressure.value")]),
        ({"humidity": {"value": 45}}, []),
        ({"leak_rate": {"foo": 45}}, []),
        ({"leak_rate": 45}, []),
        ({"foo": {"baz": 45}}, [(MarkedBy.TAGGED, 45.0, None, "foo.baz")]),
        ({"leak_rate_kpa": 45}, []),
        ({"pressure_drop": 45}, []),
        (["pressure", 34.5, "kPa"], [(MarkedBy.LABEL, 34.5, "kPa", "pressure")]),
        (["pressure", 34.5], [(MarkedBy.LABEL, 34.5, None, "pressure")]),
        (["pressure", 34.5, 22.0], [(MarkedBy.LABEL, 34.5, None, "pressure")]),
        ([34.5, "kPa"], []),
        ([{"pressure": 12.5}], [(MarkedBy.LABEL, 12.5, None, "pressure")]),
        ({"vacuum": 12.5}, [(MarkedBy.LABEL, -12.5, None, "vacuum")]),
        ({"error": 3, "pressure": 12.5}, []),
        ({"error": 0, "pressure": 12.5}, [(MarkedBy.LABEL, 12.5, None, "pressure")]),
        ({"status": 3, "pressure": 12.5}, [(MarkedBy.LABEL, 12.5, None, "pressure")]),
        ({"status": "ERR", "pressure": 12.5}, []),
    ],
)
def test_pressures_of_an_object(whole: Any, found: list[Any]) -> None:
    candidates, why = json_candidates(whole)
    seen = [(c.marked_by, c.sample.value, c.sample.unit.name if c.sample.unit else None, c.label) for c in candidates]
    assert seen == found and bool(why) is not bool(found)
    if found:
        assert candidates[0].key == f"JSON|{found[0][3]}|{found[0][2] or ''}"


def test_what_stands_beside_a_pressure_in_an_object() -> None:
    (one,), _ = json_candidates({"pressure": 12.5, "temp": 22.5, "t_ms": 1500})
    assert (one.sample.temperature_degc, one.sample.device_s) == (22.5, 1.5)
    (far,), _ = json_candidates({"pressure": 12.5, "temp": 900, "time": 3})
    assert (far.sample.temperature_degc, far.sample.device_s) == (None, None)
    assert json_candidates({"error": 3})[1] == "the gauge reports an error"
    assert json_candidates({"x": "y"})[1] == "no pressure in this object"


# ---------------------------------------------------------------- lines and looks


def test_sums_and_frames() -> None:
    body = "p=12.5"
    right = f"{body}*{checksum(body):02X}"
    assert (
        split_sum(right) == (body, True)
        and split_sum(f"{body}*00") == (body, False)
        and split_sum(body) == (body, None)
    )
    assert split_sum(f"${right}")[1] is True and checksum("AB") == 3
    assert clean(b"\x0212.5\x03AB") == Line("12.5") and clean(b"\x0212.5") == Line("12.5")
    splitter = LineSplitter()
    assert (
        splitter.feed(b"1\r") == [Line("1")]
        and splitter.feed(b"\n2\n") == [Line("2")]
        and splitter.feed(b"\n \x00\n") == []
    )
    sample = Sample(value=9.9e37).at(3.0, "raw")
    assert (sample.value, sample.why, sample.arrival_s, sample.raw) == (None, "a number beyond any gauge", 3.0, "raw")
    assert Sample(value=1.0, why="").at(0.0, "x").value == 1.0 and Sample(value=1.0).refused("no") == Sample(why="no")


def test_looks() -> None:
    looker = LineLooker()

    def look(text: str, damaged: bool = False) -> Any:
        return looker.look(Line(text, damaged))

    noise = look("12.5 kPa", damaged=True)
    assert (noise.why, noise.stateless, noise.found) == ("line noise", False, ())
    assert look("12.5 kPa").strong and look("12.5 kPa").stateless and not look("12.5").strong and look("").best is None
    row = look("1 2 3")
    assert (row.row, row.why, row.found) == ((1.0, 2.0, 3.0), "several numbers and none is named", ())
    head = look("time_s,pressure")
    assert head.head is not None and head.why == "a heading"
    assert look('{"p": 1,').waits and looker.inside_object and look('"q": 2}').stateless is False
    assert look('{"pressure": 1}').strong and look('"p": 1}').why == "torn object" and not looker.inside_object


@pytest.mark.parametrize(
    ("body", "found", "why"),
    [
        ("IIXDR,P,1.0050,B,Barometer", [(1.005, "bar", "XDR|IIXDR|Barometer|bar")], ""),
        ("IIXDR,C,22.1,C,Air,P,100500,P,Gauge", [(100500.0, "Pa", "XDR|IIXDR|Gauge|Pa")], ""),
        ("IIXDR,P,1.0,B,A,P,2.0,B,C", [(1.0, "bar", "XDR|IIXDR|A|bar"), (2.0, "bar", "XDR|IIXDR|C|bar")], ""),
        ("IIXDR,P,1.0,B", [(1.0, "bar", "XDR|IIXDR||bar")], ""),
        ("IIXDR,P,x,B,A", [], "a sentence without a pressure"),
        ("IIXDR,P,1.0,Z,A", [], "a sentence without a pressure"),
        ("IIXDR,C,22.1,C,Air", [], "a sentence without a pressure"),
        ("WIMDA,29.9,I,1.0132,B,22.1,C", [(1.0132, "bar", "XDR|WIMDA|barometer|bar")], ""),
        ("WIMDA,29.9,I,,B,22.1,C", [(29.9, "inHg", "XDR|WIMDA|barometer|inHg")], ""),
        ("WIMMB,29.9,I", [(29.9, "inHg", "XDR|WIMMB|barometer|inHg")], ""),
        ("WIMMB,29.9", [], "a sentence without a pressure"),
        ("WIMMB", [], "torn sentence"),
        ("GPGGA,101112,1.0,B", [], "a sentence without a pressure"),
    ],
)
def test_sentences(body: str, found: list[Any], why: str) -> None:
    for lead in ("$", "!"):
        look = LineLooker().look(Line(f"{lead}{body}*{checksum(body):02X}"))
        assert [(c.sample.value, c.sample.unit and c.sample.unit.name, c.key) for c in look.found] == found
        assert look.why == why and not look.stateless
    if found:
        assert (
            LineLooker().look(Line(f"${body}")).found and LineLooker().look(Line(f"${body}*00")).why == "wrong checksum"
        )
        assert LineLooker().look(Line(f"${body}*0")).why == "torn sentence"


def test_objects_are_bounded() -> None:
    deep: Any = 1.5
    for _ in range(MAX_BRACKETS):
        deep = [deep]
    assert JsonJoiner().feed('{"p": ' + json.dumps(deep) + "}")[0] != "whole"
    assert JsonJoiner().feed('{"p": ' + json.dumps(deep[0]) + "}")[0] == "whole"
