"""NMEA 0183 sentences field by field: XDR transducers in fours, MDA and MMB barometers, checksums by hand.

Layouts from memory: XDR type, value, unit, name; MDA/MMB inches of mercury then bar. 1 inHg is 3386.389 Pa
(NIST SP 811, table B.8, conventional).
"""

from __future__ import annotations

import pytest

from leakdown.live.lines.line import Line, checksum, split_sum
from leakdown.live.lines.look import LineLooker


def look(text):
    return LineLooker().look(Line(text))


def read(text):
    """[(value in Pa, key)] of a line."""
    return [(one.sample.value * one.sample.unit.factor_pa, one.key) for one in look(text).found]


@pytest.mark.parametrize(
    ("text", "pascals"),
    [
        ("$IIXDR,P,1.0050,B,Barometer", [100_500.0]),
        ("$IIXDR,P,100500,P,Barometer", [100_500.0]),
        ("$IIXDR,P,-.5,B,GAUGE", [-50_000.0]),
        ("$IIXDR,C,22.0,C,TEMP,P,1.0132,B,BARO", [101_320.0]),
        ("$IIXDR,P,1.0132,B,BARO,C,22.0,C,TEMP", [101_320.0]),
        ("$IIXDR,P,1.0,B,ONE,P,0.4,B,TWO", [100_000.0, 40_000.0]),
        ("$IIXDR,P,1.0,B", [100_000.0]),  # its last name left out
        ("$IIXDR,C,1.0,B,NAME", []),
        ("$IIXDR,P,1.0,X,NAME", []),
        ("$IIXDR,P,,B,NAME", []),
        ("$IIXDR,P,1e5,P,NAME", []),
        ("$IIXDR,P", []),
        ("$WIMDA,29.92,I,1.0132,B,22.0,C", [101_320.0]),  # bar before inches where both stand
        ("$WIMMB,30,I,,B", [101_591.67]),
        ("$WIMMB,30,I", [101_591.67]),
        ("$WIMMB,30,I,1.01", [101_591.67]),
        ("$WIMMB,30", []),
        ("$WIMDA", []),
        ("$GPGGA,29.92,I,1.0132,B", []),
    ],
)
def test_pressures_of_a_sentence(text, pascals):
    assert [value for value, _ in read(text)] == pytest.approx(pascals, rel=1e-6)


def test_each_transducer_has_a_key_of_its_own():
    keys = [key for _, key in read("$IIXDR,P,1.0,B,ONE,P,0.4,B,TWO")]
    assert len(set(keys)) == 2 and all(name in key for name, key in zip(("ONE", "TWO"), keys, strict=True))


def test_a_checksum_is_the_xor_of_what_stands_between_dollar_and_star():
    """By hand: "A" is 0x41, "B" 0x42, their XOR 0x03; "1" on top makes 0x32."""
    assert (checksum("AB"), checksum("AB1"), checksum("")) == (0x03, 0x32, 0)
    assert split_sum("$AB*03") == ("$AB", True) and split_sum("AB*03") == ("AB", True)
    assert split_sum("!AB1*32") == ("!AB1", True) and split_sum("AB*04") == ("AB", False)
    assert split_sum("AB03") == ("AB03", None) and split_sum("AB*0G") == ("AB*0G", None)


def test_a_sentence_with_a_wrong_sum_is_no_reading():
    body = "IIXDR,P,1.0050,B,Barometer"
    assert read(f"${body}*{checksum(body):02X}") and read(f"!{body}*{checksum(body):02x}")
    wrong = look(f"${body}*{checksum(body) ^ 1:02X}")
    assert wrong.found == () and wrong.why == "wrong checksum"
    assert look("$IIXDR,P,1.0050*").why == "torn sentence"
    assert look("$GPGGA,1,2").why == "a sentence without a pressure"
