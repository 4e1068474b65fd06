"""CPU time for each kind of gauge line: `python -m tests.benchmarks.line_costs`. Prints, never fails.

Beside each, in the same run, what it costs to read such a line in full, without its layout, and to split it at its
numbers with one regular expression (re, the least that any reader of text must do).
"""

from __future__ import annotations

import random
import re
import time
from collections.abc import Callable

from leakdown.live.lines.line import clean
from leakdown.live.profiles.profile import AUTO
from leakdown.live.streams.decode import LineDecoder
from leakdown.live.streams.layout import Layouts
from tests.live.line_shapes import SHAPES

LINES, WARM = 2000, 400
_NUMBERS = re.compile(r"([-+]?\d+\.?\d*)")


def lines_of(shape: Callable[[int, float], str], seed: int = 1) -> list[bytes]:
    dice = random.Random(seed)
    return [shape(i, 40 - i * 0.002 + dice.gauss(0, 0.02)).encode() + b"\r\n" for i in range(LINES)]


def cost_s(read: Callable[[bytes, float], object], lines: list[bytes]) -> float:
    """CPU seconds a line, once the first ones are over."""
    for i, line in enumerate(lines[:WARM]):
        read(line, i * 0.001)
    start = time.process_time()
    for i, line in enumerate(lines[WARM:], WARM):
        read(line, i * 0.001)
    return (time.process_time() - start) / (len(lines) - WARM)


def full_reading() -> LineDecoder:
    """A decoder that never learns a layout."""
    decoder = LineDecoder(AUTO)
    reader = decoder._reader
    reader._layouts.learn = lambda raw: None  # type: ignore[union-attr, method-assign]
    lock_on = reader._lock_on  # type: ignore[union-attr]

    def locked(*lock: object) -> None:
        lock_on(*lock)  # type: ignore[arg-type]
        layouts: Layouts = reader._layouts  # type: ignore[union-attr]
        layouts.learn = lambda raw: None  # type: ignore[method-assign]

    reader._lock_on = locked  # type: ignore[union-attr, method-assign, assignment]
    return decoder


def main() -> None:
    print(f"{'line':18s} {'us':>6s} {'in full':>8s} {'split':>6s} {'times split':>11s}  % of a core at 1000/s")
    for name, shape in SHAPES.items():
        lines = lines_of(shape)
        learned = cost_s(LineDecoder(AUTO).feed, lines)
        full = cost_s(full_reading().feed, lines)
        split = cost_s(lambda line, _: _NUMBERS.split(clean(line).text), lines)
        print(
            f"{name:18s} {learned * 1e6:6.0f} {full * 1e6:8.0f} {split * 1e6:6.1f} {learned / split:11.1f}"
            f"  {learned * 1e5:4.1f}"
        )


if __name__ == "__main__":
    main()
