"""`auto` against the ways in which gauges word their lines: every reading right, nothing else taken for one.

The lines are our own wording of shapes that small boards, manometers, scales and weather sensors send
(common practice, no source); each case is bytes, readings, and the unit that the gauge itself names.
"""

# ruff: noqa: E501  (the lines of a gauge are as long as they are)
from __future__ import annotations

import pytest

from leakdown.gauges.decode import LineDecoder
from leakdown.gauges.profile import AUTO
from leakdown.gauges.sample import Sample

# fmt: off
SHAPES: list[tuple[bytes, list[float], str]] = [
    (b'1834 1833 1835 1834 1834 \r\n1834\r\n',
     [1834.0], ''),
    (b'Time [s], liquid_level_reading\r\n0.00,508\r\n0.16,508\r\n0.32,507\r\n',
     [508, 508, 507], ''),
    (b'The pressure in kPa is : 17.42\r\nThe water column height (cms) is : 177.63\r\n',
     [17.42], 'kPa'),
    (b'Pressure (ATM): 14.62\r\nPressure (ATM): 14.61\r\n',
     [14.62, 14.61], 'atm'),
    (b'T+35: x35: 512,0,0,0,\r\nT+36: x35: 511,0,0,0,   NO ZERO CROSSING\r\n',
     [512, 511], ''),
    (b'{\r\n  "sensor": {\r\n    "temp": 24.8,\r\n    "pressure": 201.4\r\n  }\r\n}\r\n',
     [201.4], ''),
    (b'$IIXDR,P,1.0050,B,Barometer*13\r\n$IIXDR,P,1.0049,B,Barometer*1B\r\n$IIXDR,P,1.0049,B,Barometer*1C\r\n',
     [1.005, 1.0049], 'bar'),
    (b'temp: 23.490000; press: 71.920546; humidity: 90.893554\r\ntemp: 23.870000; press: 100.823980; humidity: 58.954101\r\n',
     [100.82398], ''),
    (b' pressure= 0.00\r\n pressure= 0.00\r\n pressure= 1009.40\r\n pressure= 1009.40\r\n',
     [1009.4, 1009.4], ''),
    (b'RIG,state=hold elapsed=60017i,p=203.4,t=22.9\r\nRIG,state=hold elRIG,state=hold elapsed=62017i,p=203.1,t=22.9\r\n',
     [203.4], ''),
    (b'-0,712 bar\r\n-0,709 bar\r\n',
     [-0.712, -0.709], 'bar'),
    (b'Timestamp (s): 12.345 | Voltage: 1.237 V | Pressure: 36.85 PSI\r\nTimestamp (s): 13.345 | Voltage: 1.233 V | Pressure: 36.65 PSI\r\n',
     [36.85, 36.65], 'psi'),
    (b'101.32\r\n101.31\r\n101.33\r\n',
     [101.32, 101.31, 101.33], ''),
    (b'P: 12.3 kPa T: 22.1 C\r\nP: 12.2 kPa T: 22.1 C\r\n',
     [12.3, 12.2], 'kPa'),
    (b'Gauge v1.2 ready\r\nSN 00123\r\n12.34 kPa\r\nOL\r\n----\r\n12.30 kPa\r\n',
     [12.34, 12.3], 'kPa'),
    (b'ERR\r\n+1.23456E+01\r\n+1.23456E+01\r\n+9.9E37\r\n',
     [12.3456, 12.3456], ''),
    (b'PRES 12.3,KPA\rPRES 12.2,KPA\r',
     [12.3, 12.2], 'kPa'),
    (b'time_ms,pressure_kpa\n0,40.1\n100,40.0\n200,39.9\n300,39\n',
     [40.1, 40.0, 39.9, 39], 'kPa'),
    (b'vacuum: 12.3 inHg\nvacuum: 12.2 inHg\n',
     [-12.3, -12.2], 'inHg'),
    (b'\x1b[32mPressure: 12.3 kPa\x1b[0m\r\n\x1b[32mPressure: 12.2 kPa\x1b[0m\r\n',
     [12.3, 12.2], 'kPa'),
    (b'{"p":12.3,"t":22}\n{"p":12.2,"t":22}\n{"p":null,"t":22}\n{"p":12.1,"t"\n',
     [12.3, 12.2], ''),
    (b'rst:0x1 (POWERON_RESET),boot:0x13 (SPI_FAST_FLASH_BOOT)\r\nload:0x3fff0030,len:1184\r\nentry 0x400805e4\r\nDruck=-35,2 mbar\r\nDruck=-35,1 mbar\r\n',
     [-35.2, -35.1], 'mbar'),
    (b'ets Jul 29 2019 12:21:46\r\n\r\nconfigsip: 0, SPIWP:0xee\r\nclk_drv:0x00,q_drv:0x00\r\nmode:DIO, clock div:2\r\nPressure sensor found at 0x76\r\nPressure: 1.2 psi\r\nPressure: 1.1 psi\r\n',
     [1.2, 1.1], 'psi'),
    (b'#1 101.3\r\n#2 101.2\r\n#3 101.2\r\n',
     [101.3, 101.2, 101.2], ''),
    (b'T=22.5 C, P=101.32 kPa, H=45 %\nT=22.5 C, P=101.30 kPa, H=45 %\n',
     [101.32, 101.3], 'kPa'),
    (b'12:00:01 -30.1 kPa\n12:00:02 -30.0 kPa\n',
     [-30.1, -30.0], 'kPa'),
    (b'2024-05-01 12:00:01;-30,1;22,5\n2024-05-01 12:00:02;-30,0;22,5\n2024-05-01 12:00:03;-29,9;22,5\n',
     [-30.1, -30.0, -29.9], ''),
    (b'Pressure: 40.12 kPa\nPressure: 40.1Pressure: 40.10 kPa\nPressure: 40.09 kPa\nPress',
     [40.12, 40.09], 'kPa'),
    (b'ST,GS,+  12.34kPa\r\nUS,GS,+  12.30kPa\r\nOL,GS,+  99.99kPa\r\n',
     [12.34, 12.3], 'kPa'),
    (b'PSI=5.01\nPSI=5.00\n',
     [5.01, 5.0], 'psi'),
    (b'Absolute pressure: 101325 Pa\nTemperature: 22.3 C\nAltitude: 12.1 m\nAbsolute pressure: 101322 Pa\nTemperature: 22.3 C\n',
     [101325, 101322], 'Pa'),
    (b'raw=8388607 p=12.3\nraw=8388600 p=12.2\n',
     [12.3, 12.2], ''),
    (b'P1=12.3 P2=14.5\nP1=12.2 P2=14.4\n',
     [12.3, 12.2], ''),
    (b'\xff\xfe\x80\n12.3 kPa\n12.2 kPa\n',
     [12.3, 12.2], 'kPa'),
    (b'12.3 kPa 12.3 kPa\n12.2 kPa 12.2 kPa\n',
     [12.3, 12.2], 'kPa'),
    (b'[0012345] press 12.3 mbar\n[0012346] press 12.2 mbar\n',
     [12.3, 12.2], 'mbar'),
    (b'I (1234) gauge: pressure=12.30 kPa temp=22.10\nI (1334) gauge: pressure=12.20 kPa temp=22.10\nE (1434) gauge: read failed -1\n',
     [12.3, 12.2], 'kPa'),
    (b'pressure: over range\npressure: 12.3 psi\npressure: 12.2 psi\npressure: > 15.0 psi\n',
     [12.3, 12.2], 'psi'),
    (b'512\n511\n511\n510\n',
     [512, 511, 511, 510], ''),
    (b'A0:512\nA0:511\nA0:511\n',
     [512, 511, 511], ''),
    (b't:100,p:40.1\nt:200,p:40.0\n',
     [40.1, 40.0], ''),
    (b'-0.712\xb0C 12\n',
     [], ''),
    (b'inHg: -12.3\ninHg: -12.2\n',
     [-12.3, -12.2], 'inHg'),
    (b'Pression : -0,35 bar\nPression : -0,34 bar\n',
     [-0.35, -0.34], 'bar'),
    (b'Press\xc3\xa3o: 12,5 kPa\nPress\xc3\xa3o: 12,4 kPa\n',
     [12.5, 12.4], 'kPa'),
    (b'\xd0\x94\xd0\xb0\xd0\xb2\xd0\xbb\xd0\xb5\xd0\xbd\xd0\xb8\xd0\xb5: 12.5 kPa\n\xd0\x94\xd0\xb0\xd0\xb2\xd0\xbb\xd0\xb5\xd0\xbd\xd0\xb8\xd0\xb5: 12.4 kPa\n',
     [12.5, 12.4], 'kPa'),
    (b'\xe2\x88\x9212.5 kPa\n\xe2\x88\x9212.4 kPa\n',
     [-12.5, -12.4], 'kPa'),
    (b'*12.345 PSIG\r\n*12.344 PSIG\r\n',
     [12.345, 12.344], 'psi'),
    (b'0001,12.3,kPa,22.5,C\n0002,12.2,kPa,22.5,C\n',
     [12.3, 12.2], 'kPa'),
    (b'READ? \r\n12.3\r\n12.2\r\n12.1\r\n',
     [12.3, 12.2, 12.1], ''),
    (b'{"sensor":"bmp","data":{"pressure_hPa":1013.2,"temperature_C":22.1}}\n{"sensor":"bmp","data":{"pressure_hPa":1013.1,"temperature_C":22.1}}\n',
     [1013.2, 1013.1], 'hPa'),
    (b'$WIXDR,C,22.0,C,TEMP,P,1.0132,B,BARO\r\n$GPGGA,123,4\r\n$WIXDR,C,22.0,C,TEMP,P,1.0131,B,BARO\r\n',
     [1.0132, 1.0131], 'bar'),
    (b'P,12.3\nP,12.2\nP,12.1\n',
     [12.3, 12.2, 12.1], ''),
    (b'kPa,12.3\nkPa,12.2\n',
     [12.3, 12.2], 'kPa'),
    (b'12.3\t22.5\n12.2\t22.5\n12.1\t22.5\n',
     [12.3, 12.2, 12.1], ''),
    (b'pressure 40.1\npressure 4',
     [40.1], ''),
    (b'>+012.34\r>+012.33\r>+012.30\r',
     [12.34, 12.33, 12.3], ''),
    (b'p=0.0 kPa\np=0.0 kPa\np=5.2 kPa\np=20.1 kPa\n',
     [0, 0, 5.2, 20.1], 'kPa'),
    (b'Reading: 12.3\nReading: 12.2\n',
     [12.3, 12.2], ''),
    (b'Sensor value = 508\nSensor value = 507\n',
     [508, 507], ''),
    (b'Voltage: 2.51 V  Pressure: -12.3 kPa\nVoltage: 2.50 V  Pressure: -12.4 kPa\n',
     [-12.3, -12.4], 'kPa'),
    (b'BMP280 pressure: 99.1 kPa\nBMP280 pressure: 99.2 kPa\n',
     [99.1, 99.2], 'kPa'),
    (b'P(kPa)=40.1;T(C)=22\nP(kPa)=40.0;T(C)=22\n',
     [40.1, 40.0], 'kPa'),
    (b'Press[mbar]: 401\nPress[mbar]: 400\n',
     [401, 400], 'mbar'),
    (b'gauge/pressure 40.1\ngauge/pressure 40.0\n',
     [40.1, 40.0], ''),
    (b'leak,host=a pressure=40.1,temp=22.1 1700000000000000000\nleak,host=a pressure=40.0,temp=22.1 1700000000100000000\n',
     [40.1, 40.0], ''),
    (b'MAX 40.1 kPa\n39.9 kPa\n39.8 kPa\n',
     [39.9, 39.8], 'kPa'),
    (b'pressure,temp\n-30.1,22.1\n-30.0,22.1\n',
     [-30.1, -30.0], ''),
    (b'Pressure:40.1kPa\nLow battery\nPressure:40.0kPa\n',
     [40.1, 40.0], 'kPa'),
    (b'<p>40.1</p>\n<p>40.0</p>\n',
     [40.1, 40.0], ''),
    (b'PT100=22.1 PT1=40.1\nPT100=22.1 PT1=40.0\n',
     [], ''),
    (b'+0040.1\n+0040.0\n+0039.9\n',
     [40.1, 40.0, 39.9], ''),
    (b'Ready.\n0.01 inH2O\n-0.02 inH2O\n',
     [0.01, -0.02], 'inH2O'),
    (b'pressure\t40.1\tkPa\npressure\t40.0\tkPa\n',
     [40.1, 40.0], 'kPa'),
    (b'Pressure = 40.1 cm H2O\nPressure = 40.0 cm H2O\n',
     [40.1, 40.0], 'cmH2O'),
    (b'40.1 kPa HOLD\n40.1 kPa HOLD\n',
     [40.1, 40.1], 'kPa'),
    (b'seq=1 ts=100 kpa=40.1 ok\nseq=2 ts=200 kpa=40.0 ok\n',
     [40.1, 40.0], 'kPa'),
    (b'40.1,22.5,OK\n40.0,22.5,OK\n39.9,22.5,OK\n',
     [], ''),
    (b'1,40.1\n2,40.0\n3,39.9\n',
     [40.1, 40.0, 39.9], ''),
    (b'\xff\xff40.1\n40.0\n39.9\n39.8\n',
     [40.0, 39.9, 39.8], ''),
]
# fmt: on


def samples_of(data: bytes, profile=AUTO) -> tuple[list[Sample], LineDecoder]:
    """All samples of a stream whose lines arrive ten a second."""
    decoder = LineDecoder(profile)
    found: list[Sample] = []
    for number, piece in enumerate(data.splitlines(keepends=True)):
        found += decoder.feed(piece, 0.1 * (number + 1))
    return found + decoder.finish(), decoder


@pytest.mark.parametrize(("data", "readings", "unit"), SHAPES)
def test_every_reading_is_right_and_nothing_else_is_one(data, readings, unit):
    found, decoder = samples_of(data)
    taken = [s for s in found if s.value is not None]
    assert [s.value for s in taken] == pytest.approx(readings)
    assert {s.unit.name for s in taken if s.unit} == ({unit} if unit and readings else set())
    assert all(s.why for s in found if s.value is None), "a line that is no reading says why"
    assert bool(decoder.account) == bool(readings)


@pytest.mark.parametrize(("data", "readings", "unit"), SHAPES)
def test_no_line_is_lost(data, readings, unit):
    found, _ = samples_of(data)
    lines = [line for line in data.replace(b"\r", b"\n").split(b"\n") if line.strip(b"\x00 \t")]
    assert len(found) == len(lines)


@pytest.mark.parametrize(("data", "readings", "unit"), SHAPES)
@pytest.mark.parametrize("size", [1, 7, 4096])
def test_the_size_of_the_pieces_does_not_matter(data, readings, unit, size):
    decoder = LineDecoder(AUTO)
    found = [s for i in range(0, len(data), size) for s in decoder.feed(data[i : i + size], i * 1e-3)]
    assert [s.value for s in found + decoder.finish() if s.value is not None] == pytest.approx(readings)
