"""Gauge profiles: the bundled ones, a user's own, damaged ones; Modbus registers and frames."""

from __future__ import annotations

import struct
import threading

import pytest

from leakdown.errors import GaugeError, UsageError
from leakdown.live.capture.logger import LiveLog, LogPlan
from leakdown.live.capture.session import Row
from leakdown.live.profiles.files import profile_named, profiles, read_profile
from leakdown.live.profiles.modbus_frames import Register, crc16, reply_registers, request
from leakdown.live.streams.decode import ModbusDecoder, decoder_for
from leakdown.live.virtual.styles import Measured, own
from tests.live.fakes import Pty


@pytest.fixture
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("LEAKDOWN_GAUGES", str(tmp_path))
    return tmp_path


def values(profile, *lines: bytes) -> list[float | None]:
    decoder = decoder_for(profile)
    return [s.value for line in lines for s in decoder.feed(line + b"\r\n", 1.0)] + [s.value for s in decoder.finish()]


def test_the_bundled_profiles_load_and_describe_themselves():
    known = profiles()
    assert {"auto", "leakdown-line", "poll-read", "counts", "modbus-int16"} <= {p.name for p in known}
    assert all(p.about for p in known)


def test_the_own_line_format_with_its_checksum():
    good = own(Measured(17, 1234, 40_123.5, 22.1)).encode()
    assert values(profile_named("leakdown-line"), good) == [40_123.5]
    assert values(profile_named("leakdown-line"), good.replace(b"40123", b"40124")) == [None]
    assert values(profile_named("leakdown-line"), own(Measured(18, 1334, None, 22.1)).encode(), b"# hello") == [
        None,
        None,
    ]


def test_counts_become_pressure_by_calibration_points():
    profile = profile_named("counts")
    assert values(profile, b"511", b"920") == [511.0, 920.0]
    convert = profile.conversion(None, None, None)
    assert convert.gauge_pa(511.5, None) == pytest.approx(0.0, abs=1e-9)
    assert convert.gauge_pa(716.1, None) == pytest.approx(50_000.0)


def test_a_users_profile_wins_over_a_bundled_one(own_folder):
    (own_folder / "counts.toml").write_text(
        'unit = "psi"\n[columns]\nseparator = ";"\npressure = 2\ntime = 1\ncount = 3\n'
    )
    profile = profile_named("counts")
    assert profile.unit.name == "psi"
    assert values(profile, b"100;-5,2;x", b"200;OL;x", b"300;-5,1") == [-5.2, None, None]


def test_a_profile_may_say_what_is_no_reading(own_folder):
    (own_folder / "a.toml").write_text("pattern = 'P(?P<pressure>-?[0-9.]+) (?P<unit>\\w+)'\nno_reading = 'LOW BAT'\n")
    assert values(profile_named("a"), b"P12.5 kPa", b"P12.4 kPa LOW BAT", b"xx") == [12.5, None, None]


@pytest.mark.parametrize(
    ("text", "needle"),
    [
        ("speed = 3", "unknown key 'speed'"),
        ('unit = "furlong"', "unknown pressure unit"),
        ('mode = "poll"', "needs [poll] command"),
        ("pattern = '(\\d+)'", "no group"),
        ("pattern = '((('", "gauge profile"),
        ("calibration = [[1, 2]]", "calibration needs"),
        ('mode = "modbus"\n[modbus]\nfunction = 6\nregister = 1', "function must be"),
        ("[columns]\npressure = 0", "counted from 1"),
        ("[serial]\nparity = 'Z'", "none of"),
        ("= =", "cannot read"),
    ],
)
def test_a_damaged_profile_is_named_with_the_cure(tmp_path, text, needle):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    with pytest.raises(UsageError) as caught:
        read_profile(path)
    assert needle in str(caught.value) and "bad.toml" in str(caught.value)


def test_an_unknown_profile_lists_the_known_ones():
    with pytest.raises(UsageError) as caught:
        profile_named("nothing")
    assert "leakdown-line" in caught.value.remedy


# MODBUS Application Protocol Specification v1.1b3: example of 6.3 (function 03, registers 108-110 hold
# 555, 0, 100) and of 6.4 (function 04, register 9 holds 10). The specification prints PDUs; the CRC and
# the unit address around them are those of the serial-line guide.
def frame(unit_id: int, pdu: str) -> bytes:
    body = bytes([unit_id]) + bytes.fromhex(pdu)
    return body + struct.pack("<H", crc16(body))


def test_the_examples_of_the_modbus_specification():
    three = Register(1, 3, 107)
    assert reply_registers(three, frame(1, "03 06 02 2B 00 00 00 64")) == [555, 0, 100]
    four = Register(1, 4, 8)
    assert request(four)[:-2] == bytes.fromhex("01 04 00 08 00 01")
    assert four.value(reply_registers(four, frame(1, "04 02 00 0A"))) == 10.0


def test_crc_check_value_and_a_frame_from_a_working_bus():
    assert crc16(b"123456789") == 0x4B37  # the published check value of CRC-16/MODBUS
    # 01 04 00 00 00 01 / 01 04 02 FE 00 (-512): request and reply as seen on a wire, with their CRCs
    register = Register(1, 4, 0)
    assert request(register) == bytes.fromhex("0104000000 0131ca")
    assert register.value(reply_registers(register, bytes.fromhex("010402fe00f950"))) == -512.0


@pytest.mark.parametrize(
    ("kind", "low_first", "registers", "value"),
    [
        ("int16", False, [0xFE00], -512.0),
        ("uint16", False, [0xFE00], 65024.0),
        ("int32", False, [0xFFFF, 0xFE00], -512.0),
        ("uint32", True, [0x0001, 0x0000], 1.0),
        ("float32", False, [0xC24C, 0xCCCD], -51.2),  # IEEE 754 single of -51.2
        ("float32", True, [0xCCCD, 0xC24C], -51.2),
    ],
)
def test_register_types(kind, low_first, registers, value):
    assert Register(1, 4, 0, kind, low_first).value(registers) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("reply", "needle"),
    [
        (bytes.fromhex("010402fe00f951"), "wrong CRC"),
        (frame(2, "04 02 00 0A"), "not what was asked"),
        (frame(1, "84 02"), "no such register"),
        (b"\x01\x04", "too short"),
    ],
)
def test_bad_replies_are_named(reply, needle):
    with pytest.raises(GaugeError, match=needle):
        reply_registers(Register(1, 4, 0), reply)


def test_replies_in_pieces_and_damaged_ones():
    decoder = ModbusDecoder(Register(1, 4, 0))
    good = bytes.fromhex("010402fe00f950")
    assert decoder.feed(good[:3], 1.0) == []
    assert [s.value for s in decoder.feed(good[3:], 1.1)] == [-512.0]
    assert [s.value for s in decoder.feed(b"\xff" + good[1:], 1.2)] == [None]
    assert decoder.feed(good[:4], 1.3) == []
    assert [s.why for s in decoder.asked(1.4)] == ["torn reply"]
    assert [s.value for s in decoder.feed(good, 1.5)] == [-512.0]


def test_a_modbus_gauge_on_a_wire(tmp_path):
    with Pty() as port, LiveLog(LogPlan(port.name, tmp_path / "a.csv", profile_named("modbus-int16"))) as log:

        def answer() -> None:
            for tenth in (-512, -511, -510):
                assert port.receive(8) == bytes.fromhex("01040000000131ca")
                port.send(_reply(tenth))

        thread = threading.Thread(target=answer, daemon=True)
        thread.start()
        rows = []
        for event in log.events(0.05):
            if isinstance(event, Row) and event.pressure_pa is not None:
                rows.append(event.pressure_pa)
            if len(rows) == 3:
                log.stop()
        thread.join(3.0)
    assert rows == pytest.approx([-51_200.0, -51_100.0, -51_000.0])


def _reply(tenth: int) -> bytes:
    return frame(1, "04 02 " + struct.pack(">h", tenth).hex())


def test_frames_agree_with_an_independent_implementation():
    framer = pytest.importorskip("pymodbus.framer.rtu", reason="pymodbus (extra `modbus`) is not installed")
    for data in (b"\x01\x04\x00\x00\x00\x01", b"123456789", bytes(range(60))):
        theirs = framer.FramerRTU.compute_CRC(data)
        assert crc16(data) in (theirs, struct.unpack(">H", struct.pack("<H", theirs))[0])
