"""Layouts, profiles and the choice among shapes of a stream, by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from leakdown.live.lines.line import Line, Sample, checksum
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
from leakdown.live.streams.lock import Lock
from leakdown.live.streams.recognise import AutoReader
from leakdown.quantities import PRESSURE_PA, PressureUnit

KPA, PSI = PressureUnit("kPa", PRESSURE_PA["kPa"]), PressureUnit("psi", PRESSURE_PA["psi"])


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
    assert decoder.feed(good[:4], 4.0) == []
    (torn,) = decoder.asked(5.0)
    assert (torn.arrival_s, torn.raw, torn.why) == (5.0, good[:4].hex(" "), "torn reply") and decoder.asked(6.0) == []
    refusal = bytes((1, register.function | 0x80, 2))  # illegal data address, by the Modbus specification
    refusal += crc16(refusal).to_bytes(2, "little")
    (refused,) = decoder.feed(refusal, 7.0)
    assert (
        refused.raw == refusal.hex(" ")
        and refused.value is None
        and "wrong CRC" not in refused.why
        and "2" in refused.why
    )
