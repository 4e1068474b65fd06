"""A short cut for lines that differ from an understood one only in their digits.

The text between the numbers is the skeleton. Once a line has been understood the long way, the same
skeleton with the pressure's number in the same place means the same thing; anything else goes the long way.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.gauges.lines.candidates import OVERFLOW
from leakdown.gauges.lines.nmea import checksum
from leakdown.gauges.lines.words import label
from leakdown.gauges.streams.lock import Read, decimals_of
from leakdown.quantities import PressureUnit

_NUMBERS = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_NEVER = re.compile(r"(?i)stat|err|fault|\d,\d|[?~<>*]")
_SUMMED = re.compile(r"[$!]?([^*]+)\*([0-9A-Fa-f]{2})")
_MAX_KNOWN = 64
_SCALES = {"temperature": (1.0,), "time": (1.0, 1e-3, 1e-6, 60.0)}
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
        parts = _NUMBERS.split(_without_sum(text))
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
        text = _without_sum(text)
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
        warmth, warmth_known = _place(parts, numbers, read.temperature_degc, "temperature")
        clock, clock_known = _place(parts, numbers, read.device_s, "time")
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


def _without_sum(text: str) -> str:
    """The line without its *HH where that is its right checksum; as it is where not."""
    if text[-3:-2] != "*":
        return text
    match = _SUMMED.fullmatch(text)
    return text[:-3] if match and checksum(match.group(1)) == int(match.group(2), 16) else text


def _place(
    parts: list[str], numbers: dict[int, float], value: float | None, quantity: str
) -> tuple[tuple[int, float] | None, bool]:
    """Where `value` stands among the numbers, and whether that is beyond doubt (equal ones: by label)."""
    if value is None:
        return None, True
    scales = _SCALES[quantity]
    places = [(i, scale) for i, v in numbers.items() for scale in scales if v and v * scale == value]
    if len(places) > 1:
        places = [p for p in places if label(parts[p[0] - 1].strip(" :=,;|")).quantity == quantity]
    return (places[0], True) if len(places) == 1 else (None, False)
