"""One message of a gauge after recognition: a reading, or the reason why it is none."""

from __future__ import annotations

from dataclasses import dataclass, replace

from leakdown.quantities import PressureUnit


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
