"""Flags: what makes a result less sure than it looks, each with what to do about it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from leakdown.analysis import Analysis, Flag, Hold
from leakdown.circuits import circuit
from leakdown.fit.model import LOG_TAU, RATE
from leakdown.fit.shape import OddShape
from leakdown.hold.window import Window
from leakdown.judge.window_fit import WindowFit
from leakdown.quantities import show_pressure
from leakdown.recording import Doubt, Recording
from leakdown.tuned import texts, tuned
from leakdown.words.numbers import pressure_words

_T = tuned("judge")
_flag = partial(Flag.of, "judge")

OF_THE_SIZE = frozenset(
    {"levels-off", "step", "fast-leak", "leak-shrinks", "leak-grows", "quoted-outside", "creep", "no-fit"}
    | {"opened-by-pressure", "shut-by-pressure"}
)


@dataclass(frozen=True)
class FlagInputs:
    """What the flags look at. settled: the pressure settled within the hold. quote_pa: as in `Settings`."""

    fitted: WindowFit
    hold: Hold
    settled: bool
    quote_pa: float

    @property
    def recording(self) -> Recording:
        """The readings, without lone spikes, and what is known of the test."""
        return self.fitted.recording

    @property
    def window(self) -> Window:
        """The window that was fitted."""
        return self.fitted.window

    @property
    def odd(self) -> OddShape | None:
        """The odd shape that was found."""
        return self.fitted.chosen.odd

    @property
    def start_pa(self) -> float:
        """Magnitude at the start of the settled hold."""
        return abs(self.hold.start_pa)

    def shown(self, pressure_pa: float) -> str:
        """A pressure in the unit of the test."""
        return show_pressure(pressure_pa, self.recording.conditions.show_unit)


def all_flags(seen: FlagInputs, of_leak: bool = True) -> tuple[Flag, ...]:
    """Every flag that applies, the gravest first; those of the size only `of_leak`."""
    parts = (_about_shape, _about_events, _about_hold, _about_gauge, _about_leak, _about_inputs)
    found = (flag for part in parts for flag in part(seen))
    return tuple(flag for flag in found if of_leak or flag.code not in OF_THE_SIZE)


def _about_shape(seen: FlagInputs) -> Iterator[Flag]:
    if seen.fitted.leak is None and seen.window.frozen_s is None:
        yield _flag("no-fit")
    if seen.fitted.climbs:
        yield _flag("pressure-rises")
    odd, leak = seen.odd, seen.fitted.leak
    if odd is None:
        return
    if odd.name == "step":
        yield _flag("step/odd", by=seen.shown(odd.size), at=odd.time_s)
        return
    more, less = {
        "growth": ("leak-grows", "leak-shrinks"),
        "pressed": ("opened-by-pressure", "shut-by-pressure"),
        "opening": ("levels-off", "levels-off"),
        "creep": ("creep", "creep"),
    }[odd.name]
    code = more if odd.size > 0 else less
    opening = leak.opening_pa if leak else None
    level = seen.shown(opening) if opening is not None else "the end pressure"
    vapour = texts("judge")["vapour"] if seen.recording.direction == "vacuum" else ""
    yield _flag(code, level=level, vapour=vapour)


def _about_events(seen: FlagInputs) -> Iterator[Flag]:
    window = seen.window
    for step in window.steps:
        yield _flag("step", by=seen.shown(step.change_pa), at=step.time_s)
    if window.parted_at is not None:
        yield _flag("split-at-mark", at=window.parted_at.time_s, mark=window.parted_at.text)
    if window.fell_from_pa is not None:
        yield _flag("fell-before-hold", high=seen.shown(window.fell_from_pa), low=seen.shown(seen.start_pa))
    if window.several:
        yield _flag("several-holds")


def _about_hold(seen: FlagInputs) -> Iterator[Flag]:
    hold = seen.hold
    settling_s = hold.start_s - hold.closed_s
    if settling_s > _T.slow_to_settle_s and seen.odd is None:
        yield _flag("creep/slow", settling_s=settling_s)
    if not seen.settled:
        yield _flag("not-settled")
    if hold.readings == 2:
        yield _flag("few-readings/two")
    elif hold.readings < _T.few_readings:
        yield _flag("few-readings", readings=hold.readings)


def _about_gauge(seen: FlagInputs) -> Iterator[Flag]:
    zero, window = seen.window.zero, seen.window
    doubted = max(2.0 * (seen.fitted.used.resolution_pa.value or 0.0), _T.zero_moved_pa)
    if zero.drift_pa is not None and abs(zero.drift_pa) > doubted:
        yield _flag("zero-moved", by=seen.shown(zero.drift_pa))
    elif zero.source != "assumed" and abs(zero.offset_pa) > _T.zero_offset_pa:
        yield _flag("zero-offset", reads=seen.shown(zero.offset_pa))
    yield from _standing(seen)
    if window.spikes:
        yield _flag("spikes", spikes=window.spikes)
    caution = circuit(seen.recording.circuit).caution_pa(seen.recording.direction)
    if seen.start_pa > _T.over_caution * caution:
        yield _flag("over-caution-pressure", start=seen.shown(seen.start_pa), caution=seen.shown(caution))


def far_above_caution(result: Analysis) -> tuple[Doubt, ...]:
    """A doubt where the test started many times above what its circuit may be given: a slip, or a danger."""
    known, start = circuit(result.circuit), abs(result.hold.start_pa)
    caution, unit = known.caution_pa(result.direction), result.recording.conditions.show_unit
    if known.needle or start < _T.far_above_caution * caution:
        return ()
    read, most, slip = (show_pressure(size, unit) for size in (start, caution, start / 10.0))
    likely = f"a slip for {slip}" if start < _T.point_left_out * caution else "a slip, or another unit"
    flag = _flag("far-above-caution", start=read, times=start / caution, caution=most, likely=likely)
    return (Doubt(flag.code, flag.text, True),)


def _standing(seen: FlagInputs) -> Iterator[Flag]:
    """A reading that stood still: at the end of the gauge's range, or dead."""
    readings = seen.recording.pressure_pa
    if seen.window.saturated_pa is not None:
        yield _flag("saturated", level=seen.shown(seen.window.saturated_pa))
    if seen.window.frozen_s is not None:
        yield _flag("frozen", start_s=seen.window.frozen_s[0], end_s=seen.window.frozen_s[1])
    elif readings.size > _T.all_alike_readings and float(np.ptp(readings)) == 0.0:
        yield _flag("frozen/alike")


def _about_leak(seen: FlagInputs) -> Iterator[Flag]:
    leak = seen.fitted.leak
    if leak is None:
        return
    if not leak.detected and not seen.fitted.climbs:  # the test may have been too short to see one
        yield _flag("connection-not-proven")
        least = leak.detection_rate_pa_s * 60.0
        if least > _T.too_short * seen.start_pa:
            yield _flag("too-short", loss=seen.shown(least))
    small = (leak.rate_pa_s.value or 0.0) * 60.0 < _T.drift_lookalike_pa_min
    if leak.detected and small and seen.fitted.warmed_k is None:
        yield _flag("temperature-drift-possible")
    if _is_fast(seen.fitted):
        yield _flag("fast-leak")
    if seen.start_pa < _T.quoted_outside * seen.quote_pa:
        yield _flag("quoted-outside", quote=seen.shown(seen.quote_pa), start=seen.shown(seen.start_pa))


def _is_fast(fitted: WindowFit) -> bool:
    """Whether the leak's own time is within some thermal time constants of the gas."""
    found = fitted.chosen.found
    x = found.fit.parameters
    leak_s = abs(float(found.model.readings.pressure_pa[0])) / max(float(x[RATE]), 1e-9)
    return bool(leak_s < _T.fast_taus * math.exp(float(x[LOG_TAU])) and leak_s < _T.fast_leak_s)


def _about_inputs(seen: FlagInputs) -> Iterator[Flag]:
    used, recording, warmed_k = seen.fitted.used, seen.recording, seen.fitted.warmed_k
    if used.volume_m3.value is None:
        yield _flag("volume-unknown")
    elif used.volume_u_m3.value is None:
        yield _flag("volume-uncertainty-unknown")
    if used.barometer_pa.source == "assumed":
        yield _flag("ambient-assumed")
    if recording.conditions.circuit is None:
        yield _flag("circuit-assumed")
    step_pa = used.resolution_pa.value or 0.0
    coarse = recording.by_hand or step_pa > _T.coarse_step_pa
    if used.resolution_pa.source == "inferred" and coarse:
        yield _flag("resolution-assumed", step=pressure_words(step_pa, recording.conditions.show_unit))
    if warmed_k is None and used.temperature_k.source == "assumed":
        yield _flag("temperature-assumed")
    if warmed_k is not None and warmed_k > _T.temperature_moved_k:
        yield _flag("temperature-drift", warmed_k=warmed_k)
