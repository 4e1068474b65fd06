"""Digits and curves as text of any size: rows of (sign, role). No terminal in here.

Roles: "" plain, "axis", "limit", "band", "reading", "mark".
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from leakdown.live.bench.view import Picture
from leakdown.live.texts import DIGITS

HEIGHT = 5
Cell = tuple[str, str]
Rows = list[list[Cell]]
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BLANK = 0x2800
_LEAST_SPAN = 0.1
"""The curve's height is at least this share of its largest value, so that noise in a steady hold looks like nothing."""


def big(number: str, width: int, height: int, unicode: bool = True) -> list[str]:
    """A number as large as `width` by `height` characters hold; the number itself where there is no room for five rows.

    Half blocks where the terminal has them, # where not. Characters without a shape are left out.
    """
    glyphs = [DIGITS[char] for char in number if char in DIGITS]
    across = sum(len(glyph[0]) + 1 for glyph in glyphs) - 1
    if not glyphs or height < HEIGHT or width < across:
        return [number[: max(width, 0)]]
    halves = 2 if unicode else 1
    wide = min(width // across, 12)
    tall = min(height * halves // HEIGHT, max(2 * halves, round(wide * halves * 0.6)))
    rows = [" ".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT)]
    dots = ["".join(char * wide for char in row) for row in rows for _ in range(tall)]
    return _halved(dots) if unicode else [row.rstrip() for row in dots]


def _halved(dots: list[str]) -> list[str]:
    """Two rows of dots in one of half blocks."""
    dots = dots + [" " * len(dots[0])] * (len(dots) % 2)
    shapes = {"  ": " ", "# ": "\u2580", " #": "\u2584", "##": "\u2588"}
    pairs = zip(dots[::2], dots[1::2], strict=True)
    return ["".join(shapes[a + b] for a, b in zip(upper, lower, strict=True)).rstrip() for upper, lower in pairs]


@dataclass(frozen=True)
class _Box:
    """Where values fall: `width` by `height` dots, from `left` to `right` seconds and `low` to `high`."""

    width: int
    height: int
    left: float
    right: float
    low: float
    high: float

    def x(self, time_s: float) -> int:
        return round((time_s - self.left) / (self.right - self.left) * (self.width - 1))

    def y(self, value: float) -> int:
        """From the bottom."""
        return round((value - self.low) / (self.high - self.low) * (self.height - 1))

    def holds(self, x: int, y: int) -> bool:
        return 0 <= x < self.width and 0 <= y < self.height


def plot(picture: Picture, width: int, height: int, unicode: bool = True) -> Rows:
    """The curve with its axes in `height` rows of `width` cells; nothing where there is no room or no reading.

    Left the values, below the seconds; under the curve a row for the phases and marks where there are seven rows.
    """
    spare = 3 if height >= 7 else 2
    labels = 7
    if not picture.readings or width < labels + 12 or height < spare + 2:
        return []
    rows, across = height - spare + 1, width - labels
    per = (2, 4) if unicode else (1, 1)
    box = _box(picture, across * per[0], rows * per[1])
    cells: Rows = [[(" ", "")] * across for _ in range(rows)]
    _shade(cells, picture, box, per, unicode)
    _line(cells, picture, box, per, unicode)
    _dots(cells, picture, box, per, unicode)
    under = [_seconds(box, across)]
    if spare == 3:
        under.insert(0, _happened(picture, box, across, per[0], unicode))
    bar = "\u2502" if unicode else "|"
    sides = [*_values(box, rows, labels - 1), *[" " * (labels - 1)] * len(under)]
    drawn = [*((cells[k], bar) for k in range(rows)), *((row, " ") for row in under)]
    whole: Rows = [[*((c, "axis") for c in side + edge), *row] for side, (row, edge) in zip(sides, drawn, strict=True)]
    return whole[:height]


def _box(picture: Picture, width: int, height: int) -> _Box:
    """Zero is always in sight, and what is to come of the limit's time."""
    times = [t for t, _ in (*picture.readings, *picture.limit)]
    values = [v for _, v in (*picture.readings, *picture.limit)]
    left = picture.readings[0][0]
    low, high = min(0.0, *values), max(0.0, *values)
    largest = max(-low, high) or 1.0
    high = max(high, low + _LEAST_SPAN * largest) if high > 0.0 or low == 0.0 else high
    return _Box(width, height, left, max(*times, left + 10.0), low, high if high > low else low + 1.0)


def _put(cells: Rows, row: int, column: int, cell: Cell) -> None:
    if 0 <= row < len(cells) and 0 <= column < len(cells[0]):
        cells[row][column] = cell


def _shade(cells: Rows, picture: Picture, box: _Box, per: tuple[int, int], unicode: bool) -> None:
    sign = "\u2591" if unicode else ":"
    for (t0, *ends0), (t1, *ends1) in zip(picture.band, picture.band[1:], strict=False):
        begin, end = box.x(t0), max(box.x(t1), box.x(t0) + 1)
        for x in range(begin, end + 1, per[0]):
            share = (x - begin) / (end - begin)
            low, high = sorted(box.y(a + share * (b - a)) for a, b in zip(ends0, ends1, strict=True))
            for row in range(max(low, 0) // per[1], min(high, box.height - 1) // per[1] + 1):
                _put(cells, len(cells) - 1 - row, x // per[0], (sign, "band"))


def _line(cells: Rows, picture: Picture, box: _Box, per: tuple[int, int], unicode: bool) -> None:
    sign = "\u2504" if unicode else "="
    for (t0, v0), (t1, v1) in zip(picture.limit, picture.limit[1:], strict=False):
        for x in range(box.x(t0), box.x(t1) + 1, per[0]):
            share = (x - box.x(t0)) / max(box.x(t1) - box.x(t0), 1)
            y = box.y(v0 + share * (v1 - v0))
            _put(cells, len(cells) - 1 - y // per[1], x // per[0], (sign, "limit"))


def _dots(cells: Rows, picture: Picture, box: _Box, per: tuple[int, int], unicode: bool) -> None:
    found: dict[tuple[int, int], int] = {}
    for time_s, value in picture.readings:
        x, y = box.x(time_s), box.y(value)
        if box.holds(x, y):
            at = (len(cells) - 1 - y // per[1], x // per[0])
            found[at] = found.get(at, 0) | (_DOTS[x % 2][3 - y % 4] if unicode else 1)
    for (row, column), dots in found.items():
        _put(cells, row, column, (chr(_BLANK + dots) if unicode else "*", "reading"))


def _happened(picture: Picture, box: _Box, across: int, per: int, unicode: bool) -> list[Cell]:
    """A row of phases by name where they began, and marks by their letter."""
    row: list[Cell] = [("\u2500" if unicode else "-", "axis")] * across
    starts = [box.x(time_s) // per for time_s, _ in picture.phases]
    for start, end, (_, name) in zip(starts, [*starts[1:], across][: len(starts)], picture.phases, strict=True):
        if start >= 0 and start + len(name[:5]) < end:  # a phase too short for its name goes without
            row[start : start + len(name[:5])] = [(char, "axis") for char in name[:5]]
    for time_s, letter in picture.marks:
        if 0 <= box.x(time_s) // per < across:
            row[box.x(time_s) // per] = (letter, "mark")
    return row


def _values(box: _Box, rows: int, width: int) -> list[str]:
    """Labels at the left: the highest, the lowest, and those between that are round."""
    labels = [" " * width] * rows
    for value in _round_ones(box.low, box.high, max(2, rows // 3)):
        labels[rows - 1 - box.y(value) * rows // box.height] = f"{value:>{width}.4g}"[:width]
    return labels


def _seconds(box: _Box, across: int) -> list[Cell]:
    row: list[Cell] = [(" ", "axis")] * across
    for value in _round_ones(box.left, box.right, max(2, across // 12)):
        label = f"{value:.0f} s"
        start = min(max(box.x(value) * across // box.width - len(label) // 2, 0), across - len(label))
        for k, char in enumerate(label):
            row[start + k] = (char, "axis")
    return row


def _round_ones(low: float, high: float, about: int) -> Sequence[float]:
    """About so many round values between two."""
    rough = (high - low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * k for k in (1, 2, 5, 10) if power * k >= rough)
    first: Callable[[float], int] = math.ceil
    return [k * step for k in range(first(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)]
