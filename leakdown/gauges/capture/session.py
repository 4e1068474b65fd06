"""One capture from first byte to last row: decoding, units, clock and watch together. Pure, no I/O."""

from __future__ import annotations

from copy import copy, deepcopy
from dataclasses import dataclass, replace

from leakdown.errors import LeakdownError
from leakdown.gauges.capture.clock import GaugeClock
from leakdown.gauges.capture.watch import Watch
from leakdown.gauges.profiles.convert import Conversion
from leakdown.gauges.profiles.profile import Profile
from leakdown.gauges.streams.decode import LineDecoder, ModbusDecoder, decoder_for
from leakdown.gauges.streams.sample import Sample


@dataclass(frozen=True)
class Row:
    """A line of the recording: `pressure_pa` gauge, signed, or None with the reason in `why`."""

    time_s: float
    pressure_pa: float | None
    raw: str = ""
    temperature_degc: float | None = None
    why: str = ""
    mark: str = ""


@dataclass(frozen=True)
class Remark:
    """Something the user should know, said once."""

    text: str


class Session:
    """Feed chunks with their arrival times; get rows and remarks in order. Nothing is dropped.

    `stopped` holds the error that makes going on useless (no unit, no barometer); rows before and at
    that point are still given out.
    """

    def __init__(self, profile: Profile, conversion: Conversion, start_s: float) -> None:
        self.stopped: LeakdownError | None = None
        self.readings = 0
        self.unreadable = 0
        self._conversion = conversion
        by_profile = replace(profile, unit=conversion.unit)
        self._decoder = decoder_for(by_profile)
        self._override = conversion.unit
        self._clock = GaugeClock(start_s)
        self._watch = Watch()
        self._said = 0
        self._overruled = False
        self._clock_said = 0

    def feed(self, chunk: bytes, arrival_s: float) -> list[Row | Remark]:
        """What this chunk completes."""
        return self._rows(self._decoder.feed(chunk, arrival_s))

    def tick(self, now_s: float) -> list[Row | Remark]:
        """What the passing of time decides."""
        return self._rows(self._decoder.tick(now_s))

    def asked(self, now_s: float) -> list[Row | Remark]:
        """A request goes out to a polled gauge."""
        return self._rows(self._decoder.asked(now_s)) if isinstance(self._decoder, ModbusDecoder) else []

    def finish(self) -> list[Row | Remark]:
        """The end: everything still held."""
        return self._rows(self._decoder.finish())

    @property
    def holds(self) -> bool:
        """True while readings that came are held back."""
        return self._decoder.holds

    def pending(self) -> list[Row]:
        """The rows of what is held back, as they would be if the stream ended now. Changes nothing."""
        held = self._decoder.held()
        if not held:
            return []
        twin = copy(self)
        twin._clock, twin._watch = deepcopy(self._clock), Watch()
        return [row for sample in held for row in twin._row(sample) if isinstance(row, Row)]

    def time_now_s(self, now_s: float) -> float:
        """The recording's time of this moment (for a mark), not before the last row."""
        return self._clock.time_s(now_s, None)

    def _rows(self, samples: list[Sample]) -> list[Row | Remark]:
        out: list[Row | Remark] = self._remarks()
        for sample in samples:
            out += self._row(sample)
        return out + self._clock_remarks()

    def _remarks(self) -> list[Row | Remark]:
        new = self._decoder.remarks[self._said :]
        self._said += len(new)
        return [Remark(text) for text in [*new, *self._overruling()]]

    def _overruling(self) -> list[str]:
        """Said once when the gauge itself names another unit than the one it was told to be."""
        named = self._decoder.unit_name if isinstance(self._decoder, LineDecoder) else ""
        if self._overruled or self._override is None or named in ("", self._override.name):
            return []
        self._overruled = True
        return [f"the gauge itself says {named}; its numbers are taken as {self._override.name}, as told"]

    def _clock_remarks(self) -> list[Row | Remark]:
        new = self._clock.remarks[self._clock_said :]
        self._clock_said += len(new)
        return [Remark(text) for text in new]

    def _row(self, sample: Sample) -> list[Row | Remark]:
        device_s = sample.device_s if sample.value is not None else None
        time_s = self._clock.time_s(sample.arrival_s, device_s)
        pressure_pa, why = self._pressure(sample)
        row = Row(time_s, pressure_pa, sample.raw, sample.temperature_degc, why)
        if pressure_pa is None:
            self.unreadable += 1
            return [row]
        self.readings += 1
        return [row, *(Remark(text) for text in self._watch.feed(time_s, pressure_pa))]

    def _pressure(self, sample: Sample) -> tuple[float | None, str]:
        if sample.value is None:
            return None, sample.why
        try:
            return self._conversion.gauge_pa(sample.value, sample.unit), ""
        except LeakdownError as error:
            self.stopped = self.stopped or error
            return None, error.what
