"""The learned layout of a stream: as true as the full reading, unmoved by outliers, bounded."""

from __future__ import annotations

import random
import re

import pytest

from leakdown.live.lines.line import Sample
from leakdown.live.profiles.profile import AUTO
from leakdown.live.streams.decode import LineDecoder
from leakdown.live.streams.layout import Layouts
from leakdown.tuned import tuned
from tests.benchmarks.line_costs import full_reading
from tests.live.line_shapes import SHAPES

OVERLOADS = ["9.9E37", "3.4E38", "1e99", "9" * 60, "-9.91E+37"]


def played(decoder: LineDecoder, lines: list[str], every_s: float = 0.1) -> list:
    samples = [s for i, line in enumerate(lines) for s in decoder.feed(line.encode() + b"\n", i * every_s)]
    return samples + decoder.finish()


@pytest.mark.parametrize("name", SHAPES)
def test_a_learned_layout_says_what_the_full_reading_says(name):
    dice = random.Random(3)
    lines = [SHAPES[name](i, 40 - i * 0.15 + dice.gauss(0, 0.3)) for i in range(320)]
    quick, full = played(LineDecoder(AUTO), lines), played(full_reading(), lines)
    assert quick == full
    assert sum(s.value is not None for s in quick) >= len(lines) // (4 if name == "object over lines" else 2) - 1


@pytest.mark.parametrize("word", OVERLOADS)
@pytest.mark.parametrize(
    "name", ["unit", "labelled", "alone", "row", "heading", "object", "tags and fields", "exponent"]
)
def test_a_word_for_overload_is_no_reading_and_poisons_nothing(name, word):
    """At the start, once, twice running, and again: all other lines are read."""
    lines = [SHAPES[name](i, 40 - i * 0.01) for i in range(60)]
    bad = re.sub(r"12345\.678?|\+1\.23457E\+07", word, SHAPES[name](1, 12345.67 if "fields" in name else 12345.678))
    assert word in bad
    for at in (3, 20, 21, 40, 41, 42, 55):
        lines[at] = bad
    samples = played(LineDecoder(AUTO), lines)
    read = {s.raw for s in samples if s.value is not None}
    assert bad not in read
    assert set(lines[1:]) - {bad} <= read


@pytest.mark.parametrize("code_first", [0, 7])
def test_an_error_code_decides_by_its_value(code_first):
    lines = [f"error={code_first} p={40 - i / 10:.2f} kPa n={i}" for i in range(5)]
    lines = [f"error=0 p={41 - i / 10:.2f} kPa n={i}" for i in range(5)] + lines
    lines += [f"error={7 if i % 3 == 2 else 0} p={40 - i / 10:.2f} kPa n={i}" for i in range(30)]
    samples = played(LineDecoder(AUTO), lines)
    assert [s.value is not None for s in samples] == ["error=0" in line for line in lines]


def test_lines_of_a_chatty_board_are_read_and_their_other_channels_left():
    lines = []
    for i in range(12):
        lines += [
            f"\x1b[0;36m[D][sensor:094]: 'Tank': Sending state {1413.2 - i:.5f} hPa with 1 decimals of accuracy\x1b[0m",
            f"\x1b[0;36m[D][sensor:094]: 'Room': Sending state {22.5 + i / 10:.5f} \xb0C with 1 decimals\x1b[0m",
            f"\x1b[0;32m[I][wifi:{300 + i}]: retry {i} of 16, -67 dB\x1b[0m",
            f"[W][component:237]: sensor took a long time ({100 + i} ms)",
            f"[D][sensor:094]: 'Shed': Sending state {1001.2 + i:.5f} hPa with 1 decimals",
        ]
    values = [s.value for s in played(LineDecoder(AUTO), lines) if s.value is not None]
    assert values == [round(1413.2 - i, 5) for i in range(12)]


def test_numbers_of_other_lines_are_never_taken():
    decoder = LineDecoder(AUTO)
    played(decoder, [f"tank {40 - i / 10:.2f} kPa" for i in range(10)])
    assert [s.value for s in played(decoder, ["room 22.50 kPa?", "tank 39 V", "tank 38.70 kPa"])][-1] == 38.7


def test_a_gauge_that_writes_no_closing_zeros_loses_nothing():
    lines = [f"{round(40 - i * 0.037, 2)} kPa" for i in range(200)]
    assert any(line.split()[0].endswith(".0") or len(line.split()[0]) < 5 for line in lines[30:])
    assert all(s.value is not None for s in played(LineDecoder(AUTO), lines))


def test_a_stream_of_ever_new_words_takes_bounded_memory():
    most = int(tuned("live.streams").layouts)
    layouts = Layouts(lambda text: Sample(value=float(text.split()[2]), number=text.split()[2]))
    for i in range(2 * most):
        for _ in range(2):
            layouts.learn(f"{''.join(chr(97 + int(d)) for d in str(i))} pressure: 40.5 kPa")
    assert len(layouts._known) <= most and len(layouts._seen) <= most


def test_a_line_of_too_many_numbers_is_read_in_full():
    most = int(tuned("live.streams").layout_numbers)
    for numbers, known in ((most, True), (most + 1, False)):
        layouts = Layouts(lambda text: Sample(value=float(text.split()[0]), number=text.split()[0]))
        text = "40.5 " + " ".join(f"{i}" for i in range(1, numbers))
        for _ in range(2):
            layouts.learn(text)
        assert (layouts.read(text, 0.0) is not None) == known
