"""Many lines and labels as gauges send them, each beside what a person reads in it: value, mark, unit, clock, warmth."""

# ruff: noqa: E501  (the lines of a gauge are as long as they are)
from __future__ import annotations

import math
from typing import Any

import pytest

from leakdown.live.lines import table
from leakdown.live.lines.candidates import best, text_candidates
from leakdown.live.lines.jsonline import json_candidates
from leakdown.live.lines.labels import label, names_error, tokens, unit_word
from leakdown.live.lines.line import Line, LineSplitter, Sample, clean, split_sum
from leakdown.live.lines.look import LineLooker
from leakdown.live.lines.numbers import clock_unit_of, find_numbers, normalise, temperature_k_of


@pytest.mark.parametrize(
    ("text", "quantity", "unit"),
    [
        # the unit of a clock after its word; after any other word the word decides
        ("time since boot s", "time", None), ("pressure s", "pressure", None), ("s", "time", None),
        ("flow s", "other", None),
        # units in brackets, glued to a word, in pieces, before a word
        ("reading [in Hg]", "pressure", "inHg"), ("p (mbar)", "pressure", "mbar"), ("x (foo)", "unknown", None),
        ("vacinhg", "unknown", "inHg"), ("presspsi", "unknown", "psi"), ("valuekpa", "unknown", None),
        ("in Hg pressure", "pressure", "inHg"), ("mm Hg", "pressure", "mmHg"), ("cm H2O value", "pressure", "cmH2O"),
        ("bar", "pressure", "bar"), ("at", "neutral", None), ("d", "unknown", None),
        ("pressure in kPa", "pressure", "kPa"), ("in psi", "pressure", "psi"),
        ("manifold druck", "pressure", None), ("Oeldruck", "pressure", None), ("pressureA", "unknown", None),
        ("barometer pressure", "ambient", None), ("atmospheric pressure", "ambient", None),
        ("pressure 2", "pressure", None), ("sensor 2", "neutral", None), ("channel one", "unknown", None), ("value rate", "unknown", None), ("value code", "unknown", None),
    ],
)  # fmt: skip
def test_a_label_and_its_unit(text: str, quantity: str, unit: str | None) -> None:
    about = label(text)
    assert (about.quantity, about.unit.name if about.unit else None) == (quantity, unit)


def shown(text: str) -> list[tuple[Any, ...]]:
    found, _ = text_candidates(text)
    return [(c.marked_by.name, c.sample.value, c.sample.unit.name if c.sample.unit else None) for c in found]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        # marks: how a number is tied to its word, and what is only beside it
        ("P 12.5", [("LABEL", 12.5, None)]), ("p:12.5", [("LABEL", 12.5, None)]), ("P12.5", [("LABEL", 12.5, None)]),
        ("CH1 12.5 kPa", [("UNIT", 12.5, "kPa")]),
        ("Q: 12.5", [("TAGGED", 12.5, None)]), ("Q: 12.5 ok", []), ("ABC 12.5", [("TAGGED", 12.5, None)]),
        ("ABCD 12.5", []), ("ABCD: 12.5", [("TAGGED", 12.5, None)]), ("12.5 ABCD", []),
        ("12 count", [("LONE", 12.0, None)]), ("12 V", []), ("raw 12 counts", []), ("adc code 12 kPa", [("UNIT", 12.0, "kPa")]), ("leak: 12.5", []), ("leak pressure: 12.5", [("LABEL", 12.5, None)]),
        ("value 12.5 %", []), ("P 12.5 mV", []), ("temp 22.5 kPa", []), ("t 22.5 kPa", [("UNIT", 22.5, "kPa")]),
        ("rate 3.2 kPa", []), ("error code 3 kPa", []), ("humidity 45 kPa", []),
        # bounds, doubts and words of no reading right beside the number
        ("P: <100 kPa", []), ("P: 100 kPa?", []), ("P: ≤ 3", []), ("P: ≥ 3", []),
        ("P = 12.5 kPa OL", []), ("P = 12.5 kPa; OL = no", [("LABEL", 12.5, "kPa")]), ("over range 12.5 kPa", []),
        ("P 12.5kPa", [("LABEL", 12.5, "kPa")]), ("P 12.5abc", []), ("P 12.5ab", [("LABEL", 12.5, None)]), ("P 12.5f", [("LABEL", 12.5, None)]),
        ("P -> 12.5", [("LABEL", 12.5, None)]), ("P 9.7e37", [("LABEL", 9.7e37, None)]), ("P -9.9e37", []),
        # two units of one pressure; two pressures; a key that comes twice
        ("P: 12.3 kPa P: 1.784 psi", [("LABEL", 12.3, "kPa"), ("LABEL", 1.784, "psi")]),
        ("P: 12.3 kPa P: 2.9 psi", []), ("a=1 b=2 p=12.5", [("LABEL", 12.5, None)]), ("a=1 a=2 p=12.5", []),
        ("a=1 p=3 a=1 p=3", [("LABEL", 3.0, None), ("LABEL", 3.0, None)]),
        # counters and tags are no readings
        ("sample 12: 34.5 kPa", [("UNIT", 34.5, "kPa")]), ("#3 34.5", [("LONE", 34.5, None)]),
        ("[0012] 34.5", [("LONE", 34.5, None)]), ("(312) 34.5", [("LONE", 34.5, None)]),
        ("sensor 1: 34.5", [("LONE", 34.5, None)]), ("n. 4) pressure 34.5", [("LABEL", 34.5, None)]),
        # signs, commas, clocks
        ("- 12.5 kPa", [("UNIT", -12.5, "kPa")]), ("P: + 12.5", [("LABEL", 12.5, None)]), ("p=\u221212.5", [("LABEL", -12.5, None)]),
        ("12,5 kPa", [("UNIT", 12.5, "kPa")]), ("P: 12,5", [("LABEL", 12.5, None)]), ("34,500 Pa", [("UNIT", 34500.0, "Pa")]),
        ("34,500 kPa", [("UNIT", 34.5, "kPa")]), ("0,5", [("LONE", 0.5, None)]), ("1,234.5 Pa", [("UNIT", 1234.5, "Pa")]),
        ("P 12,5", [("LABEL", 12.5, None)]), ("(34.5) kPa", [("UNIT", -34.5, "kPa")]), ("(34.5) C", []),
        ("12.5 \u00b1 0.1 kPa", [("UNIT", 12.5, "kPa")]), ("12.5 +/- 0.1 kPa", [("UNIT", 12.5, "kPa")]),
        ("1'013.2 mbar", [("UNIT", 1013.2, "mbar")]),
        ("2026-05-04 10:11:12.5 12.5 kPa", [("UNIT", 12.5, "kPa")]), ("10:11 12.5", [("LONE", 12.5, None)]),
        ("4.5.2026 12.5 kPa", [("UNIT", 12.5, "kPa")]), ("May 4 2026 12.5 kPa", [("UNIT", 12.5, "kPa")]),
        # vacuum
        ("12.5 kPa vac", [("UNIT", -12.5, "kPa")]), ("VAC 12.5", [("LABEL", -12.5, None)]), ("VAC -12.5", [("LABEL", -12.5, None)]),
        ("vac 12.5 kPa abs", [("LABEL", 12.5, "kPa")]), ("0 kPa vac", [("UNIT", 0.0, "kPa")]),
        # units that a field of its own names
        ("value=35.2;unit=psi", [("UNIT", 35.2, "psi")]), ("value=35.2|units: \"kPa\"", [("UNIT", 35.2, "kPa")]),
        ("value=35.2;unit=foo", []),
        # an absolute pressure beside the gauge's own
        ("rel 12.5 kPa abs 113.8 kPa", [("UNIT", 12.5, "kPa")]),
    ],
)  # fmt: skip
def test_what_a_line_says(text: str, wanted: list[tuple[Any, ...]]) -> None:
    assert shown(text) == wanted


def test_zero_is_never_minus_zero() -> None:
    (one,), _ = text_candidates("vac 0.0 kPa")
    assert one.sample.value == 0.0 and math.copysign(1.0, one.sample.value) == 1.0


@pytest.mark.parametrize(
    ("text", "unit_s"),
    [("time", None), ("time s", 1.0), ("time [sec]", 1.0), ("time ms", 1e-3), ("millis", 1e-3), ("t us", 1e-6),
     ("micros", 1e-6), ("time min", 60.0)],
)  # fmt: skip
def test_the_unit_of_a_clock_in_its_label(text: str, unit_s: float | None) -> None:
    assert label(text).time_unit_s == unit_s


@pytest.mark.parametrize(
    ("text", "device_s", "degc"),
    [
        ("t=12 s p=3", 12.0, None), ("t=12 us p=3", 12e-6, None), ("t=12 sec p=3", 12.0, None), ("t_ms=12 p=3", 0.012, None),
        ("time_s=12 p=3", 12.0, None), ("t=12 min p=3", None, None), ("p=3 x=12 ms", None, None),
        ("p=3 temp=199.8 C", None, 199.8), ("p=3 temp=199.9 C", None, None), ("p=3 temp=-50.1 C", None, -50.1),
        ("p=3 temp=-50.2 C", None, None), ("p=3 temp=77 F", None, 25.0), ("p=3 tempf=77", None, 25.0),
        ("p=3 x 25 °C", None, 25.0), ("p=3 x 25 deg C", None, 25.0), ("p=3 (25 C)", None, 25.0), ("p=3 293.15 K", None, 20.0),
        ("p=3 humidity 25 C", None, 25.0), ("p=3 temp 900 temp2 25", None, None),
    ],
)  # fmt: skip
def test_clock_and_warmth_of_a_line(text: str, device_s: float | None, degc: float | None) -> None:
    (one,), _ = text_candidates(text)
    assert one.sample.device_s == (None if device_s is None else pytest.approx(device_s))
    assert one.sample.temperature_degc == (None if degc is None else pytest.approx(degc))


@pytest.mark.parametrize(
    ("whole", "wanted"),
    [
        ({"pressure": 12.5}, [("LABEL", 12.5, None)]), ({"pressure": "12.5 kPa"}, [("LABEL", 12.5, "kPa")]),
        ({"pressure": True}, []), ({"pressure": 9.9e37}, []), ({"pressure": 9.7e37}, [("LABEL", 9.7e37, None)]),
        ({"pressure": -9.9e37}, []), ({"pressure": "OL"}, []), ({"pressure": "12.5 kPa 3 V"}, []),
        ({"pressure": "12.5 after a very long remark that is no number"}, []),
        ({"value": 12.5, "unit": "kPa"}, [("UNIT", 12.5, "kPa")]), ({"value": 12.5, "value_unit": "psi"}, [("UNIT", 12.5, "psi")]),
        ({"value": 12.5, "valueunit": "psi"}, [("UNIT", 12.5, "psi")]), ({"value": 12.5, "value-units": "psi"}, [("UNIT", 12.5, "psi")]),
        ({"value": 12.5, "Unit": "psi"}, [("UNIT", 12.5, "psi")]), ({"value": 12.5, "unit": "at"}, [("UNIT", 12.5, "kgf/cm2")]),
        ({"value": 12.5, "unit": "(kPa)"}, [("UNIT", 12.5, "kPa")]), ({"value": 12.5, "unit": 3}, []), ({"value": 12.5}, [("LONE", 12.5, None)]), ({"foo": 12.5}, [("TAGGED", 12.5, None)]),
        ({"foo": 12.5, "x": 3}, []), ({"humidity": 12.5}, []), ({"leak_rate": 12.5}, []), ({"barometer": 1013.0}, [("AMBIENT", 1013.0, None)]),
        ({"name": "pressure", "value": 12.5}, [("LABEL", 12.5, None)]), ({"name": "humidity", "value": 12.5}, []),
        ({"name": "pressure", "x": 12.5}, []), ({"pressure": {"value": 12.5, "unit": "kPa"}}, [("LABEL", 12.5, "kPa")]),
        ({"pressure": {"raw": 512, "kPa": 12.5}}, [("LABEL", 512.0, None), ("LABEL", 12.5, "kPa")]), ({"leak": {"value": 12.5}}, []),
        (["pressure", 12.5, "kPa"], [("LABEL", 12.5, "kPa")]), (["pressure", 12.5], [("LABEL", 12.5, None)]),
        ([12.5, "kPa"], []), ({"status": "ERR", "pressure": 12.5}, []), ({"error": 0, "pressure": 12.5}, [("LABEL", 12.5, None)]),
        ({"error": 2, "pressure": 12.5}, []), ({"bench": "fault", "pressure": 12.5}, [("LABEL", 12.5, None)]), ({"state": 3, "pressure": 12.5}, [("LABEL", 12.5, None)]), ({"fault": "none", "pressure": 1}, [("LABEL", 1.0, None)]),
        ({"a": {"status": "OVER"}, "pressure": 12.5}, [("LABEL", 12.5, None)]), ({"vacuum_kPa": 12.5}, [("LABEL", -12.5, "kPa")]),
    ],
)  # fmt: skip
def test_what_an_object_says(whole: Any, wanted: list[tuple[Any, ...]]) -> None:
    found, why = json_candidates(whole)
    said = [(c.marked_by.name, c.sample.value, c.sample.unit.name if c.sample.unit else None) for c in found]
    assert said == wanted, (said, why)


@pytest.mark.parametrize(("degc", "read"), [(-50.0, None), (-49.5, -49.5), (199.5, 199.5), (200.0, None)])
def test_the_warmth_of_an_object(degc: float, read: float | None) -> None:
    (one,), _ = json_candidates({"temp": degc, "pressure": 12.5})
    assert one.sample.temperature_degc == read


def test_of_a_raw_count_and_a_pressure_the_one_with_a_unit_counts() -> None:
    found, _ = json_candidates({"pressure": {"raw": 512, "kPa": 12.5}})
    one = best(found)
    assert one is not None and one.sample.value == 12.5
    first = best(json_candidates({"pressure": 1.0, "pressure2": 2.0})[0])
    assert first is not None and first.sample.value == 1.0


def test_a_code_is_no_reading_unless_a_unit_stands_beside_it() -> None:
    said = [(label(text).disqualified, label(text).code) for text in ("adc code", "rate code", "loss", "adc")]
    assert said == [(True, True), (True, False), (True, False), (False, False)]


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("OL", True),
        ("----", True),
        ("over range", True),
        ("over-pressure", False),
        ("overpressure", False),
        ("ok", False),
        ("", False),
    ],
)
def test_words_for_a_reading_that_is_not_there(text: str, error: bool) -> None:
    assert names_error(text) is error


def test_words_of_a_label_apart() -> None:
    assert tokens("gaugePressure_kPa 1") == ["gauge", "pressure", "k", "pa", "1"] or tokens("gaugePressure_kPa 1")[
        :2
    ] == ["gauge", "pressure"]
    assert (
        unit_word("(kPa)") is not None and unit_word("kPa;") is not None and unit_word("lbs") is None is unit_word("GA")
    )
    assert unit_word("") is None is unit_word(" .") and unit_word("pounds per square inch") is None


# ---------------------------------------------------------------- numbers


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("10:11:12 3", "         3"), ("1:23.4", "1:23.4"), ("2026-05-04 3", "           3"), ("4/5/26 3", "       3"),
        ("p12.5", " p 12.5"), ("P+3", " P +3"), ("p3", "p3"), ("a - 3", "a - 3"), ("a: - 3", "a:  -3"), ("- 3", " -3"),
        ("1,2", "1,2"), ("p: 1,2", "p: 1.2"), ("1,2;3", "1.2;3"), ("1,2;3,4,5", "1,2;3,4,5"), ("1,2 kPa", "1.2 kPa"), ("1,2 V", "1.2 V"),
        ("1,2 3.4", "1,2 3.4"), ("34,500 Pa", "34500 Pa"), ("034,500 Pa", "034.500 Pa"), ("0,500 Pa", "0.500 Pa"), ("1'000", "1000"), ("1'0000", "1'0000"),
        ("x{a=\"1\"} 3", "x  3"), ("kPa/3", "kPa / 3"), ("3 \u00b1 0.1", "3"), ("(3) kPa", "-3 kPa"), ("(3) V", "(3) V"),
    ],
)  # fmt: skip
def test_a_line_in_plain_figures(text: str, plain: str) -> None:
    assert normalise(text) == plain


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("a1 2", [2.0]), ("1A2B 3", [3.0]), ("3rd 4", [3.0, 4.0]), ("sensor 1: 5", [5.0]), ("1: 5", [5.0]), ("1:", [1.0]), ("x=(3) 4", [4.0]), ("#3 4", [4.0]),
        ("[3] 4", [4.0]), ("[3 4]", [3.0, 4.0]), ("3.5: 4", [3.5, 4.0]), (".5 -3 +4e2 1e-3", [0.5, -3.0, 400.0, 1e-3]), ("1.2.3", []), ("v1.2", []), ("1,2,3", [1.0, 2.0, 3.0]),
    ],
)  # fmt: skip
def test_which_figures_are_numbers(text: str, values: list[float]) -> None:
    assert [n.value for n in find_numbers(text)] == values


@pytest.mark.parametrize(
    ("text", "unit", "reference", "before"),
    [
        ("12.5 psi a", "psi", "absolute", []), ("12.5 psi a 3", "psi", None, [" a "]), ("12.5 kPa g 3", "kPa", None, [" g "]),
        ("12.5 in Hg 3", "inHg", None, [" "]), ("12.5 in Hg: 3", None, None, [" in Hg: "]), ("12.5 kPa = -3", None, None, [" kPa = "]),
    ],
)  # fmt: skip
def test_whether_a_word_is_the_unit_before_or_the_name_behind(
    text: str, unit: str | None, reference: str | None, before: list[str]
) -> None:
    first, *rest = find_numbers(text)
    assert (first.unit and first.unit.name, first.unit and first.unit.reference) == (unit, reference)
    assert [number.before for number in rest] == before


def test_what_stands_behind_a_number() -> None:
    (one,) = find_numbers("12.5 C")
    assert (
        temperature_k_of(one, "12.5 C") == "C"
        and temperature_k_of(one, "12.5 (F)") == "F"
        and temperature_k_of(one, "12.5 kPa") == ""
    )
    assert [clock_unit_of(one, f"12.5 {unit}") for unit in ("ms", "us", "sec", "s", "min", "spam")] == [
        1e-3,
        1e-6,
        1.0,
        1.0,
        None,
        None,
    ]


# ---------------------------------------------------------------- tables


def test_which_column_is_the_pressure() -> None:
    """A clock is no pressure; nor is what stands still beside one that moves, or is nought; two that move are in doubt."""
    choose = table.choose_column
    assert choose([[0.0, 5.0], [1.0, 4.0], [2.0, 3.0]]) == (1, "the column that is no clock")
    assert choose([[0.0, 5.0], [1.0, 5.0], [2.0, 5.0]]) == (1, "the column that is no clock")
    assert choose([[0.1, 5.0], [1.2, 5.0], [2.3, 5.0]]) == (None, "")
    # two clocks, of which one may be a slow rise
    assert choose([[0.0, 0.1, 5.0], [1.0, 1.2, 5.0], [2.0, 2.3, 5.0]]) == (None, "")
    assert choose([[0.0, 1.0, 5.0], [1.0, 2.0, 5.0], [2.0, 3.0, 5.0]]) == (2, "the column that is no clock")
    assert choose([[7.0, 5.0, 3.0], [7.0, 4.0, 3.0], [7.0, 5.0, 3.0]]) == (1, "the only number that moves")
    assert choose([[0.0, 5.0, 0.0], [0.0, 5.0, 0.0]]) == (1, "the only number that is not zero")
    assert choose([[7.0, 5.0, 3.0], [6.0, 4.0, 3.0], [7.0, 5.0, 3.0]]) == (None, "")
    assert choose([[5.0, 0.0], [4.0, 2.0], [5.0, 1.0]]) == (None, "")
    assert choose([[0.1, 5.0], [1.2, 4.0], [2.3, 3.0]]) == (1, "the column that is no clock")


def test_what_runs_like_a_clock() -> None:
    assert (
        table.is_clock([0.0, 1.0, 2.0])
        and table.is_clock([3.0, 4.0])
        and not table.is_clock([3.0])
        and not table.is_clock([-1.0, 0.0])
    )
    assert (
        not table.is_clock([0.0, 0.0, 1.0]) and not table.is_clock([2.0, 1.0]) and not table.is_clock([0.0, 1.0, 9.0])
    )
    assert table.is_burst([100.0, 100.1]) and not table.is_burst([100.0, 120.0]) and table.is_burst([5.0])


@pytest.mark.parametrize(
    ("texts", "decimal"),
    [
        (["101,32", "101,28"], True),
        (["101,32", "101,3"], False),
        (["1,5", "2,6"], False),
        (["101,32", "101,32"], False),
        (["101,32", "x"], False),
        ([" 101,32 ", "99,28"], True),
    ],
)
def test_a_comma_within_a_number(texts: list[str], decimal: bool) -> None:
    assert bool(table.comma_is_decimal(texts)) is decimal


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("1 2", [1.0, 2.0]), ("1,2;3", [1.2, 3.0]), ("1,2,3", [1.0, 2.0, 3.0]), ("[1 2", None), ("T+35: 1 2", [1.0, 2.0]), ("[1, 2]", [1.0, 2.0]), ("1 2  remark", [1.0, 2.0]), ("1 2 remark", None),
        ("1", None), ("1 2-3", None), ("1 2,", [1.0, 2.0]), ("[1, 2", None), ("1 .5 2e3", [1.0, 0.5, 2000.0]),
    ],
)  # fmt: skip
def test_rows_of_bare_numbers(text: str, row: list[float] | None) -> None:
    assert table.bare_row(text) == row


@pytest.mark.parametrize(
    ("text", "pressure", "clock", "warmth", "unit"),
    [
        ("time (s),pressure (kPa)", 1, 0, None, "kPa"), ("pressure;temp;t_ms", 0, 2, 1, None), ("# t_ms\tp", 1, 0, None, None), ("kPa", 0, None, None, "kPa"),
        ("barometer,pressure,time_s", 1, 2, None, None), ("time_s,barometer", 1, 0, None, None), ("time_s,foo", 1, 0, None, None), ("time pressure", 1, None, None, None),
    ],
)  # fmt: skip
def test_headings_of_tables(text: str, pressure: int, clock: int | None, warmth: int | None, unit: str | None) -> None:
    head = table.heading(text)
    assert head is not None and (
        head.pressure,
        head.clock,
        head.temperature,
        head.unit.name if head.unit else None,
    ) == (pressure, clock, warmth, unit)
    assert head.clock_unit_s == {None: 0.0}.get(clock, 1e-3 if "ms" in text else 1.0)


@pytest.mark.parametrize(
    "text",
    [
        "time_s,foo,bax",
        "foo,bax",
        "foo",
        "pressure",
        "1,pressure",
        "time_s,loss",
        "time_s,,pressure",
        "p: 3,time",
        "time_s," + 41 * "p",
    ],
)
def test_lines_that_are_no_heading(text: str) -> None:
    assert table.heading(text) is None


def test_a_second_line_of_units_and_rows_below() -> None:
    head = table.heading("time_s,pressure,temp")
    assert head is not None
    whole = table.with_units(head, "s,kPa,C")
    assert whole is not None and whole.unit is not None and whole.unit.name == "kPa"
    assert (
        table.with_units(head, "s,kPa") is None is table.with_units(head, "s,foo,C")
        and table.with_units(head, "s,kPa3,C") is None
    )
    water = table.with_units(head, "s,cmH2O,C")
    assert water is not None and water.unit is not None and water.unit.name == "cmH2O"
    said = table.row_by_heading(whole, "1.5,34.5,20")
    assert (said.value, said.device_s, said.temperature_degc, said.number, said.why) == (34.5, 1.5, 20.0, "34.5", "")
    assert table.row_by_heading(whole, "1.5,34.5kPa,20").value == 34.5
    assert (
        table.row_by_heading(whole, "1.5,34.5foo,20").why
        == "not a row of this table"
        == table.row_by_heading(whole, "1.5,34.5").why
    )
    assert (
        table.split_cells("|a| b |", "|") == ["a", "b"]
        and table.split_cells("a,,", ",") == ["a"]
        and table.split_cells(" a  b ", " ") == ["a", "b"]
    )
    assert [table.cell_number(cell) for cell in ("1,5", "1.5", "x", "1,5,6", "\u22123")] == [1.5, 1.5, None, None, -3.0]


# ---------------------------------------------------------------- lines out of bytes


def test_how_long_a_line_may_be() -> None:
    """4096 bytes; one more, ended or not, is noise."""
    (whole,) = LineSplitter().feed(4096 * b"a" + b"\n")
    (long,) = LineSplitter().feed(4097 * b"a" + b"\n")
    assert not whole.damaged and long.damaged and len(whole.text) == len(long.text) == 4096
    waiting, full = LineSplitter(), LineSplitter()
    assert waiting.feed(4096 * b"a") == [] and waiting.pending
    assert [line.damaged for line in full.feed(4097 * b"a")] == [True] and not full.pending


def test_ends_of_lines_whole_and_torn() -> None:
    splitter = LineSplitter()
    assert [line.text for line in splitter.feed(b"a\r")] == ["a"]
    assert [line.text for line in splitter.feed(b"\nb\rc\r\n\n \x00\nd")] == ["b", "c"]
    assert splitter.quiet() == [] and splitter.close() == [Line("d", damaged=True)] and splitter.close() == []
    silent = LineSplitter()
    assert silent.feed(b"12.5") == [] and silent.quiet() == [Line("12.5")] and silent.quiet() == []
    semicolons = LineSplitter(b";")
    assert [line.text for line in semicolons.feed(b"a\n;b;c")] == ["a", "b"]
    assert clean(b"\x1b[31m12.5\x1b[0m") == Line("12.5") and clean(b"\x0212.5\x03ab") == Line("12.5")
    assert clean("\ufeff12 \u00b0C".encode()) == Line("12 \u00b0C") and clean(b"\xb0C") == Line("\u00b0C")
    assert clean(b"a\x80\x81").damaged and clean(b"a\x07b").damaged


def test_sums_at_the_end_of_a_line() -> None:
    """XOR of "p=3": 0x70 ^ 0x3d ^ 0x33 = 0x7e."""
    assert split_sum("p=3*7E") == ("p=3", True) == split_sum("$p=3*7E")[:0] + ("p=3", True) and split_sum("p=3*7F") == (
        "p=3",
        False,
    )
    assert split_sum("p=3") == ("p=3", None) == ("p=3", split_sum("p=3*")[1]) and split_sum("*7E")[1] is None
    looker = LineLooker()
    assert looker.look(Line("p=3*7E")).strong and looker.look(Line("p=3*7F")).why == "wrong checksum"
    assert LineLooker().look(Line("p=3", damaged=True)).why == "line noise"
    # a gauge whose sums never hold means something else by them: taken from the fourth line on
    other = LineLooker()
    assert [other.look(Line("p=3*7F")).strong for _ in range(5)] == [False, False, False, True, True]


def test_a_number_beyond_any_gauge() -> None:
    assert Sample(value=9.7e37).at(1.0, "x").value == 9.7e37 and Sample(value=-9.8e37).at(1.0, "x").value is None
    assert Sample(value=9.9e37).at(1.0, "x").why == "a number beyond any gauge"
    kept = Sample(value=1.0, why="w", device_s=2.0, temperature_degc=3.0, number="1.0", flips_sign=True).at(4.0, "raw")
    assert kept == Sample(4.0, "raw", 1.0, None, "w", 2.0, 3.0, "1.0", True)


@pytest.mark.parametrize(
    ("text", "wanted", "why"),
    [
        ("$WIXDR,P,1.02,B,baro", [(1.02, "bar")], ""), ("$WIXDR,C,20,C,air,P,1.02,B,baro", [(1.02, "bar")], ""), ("$WIXDR,P,101325,P", [(101325.0, "Pa")], ""),
        ("$WIXDR,C,20,C,air", [], "a sentence without a pressure"), ("$WIXDR,P,,B,baro", [], "a sentence without a pressure"), ("$WIXDR,P,1.02,X,baro", [], "a sentence without a pressure"),
        ("$WIMDA,30.1,I,1.02,B,20,C", [(1.02, "bar")], ""), ("$WIMDA,30.1,I,,B,20,C", [(30.1, "inHg")], ""), ("$WIMDA,30.1,I,1.02,B", [(1.02, "bar")], ""), ("$WIMMB,30.1,I", [(30.1, "inHg")], ""), ("$WIMDA,30.1", [], "a sentence without a pressure"),
        ("$WIGGA,1,2,3", [], "a sentence without a pressure"), ("$WIXDR,P,1.02,B,baro*00", [], "wrong checksum"), ("$WIXDR", [], "torn sentence"),
    ],
)  # fmt: skip
def test_pressures_of_a_sentence(text: str, wanted: list[tuple[float, str]], why: str) -> None:
    look = LineLooker().look(Line(text))
    assert [
        (c.sample.value, c.sample.unit.name if c.sample.unit else "") for c in look.found
    ] == wanted and look.why == why
    assert not look.stateless
