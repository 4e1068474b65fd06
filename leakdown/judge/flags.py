"""Flags: what makes a result less sure than it looks, each with what to do about it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Flag, Hold, LeakEstimate
from leakdown.circuits import circuit
from leakdown.fit.model import LOG_TAU, RATE
from leakdown.fit.shape import OddShape
from leakdown.hold.window import Window
from leakdown.judge.window_fit import WindowFit
from leakdown.quantities import show_pressure
from leakdown.recording import Recording
from leakdown.tuned import tuned

_T = tuned("judge")

ODD_SHAPES = {
    "opening": (
        "levels-off",
        "The decay levels off near {level} instead of going on to zero: a leak that closes (reseats) at "
        "that pressure, or soft hose and rubber that gave way.{vapour} The size holds above that only.",
    ),
    "creep": (
        "creep",
        "A part of the loss dies out over tens of seconds: soft hose or rubber still giving way.{vapour} "
        "Its part was taken off the leak. Hold longer after pumping up, or use stiffer hose.",
    ),
    "growth-up": (
        "leak-grows",
        "The leak grew during the hold: an oil film clearing, a lip lifting or a joint giving way. "
        "Repeat the test and use the last one.",
    ),
    "growth-down": (
        "leak-shrinks",
        "The leak became smaller during the hold: rubber or soft hose still creeping, oil drawn into "
        "the path, or fuel vapour. Wait for the parts to settle, dry them, and repeat.",
    ),
}
VAPOUR = (
    " Under vacuum, fuel vapour from a wet case does the same: dry the case, wait, repeat; "
    "vapour shrinks, a leak does not."
)
OF_THE_SIZE = frozenset(
    {"levels-off", "step", "fast-leak", "leak-shrinks", "leak-grows", "quoted-outside", "creep", "no-fit"}
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
        yield Flag(
            "no-fit",
            "No leak model fits this hold, so no size is given. Check the chart for steps "
            "and repeat the test, or choose the part to use with --hold START..END.",
        )
    if seen.fitted.climbs:
        yield Flag(
            "pressure-rises",
            "The reading moved away from zero during the hold: fuel vapour, a part "
            "warming up or a drifting gauge, never a leak. Let it cool, dry it, repeat.",
        )
    odd, leak = seen.odd, seen.fitted.leak
    if odd is None:
        return
    if odd.name == "step":
        yield Flag(
            "step",
            f"The reading jumped by {seen.shown(odd.size)} at {odd.time_s:.0f} s: a plug or hose moved, or "
            "the crank was turned. Reseat the blanks and repeat.",
        )
        return
    growth = "growth-up" if odd.size > 0 else "growth-down"
    code, text = ODD_SHAPES[growth if odd.name == "growth" else odd.name]
    opening = leak.opening_pa if leak else None
    level = seen.shown(opening) if opening is not None else "the end pressure"
    yield Flag(code, text.format(level=level, vapour=VAPOUR if seen.recording.direction == "vacuum" else ""))


def _about_events(seen: FlagInputs) -> Iterator[Flag]:
    window = seen.window
    for step in window.steps:
        yield Flag(
            "step",
            f"The reading jumped by {seen.shown(step.change_pa)} at {step.time_s:.0f} s (a plug slipped, the "
            "hose was touched, the crank turned?). Only the longest undisturbed part was used; repeat the "
            "test if you can.",
        )
    if window.parted_at is not None:
        mark = window.parted_at
        text = f"The decay changed after {mark.time_s:.0f} s ({mark.text}): sized as it was before."
        yield Flag("split-at-mark", text)
    if window.fell_from_pa is not None:
        high, low = seen.shown(window.fell_from_pa), seen.shown(seen.start_pa)
        yield Flag(
            "fell-before-hold",
            f"Just before the hold the reading fell from {high} to {low}: let out by hand, or something "
            f"opens above {low}. Nothing is known of the leak above that.",
        )
    if window.several:
        yield Flag(
            "several-holds",
            "The recording contains more than one hold; the longest was used. Choose another with --hold START..END.",
        )


def _about_hold(seen: FlagInputs) -> Iterator[Flag]:
    hold = seen.hold
    settling_s = hold.start_s - hold.closed_s
    if settling_s > _T.slow_to_settle_s and seen.odd is None:
        yield Flag(
            "creep",
            f"The pressure took {settling_s:.0f} s to settle: hose, rubber or warm parts giving way. "
            "Its part was taken off the leak; stiffer hose or a longer wait would be surer.",
        )
    if not seen.settled:
        yield Flag(
            "not-settled",
            "The pressure was still settling at the end of the hold (warm gas, soft hose). "
            "Wait longer after closing the valve, then hold longer.",
        )
    if hold.readings == 2:
        yield Flag(
            "few-readings",
            "Only two readings: the interval is wide because nothing checks them. Write down the pressure every 10 s.",
        )
    elif hold.readings < _T.few_readings:
        text = f"Only {hold.readings} readings: more of them would narrow the interval."
        yield Flag("few-readings", text)


def _about_gauge(seen: FlagInputs) -> Iterator[Flag]:
    zero, window = seen.window.zero, seen.window
    doubted = max(2.0 * (seen.fitted.used.resolution_pa.value or 0.0), _T.zero_moved_pa)
    if zero.drift_pa is not None and abs(zero.drift_pa) > doubted:
        yield Flag(
            "zero-moved",
            f"The gauge's zero moved by {seen.shown(zero.drift_pa)} between start and end: drift looks like "
            "a leak. It was taken off as if steady, and doubted. Warm the gauge up, zero it, repeat.",
        )
    elif zero.source == "measured" and abs(zero.offset_pa) > _T.zero_offset_pa:
        text = f"The gauge reads {seen.shown(zero.offset_pa)} open to air; this was taken off."
        yield Flag("zero-offset", text)
    yield from _standing(seen)
    if window.spikes:
        yield Flag("spikes", f"{window.spikes} lone readings far from their neighbours were left out.")
    caution = circuit(seen.recording.circuit).caution_pa(seen.recording.direction)
    if seen.start_pa > _T.over_caution * caution:
        yield Flag(
            "over-caution-pressure",
            f"The test started at {seen.shown(seen.start_pa)}; above {seen.shown(caution)} (common practice) "
            "this circuit can be damaged, seals pushed out, plugs thrown. Stay below unless the maker's "
            "manual says more.",
        )


def _standing(seen: FlagInputs) -> Iterator[Flag]:
    """A reading that stood still: at the end of the gauge's range, or dead."""
    readings = seen.recording.pressure_pa
    if seen.window.saturated_pa is not None:
        yield Flag(
            "saturated",
            f"The reading stood at {seen.shown(seen.window.saturated_pa)}, its highest: the end of the "
            "gauge's range. Only what came after was used; pump up less, or use a gauge that reaches "
            "further.",
        )
    if seen.window.frozen_s is not None:
        start_s, end_s = seen.window.frozen_s
        yield Flag(
            "frozen",
            f"The gauge froze from {start_s:.0f} to {end_s:.0f} s: its reading stopped moving "
            "altogether, noise included. Nothing from then on counts.",
        )
    elif readings.size > _T.all_alike_readings and float(np.ptp(readings)) == 0.0:
        text = "Every reading is the same, to the last digit: is the gauge alive? Press on the hose."
        yield Flag("frozen", text)


def _about_leak(seen: FlagInputs) -> Iterator[Flag]:
    leak = seen.fitted.leak
    if leak is None:
        return
    if not leak.detected and not seen.fitted.climbs:
        yield from _nothing_seen(seen, leak)
    small = (leak.rate_pa_s.value or 0.0) * 60.0 < _T.drift_lookalike_pa_min
    if leak.detected and small and seen.fitted.warmed_k is None:
        yield Flag(
            "temperature-drift-possible",
            "So small a loss is also what a degree a minute of cooling or warming would do. "
            "Let the engine come to room temperature and repeat, or log the temperature.",
        )
    if _is_fast(seen.fitted):
        yield Flag(
            "fast-leak",
            "The circuit empties about as fast as its gas changes temperature; the interval "
            "includes what the readings cannot separate. Log at 10 readings a second or more.",
        )
    if seen.start_pa < _T.quoted_outside * seen.quote_pa:
        yield Flag(
            "quoted-outside",
            f"The leak is quoted at {seen.shown(seen.quote_pa)} but the test only reached "
            f"{seen.shown(seen.start_pa)}: quote it nearer with --quote-at.",
        )


def _nothing_seen(seen: FlagInputs, leak: LeakEstimate) -> Iterator[Flag]:
    """No loss: the connection has still to be proven, and the test may have been too short to see one."""
    yield Flag(
        "connection-not-proven",
        "No loss was seen for certain. A kinked hose, a shut valve or a frozen gauge looks the same: "
        "crack a blank open at the end and see the reading fall, or count the pump strokes.",
    )
    least = leak.detection_rate_pa_s * 60.0
    if least > _T.too_short * seen.start_pa:
        loss = seen.shown(least)
        text = f"Only a loss above {loss} a minute would have shown. Hold longer, or use a finer gauge."
        yield Flag("too-short", text)


def _is_fast(fitted: WindowFit) -> bool:
    """Whether the leak's own time is within some thermal time constants of the gas."""
    found = fitted.chosen.found
    x = found.fit.parameters
    leak_s = abs(float(found.model.readings.pressure_pa[0])) / max(float(x[RATE]), 1e-9)
    return bool(leak_s < _T.fast_taus * math.exp(float(x[LOG_TAU])) and leak_s < _T.fast_leak_s)


def _about_inputs(seen: FlagInputs) -> Iterator[Flag]:
    used, recording = seen.fitted.used, seen.recording
    if used.volume_m3.value is None:
        yield Flag(
            "volume-unknown",
            "No volume given: no leak rate or hole size. Measure it (leakdown volume) and "
            'give it, for example --volume "250 cm3".',
        )
    elif used.volume_u_m3.value is None:
        yield Flag(
            "volume-uncertainty-unknown",
            'The interval takes the volume as exact. Give its doubt with --volume-uncertainty "10 %".',
        )
    if used.barometer_pa.source == "assumed":
        yield Flag(
            "ambient-assumed",
            "Barometer assumed at 101.325 kPa (sea level); the interval allows for places up to "
            "1500 m. Give --barometer (station pressure, not the weather report's) or --altitude.",
        )
    if recording.conditions.circuit is None:
        yield Flag("circuit-assumed", "Taken for a crankcase test; say otherwise with --circuit.")
    step_pa = used.resolution_pa.value or 0.0
    coarse = recording.by_hand or step_pa > _T.coarse_step_pa
    if used.resolution_pa.source == "inferred" and coarse:
        yield Flag(
            "resolution-assumed",
            f"Readings taken as rounded to {seen.shown(step_pa)}; "
            "give --resolution if the gauge was read finer or coarser.",
        )
    yield from _about_temperature(seen.fitted)


def _about_temperature(fitted: WindowFit) -> Iterator[Flag]:
    if fitted.warmed_k is None:
        if fitted.used.temperature_k.source == "assumed":
            yield Flag(
                "temperature-assumed",
                "Temperature assumed at 20 degC and steady: one degree during the hold "
                "is about 0.5 kPa. Test a cold engine.",
            )
    elif fitted.warmed_k > _T.temperature_moved_k:
        yield Flag(
            "temperature-drift",
            f"The temperature moved by {fitted.warmed_k:.1f} K during the hold; "
            "the readings were corrected with the temperature column. Repeat when it is steady.",
        )
