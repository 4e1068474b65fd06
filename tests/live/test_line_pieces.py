"""Small pieces of reading a gauge's line, by hand: labels, numbers, tables, objects, and what refuses a number."""

# ruff: noqa: E501  (the lines of a gauge are as long as they are)
from __future__ import annotations

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
from leakdown.live.lines.labels import label, names_error, tokens, unit_word
from leakdown.live.lines.numbers import find_numbers, normalise
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
