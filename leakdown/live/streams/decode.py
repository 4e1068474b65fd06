"""Chunks of bytes -> samples: lines for most gauges, frames for Modbus. Pure; the caller owns the clock."""

from __future__ import annotations

import math
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace

from leakdown.errors import GaugeError
from leakdown.live.lines.labels import names_error, unit_word
from leakdown.live.lines.line import Line, LineSplitter, Sample, split_sum
from leakdown.live.lines.table import cell_number, split_cells
from leakdown.live.profiles.modbus_frames import Register, reply_registers
from leakdown.live.profiles.profile import Columns, Profile
from leakdown.live.streams.recognise import AutoReader
from leakdown.live.streams.settle import HoldingBack, Settler, SpikeFilter
from leakdown.tuned import tuned

_T = tuned("live.streams")
_End = Callable[[HoldingBack], list[Sample]]


def spread(previous_s: float, now_s: float, count: int) -> list[float]:
    """Arrival times of `count` lines that came in one piece: evenly since the last piece, 50 ms at most."""
    start = max(previous_s, now_s - _T.spread_s)
    return [start + (now_s - start) * (i + 1) / count for i in range(count)]


class AtOnce:
    """What every reader and decoder can be asked, for those that hold nothing back."""

    holds = False
    unit_name = ""
    clock_named = True

    def tick(self, now_s: float) -> list[Sample]:
        """Nothing is decided by time."""
        return []

    def held(self) -> list[Sample]:
        """Nothing is held back."""
        return []

    def finish(self) -> list[Sample]:
        """The stream is over, and nothing waits."""
        return []


class ProfileReader(AtOnce):
    """Lines -> samples by a profile's pattern or columns; each line is judged by itself."""

    def __init__(self, profile: Profile) -> None:
        self.account = f"took the pressure as the profile {profile.name!r} says"
        self.remarks = [self.account]
        self._profile = profile

    def feed(self, line: Line, arrival_s: float) -> list[Sample]:
        """One sample for one line."""
        text, right = split_sum(line.text) if self._profile.checksum == "xor" else (line.text, True)
        if line.damaged:
            said = Sample(why="line noise")
        elif self._profile.no_reading is not None and self._profile.no_reading.search(line.text):
            said = Sample(why="the profile says this is no reading")
        elif not right:
            said = Sample(why="no checksum" if right is None else "wrong checksum")
        elif self._profile.columns is not None:
            said = self._by_columns(self._profile.columns, text)
        else:
            said = self._by_pattern(text)
        return [said.at(arrival_s, line.text)]

    def _by_pattern(self, text: str) -> Sample:
        assert self._profile.pattern is not None
        match = self._profile.pattern.search(text)
        if match is None:
            return Sample(why="does not fit the profile's pattern")
        groups = match.groupdict()
        sample = self._sample(groups["pressure"], groups.get("time"), groups.get("temperature"))
        return replace(sample, unit=unit_word(groups["unit"])) if groups.get("unit") else sample

    def _by_columns(self, columns: Columns, text: str) -> Sample:
        cells = split_cells(text, columns.separator)

        def cell(place: int | None) -> str | None:
            return cells[place] if place is not None and place < len(cells) else None

        if columns.count not in (None, len(cells)) or cell(columns.pressure) is None:
            return Sample(why=f"{len(cells)} columns")
        return self._sample(cell(columns.pressure), cell(columns.time), cell(columns.temperature))

    def _sample(self, pressure: str | None, time: str | None, temperature: str | None) -> Sample:
        value, clock, warmth = (cell_number((t or "").strip()) for t in (pressure, time, temperature))
        if value is None:
            error = names_error(pressure or "")
            return Sample(why="the gauge has no reading" if error else "no number where the pressure should be")
        device_s = clock * self._profile.time_unit_s if clock is not None else None
        return Sample(value=value, device_s=device_s, temperature_degc=warmth)


class LineDecoder:
    """Lines, read by `auto` or by a profile. `remarks`: what is taken for the pressure, what changed since."""

    def __init__(self, profile: Profile) -> None:
        by_auto = profile.pattern is None and profile.columns is None
        self._splitter = LineSplitter(profile.framing.end)
        self._reader: AutoReader | ProfileReader = AutoReader() if by_auto else ProfileReader(profile)
        self.remarks = self._reader.remarks
        waking = by_auto and not profile.calibration
        self._filters: list[HoldingBack] = [Settler(), SpikeFilter()] if waking else [SpikeFilter()]
        self._unit = profile.unit
        self._last_s = 0.0

    @property
    def account(self) -> str:
        """One sentence on what is taken for the pressure; "" while that is open."""
        return self._reader.account

    @property
    def unit_name(self) -> str:
        """The unit that the gauge itself names, or ""."""
        return self._reader.unit_name

    @property
    def clock_named(self) -> bool:
        """False where what looks like the gauge's clock has neither name nor unit."""
        return self._reader.clock_named

    @property
    def holds(self) -> bool:
        """True while something that came is not given out yet."""
        return self._reader.holds or any(one.holds for one in self._filters)

    def held(self) -> list[Sample]:
        """What is held back, read as if nothing more came. Changes nothing."""
        if not self.holds:
            return []
        twin = deepcopy(self)
        twin._splitter = LineSplitter()  # half a line is not held back, it is not there yet
        return twin.finish()

    def feed(self, chunk: bytes, arrival_s: float) -> list[Sample]:
        """Samples completed by this chunk."""
        lines = self._splitter.feed(chunk)
        times = spread(self._last_s, arrival_s, len(lines))
        self._last_s = arrival_s
        return self._filtered([s for line, at in zip(lines, times, strict=True) for s in self._reader.feed(line, at)])

    def tick(self, now_s: float) -> list[Sample]:
        """Nothing came for a moment."""
        quiet = now_s - self._last_s >= _T.quiet_s
        samples = self._read(self._splitter.quiet()) if quiet else []
        return self._filtered(samples + self._reader.tick(now_s), lambda one: one.tick(now_s))

    def finish(self) -> list[Sample]:
        """The stream is over."""
        samples = self._read(self._splitter.close()) + self._reader.finish()
        return self._filtered(samples, lambda one: one.finish())

    def asked(self, now_s: float) -> list[Sample]:
        """A request goes out to a polled gauge: nothing is decided by that."""
        return []

    def _read(self, lines: list[Line]) -> list[Sample]:
        return [s for line in lines for s in self._reader.feed(line, self._last_s)]

    def _filtered(self, samples: list[Sample], end: _End = lambda one: []) -> list[Sample]:
        """Samples through the filters, and what `end` then brings out of each."""
        if self._unit is not None:
            samples = [replace(s, unit=self._unit) for s in samples]
        for one in self._filters:
            samples = [done for s in samples for done in one.feed(s)] + end(one)
        return samples


class ModbusDecoder(AtOnce):
    """Reply frames of one register. `asked` is called with each request. Nothing is held back."""

    def __init__(self, register: Register) -> None:
        self.remarks = [f"reads Modbus register {register.address} of device {register.unit_id} as {register.kind}"]
        self._register = register
        self._buffer = b""

    def feed(self, chunk: bytes, arrival_s: float) -> list[Sample]:
        """Readings of the frames now whole; a damaged one is no reading."""
        self._buffer += chunk
        samples = []
        while len(self._buffer) >= 5:
            size = 5 if self._buffer[1] & 0x80 else 5 + self._buffer[2]
            if len(self._buffer) < size:
                break
            frame, self._buffer = self._buffer[:size], self._buffer[size:]
            samples.append(self._sample(frame, arrival_s))
            if samples[-1].value is None:
                self._buffer = b""
        return samples

    def asked(self, now_s: float) -> list[Sample]:
        """A new request goes out: an unfinished reply is lost."""
        rest, self._buffer = self._buffer, b""
        return [Sample(now_s, rest.hex(" "), why="torn reply")] if rest else []

    def finish(self) -> list[Sample]:
        """The stream is over."""
        return self.asked(0.0)

    def _sample(self, frame: bytes, arrival_s: float) -> Sample:
        raw = frame.hex(" ")
        try:
            value = self._register.value(reply_registers(self._register, frame))
        except GaugeError as error:
            return Sample(arrival_s, raw, why=error.what)
        if not math.isfinite(value):
            return Sample(arrival_s, raw, why="not a number")
        return Sample(arrival_s, raw, value)


def decoder_for(profile: Profile) -> LineDecoder | ModbusDecoder:
    """The decoder that a profile needs."""
    return ModbusDecoder(profile.register) if profile.register is not None else LineDecoder(profile)
