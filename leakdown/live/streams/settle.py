"""Which samples to trust: zeros and wild first readings of a waking gauge, single torn readings. Pure."""

from __future__ import annotations

from leakdown.live.lines.line import Sample
from leakdown.quantities import PRESSURE_PA
from leakdown.tuned import tuned

_T = tuned("live.streams")
MAX_HELD_S: float = _T.start_wait_s
_LEAP_PA: float = _T.leap_pa
_FAR_SHARE: float = _T.leap_share
_FAR_SHARE_NO_UNIT: float = max(_T.leap_share, _T.leap_share_no_unit)
_WILD_SHARE: float = _T.wild_share
OPEN_AIR_PA = (_T.open_air_low_pa, _T.open_air_high_pa)
COMMON_UNITS = ("Pa", "hPa", "kPa", "bar", "psi", "inHg", "mmHg")


def near_open_air(sample: Sample) -> bool:
    """True when a value looks like an absolute reading of open air, in its unit or (no unit) in any unit."""
    if sample.value is None:
        return False
    factors = [sample.unit.factor_pa] if sample.unit else [PRESSURE_PA[name] for name in COMMON_UNITS]
    return any(OPEN_AIR_PA[0] <= sample.value * f <= OPEN_AIR_PA[1] for f in factors)


class HoldingBack:
    """Feed samples, get them back in order; some wait for the readings that follow, `longest_s` at most."""

    longest_s: float

    def __init__(self) -> None:
        self._held: list[Sample] = []

    @property
    def holds(self) -> bool:
        """True while samples wait for their followers."""
        return bool(self._held)

    def feed(self, sample: Sample) -> list[Sample]:
        """Samples now certain."""
        raise NotImplementedError

    def tick(self, now_s: float) -> list[Sample]:
        """Samples that have waited long enough."""
        return self._release() if self._held and now_s - self._held[0].arrival_s >= self.longest_s else []

    def finish(self) -> list[Sample]:
        """The stream is over."""
        return self._release()

    def _release(self) -> list[Sample]:
        held, self._held = self._held, []
        return held


class Settler(HoldingBack):
    """Refuses the false starts of a gauge that wakes up."""

    longest_s = MAX_HELD_S

    def __init__(self) -> None:
        super().__init__()
        self._done = False

    def feed(self, sample: Sample) -> list[Sample]:
        """Samples now certain."""
        if self._done:
            return [sample]
        self._held.append(sample)
        return self._release() if _decided(_readings(self._held)) else []

    def _release(self) -> list[Sample]:
        held = super()._release()
        readings = _readings(held)
        self._done = self._done or bool(readings)
        false_starts, why = _false_starts(readings)
        refused = {id(sample) for sample in false_starts}
        return [s.refused(why) if id(s) in refused else s for s in held]


def _readings(samples: list[Sample]) -> list[Sample]:
    return [s for s in samples if s.value is not None]


def _first_run(readings: list[Sample]) -> int:
    """How many of the first readings are one value, a few at most."""
    run = next((i for i, s in enumerate(readings) if s.value != readings[0].value), len(readings))
    return min(run, int(_T.fault_run))


def _decided(readings: list[Sample]) -> bool:
    if not readings:
        return False
    late = readings[-1].arrival_s - readings[0].arrival_s >= MAX_HELD_S
    if readings[0].value == 0:
        return any(s.value for s in readings) or len(readings) >= _T.start_zeros or late
    run = _first_run(readings)
    second = readings[run] if run < len(readings) else None
    return late or len(readings) >= run + 2 or second is not None and not wild(readings[0], second)


def _false_starts(readings: list[Sample]) -> tuple[list[Sample], str]:
    """The first readings that are none, and why."""
    zeros = next((i for i, s in enumerate(readings) if s.value), len(readings))
    if zeros:
        ready = zeros < len(readings) and near_open_air(readings[zeros])
        return (readings[:zeros] if ready else []), "zero until the gauge is ready"
    run = _first_run(readings)
    if len(readings) <= run or not wild(readings[0], readings[run]):
        return [], ""
    first, second = readings[0], readings[run]
    vouched = near_open_air(second) and not near_open_air(first)
    if len(readings) >= run + 2 and not vouched:
        third = readings[run + 1]
        same = _gap(second, third) <= _T.same_share * max(_larger(second, third), _gap(first, second))
        vouched = same and abs(first.value or 0.0) > _T.same_share * abs(second.value or 0.0)
    return (readings[:run] if vouched else []), "first reading after power-up, far from the next ones"


def _gap(a: Sample, b: Sample) -> float:
    return abs((a.value or 0.0) - (b.value or 0.0))


def _larger(a: Sample, b: Sample) -> float:
    return max(abs(a.value or 0.0), abs(b.value or 0.0))


def wild(first: Sample, second: Sample) -> bool:
    """Further apart than a pump stroke between two messages would explain."""
    if first.value is None or second.value is None:
        return False
    gap = _gap(first, second)
    far = first.unit is None or gap * first.unit.factor_pa > _LEAP_PA
    return far and gap > _WILD_SHARE * _larger(first, second)


class SpikeFilter(HoldingBack):
    """Refuses leaps that came back, of one reading or of the same value a few times; their raw text is kept."""

    longest_s = _T.spike_wait_s

    def __init__(self) -> None:
        super().__init__()
        self._last: Sample | None = None
        self._kept = 0
        self._step = 0.0  # the largest between readings that were kept

    def feed(self, sample: Sample) -> list[Sample]:
        """Samples now certain."""
        if not self._held and (self._last is None or not leaps(self._last, sample)):
            return self._pass([sample])
        self._held.append(sample)
        if sample.value is None or self._nobody_vouches():
            return []
        suspect = _readings(self._held)[0]
        if self._last and _gap(sample, self._last) <= _T.return_share * _gap(suspect, self._last):
            self._refuse("far from the readings before and after: a torn number, a glitch or a fault word")
        return self._release()

    def finish(self) -> list[Sample]:
        """A last leap away from zero, beyond all steps before it, has nobody to vouch for it."""
        last, suspects = self._last, _readings(self._held)
        if last is None or not suspects or self._kept < _T.known_readings:
            return self._release()
        if _away(suspects[0], last) and _gap(suspects[0], last) > 2.0 * self._step:
            self._refuse("far from the readings before, and nothing after it: a torn number, a glitch or a fault word")
        return self._release()

    def _nobody_vouches(self) -> bool:
        """Only one reading leapt, or the same one a few times, or each to another side of the last good one."""
        suspects = _readings(self._held)
        if len(suspects) > _T.fault_run:
            return False
        first, newest = suspects[0], suspects[-1]
        assert self._last is not None
        crossed = _side(first, self._last) != _side(newest, self._last) and leaps(self._last, newest)
        return len(suspects) == 1 or first.value == newest.value or crossed

    def _refuse(self, why: str) -> None:
        """All that is held but a last reading that came back."""
        self._held = [s.refused(why) if self._last and leaps(self._last, s) else s for s in self._held]

    def _release(self) -> list[Sample]:
        return self._pass(super()._release())

    def _pass(self, samples: list[Sample]) -> list[Sample]:
        for sample in samples:
            if sample.value is not None:
                self._kept += 1
                self._step = max(self._step, _gap(sample, self._last)) if self._last else self._step
                self._last = sample
        return samples


def _away(suspect: Sample, last: Sample) -> bool:
    """Across zero, or further from it: no vent."""
    new, old = suspect.value or 0.0, last.value or 0.0
    return new * old < 0.0 or abs(new) > abs(old)


def _side(sample: Sample, of: Sample) -> bool:
    return (sample.value or 0.0) > (of.value or 0.0)


def leaps(before: Sample, after: Sample) -> bool:
    """Further than a part of the larger value, and than a pump stroke where the unit is known."""
    if before.value is None or after.value is None:
        return False
    gap, larger = _gap(before, after), _larger(before, after)
    if after.unit is not None:
        return gap > _FAR_SHARE * larger and gap * after.unit.factor_pa > _LEAP_PA
    return gap > _FAR_SHARE_NO_UNIT * larger and abs(before.value) > 1.0
