"""Chunks of bytes -> samples: lines for most gauges, frames for Modbus. Pure; the caller owns the clock."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from typing import Protocol

from leakdown.errors import GaugeError
from leakdown.live.capture.clock import spread
from leakdown.live.lines.line import LineSplitter
from leakdown.live.profiles.modbus_frames import Register, reply_registers
from leakdown.live.profiles.profile import Profile
from leakdown.live.streams.profile_reader import ProfileReader
from leakdown.live.streams.recognise import AutoReader
from leakdown.live.streams.settle import Sample, Settler, SpikeFilter

QUIET_S = 0.3
"""Silence that ends a message of a gauge without line ends."""


class Decoder(Protocol):
    """What a session needs from a decoder."""

    @property
    def remarks(self) -> list[str]: ...
    @property
    def holds(self) -> bool: ...
    def feed(self, chunk: bytes, arrival_s: float) -> list[Sample]: ...
    def tick(self, now_s: float) -> list[Sample]: ...
    def held(self) -> list[Sample]: ...
    def finish(self) -> list[Sample]: ...


class LineDecoder:
    """Lines, read by `auto` or by a profile."""

    def __init__(self, profile: Profile) -> None:
        by_auto = profile.pattern is None and profile.columns is None
        self._splitter = LineSplitter(profile.framing.end)
        self._reader: AutoReader | ProfileReader = AutoReader() if by_auto else ProfileReader(profile)
        self._settler = Settler() if by_auto and not profile.calibration else None
        self._spikes = SpikeFilter()
        self._unit = profile.unit
        self._last_s = 0.0

    @property
    def remarks(self) -> list[str]:
        """What the reader took for the pressure, and what changed since."""
        return self._reader.remarks

    @property
    def account(self) -> str:
        """One sentence on what is taken for the pressure; "" while that is open."""
        return self._reader.account

    @property
    def unit_name(self) -> str:
        """The unit that the gauge itself names, or ""."""
        return self._reader.unit_name

    @property
    def holds(self) -> bool:
        """True while something that came is not given out yet."""
        return self._reader.holds or self._spikes.holds or self._settler is not None and self._settler.holds

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
        times = spread(self._last_s, arrival_s, len(lines)) if lines else []
        self._last_s = arrival_s
        return self._settled(
            [s for line, at in zip(lines, times, strict=True) for s in self._reader.feed(line, at)]
        )

    def tick(self, now_s: float) -> list[Sample]:
        """Nothing came for a moment."""
        quiet = self._splitter.quiet() if self._splitter.pending and now_s - self._last_s >= QUIET_S else []
        samples = [s for line in quiet for s in self._reader.feed(line, self._last_s)] + self._reader.tick(
            now_s
        )
        samples = self._settled(samples)
        if self._settler is not None:
            samples += self._unspiked(self._settler.tick(now_s))
        return samples + self._spikes.tick(now_s)

    def finish(self) -> list[Sample]:
        """The stream is over."""
        samples = [s for line in self._splitter.close() for s in self._reader.feed(line, self._last_s)]
        samples = self._settled(samples + self._reader.finish())
        if self._settler is not None:
            samples += self._unspiked(self._settler.finish())
        return samples + self._spikes.finish()

    def _settled(self, samples: list[Sample]) -> list[Sample]:
        if self._unit is not None:
            samples = [replace(s, unit=self._unit) for s in samples]
        if self._settler is not None:
            samples = [done for s in samples for done in self._settler.feed(s)]
        return self._unspiked(samples)

    def _unspiked(self, samples: list[Sample]) -> list[Sample]:
        return [done for s in samples for done in self._spikes.feed(s)]


class ModbusDecoder:
    """Reply frames of one register. `asked` is called with each request."""

    def __init__(self, register: Register) -> None:
        self.remarks = [
            f"reads Modbus register {register.address} of device {register.unit_id} as {register.kind}"
        ]
        self.holds = False
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

    def tick(self, now_s: float) -> list[Sample]:
        """Nothing is decided by time."""
        return []

    def held(self) -> list[Sample]:
        """Nothing is held back."""
        return []

    def asked(self, now_s: float) -> list[Sample]:
        """A new request goes out: an unfinished reply is lost."""
        rest, self._buffer = self._buffer, b""
        return [Sample(now_s, rest.hex(" "), why="torn reply")] if rest else []

    def finish(self) -> list[Sample]:
        """The stream is over."""
        return self.asked(0.0) if self._buffer else []

    def _sample(self, frame: bytes, arrival_s: float) -> Sample:
        try:
            value = self._register.value(reply_registers(self._register, frame))
        except GaugeError as error:
            return Sample(arrival_s, frame.hex(" "), why=error.what)
        if value != value or value in (float("inf"), float("-inf")):
            return Sample(arrival_s, frame.hex(" "), why="not a number")
        return Sample(arrival_s, frame.hex(" "), value)


def decoder_for(profile: Profile) -> LineDecoder | ModbusDecoder:
    """The decoder that a profile needs."""
    return ModbusDecoder(profile.register) if profile.register is not None else LineDecoder(profile)
