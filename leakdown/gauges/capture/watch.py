"""An eye on the readings as they come: frozen, saturated, repeated, zero, impossible. Each said once."""

from __future__ import annotations

from collections import deque

from leakdown.gauges.streams.settle import OPEN_AIR_PA

FROZEN_READINGS = 20
FROZEN_S = 3.0
UNMOVED_S = 30.0
SATURATED_READINGS = 10
VACUUM_LIMIT_PA = -104_000.0
"""No gauge pressure lies below minus the ambient; 104 kPa is a strong high at sea level."""


class Watch:
    """Feed every reading; `feed` returns remarks, each kind once in a recording."""

    def __init__(self) -> None:
        self._said: set[str] = set()
        self._moves: deque[bool] = deque(maxlen=FROZEN_READINGS)
        self._value_pa: float | None = None
        self._since_s = 0.0
        self._repeats = 0
        self._lively = False
        self._extreme_pa = 0.0
        self._climbed = False
        self._count = 0
        self._runs: deque[int] = deque(maxlen=10)

    def feed(self, time_s: float, pressure_pa: float) -> list[str]:
        """Remarks that this reading gives rise to."""
        self._count += 1
        moved = pressure_pa != self._value_pa
        if moved:
            self._moved(time_s, pressure_pa)
        else:
            self._repeats += 1
        self._moves.append(moved)
        return [text for code, text in self._findings(time_s, pressure_pa) if self._first(code)]

    def _moved(self, time_s: float, pressure_pa: float) -> None:
        if self._value_pa is not None:
            self._runs.append(self._repeats + 1)
            self._climbed = abs(pressure_pa) - abs(self._value_pa) > 500.0
        self._lively = len(self._moves) == FROZEN_READINGS and sum(self._moves) > FROZEN_READINGS // 2
        self._value_pa, self._since_s, self._repeats = pressure_pa, time_s, 0
        self._extreme_pa = max(self._extreme_pa, abs(pressure_pa))

    def _first(self, code: str) -> bool:
        new = code not in self._said
        self._said.add(code)
        return new

    def _findings(self, time_s: float, pressure_pa: float) -> list[tuple[str, str]]:
        still_s = time_s - self._since_s
        found = []
        if self._lively and self._repeats >= FROZEN_READINGS and still_s >= FROZEN_S:
            found.append(
                (
                    "frozen",
                    f"frozen since {self._since_s:.1f} s? The reading stopped moving altogether, "
                    "noise included",
                )
            )
        if still_s >= UNMOVED_S and abs(pressure_pa) > 1000.0:
            found.append(
                (
                    "unmoved",
                    f"the reading has not moved for {still_s:.0f} s: tight, or a shut valve, a kinked "
                    "hose or a frozen gauge; crack a blank open at the end to prove the connection",
                )
            )
        if self._at_the_end(pressure_pa):
            found.append(
                (
                    "saturated",
                    f"the reading climbed and then stuck at {pressure_pa / 1e3:.1f} kPa, its largest: "
                    "the end of the gauge's range?",
                )
            )
        if self._count == 5 and self._repeats == 4 and pressure_pa == 0.0:
            found.append(
                ("zero", "the first readings are exactly zero: open to air, or a gauge that is not ready")
            )
        if len(self._runs) == 10 and min(self._runs) >= 3 and max(self._runs) <= min(self._runs) + 1:
            found.append(
                (
                    "repeated",
                    f"each value comes {min(self._runs)} times: the gauge sends faster than it measures",
                )
            )
        if pressure_pa < VACUUM_LIMIT_PA:
            found.append(
                ("impossible", f"{pressure_pa / 1e3:.1f} kPa is below a perfect vacuum: check the unit")
            )
        if self._count == 3 and OPEN_AIR_PA[0] <= pressure_pa <= OPEN_AIR_PA[1]:
            found.append(
                (
                    "absolute",
                    f"{pressure_pa / 1e3:.1f} kPa at the start looks like an absolute gauge open to air: "
                    "if it is one, use --absolute and --barometer",
                )
            )
        return found

    def _at_the_end(self, pressure_pa: float) -> bool:
        """Climbed in steps, then stuck at the very largest value."""
        return (
            self._climbed
            and self._repeats >= SATURATED_READINGS
            and abs(pressure_pa) == self._extreme_pa > 5000.0
        )
