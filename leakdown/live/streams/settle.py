"""Samples, and which to trust: zeros and wild first readings of a waking gauge, single torn readings."""

from __future__ import annotations

from dataclasses import dataclass, replace

from leakdown.quantities import PRESSURE_PA, PressureUnit


@dataclass(frozen=True)
class Sample:
    """`value` is in `unit` as the gauge shows it (vacuum already negative), None when it is no reading.

    arrival_s: monotonic clock of the computer. device_s: the gauge's own clock when it sends one whose
    unit is known. why: the reason when there is no reading. flags: what looks odd about a reading.
    """

    arrival_s: float
    raw: str
    value: float | None = None
    unit: PressureUnit | None = None
    why: str = ""
    device_s: float | None = None
    temperature_degc: float | None = None
    flags: tuple[str, ...] = ()

    def refused(self, why: str) -> Sample:
        """The same message, no longer taken for a reading."""
        return replace(self, value=None, why=why)


MAX_HELD = 8
MAX_HELD_S = 3.0
WILD_PA = 10_000.0
WILD_SHARE = 0.2
STEADY_SHARE = 0.02
OPEN_AIR_PA = (84_000.0, 107_000.0)
"""Ambient pressure from about 1500 m altitude to a strong high: an absolute gauge open to air shows this."""

COMMON_UNITS = ("Pa", "hPa", "kPa", "bar", "psi", "inHg", "mmHg")


def near_open_air(sample: Sample) -> bool:
    """True when a value looks like an absolute reading of open air, in its unit or (no unit) in any unit."""
    if sample.value is None:
        return False
    factors = [sample.unit.factor_pa] if sample.unit else [PRESSURE_PA[name] for name in COMMON_UNITS]
    return any(OPEN_AIR_PA[0] <= sample.value * f <= OPEN_AIR_PA[1] for f in factors)


class Settler:
    """Feed samples, get them back in order with the false starts refused."""

    def __init__(self) -> None:
        self._held: list[Sample] = []
        self._done = False

    @property
    def holds(self) -> bool:
        """True while samples wait for their followers."""
        return bool(self._held)

    def feed(self, sample: Sample) -> list[Sample]:
        """Samples now certain."""
        if self._done:
            return [sample]
        self._held.append(sample)
        if self._decided(self._readings()):
            return self._release()
        return []

    def tick(self, now_s: float) -> list[Sample]:
        """Release what has waited long enough."""
        if self._done or not self._held or now_s - self._held[0].arrival_s < MAX_HELD_S:
            return []
        return self._release() if self._readings() else self._pass_on()

    def finish(self) -> list[Sample]:
        """The stream is over."""
        return self._release()

    def _readings(self) -> list[Sample]:
        return [s for s in self._held if s.value is not None]

    def _decided(self, readings: list[Sample]) -> bool:
        if not readings:
            return False
        late = readings[-1].arrival_s - readings[0].arrival_s >= MAX_HELD_S
        after_zeros = [s for s in readings if s.value != 0]
        if len(after_zeros) < len(readings) and readings[0].value == 0:
            return bool(after_zeros) or len(readings) >= MAX_HELD or late
        return len(readings) >= 3 or late or len(readings) == 2 and not wild(readings[0], readings[1])

    def _pass_on(self) -> list[Sample]:
        held, self._held = self._held, []
        return held

    def _release(self) -> list[Sample]:
        if self._readings():
            self._done = True
        held, self._held = self._held, []
        readings = [s for s in held if s.value is not None]
        false_starts = {id(s): why for s, why in _false_starts(readings)}
        return [s.refused(false_starts[id(s)]) if id(s) in false_starts else s for s in held]


def _false_starts(readings: list[Sample]) -> list[tuple[Sample, str]]:
    zeros = 0
    while zeros < len(readings) and readings[zeros].value == 0:
        zeros += 1
    if zeros:
        ready = zeros < len(readings) and near_open_air(readings[zeros])
        return [(s, "zero until the gauge is ready") for s in readings[:zeros]] if ready else []
    if len(readings) < 2 or not wild(readings[0], readings[1]):
        return []
    vouched = near_open_air(readings[1]) and not near_open_air(readings[0])
    if len(readings) >= 3 and not vouched:
        vouched = _close(readings[1], readings[2]) and _size(readings[0]) > 0.02 * _size(readings[1])
    return [(readings[0], "first reading after power-up, far from the next ones")] if vouched else []


def _size(sample: Sample) -> float:
    return abs(sample.value or 0.0)


def _close(a: Sample, b: Sample) -> bool:
    return abs((a.value or 0.0) - (b.value or 0.0)) <= STEADY_SHARE * max(_size(a), _size(b))


def wild(first: Sample, second: Sample) -> bool:
    """Further apart than a pump stroke between two messages would explain."""
    if first.value is None or second.value is None:
        return False
    gap = abs(first.value - second.value)
    if gap <= WILD_SHARE * max(_size(first), _size(second)):
        return False
    return first.unit is None or gap * first.unit.factor_pa > WILD_PA


LEAP_PA = 10_000.0
LEAP_SHARE = 0.25
RETURN_SHARE = 0.3
MAX_WAIT_S = 3.0


class SpikeFilter:
    """Feed samples, get them back in order, single leaps refused with their raw text kept."""

    def __init__(self) -> None:
        self._last: Sample | None = None
        self._held: list[Sample] = []

    @property
    def holds(self) -> bool:
        """True while a leap waits for the next reading."""
        return bool(self._held)

    def feed(self, sample: Sample) -> list[Sample]:
        """Samples now certain."""
        if not self._held:
            if self._last is not None and leaps(self._last, sample):
                self._held = [sample]
                return []
            return self._pass([sample])
        self._held.append(sample)
        if sample.value is None:
            return []
        suspect = self._held[0]
        assert self._last is not None and self._last.value is not None and suspect.value is not None
        leap = abs(suspect.value - self._last.value)
        returned = abs(sample.value - self._last.value) <= RETURN_SHARE * leap
        if returned:
            self._held[0] = suspect.refused(
                "a single reading far from both neighbours: torn number or glitch"
            )
        return self._release()

    def tick(self, now_s: float) -> list[Sample]:
        """Do not wait for ever."""
        return self._release() if self._held and now_s - self._held[0].arrival_s > MAX_WAIT_S else []

    def finish(self) -> list[Sample]:
        """The stream is over: a last leap has nobody to vouch for it, and nobody against it."""
        return self._release()

    def _release(self) -> list[Sample]:
        held, self._held = self._held, []
        return self._pass(held)

    def _pass(self, samples: list[Sample]) -> list[Sample]:
        for sample in samples:
            if sample.value is not None:
                self._last = sample
        return samples


def leaps(before: Sample, after: Sample) -> bool:
    """Further than a quarter of the larger value, and than 10 kPa where the unit is known."""
    if before.value is None or after.value is None:
        return False
    gap = abs(after.value - before.value)
    if gap <= LEAP_SHARE * max(abs(before.value), abs(after.value)):
        return False
    if after.unit is not None:
        return gap * after.unit.factor_pa > LEAP_PA
    return gap > 0.5 * max(abs(before.value), abs(after.value)) and abs(before.value) > 1.0
