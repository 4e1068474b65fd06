"""One capture from first byte to last row: decoding, units, clock, and an eye on what comes. Pure, no I/O."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, replace

from leakdown.errors import LeakdownError
from leakdown.live.capture.clock import GaugeClock, Settled
from leakdown.live.lines.line import Sample
from leakdown.live.profiles.profile import Conversion, Profile
from leakdown.live.streams.decode import decoder_for
from leakdown.live.streams.settle import OPEN_AIR_PA
from leakdown.live.texts import text
from leakdown.tuned import tuned

_T = tuned("live.capture")
_FROZEN_READINGS, _FROZEN_S, _UNMOVED_S = _T.frozen_readings, _T.frozen_s, _T.unmoved_s
_STUCK_READINGS, _RUNS = _T.stuck_readings, _T.repeat_runs


class Watch:
    """Feed every reading; `feed` returns remarks, each kind once in a recording."""

    def __init__(self) -> None:
        self._said: set[str] = set()
        self._moves: deque[bool] = deque(maxlen=_FROZEN_READINGS)
        self._value_pa: float | None = None
        self._since_s = 0.0
        self._repeats = 0
        self._lively = False
        self._extreme_pa = 0.0
        self._climbed = False
        self._count = 0
        self._runs: deque[int] = deque(maxlen=_RUNS)

    def feed(self, time_s: float, pressure_pa: float) -> list[str]:
        """Remarks that this reading gives rise to."""
        self._count += 1
        moved = pressure_pa != self._value_pa
        if moved:
            self._moved(time_s, pressure_pa)
        else:
            self._repeats += 1
        self._moves.append(moved)
        still_s = time_s - self._since_s
        new = [name for name in self._findings(still_s, pressure_pa) if name not in self._said]
        if not new:
            return []
        self._said.update(new)
        times, kpa = min(self._runs, default=0), pressure_pa / 1e3
        return [text(name, since_s=self._since_s, still_s=still_s, kpa=kpa, times=times) for name in new]

    def _moved(self, time_s: float, pressure_pa: float) -> None:
        if self._value_pa is not None:
            self._runs.append(self._repeats + 1)
            self._climbed = abs(pressure_pa) - abs(self._value_pa) > _T.climb_pa
        self._lively = len(self._moves) == _FROZEN_READINGS and sum(self._moves) > _FROZEN_READINGS // 2
        self._value_pa, self._since_s, self._repeats = pressure_pa, time_s, 0
        self._extreme_pa = max(self._extreme_pa, abs(pressure_pa))

    def _findings(self, still_s: float, pressure_pa: float) -> Iterator[str]:
        if self._lively and self._repeats >= _FROZEN_READINGS and still_s >= _FROZEN_S:
            yield "frozen"
        if still_s >= _UNMOVED_S and abs(pressure_pa) > _T.unmoved_pa:
            yield "unmoved"
        at_extreme = abs(pressure_pa) == self._extreme_pa > _T.stuck_pa
        if at_extreme and self._climbed and self._repeats >= _STUCK_READINGS:
            yield "saturated"
        if self._count == 5 and self._repeats == 4 and pressure_pa == 0.0:
            yield "zero"
        if len(self._runs) == _RUNS and 3 <= min(self._runs) >= max(self._runs) - 1:
            yield "repeated"
        if self._count == 3 and OPEN_AIR_PA[0] <= pressure_pa <= OPEN_AIR_PA[1]:
            yield "absolute"


@dataclass(frozen=True)
class Row:
    """A line of the recording: `pressure_pa` gauge, signed, or None with the reason in `why`.

    moment: which of the times that the clock gave out."""

    time_s: float
    pressure_pa: float | None
    raw: str = ""
    temperature_degc: float | None = None
    why: str = ""
    mark: str = ""
    moment: int = -1


@dataclass(frozen=True)
class Remark:
    """Something the user should know, said once. `kind`: "lost" or "back" where it is about the gauge itself."""

    text: str
    kind: str = ""


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
        self._decoder = decoder_for(replace(profile, unit=conversion.unit))
        self._clock = GaugeClock(start_s)
        self._watch = Watch()
        self._overruled = self._impossible = False
        self._lowest_pa = -(conversion.barometer_pa or _T.highest_air_pa) - _T.zero_doubt_pa

    def feed(self, chunk: bytes, arrival_s: float) -> list[Row | Remark]:
        """What this chunk completes."""
        return self._rows(self._decoder.feed(chunk, arrival_s))

    def tick(self, now_s: float) -> list[Row | Remark]:
        """What the passing of time decides."""
        return self._rows(self._decoder.tick(now_s))

    def asked(self, now_s: float) -> list[Row | Remark]:
        """A request goes out to a polled gauge."""
        return self._rows(self._decoder.asked(now_s))

    def finish(self) -> list[Row | Remark]:
        """The end: everything still held."""
        return self._rows(self._decoder.finish())

    @property
    def unit_name(self) -> str:
        """The unit of the readings, as told or as the gauge names it; "" while it is not known."""
        told = self._conversion.unit
        return told.name if told is not None else self._decoder.unit_name

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
        twin._clock, twin._watch = self._clock.light_copy(), Watch()
        return [row for sample in held for row in twin._row(sample) if isinstance(row, Row)]

    def mark_row(self, now_s: float, mark: str) -> Row:
        """A mark at this moment, not before the last row."""
        time_s = self._clock.time_s(now_s, None)
        return Row(time_s, None, mark=mark, moment=self._clock.moments - 1)

    def settled(self) -> Settled | None:
        """All times as the gauge's clock has shown them to be; None where what was given out stands."""
        found = self._clock.settled()
        return found if found is not None and (found.said or found.moved_s > _T.clock_rewrite_s) else None

    def _rows(self, samples: list[Sample]) -> list[Row | Remark]:
        out = _drained(self._decoder.remarks)
        told, named = self._conversion.unit, self._decoder.unit_name
        if told is not None and named not in ("", told.name) and not self._overruled:
            self._overruled = True
            out.append(Remark(text("overruled", named=named, told=told.name)))
        self._clock.named = self._decoder.clock_named
        for sample in samples:
            out += self._row(sample)
        return out + _drained(self._clock.remarks)

    def _row(self, sample: Sample) -> list[Row | Remark]:
        device_s = sample.device_s if sample.value is not None else None
        time_s = self._clock.time_s(sample.arrival_s, device_s)
        pressure_pa, why = self._pressure(sample)
        row = Row(time_s, pressure_pa, sample.raw, sample.temperature_degc, why, moment=self._clock.moments - 1)
        if pressure_pa is None:
            self.unreadable += 1
            if sample.value is None or self._impossible or self.stopped:
                return [row]
            self._impossible = True
            return [row, Remark(why)]
        self.readings += 1
        return [row, *(Remark(said) for said in self._watch.feed(time_s, pressure_pa))]

    def _pressure(self, sample: Sample) -> tuple[float | None, str]:
        if sample.value is None:
            return None, sample.why
        try:
            pressure_pa = self._conversion.gauge_pa(sample.value, sample.unit)
            if self._lowest_pa <= pressure_pa <= _T.highest_pa:
                return pressure_pa, ""
            return None, text("impossible", kpa=pressure_pa / 1e3)
        except LeakdownError as error:
            self.stopped = self.stopped or error
            return None, error.what


def _drained(remarks: list[str]) -> list[Row | Remark]:
    """The remarks, which are not said again."""
    new: list[Row | Remark] = [Remark(remark) for remark in remarks]
    remarks.clear()
    return new
