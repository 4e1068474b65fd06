"""Bytes to lines: ends, pieces, noise, silence."""

from __future__ import annotations

import hypothesis.strategies as st
import pytest
from hypothesis import given

from leakdown.live.lines.line import MAX_LINE_BYTES, Line, LineSplitter, clean


def lines_of(data: bytes, size: int) -> list[str]:
    splitter = LineSplitter()
    lines = [line for i in range(0, len(data), size) for line in splitter.feed(data[i : i + size])]
    return [line.text for line in lines + splitter.close()]


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n"])
@pytest.mark.parametrize("size", [1, 2, 3, 100])
def test_every_line_end_in_pieces_of_any_size(end, size):
    assert lines_of(b"1.5" + end + b"2.5" + end + end + b"3.5" + end, size) == ["1.5", "2.5", "3.5"]


@given(st.binary(max_size=300), st.integers(1, 40))
def test_pieces_never_change_the_lines(data, size):
    assert lines_of(data, size) == lines_of(data, max(1, len(data)))


def test_a_gauge_without_line_ends_is_cut_at_silence():
    splitter = LineSplitter()
    assert splitter.feed(b"+012.3 kPa") == []
    assert splitter.pending
    assert splitter.quiet() == [Line("+012.3 kPa")]
    assert not splitter.pending


def test_silence_inside_a_line_does_not_cut_it_once_line_ends_were_seen():
    splitter = LineSplitter()
    assert [x.text for x in splitter.feed(b"40.1\r\n40")] == ["40.1"]
    assert splitter.quiet() == []
    assert [x.text for x in splitter.feed(b".2\r\n")] == ["40.2"]


def test_the_last_line_without_its_end_is_damaged():
    splitter = LineSplitter()
    splitter.feed(b"40.1\r\n40")
    assert splitter.close() == [Line("40", damaged=True)]


def test_endless_noise_is_bounded():
    splitter = LineSplitter()
    found = [line for _ in range(40) for line in splitter.feed(b"\xa5" * 1000)]
    assert found and all(line.damaged and len(line.text) <= MAX_LINE_BYTES for line in found)


def test_a_fixed_end_leaves_other_ends_alone():
    splitter = LineSplitter(b";")
    assert [x.text for x in splitter.feed(b"a\r\nb;c;")] == ["a\ufffd\ufffdb", "c"]


@pytest.mark.parametrize(
    ("raw", "text", "damaged"),
    [
        (b"\x1b[1;32m12.3 kPa\x1b[0m", "12.3 kPa", False),
        (b"\x0012.3\x00 kPa\x00", "12.3 kPa", False),
        (b"22.1 \xb0C", "22.1 °C", False),
        ("22.1 °C".encode(), "22.1 °C", False),
        (b"\xff\xfe12.3", None, True),
        (b"12.3\x07", None, True),
    ],
)
def test_colours_and_nuls_go_noise_is_noticed(raw, text, damaged):
    line = clean(raw)
    assert line.damaged is damaged
    assert text is None or line.text == text
