"""Small pieces of following a gauge's stream, by hand: what a lock reads, which samples are trusted, what layouts keep."""

# ruff: noqa: E501  (sentences and cases are as long as they are)
from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from leakdown.live.lines.candidates import Candidate, MarkedBy
from leakdown.live.lines.line import Line, Sample, checksum
from leakdown.live.lines.look import LineLooker
from leakdown.live.lines.table import heading
from leakdown.live.profiles.modbus_frames import Register, crc16
from leakdown.live.profiles.profile import AUTO, Columns, Framing, Profile
from leakdown.live.streams.decode import AtOnce, LineDecoder, ModbusDecoder, ProfileReader, spread
from leakdown.live.streams.layout import (
    _NUMBER,
    Layouts,
    _changed,
    _form,
    _Layout,
    _Roles,
    _with_digit,
    decimals_of,
    without_sum,
)
from leakdown.live.streams.lock import NO_UNIT, Lock, account_of_heading, account_of_place, choose, read_place, read_row
from leakdown.live.streams.recognise import AutoReader
from leakdown.live.streams.settle import (
    Settler,
    SpikeFilter,
    _away,
    _decided,
    _false_starts,
    _first_run,
    _gap,
    _larger,
    leaps,
    near_open_air,
    wild,
)
from leakdown.quantities import PRESSURE_PA, PressureUnit

KPA, PSI = PressureUnit("kPa", PRESSURE_PA["kPa"]), PressureUnit("psi", PRESSURE_PA["psi"])


def _held(*texts: str) -> list[Any]:
    looker = LineLooker()
    return [(Line(text), 0.1 * k, looker.look(Line(text))) for k, text in enumerate(texts)]


def _samples(*values: float | None, unit: PressureUnit | None = KPA, every_s: float = 0.1) -> list[Sample]:
    return [Sample(arrival_s=100.0 + k * every_s, value=v, unit=unit, raw=str(v)) for k, v in enumerate(values)]


# ---------------------------------------------------------------- which shape


@pytest.mark.parametrize(
    ("texts", "final", "kind"),
    [
        (("time,pressure", "1,2"), False, "heading"),
        (("time,pressure",), True, None),
        (("time,pressure", "s,kPa", "1,2"), False, "heading"),
        (("p: 12.5 kPa",), False, None),
        (("p: 12.5 kPa", "p: 12.4 kPa"), False, "place"),
        (("p: 12.5 kPa",), True, "place"),
        (("12.5", "12.4"), False, None),
        (("12.5", "12.4", "12.3"), False, "place"),
        (("12.5",), True, "place"),
        (("A0:512", "A0:511"), False, None),
        (("A0:512", "A0:511"), True, "place"),
        (("A0:512",), True, None),
        (("A0:512", "A0:511", "A0:510"), False, "place"),
        (("0 40.1", "1 40.0"), False, None),
        (("0 40.1", "1 40.0"), True, "column"),
        (("0 40.1", "1 40.0", "2 39.9"), False, "column"),
        (("100 100 100", "99 99 99", "98 98 98"), False, "repeats"),
        (("101,32", "101,28", "101,27"), False, "comma"),
        (("1 2 3",), True, None),
        ((), True, None),
        (("hello",), True, None),
    ],
)
def test_which_shape_explains_the_first_lines(texts: tuple[str, ...], final: bool, kind: str | None) -> None:
    lock = choose(_held(*texts), final)
    assert (lock.kind if lock else None) == kind


def test_locks_on_rows() -> None:
    column = choose(_held("0 40.1 7", "1 40.0 7", "2 39.9 7"), False)
    assert column is not None and (column.width, column.column, column.clock) == (3, 1, 0)
    assert column.account == f"took number 2 of 3 on a line for the pressure (the only number that moves), {NO_UNIT}"
    assert read_row(column, "3 39.8 7") == Sample(value=39.8, device_s=3.0)
    for wrong in ("3 39.8", "3 39.8 7 1", "x"):
        assert read_row(column, wrong) == Sample(why="not a row of this table")
    two_clocks = choose(_held("0 5 40.1", "1 6 40.0", "2 7 39.9"), False)
    assert two_clocks is not None and (two_clocks.column, two_clocks.clock) == (2, None)
    assert read_row(two_clocks, "3 8 39.8").device_s is None
    repeats = choose(_held("100 100 101", "99 99 99", "98 98 98"), False)
    assert repeats is not None and repeats.width == 3
    assert repeats.account == f"took the middle one of 3 repeats on a line for the pressure, {NO_UNIT}"
    assert read_row(repeats, "97.0 97.1 97.3") == Sample(value=97.1)
    assert read_row(repeats, "97 50 97").why.startswith("the repeats on this line differ by more than ")
    comma = choose(_held("101,32", "101,28", "101,27"), False)
    assert comma is not None and read_row(comma, " -101,25") == Sample(value=-101.25, number="-101.25")
    for wrong in ("101.25", "101", "101,25,1", "x101,25"):
        assert read_row(comma, wrong) == Sample(why="no number of the usual form")
    head = choose(_held("time_ms,pressure_kpa", "5,40.1"), False)
    assert head is not None and head.unit == KPA and read_row(head, "7,40.0").value == 40.0
    zeros = choose(_held("0 0", "0 0", "0 0"), True)
    assert zeros is None
    uneven = choose(_held("0 40.1", "1 40.0", "2 39.9", "1 2 3"), False)
    assert uneven is not None and uneven.width == 2


def test_what_a_place_says() -> None:
    lock = choose(_held("p: 12.5 kPa", "p: 12.4 kPa"), False)
    assert lock is not None
    looker = LineLooker()
    assert read_place(lock, looker.look(Line("p: 12.3 kPa"))).value == 12.3
    assert read_place(lock, looker.look(Line("q: 12.3 psi"))) == Sample(why="not the line that carries the pressure")
    assert read_place(lock, looker.look(Line("no number here"))).why == "no number"


@pytest.mark.parametrize(
    ("key", "label", "unit", "flips", "said"),
    [
        ("LABEL|p|kPa", "press", KPA, False, "took the number after 'press' for the pressure, in kPa"),
        ("LABEL|p|", "vac", None, True, f"took the number after 'vac' for the pressure, {NO_UNIT}; vacuum, so counted as negative"),
        ("JSON|a.b|kPa", "a.b", KPA, False, "took the JSON key 'a.b' for the pressure, in kPa"),
        ("XDR|IIXDR|x|kPa", "IIXDR x", KPA, False, "took the pressure field of 'IIXDR x' for the pressure, in kPa"),
        ("LONE||", "", None, False, f"took the only number on the line for the pressure, {NO_UNIT}"),
        ("UNIT||kPa", "", KPA, False, "took the number beside the unit for the pressure, in kPa"),
        ("UNIT||kPa", "reading", KPA, False, "took the number after 'reading' for the pressure, in kPa"),
    ],
)  # fmt: skip
def test_what_was_taken_in_words(key: str, label: str, unit: Any, flips: bool, said: str) -> None:
    one = Candidate(Sample(value=1.0, unit=unit, flips_sign=flips), MarkedBy.LABEL, key, label)
    assert account_of_place(one) == said


def test_a_heading_in_words() -> None:
    full, bare = heading("time_ms,pressure_kpa"), heading("pressure,temp")
    assert full is not None and bare is not None
    assert (
        account_of_heading(full)
        == "took column 2 of 2 ('pressure_kpa') for the pressure, in kPa, its clock from column 1"
    )
    assert account_of_heading(bare) == f"took column 1 of 2 ('pressure') for the pressure, {NO_UNIT}"


# ---------------------------------------------------------------- which samples


def test_readings_of_open_air() -> None:
    """84 to 107 kPa (the highest town's air, and a record high)."""
    for value, unit, so in ((101.3, KPA, True), (14.7, PSI, True), (40.0, KPA, False), (107.1, KPA, False), (83.9, KPA, False),
                            (84.0, KPA, True), (1013.0, None, True), (29.9, None, True), (5.0, None, False), (None, KPA, False)):  # fmt: skip
        assert near_open_air(Sample(value=value, unit=unit)) is so


def test_leaps_and_wild_starts() -> None:
    """10 kPa and a quarter, or a fifth at the start; without a unit one half (common practice, no source)."""

    def two(a: float | None, b: float | None, unit: PressureUnit | None = KPA) -> tuple[bool, bool]:
        first, second = Sample(value=a, unit=unit), Sample(value=b, unit=unit)
        return leaps(first, second), wild(first, second)

    assert two(40.0, 51.0) == (False, True) and two(40.0, 30.1) == (False, False) and two(30.0, 41.0) == (True, True)
    assert two(60.0, 73.0) == (False, False) and two(-20.0, 20.0) == (True, True) and two(None, 5.0) == (False, False)
    assert two(5.0, None) == (False, False) and two(5.0, 14.9) == (False, False) and two(5.0, 15.1) == (True, True)
    assert (
        two(40.0, 60.0, None) == (False, True)
        and two(40.0, 81.0, None) == (True, True)
        and two(1.0, 9.0, None) == (False, True)
    )
    assert two(1.1, 9.0, None) == (True, True)
    one, none = Sample(value=-3.0), Sample(value=None)
    assert (
        _gap(one, none) == _gap(none, one) == 3.0 == _larger(one, none) == _larger(none, one)
        and _larger(none, none) == 0.0
    )
    for new, old, so in ((5.0, 4.0, True), (4.0, 5.0, False), (-1.0, 5.0, True), (-6.0, -5.0, True), (0.0, 5.0, False)):
        assert _away(Sample(value=new), Sample(value=old)) is so


@pytest.mark.parametrize(
    ("values", "every_s", "so"),
    [
        ((), 0.1, False), ((40.0,), 0.1, False), ((40.0, 40.1), 0.1, True), ((40.0, 90.0), 0.1, False), ((40.0, 90.0, 91.0), 0.1, True),
        ((40.0, 40.0), 0.1, False), ((40.0, 40.0, 40.0), 0.1, False), ((40.0,) * 5, 0.1, True), ((0.0,) * 7, 0.1, False),
        ((0.0,) * 8, 0.1, True), ((0.0, 40.0), 0.1, True), ((0.0, 0.0), 3.0, True), ((0.0, 0.0), 2.9, False), ((40.0, 90.0), 3.0, True),
    ],
)  # fmt: skip
def test_when_a_start_is_decided(values: tuple[float, ...], every_s: float, so: bool) -> None:
    assert bool(_decided(_samples(*values, every_s=every_s))) is so


@pytest.mark.parametrize(
    ("values", "refused"),
    [
        ((0.0, 0.0, 101.3), 2), ((0.0, 0.0, 40.0), 0), ((0.0, 0.0), 0), ((40.0, 40.1, 40.2), 0), ((40.0,), 0),
        ((3.0, 101.3), 1), ((101.3, 3.0), 0), ((90.0, 40.0, 40.1), 1), ((90.0, 40.0, 50.0), 0), ((90.0, 90.0, 40.0, 40.1), 2),
        ((0.3, 40.0, 40.1), 0), ((101.3, 40.0, 40.1), 1),
    ],
)  # fmt: skip
def test_first_readings_that_are_none(values: tuple[float, ...], refused: int) -> None:
    readings = _samples(*values)
    found, why = _false_starts(readings)
    assert found == readings[:refused] and (refused == 0 or bool(why))
    assert (
        _first_run(_samples(5.0, 5.0, 6.0)) == 2
        and _first_run(_samples(*[5.0] * 9)) == 3
        and _first_run(_samples(5.0)) == 1
    )


def _through(one: Any, samples: list[Sample], finish: bool = True) -> list[tuple[float | None, str]]:
    given = [done for s in samples for done in one.feed(s)] + (one.finish() if finish else [])
    return [(s.value, s.why[:4]) for s in given]


def test_a_waking_gauge() -> None:
    assert _through(Settler(), _samples(0.0, 0.0, 101.3, 0.0)) == [
        (None, "zero"),
        (None, "zero"),
        (101.3, ""),
        (0.0, ""),
    ]
    assert _through(Settler(), _samples(90.0, 40.0, 40.1, 90.0))[:2] == [(None, "firs"), (40.0, "")]
    settler = Settler()
    assert (
        settler.feed(_samples(None)[0]) == []
        and settler.holds
        and settler.tick(102.9) == []
        and len(settler.tick(103.0)) == 1
    )
    assert not settler.holds and settler.tick(999.0) == []
    assert (
        settler.feed(_samples(0.0)[0]) == [] and len(settler.finish()) == 1 and len(settler.feed(_samples(0.0)[0])) == 1
    )


def test_leaps_that_came_back() -> None:
    """A lone one is refused when the next is near the last good; a real step is kept."""
    far = (None, "far ")
    assert _through(SpikeFilter(), _samples(40.0, 90.0, 40.1)) == [(40.0, ""), far, (40.1, "")]
    assert _through(SpikeFilter(), _samples(40.0, 90.0, 90.1)) == [(40.0, ""), (90.0, ""), (90.1, "")]
    assert _through(SpikeFilter(), _samples(40.0, 90.0, 90.0, 90.0, 40.0)) == [(40.0, ""), far, far, far, (40.0, "")]
    four = _through(SpikeFilter(), _samples(40.0, 90.0, 90.0, 90.0, 90.0, 40.0))
    assert [value for value, _ in four] == [40.0, 90.0, 90.0, 90.0, 90.0, 40.0]
    assert _through(SpikeFilter(), _samples(40.0, 90.0, -20.0, 40.0)) == [(40.0, ""), far, far, (40.0, "")]
    assert (
        _through(SpikeFilter(), _samples(40.0, 90.0, 56.0))[1] == (90.0, "")
        and _through(SpikeFilter(), _samples(40.0, 90.0, 54.0))[1] == far
    )
    assert _through(SpikeFilter(), _samples(40.0, 90.0, None, 40.0)) == [(40.0, ""), far, (None, ""), (40.0, "")]
    waiting = SpikeFilter()
    for s in _samples(40.0, 90.0):
        waiting.feed(s)
    assert (
        waiting.holds
        and waiting.tick(103.0) == []
        and [s.value for s in waiting.tick(103.2)] == [90.0]
        and not waiting.holds
    )


def test_a_last_leap_away_has_nobody_to_vouch_for_it() -> None:
    """After eight readings, away from zero and beyond twice the largest step before."""
    eight = [40.0 + 0.1 * k for k in range(8)]
    assert _through(SpikeFilter(), _samples(*eight, 90.0))[-1] == (None, "far ")
    assert _through(SpikeFilter(), _samples(*eight[1:], 90.0))[-1] == (90.0, "")
    assert (
        _through(SpikeFilter(), _samples(*eight, 0.0))[-1] == (0.0, "")
        and _through(SpikeFilter(), _samples(*eight))[-1][0] == eight[-1]
    )
    stepped = [40.0, 40.0, 40.0, 40.0, 40.0, 12.0, 12.0, 12.0, 12.0]
    assert _through(SpikeFilter(), _samples(*stepped, 60.0))[-1] == (60.0, "")
    assert _through(SpikeFilter(), _samples(*stepped, 80.0))[-1] == (None, "far ")


# ---------------------------------------------------------------- layouts


def test_forms_of_lines() -> None:
    assert _form("p=12.5") == _form("p=7.25") and _form("12:34 5.5") != _form("2:34 5.5")
    assert [decimals_of(t) for t in ("12.50", "12", "-3.", "1E5", "")] == [2, 0, 0, -1, 0]
    for number, other in (
        ("12.5", "12.6"),
        ("12.9", "12.8"),
        ("0.00123456", "0.00123466"),
        ("-7", "-8"),
        ("1.5E+03", "1.6E+03"),
        ("0", "1"),
    ):
        assert _changed(number) == other
    assert _with_digit("1", "-12.50E+03") == "-1.1E0" and _with_digit("0", "12") == "0"
    body = "p=12.5"
    assert without_sum(f"{body}*{checksum(body):02X}") == body and without_sum(f"{body}*00") == f"{body}*00"


def _learned(*texts: str) -> tuple[AutoReader, Layouts]:
    reader = AutoReader()
    for k, text in enumerate(texts):
        reader.feed(Line(text), 0.1 * k)
    layouts = Layouts(reader._ask)
    for _ in range(2):
        layouts.learn(texts[-1])
    return reader, layouts


def test_a_layout_reads_each_number_by_its_role() -> None:
    _, layouts = _learned(*(f"t_ms={k}00 pressure={40 + k}.5 temp={70 + k}.1 F" for k in range(3)))
    said = layouts.read("t_ms=500 pressure=38.25 temp=71.6 F", 9.0)
    assert said is not None and (said.value, said.device_s, said.arrival_s) == (38.25, 0.5, 9.0)
    assert said.temperature_degc == pytest.approx(22.0) and said.number == "38.25" and said.raw.startswith("t_ms=500")
    hot = layouts.read("t_ms=500 pressure=38.25 temp=999.6 F", 9.0)
    assert hot is not None and hot.temperature_degc is None
    assert layouts.read("x=500 pressure=38.25 temp=71.6 F", 9.0) is None
    fresh = Layouts(lambda text: Sample(value=1.0))
    fresh.learn("p=1.5")
    assert fresh.read("p=1.5", 0.0) is None  # learned at the second coming


def test_layouts_with_commas_and_codes() -> None:
    _, commas = _learned("-0,712 bar", "-0,709 bar", "-0,708 bar")
    said = commas.read("-0,655 bar", 1.0)
    assert said is not None and said.value == -0.655
    _, codes = _learned("ERR=0 P=12.5 kPa", "ERR=0 P=12.4 kPa", "ERR=0 P=12.3 kPa")
    fine, bad = codes.read("ERR=0 P=11.5 kPa", 1.0), codes.read("ERR=3 P=11.5 kPa", 1.0)
    assert fine is not None and fine.value == 11.5 and bad is None
    _, vacuum = _learned("vacuum: 12.5 inHg", "vacuum: 12.4 inHg", "vacuum: 12.3 inHg")
    down = vacuum.read("vacuum: 11.5 inHg", 1.0)
    assert down is not None and down.value == -11.5
    _, silent = _learned("p: 12.5 kPa", "p: 12.4 kPa", "humidity: 45 %")
    none = silent.read("humidity: 46 %", 1.0)
    assert none is not None and none.value is None and none.why
    plain = _Layout(Sample(value=1.0, number="1"))
    assert plain.read("9.9E37", 0.0, "x") is None and str(plain.read("-0.0", 0.0, "x").value) == "0.0"  # type: ignore[union-attr]


# ---------------------------------------------------------------- profiles and decoders


def _profile(**more: Any) -> Profile:
    return replace(AUTO, **({"name": "own"} | more))


def _told(profile: Profile, text: str, damaged: bool = False) -> Sample:
    (said,) = ProfileReader(profile).feed(Line(text, damaged), 3.0)
    assert said.arrival_s == 3.0 and said.raw == text
    return said


def test_lines_by_a_profile() -> None:
    pattern = _profile(
        pattern=re.compile(
            r"P(?P<pressure>[-\d.,a-zL]+)(?: (?P<unit>\w+))?(?: t(?P<time>\d+))?(?: T(?P<temperature>\d+))?"
        )
    )
    said = _told(pattern, "P12.5 kPa t1500 T22")
    assert (said.value, said.unit, said.device_s, said.temperature_degc) == (12.5, KPA, 1.5, 22.0)
    bare = _told(pattern, "P12,5")
    assert (bare.value, bare.unit, bare.device_s, bare.temperature_degc) == (12.5, None, None, None)
    assert _told(replace(pattern, time_unit_s=1.0), "P12.5 kPa t15").device_s == 15.0
    assert (
        _told(pattern, "x").why == "does not fit the profile's pattern"
        and _told(pattern, "P12.5", True).why == "line noise"
    )
    assert (
        _told(pattern, "PovL").why == "no number where the pressure should be"
        and _told(pattern, "P--").why == "the gauge has no reading"
    )
    stops = replace(pattern, no_reading=re.compile("busy"))
    assert (
        _told(stops, "P12.5 busy").why == "the profile says this is no reading" and _told(stops, "P12.5").value == 12.5
    )
    summed = replace(pattern, checksum="xor")
    assert _told(summed, "P12.5").why == "no checksum" and _told(summed, "P12.5*00").why == "wrong checksum"
    assert _told(summed, f"P12.5*{checksum('P12.5'):02X}").value == 12.5
    assert (
        ProfileReader(pattern).account
        == "took the pressure as the profile 'own' says"
        == ProfileReader(pattern).remarks[0]
    )


def test_columns_by_a_profile() -> None:
    columns = _profile(columns=Columns(";", 1, 3, 0, 2))
    said = _told(columns, "1500;12,5;22")
    assert (said.value, said.device_s, said.temperature_degc) == (12.5, 1.5, 22.0)
    assert _told(columns, "1500;12.5").why == "2 columns" and _told(columns, "1;12.5;3;4").why == "4 columns"
    loose = _profile(columns=Columns(";", 1))
    assert (
        _told(loose, "1;12.5").value == 12.5
        and _told(loose, "1;12.5;3").device_s is None
        and _told(loose, "1").why == "1 columns"
    )
    assert _told(_profile(columns=Columns(";", 0, None, 5, 6)), "12.5;1").value == 12.5


def test_a_decoder_follows_its_reader() -> None:
    decoder = LineDecoder(_profile(columns=Columns(",", 1), unit=PSI))
    assert decoder.clock_named and decoder.unit_name == "" and "profile 'own'" in decoder.account and decoder.remarks
    assert [(s.value, s.unit) for s in decoder.feed(b"1,12.5\n2,12.4\n", 1.0)] == [(12.5, PSI), (12.4, PSI)]
    assert not decoder.holds and decoder.held() == [] == decoder.asked(2.0) and decoder.finish() == []
    auto = LineDecoder(AUTO)
    assert auto.clock_named and auto.feed(b"0 40.1\n1 40.0\n", 0.1) == [] and auto.holds
    assert [s.value for s in auto.held()] == [40.1, 40.0] and auto.holds
    auto.feed(b"2 39.9\n3 39.8\n", 0.2)
    assert not auto.clock_named and auto.unit_name == "" and "number 2 of 2" in auto.account
    named = LineDecoder(AUTO)
    named.feed(b"p: 12.5 kPa\np: 12.4 kPa\np: 12.3 kPa\n", 0.1)
    assert named.unit_name == "kPa" and named.clock_named
    quiet = LineDecoder(_profile(columns=Columns(",", 1), framing=Framing()))
    assert quiet.feed(b"1,12.5", 1.0) == [] and quiet.tick(1.2) == [] and [s.value for s in quiet.tick(1.3)] == [12.5]
    assert spread(0.0, 1.0, 2) == [0.975, 1.0] and spread(0.99, 1.0, 1) == [1.0] and spread(0.0, 1.0, 0) == []
    plain = AtOnce()
    assert (plain.tick(1.0), plain.held(), plain.finish(), plain.holds, plain.unit_name, plain.clock_named) == (
        [],
        [],
        [],
        False,
        "",
        True,
    )


def test_a_lock_s_defaults() -> None:
    lock = Lock("place", "x")
    assert (lock.key, lock.unit, lock.head, lock.width, lock.column, lock.clock) == ("", None, None, 0, 0, None)


# ---------------------------------------------------------------- auto


def _auto(*texts: str, at: tuple[float, ...] = ()) -> tuple[AutoReader, list[Sample]]:
    reader = AutoReader()
    given = [s for k, text in enumerate(texts) for s in reader.feed(Line(text), at[k] if at else 0.1 * k)]
    return reader, given


def test_numbers_that_lost_their_figures() -> None:
    """Closing zeros are written, so that a shorter number is a torn one: at once after three, without its point."""
    lines = ["p: 12.50 kPa", "p: 12.40 kPa", "p: 12.30 kPa"]
    _, given = _auto(*lines, "p: 12 kPa", "p: 12.20 kPa")
    assert [s.value for s in given] == [12.5, 12.4, 12.3, None, 12.2] and given[
        3
    ].why == "torn: the number lost figures"
    _, one_less = _auto(*lines, "p: 12.2 kPa")
    assert one_less[-1].value == 12.2
    many = [f"p: 12.{k:02d} kPa" for k in range(10, 31)]
    _, steady = _auto(*many, "p: 12.2 kPa")
    assert steady[-1].value is None
    _, more = _auto(*lines, "p: 12.205 kPa")
    assert more[-1].value == 12.205


def test_a_unit_switched_and_a_banner() -> None:
    reader, given = _auto("p: 12.5 kPa", "p: 12.4 kPa", "p: 1.8 psi", "p: 1.7 psi", "p: 1.6 psi")
    assert [s.value for s in given] == [12.5, 12.4, None, 1.7, 1.6] and given[-1].unit == PSI
    assert (
        reader.remarks[-1].startswith("the gauge changed its unit: took the number after 'p'")
        and reader.unit_name == "psi"
    )
    once, back = _auto("p: 12.5 kPa", "p: 12.4 kPa", "p: 1.8 psi", "p: 12.3 kPa", "p: 1.7 psi")
    assert [s.value for s in back] == [12.5, 12.4, None, 12.3, None] and once.unit_name == "kPa"
    banner = ("pressure test 12.5 kPa",) * 2
    after = [f"inlet pressure: {40 - k}.5 kPa" for k in range(9)]
    changed, read = _auto(*banner, *after)
    assert any(r.startswith("the first lines were something else; from here on ") for r in changed.remarks)
    assert read[-1].value == 32.5 and read[2].value is None


def test_lines_held_back() -> None:
    reader, given = _auto("hello", "world")
    assert given == [] and reader.holds and reader.unit_name == "" and reader.clock_named and reader.tick(99.0) == []
    done = reader.finish()
    assert (
        [s.value for s in done] == [None, None]
        and done[0].why == "no number"
        and not reader.holds
        and reader.finish() == []
    )
    slow, early = _auto("p: 12.5 kPa", at=(5.0,))
    assert early == [] and slow.tick(6.9) == [] and [s.value for s in slow.tick(7.0)] == [12.5]
    _, many = _auto(*["hello"] * 60)
    assert len(many) == 60
    learning, _ = _auto("p: 12.5 kPa", "p: 12.4 kPa")
    (noise,) = learning.feed(Line("p: 12.3 kPa", damaged=True), 1.0)
    assert noise.value is None and noise.why == "line noise"


def test_what_each_number_turned_out_to_do() -> None:
    """One moves the pressure, one the clock, one the temperature; what moves one of them twice cannot be told."""
    said = Sample(value=40.5, device_s=1.5, temperature_degc=22.0, unit=KPA)

    def heard(*changes: tuple[str, str, Sample]) -> tuple[list[bool], Any]:
        roles = _Roles(said, _NUMBER)
        answers = [roles.hear(k, number, other, answer) for k, (number, other, answer) in enumerate(changes)]
        return answers, roles.layout()

    pressure = ("40.5", "40.6", replace(said, value=40.6))
    clock = ("1500", "1600", replace(said, device_s=1.6))
    warmth = ("22", "23", replace(said, temperature_degc=23.0))
    code = ("0", "1", Sample(why="error"))
    fine, layout = heard(pressure, clock, warmth, code, ("7", "8", said))
    assert fine == [True] * 5 and (layout.pressure, layout.clock, layout.temperature) == (0, 1, 2)
    assert (layout.clock_unit_s, layout.temperature_unit, layout.must_be, layout.turned) == (
        1e-3,
        "C",
        ((3, "0"),),
        False,
    )
    assert (
        heard(pressure, clock, warmth, pressure)[0][-1] is False
        and heard(pressure, clock, warmth, clock)[0][-1] is False
    )
    assert heard(pressure, clock, warmth, warmth)[0][-1] is False
    assert heard(("40.5", "40.6", replace(said, value=41.9)))[0] == [False]
    assert heard(("1500", "1600", replace(said, device_s=1.9)))[0] == [False]
    assert heard(("22", "23", replace(said, temperature_degc=29.0)))[0] == [False]
    assert heard(pressure, clock)[1] is None is heard(pressure, warmth)[1] and heard(clock, warmth)[1] is None
    assert heard(("-40.5", "-40.6", replace(said, value=40.6)), clock, warmth)[1].turned
    other_unit = ("40.5", "40.6", replace(said, value=40.6, unit=PSI))
    assert heard(other_unit)[1] is None and heard(other_unit)[0] == [True]
    kelvin = replace(said, temperature_degc=21.85)
    roles = _Roles(kelvin, _NUMBER)
    assert roles.hear(0, "295", "296", replace(kelvin, temperature_degc=22.85)) and roles.layout() is None


def test_a_vacuum_s_number_and_lines_that_came_damaged() -> None:
    shown = Sample(value=-40.5, unit=KPA, flips_sign=True)
    roles = _Roles(shown, _NUMBER)
    assert roles.hear(0, "40.5", "40.6", replace(shown, value=-40.6))
    layout = roles.layout()
    assert layout is not None and not layout.turned and layout.read("p 12.5", 0.0, "x").value == -12.5  # type: ignore[union-attr]
    reader, _ = _auto(*[f"p: 12.{k} kPa" for k in range(5)])
    assert reader.feed(Line("p: 12.7 kPa"), 1.0)[0].value == 12.7
    assert reader.feed(Line("p: 12.8 kPa", damaged=True), 1.1)[0] == Sample(1.1, "p: 12.8 kPa", why="line noise")
    decoder = LineDecoder(_profile(columns=Columns(",", 1)))
    assert (
        decoder.feed(b"1,12.5", 0.0) == []
        and decoder.tick(0.29) == []
        and [s.value for s in decoder.tick(0.3)] == [12.5]
    )


def test_what_follows_a_damaged_frame_is_dropped() -> None:
    """Registers 0x0102 of device 1; a frame of a wrong sum takes what came with it along, the next reply is read."""
    register = Register(1, 3, 0)
    good = bytes((1, register.function, 2, 1, 2))
    good += crc16(good).to_bytes(2, "little")
    decoder = ModbusDecoder(register)
    assert [s.value for s in decoder.feed(good, 1.0)] == [258.0]
    (bad,) = decoder.feed(good[:-1] + b"\x00" + good[:3], 2.0)
    assert bad.value is None and "wrong CRC" in bad.why
    assert [s.value for s in decoder.feed(good, 3.0)] == [258.0] and decoder.finish() == []
    assert (
        decoder.feed(good[:4], 4.0) == []
        and [s.why for s in decoder.asked(5.0)] == ["torn reply"]
        and decoder.asked(6.0) == []
    )
