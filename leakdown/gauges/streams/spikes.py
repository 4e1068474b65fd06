"""A single reading far from both neighbours is a torn number or a glitch: gas in a vessel cannot do that.

Only a reading that leaps is held back, and only until the next one comes (or a short time has passed):
a real change, a plug that lets go or a valve that opens, is still there in the next reading.
"""

from __future__ import annotations

from leakdown.gauges.streams.sample import Sample

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
