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


def _decided(readings: list[Sample]) -> bool:
    if not readings:
        return False
    late = readings[-1].arrival_s - readings[0].arrival_s >= MAX_HELD_S
    if readings[0].value == 0:
        return any(s.value for s in readings) or len(readings) >= _T.start_zeros or late
    return len(readings) >= 3 or late or len(readings) == 2 and not wild(readings[0], readings[1])


def _false_starts(readings: list[Sample]) -> tuple[list[Sample], str]:
    """The first readings that are none, and why."""
    zeros = next((i for i, s in enumerate(readings) if s.value), len(readings))
    if zeros:
        ready = zeros < len(readings) and near_open_air(readings[zeros])
        return (readings[:zeros] if ready else []), "zero until the gauge is ready"
    if len(readings) < 2 or not wild(readings[0], readings[1]):
        return [], ""
    vouched = near_open_air(readings[1]) and not near_open_air(readings[0])
    if len(readings) >= 3 and not vouched:
        same = _gap(readings[1], readings[2]) <= _T.same_share * _larger(readings[1], readings[2])
        vouched = same and abs(readings[0].value or 0.0) > _T.same_share * abs(readings[1].value or 0.0)
    return (readings[:1] if vouched else []), "first reading after power-up, far from the next ones"


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
    """Refuses single leaps; their raw text is kept."""

    longest_s = _T.spike_wait_s

    def __init__(self) -> None:
        super().__init__()
        self._last: Sample | None = None

    def feed(self, sample: Sample) -> list[Sample]:
        """Samples now certain."""
        if not self._held and (self._last is None or not leaps(self._last, sample)):
            return self._pass([sample])
        self._held.append(sample)
        if sample.value is None or len(self._held) == 1:
            return []
        suspect = self._held[0]
        assert self._last is not None
        if _gap(sample, self._last) <= _T.return_share * _gap(suspect, self._last):
            self._held[0] = suspect.refused("a single reading far from both neighbours: torn number or glitch")
        return self._release()

    def _release(self) -> list[Sample]:
        """At the end of a stream a last leap has nobody to vouch for it, and nobody against it."""
        return self._pass(super()._release())

    def _pass(self, samples: list[Sample]) -> list[Sample]:
        for sample in samples:
            if sample.value is not None:
                self._last = sample
        return samples


def leaps(before: Sample, after: Sample) -> bool:
    """Further than a part of the larger value, and than a pump stroke where the unit is known."""
    if before.value is None or after.value is None:
        return False
    gap, larger = _gap(before, after), _larger(before, after)
    if after.unit is not None:
        return gap > _FAR_SHARE * larger and gap * after.unit.factor_pa > _LEAP_PA
    return gap > _FAR_SHARE_NO_UNIT * larger and abs(before.value) > 1.0
