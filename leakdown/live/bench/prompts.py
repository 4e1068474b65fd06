"""Where a test stands, told online from the readings, and what to do now, in one short line. Pure."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

from leakdown.analysis import Limit
from leakdown.circuits import DIRECTIONS, circuit, procedure
from leakdown.live.bench.connection import STROKE_M3, fill_warning, strokes_to
from leakdown.live.texts import text
from leakdown.physics.volume import stroke_rise_pa
from leakdown.quantities import show_pressure
from leakdown.recording import Conditions
from leakdown.tuned import tuned

Phase = Literal["zero", "fill", "stabilise", "hold", "vent"]

_T = tuned("live.bench")
HOLD_S: float = _T.hold_s
_WINDOW_S: float = _T.window_s
_OPEN_PA: float = _T.open_pa
_FILL_RATE_PA_S: float = _T.fill_rate_pa_s
_VENT_QUICKER: float = _T.vent_quicker


@dataclass(frozen=True)
class PhaseNow:
    """The phase, since when, the pressure at its start, and whether the circuit was topped up before it.

    The start of settling is the closing of the valve, which is only seen a moment later.
    """

    phase: Phase
    since_s: float
    start_pa: float
    topped_up: bool = False


class _Span:
    """Readings of a stretch of time; its mean size costs the same for ten readings and ten thousand."""

    def __init__(self) -> None:
        self.readings: deque[tuple[float, float]] = deque()
        self._sizes_pa = 0.0

    def append(self, reading: tuple[float, float]) -> None:
        """Take in a reading (s, Pa)."""
        self.readings.append(reading)
        self._sizes_pa += abs(reading[1])

    def popleft(self) -> tuple[float, float]:
        """Give the oldest away."""
        oldest = self.readings.popleft()
        self._sizes_pa = self._sizes_pa - abs(oldest[1]) if self.readings else 0.0
        return oldest

    def clear(self) -> None:
        """Forget all of them."""
        self.readings.clear()
        self._sizes_pa = 0.0

    @property
    def mean_size_pa(self) -> float:
        """Mean distance from ambient; there is a reading."""
        return self._sizes_pa / len(self.readings)


class PhaseWatch:
    """Feed readings in order of time; `feed` gives the phase after each.

    tops_up: the circuit is topped up once after its first closing, and only then held.
    """

    def __init__(self, tops_up: bool = False) -> None:
        self._tops_up = tops_up
        self._window = _Span()
        self._earlier = _Span()
        self._now = PhaseNow("zero", 0.0, 0.0)
        self._peak_pa = 0.0

    def feed(self, time_s: float, pressure_pa: float) -> PhaseNow:
        """Phase at this reading."""
        self._window.append((time_s, pressure_pa))
        window, earlier = self._window.readings, self._earlier.readings
        while window[0][0] < time_s - _WINDOW_S and len(window) > 2:
            self._earlier.append(self._window.popleft())
        while earlier and earlier[0][0] < time_s - 2.0 * _WINDOW_S:
            self._earlier.popleft()
        phase = self._next(time_s, pressure_pa)
        if phase != self._now.phase:
            shut = self._now.phase in ("stabilise", "hold") and time_s - self._now.since_s > 0.5 * procedure().wait_s[0]
            topped_up = phase == "fill" and shut  # a shorter pause is one between two strokes
            kept = phase not in ("zero", "vent") and self._now.topped_up
            start_pa = self._farthest_pa() if phase == "stabilise" else pressure_pa
            self._now = PhaseNow(phase, time_s, start_pa, topped_up or kept)
        self._peak_pa = max(abs(pressure_pa), 0.0 if phase in ("fill", "zero") else self._peak_pa)
        return self._now

    def shut_anew(self, time_s: float, pressure_pa: float) -> PhaseNow:
        """The circuit was let down to its target and shut: it settles again."""
        self._window.clear()
        self._earlier.clear()
        self._window.append((time_s, pressure_pa))
        self._peak_pa = abs(pressure_pa)
        self._now = PhaseNow("stabilise", time_s, pressure_pa, True)
        return self._now

    def _farthest_pa(self) -> float:
        """The reading of the last two windows farthest from zero: that at which the valve was shut."""
        return max((p for _, p in (*self._earlier.readings, *self._window.readings)), key=abs)

    def _outward_pa_s(self) -> float:
        """How fast the pressure moves away from ambient (negative: back towards it)."""
        (t0, p0), (t1, p1) = self._window.readings[0], self._window.readings[-1]
        return (abs(p1) - abs(p0)) / (t1 - t0) if t1 > t0 else 0.0

    def _next(self, time_s: float, pressure_pa: float) -> Phase:
        size, rate, phase = abs(pressure_pa), self._outward_pa_s(), self._now.phase
        if size < _OPEN_PA:
            return "vent" if phase in ("stabilise", "hold") and self._dropped(time_s, size) else "zero"
        if rate > _FILL_RATE_PA_S:
            return "fill"
        if phase in ("zero", "vent"):
            if self._under_way(time_s, size, rate):
                return "stabilise"
            return "fill" if rate > 0 else phase
        just_shut = phase == "stabilise" and time_s - self._now.since_s < 2.0 * _WINDOW_S  # the fill is still in sight
        if phase in ("fill", "stabilise") and not just_shut and self._topping_up(phase):
            return "fill"
        if phase == "fill":
            return "stabilise"
        if self._dropped(time_s, size):
            return "vent"
        return "hold" if phase == "hold" or time_s - self._now.since_s >= self._settle_s() else "stabilise"

    def _settle_s(self) -> float:
        """How long after a closing the hold begins: at the latest where nobody topped up, standing or not."""
        if not self._tops_up:
            return float(_T.settle_s)
        return procedure().wait_s[1] if self._now.topped_up else procedure().start_s

    def _topping_up(self, phase: Phase) -> bool:
        """The pressure climbs again after a closing, by more than warming or noise, however slowly it is pumped."""
        if not self._tops_up or not self._earlier.readings or (phase == "fill" and not self._now.topped_up):
            return False
        return bool(self._window.mean_size_pa - self._earlier.mean_size_pa > _T.top_up_pa)

    def _under_way(self, time_s: float, size: float, rate: float) -> bool:
        """The log began (or a vent ended) with the valve shut and pressure inside."""
        lasted = time_s - self._window.readings[0][0] >= 0.9 * _WINDOW_S
        steady = abs(rate) < min(_T.steady_share * size, _FILL_RATE_PA_S)
        return lasted and steady and min(abs(p) for _, p in self._window.readings) > 2.0 * _OPEN_PA

    def _dropped(self, time_s: float, size: float) -> bool:
        """A valve was opened: a large part gone within a window, and faster than before.

        Through a leak, however big, the pressure falls ever more slowly."""
        fall = abs(self._window.readings[0][1]) - size
        if fall <= _T.vent_share * self._peak_pa:
            return False
        if size < _T.empty_share * self._peak_pa:
            return True
        window, earlier = self._window.readings, self._earlier.readings
        settled = self._now.phase == "hold" or time_s - self._now.since_s > 2.0 * _WINDOW_S
        before = abs(earlier[0][1]) - abs(window[0][1]) if earlier else 0.0
        return settled and fall > _VENT_QUICKER * max(before, 0.0)


@dataclass(frozen=True)
class Aim:
    """What the test goes for: gauge magnitudes to fill to (None: not in that direction), seconds to hold.

    tops_up: it goes through the steps of `circuits.procedure` before the hold.
    """

    pressure_pa: float | None
    vacuum_pa: float | None
    hold_s: float
    unit: str
    tops_up: bool = False

    def target_pa(self, pressure_pa: float) -> float | None:
        """The target on the side of a reading."""
        return self.vacuum_pa if pressure_pa < 0 else self.pressure_pa


@dataclass(frozen=True)
class Moment:
    """Where the test stands: `held` once a hold has ended, `decided` when the verdict is certain.

    topped_up: the circuit was filled again after a closing.
    """

    phase: str
    phase_s: float
    pressure_pa: float
    held: bool
    decided: bool
    topped_up: bool = False


def aim_of(conditions: Conditions, limit: Limit | None, unit: str | None = None) -> Aim:
    """Common practice for the circuit (crankcase when not said) and the limit's own time; unit: shown."""
    table, way = circuit(conditions.circuit), conditions.direction
    up, down = (table.target_pa(one) if way in (None, one) else None for one in DIRECTIONS)
    hold_s = limit.time_s + _T.beyond_limit_s if limit is not None and limit.kind == "drop" else HOLD_S
    tops_up = any(one.tops_up for one in table.ways if way in (None, one.direction))
    return Aim(up, down, hold_s, unit or conditions.show_unit, tops_up)


def lead(now: Moment, aim: Aim) -> str:
    """The line to show."""
    if now.phase in ("zero", "vent"):
        return _open(now, aim)
    if now.phase == "fill":
        target_pa = aim.target_pa(now.pressure_pa)
        if target_pa is not None and abs(now.pressure_pa) >= _T.reached_share * target_pa:
            return procedure().screen["pump_off"] if now.topped_up and aim.tops_up else "shut the valve"
        again = _top_up(aim, now.pressure_pa) if now.topped_up and aim.tops_up else ""
        return again or f"{_fill(aim, now.pressure_pa)}; then shut the valve"
    if now.phase == "stabilise":
        return _closed(now, aim) if aim.tops_up else f"valve shut, hands off: settling {now.phase_s:.0f} s"
    if now.phase == "hold":
        if now.decided or now.phase_s >= aim.hold_s:
            return "press o, crack a blank open: the reading must fall"
        return f"hands off: holding {now.phase_s:.0f} s of {aim.hold_s:.0f} s"
    return "waiting for the gauge's first reading"


def _closed(now: Moment, aim: Aim) -> str:
    """The steps between the first closing and the watch."""
    steps = procedure()
    if now.topped_up:
        return steps.screen["watch"].format(left=max(steps.wait_s[1] - now.phase_s, 0.0))
    left, target_pa = sum(steps.wait_s) / 2.0 - now.phase_s, aim.target_pa(now.pressure_pa)
    if left > 0.0:
        return steps.screen["wait"].format(left=left)
    if target_pa is not None and abs(now.pressure_pa) >= _T.topped_share * target_pa:
        return steps.screen["watch"].format(left=max(steps.start_s - now.phase_s, 0.0))
    return _top_up(aim, now.pressure_pa)


def _top_up(aim: Aim, pressure_pa: float) -> str:
    target_pa = aim.target_pa(pressure_pa)
    target = "where it was" if target_pa is None else show_pressure(target_pa, aim.unit, 2)
    return procedure().screen["top_up"].format(target=target)


def step_done(now: PhaseNow, time_s: float, unit: str) -> str:
    """What is written down of a step that lies a moment back: its reading, under the same words as on paper."""
    names = {"stabilise": "topped_up_at" if now.topped_up else "shut_at", "hold": "watch_at"}
    if now.phase not in names or time_s - now.since_s < _T.step_after_s:
        return ""
    return procedure().screen[names[now.phase]].format(reading=show_pressure(now.start_pa, unit))


def _open(now: Moment, aim: Aim) -> str:
    if now.held:
        reading = f"open to air: reading the zero again {now.phase_s:.0f} s"
        return reading if now.phase_s < _T.zero_s else "zero read again: q ends the log"
    if now.phase_s < _T.zero_s:
        return f"open to air: reading the zero {now.phase_s:.0f} s"
    return _fill(aim, None)


def _fill(aim: Aim, pressure_pa: float | None) -> str:
    """ "pump to 45 kPa, slowly", or either way while nothing is known of the direction."""
    up = f"pump to {show_pressure(aim.pressure_pa, aim.unit, 2)}" if aim.pressure_pa else ""
    down = f"draw {show_pressure(aim.vacuum_pa, aim.unit, 2)} of vacuum" if aim.vacuum_pa else ""
    ways = (up, down) if pressure_pa is None else (down,) if pressure_pa < 0 else (up,)
    said = ", or ".join(way for way in ways if way)
    return f"{said or 'fill to the pressure of the test'}, slowly"


def before_pumping(aim: Aim, volume_m3: float | None, ambient_pa: float) -> tuple[str, ...]:
    """One line on strokes, and a warning where a single stroke is much; nothing without a volume."""
    if volume_m3 is None or aim.pressure_pa is None and aim.vacuum_pa is None:
        return ()
    rise = stroke_rise_pa(STROKE_M3, volume_m3, ambient_pa)
    targets = ((aim.pressure_pa, 1.0, ""), (aim.vacuum_pa, -1.0, " of vacuum"))
    parts = [
        f"{_strokes(strokes_to(sign * size_pa, volume_m3, ambient_pa))} to {show_pressure(size_pa, aim.unit, 2)}{way}"
        for size_pa, sign, way in targets
        if size_pa
    ]
    moved = {"stroke_cm3": STROKE_M3 * 1e6, "volume_cm3": volume_m3 * 1e6, "rise": show_pressure(rise, aim.unit, 2)}
    line = text("strokes", **moved, targets=", ".join(parts))
    warning = fill_warning(aim.pressure_pa or 0.0, volume_m3, ambient_pa)
    return (line, f"Careful: {warning}.") if warning else (line,)


def _strokes(count: float) -> str:
    return f"{count:.1f} strokes" if count < 10 else f"{count:.0f} strokes"
