"""Whatever a line holds: no exception, no NaN, no lost line, no reading without a number behind it."""

from __future__ import annotations

import math
import re

import hypothesis.strategies as st
from hypothesis import given, settings

from leakdown.live.capture.session import Row, Session
from leakdown.live.profiles.profile import AUTO, Conversion
from leakdown.live.streams.decode import LineDecoder
from leakdown.quantities import PRESSURE_PA, PressureUnit

WORDS = [
    "P",
    "p=",
    "pressure",
    "Pressure:",
    "kPa",
    "psi",
    "inHg",
    "bar",
    "T",
    "temp:",
    "vac",
    "OL",
    "----",
    "ERR",
    ",",
    ";",
    "|",
    "\t",
    "{",
    "}",
    "[",
    "]",
    '"',
    ":",
    "=",
    "$IIXDR,P,",
    ",B,x",
    "*13",
    "1e400",
    "9.9E37",
    "-",
    "+",
    ".",
    "0,5",
    "12.3",
    "-0.7",
    "1e5",
    "0x1F",
    "NaN",
    "inf",
    "time_ms,pressure_kpa",
    '"p":',
    "null",
    "°C",
    "\x1b[1m",
    "−3",
    "(",
    ")",
    "max",
    "1,013.25",
    "12:34:56",
    "2024-01-02",
    "#3",
    ">",
    "<",
    "?",
]
messy_line = st.lists(st.sampled_from(WORDS) | st.text(max_size=6), max_size=9).map(
    lambda parts: " ".join(parts)
) | st.lists(st.sampled_from(WORDS), max_size=9).map("".join)
stream = st.lists(messy_line, min_size=1, max_size=25).map(
    lambda lines: "\n".join(lines).encode("utf-8", "replace") + b"\n"
)


@settings(max_examples=150, deadline=None)
@given(stream | st.binary(max_size=400))
def test_any_bytes_give_finite_readings_or_none(data):
    decoder = LineDecoder(AUTO)
    found = decoder.feed(data, 1.0) + decoder.tick(10.0) + decoder.finish()
    for sample in found:
        if sample.value is None:
            assert sample.why
        else:
            assert math.isfinite(sample.value)
            assert re.search(r"\d", sample.raw)
        assert sample.temperature_degc is None or math.isfinite(sample.temperature_degc)
        assert sample.device_s is None or math.isfinite(sample.device_s)


@settings(max_examples=150, deadline=None)
@given(st.lists(stream, min_size=1, max_size=4), st.booleans())
def test_times_always_increase_and_nothing_is_lost(pieces, with_unit):
    unit = PressureUnit("kPa", PRESSURE_PA["kPa"]) if with_unit else None
    session = Session(AUTO, Conversion(unit), 0.0)
    events = [e for i, piece in enumerate(pieces) for e in session.feed(piece, 0.1 * i)] + session.finish()
    rows = [e for e in events if isinstance(e, Row)]
    assert all(a.time_s < b.time_s for a, b in zip(rows, rows[1:], strict=False))
    assert session.readings + session.unreadable == len(rows)
    lone = LineDecoder(AUTO)
    assert len(rows) == len([s for i, p in enumerate(pieces) for s in lone.feed(p, 0.1 * i)] + lone.finish())
