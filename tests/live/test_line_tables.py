"""Tables, objects and looks of a gauge's lines, by hand."""

from __future__ import annotations

import json
from typing import Any

import pytest

from leakdown.live.lines.candidates import MarkedBy
from leakdown.live.lines.jsonline import MAX_BRACKETS, MAX_OBJECT, JsonJoiner, _restarts, _stack, json_candidates
from leakdown.live.lines.line import Line, LineSplitter, Sample, checksum, clean, split_sum
from leakdown.live.lines.look import LineLooker
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
