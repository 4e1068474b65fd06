"""A short cut for lines that differ from an understood one only in their digits.

The text between the numbers is the skeleton. Once a line has been understood the long way, the same
skeleton with the pressure's number in the same place means the same thing; anything else goes the long way.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.gauges.lines.candidates import OVERFLOW
from leakdown.gauges.streams.lock import Read, decimals_of
from leakdown.quantities import PressureUnit

_NUMBERS = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_NEVER = re.compile(r"(?i)stat|err|fault|\d,\d|\*[0-9a-f]{2}$|[?~<>]")
_MAX_KNOWN = 64
ANY = -2
"""JSON numbers may drop figures: no count of them is expected."""


@dataclass(frozen=True)
class _Known:
    pressure: int
    decimals: int
    flips_sign: bool
    unit: PressureUnit | None
    temperature: int | None
    clock: int | None
    clock_unit_s: float
    refusal: str


class Skeletons:
    """Skeletons understood so far, bounded."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, ...], _Known] = {}

    def read(self, text: str) -> Read | None:
        """The reading of a line whose skeleton is known, else None."""
        parts = _NUMBERS.split(text)
        known = self._known.get(tuple(parts[::2]))
        if known is None:
            return None
        if known.refusal:
            return Read(None, known.refusal)
        number = parts[known.pressure]
        if known.decimals != ANY and decimals_of(number) != known.decimals:
            return None
        value = float(number)
        if abs(value) >= OVERFLOW:
            return None
        if known.flips_sign and value > 0:
            value = -value
        temperature = float(parts[known.temperature]) if known.temperature is not None else None
        clock = float(parts[known.clock]) * known.clock_unit_s if known.clock is not None else None
        return Read(value + 0.0, "", known.unit, "" if known.decimals == ANY else number, temperature, clock)

    def learn(self, text: str, read: Read) -> None:
        """Remember a line that was understood, when its numbers can be told apart."""
        if len(self._known) >= _MAX_KNOWN or _NEVER.search(text):
            return
        parts = _NUMBERS.split(text)
        key = tuple(parts[::2])
        if read.value is None:
            if len(parts) > 1 and not read.why.startswith("torn"):
                self._known[key] = _Known(0, 0, False, None, None, None, 1.0, read.why)
            return
        numbers = {i: float(parts[i]) for i in range(1, len(parts), 2)}
        pressure = [i for i, v in numbers.items() if v == read.value or read.flips_sign and v == -read.value]
        warmth, warmth_known = _place(numbers, read.temperature_degc, (1.0,))
        clock, clock_known = _place(numbers, read.device_s, (1.0, 1e-3, 1e-6, 60.0))
        if len(pressure) == 1 and warmth_known and clock_known:
            scale = 1.0 if clock is None else clock[1]
            self._known[key] = _Known(
                pressure[0],
                decimals_of(parts[pressure[0]]) if read.number else ANY,
                read.flips_sign,
                read.unit,
                warmth[0] if warmth else None,
                clock[0] if clock else None,
                scale,
                "",
            )


def _place(
    numbers: dict[int, float], value: float | None, scales: tuple[float, ...]
) -> tuple[tuple[int, float] | None, bool]:
    """Where `value` stands among the numbers, and whether that is beyond doubt."""
    if value is None:
        return None, True
    places = [(i, scale) for i, v in numbers.items() for scale in scales if v and v * scale == value]
    return (places[0], True) if len(places) == 1 else (None, False)
