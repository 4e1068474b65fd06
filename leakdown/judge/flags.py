"""Flags: what makes a result less sure than it looks, each with what to do about it."""

from __future__ import annotations

from leakdown.analysis import Flag, LeakEstimate
from leakdown.judge.gauge_flags import FlagInputs, about_gauge
from leakdown.quantities import show_pressure

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
_SLOW_TO_SETTLE_S = 12.0  # gas alone takes 0.5 to 5 s in a small metal crankcase (common practice)
_DRIFT_LOOKALIKE_PA_MIN = 500.0  # a kelvin a minute at 150 kPa absolute


OF_THE_SIZE = frozenset(
    {"levels-off", "step", "fast-leak", "leak-shrinks", "leak-grows", "quoted-outside", "creep", "no-fit"}
    | {"temperature-drift-possible", "not-settled", "several-holds", "too-short"}
    | {"volume-unknown", "volume-uncertainty-unknown"}
)
"""Doubts about the size of a leak: no doubts where air is meant to pass, which is judged otherwise."""


def all_flags(seen: FlagInputs, of_leak: bool = True) -> tuple[Flag, ...]:
    """Every flag that applies, the gravest first; those of the size only `of_leak`."""
    found = (
        *_about_shape(seen),
        *_about_events(seen),
        *_about_hold(seen),
        *about_gauge(seen),
        *_about_leak(seen),
        *_about_inputs(seen),
    )
    return tuple(flag for flag in found if of_leak or flag.code not in OF_THE_SIZE)


def _about_shape(seen: FlagInputs) -> list[Flag]:
    flags = []
    if not seen.converged and seen.window.frozen_s is None:
        flags.append(
            Flag(
                "no-fit",
                "No leak model fits this hold, so no size is given. Check the chart for steps "
                "and repeat the test, or choose the part to use with --hold START..END.",
            )
        )
    if seen.rising_sigmas > 4.0:
        flags.append(
            Flag(
                "pressure-rises",
                "The reading moved away from zero during the hold: fuel vapour, a part "
                "warming up or a drifting gauge, never a leak. Let it cool, dry it, repeat.",
            )
        )
    if seen.odd is None:
        return flags
    unit = seen.recording.conditions.show_unit
    if seen.odd.name == "step":
        flags.append(
            Flag(
                "step",
                f"The reading jumped by {show_pressure(seen.odd.size, unit)} at "
                f"{seen.odd.time_s:.0f} s: a plug or hose moved, or the crank was turned. "
                "Reseat the blanks and repeat.",
            )
        )
        return flags
    name = seen.odd.name
    if name == "growth":
        name = "growth-up" if seen.odd.size > 0 else "growth-down"
    code, text = ODD_SHAPES[name]
    opening = seen.leak.opening_pa if seen.leak else None
    level = show_pressure(opening, unit) if opening is not None else "the end pressure"
    vapour = VAPOUR if seen.recording.direction == "vacuum" else ""
    flags.append(Flag(code, text.format(level=level, vapour=vapour)))
    return flags


def _about_events(seen: FlagInputs) -> list[Flag]:
    flags = []
    unit = seen.recording.conditions.show_unit
    for step in seen.window.steps:
        flags.append(
            Flag(
                "step",
                f"The reading jumped by {show_pressure(step.change_pa, unit)} at {step.time_s:.0f} s "
                "(a plug slipped, the hose was touched, the crank turned?). Only the longest "
                "undisturbed part was used; repeat the test if you can.",
            )
        )
    if seen.window.parted_at is not None:
        mark = seen.window.parted_at
        flags.append(
            Flag(
                "split-at-mark",
                f"The decay changed after {mark.time_s:.0f} s ({mark.text}): sized as it was before.",
            )
        )
    if seen.window.fell_from_pa is not None:
        high, low = (show_pressure(p, unit) for p in (seen.window.fell_from_pa, abs(seen.hold.start_pa)))
        flags.append(
            Flag(
                "fell-before-hold",
                f"Just before the hold the reading fell from {high} to {low}: let out by hand, or something "
                f"opens above {low}. Nothing is known of the leak above that.",
            )
        )
    if seen.window.several:
        flags.append(
            Flag(
                "several-holds",
                "The recording contains more than one hold; the longest was used. "
                "Choose another with --hold START..END.",
            )
        )
    return flags


def _about_hold(seen: FlagInputs) -> list[Flag]:
    flags = []
    settling_s = seen.hold.start_s - seen.hold.closed_s
    if settling_s > _SLOW_TO_SETTLE_S and seen.odd is None:
        flags.append(
            Flag(
                "creep",
                f"The pressure took {settling_s:.0f} s to settle: hose, rubber or warm parts giving way. "
                "Its part was taken off the leak; stiffer hose or a longer wait would be surer.",
            )
        )
    if not seen.settled:
        flags.append(
            Flag(
                "not-settled",
                "The pressure was still settling at the end of the hold (warm gas, soft hose). "
                "Wait longer after closing the valve, then hold longer.",
            )
        )
    if seen.hold.readings == 2:
        flags.append(
            Flag(
                "few-readings",
                "Only two readings: the interval is wide because nothing checks them. "
                "Write down the pressure every 10 s.",
            )
        )
    elif seen.hold.readings < 5:
        flags.append(
            Flag(
                "few-readings", f"Only {seen.hold.readings} readings: more of them would narrow the interval."
            )
        )
    return flags


def _nothing_seen(seen: FlagInputs, leak: LeakEstimate) -> list[Flag]:
    """No loss: the connection has still to be proven, and the test may have been too short to see one."""
    flags = [
        Flag(
            "connection-not-proven",
            "No loss was seen for certain. A kinked hose, a shut valve or a frozen gauge looks the same: "
            "crack a blank open at the end and see the reading fall, or count the pump strokes.",
        )
    ]
    least = leak.detection_rate_pa_s * 60.0
    if least > 0.1 * abs(seen.hold.start_pa):
        smallest = show_pressure(least, seen.recording.conditions.show_unit)
        text = f"Only a loss above {smallest} a minute would have shown. Hold longer, or use a finer gauge."
        flags.append(Flag("too-short", text))
    return flags


def _about_leak(seen: FlagInputs) -> list[Flag]:
    flags: list[Flag] = []
    if seen.leak is None:
        return flags
    if not seen.leak.detected and seen.rising_sigmas <= 4.0:
        flags.extend(_nothing_seen(seen, seen.leak))
    steady = seen.temperature_range_k is None and seen.leak.detected
    if steady and (seen.leak.rate_pa_s.value or 0.0) * 60.0 < _DRIFT_LOOKALIKE_PA_MIN:
        flags.append(
            Flag(
                "temperature-drift-possible",
                "So small a loss is also what a degree a minute of cooling or warming would do. "
                "Let the engine come to room temperature and repeat, or log the temperature.",
            )
        )
    if seen.fast:
        flags.append(
            Flag(
                "fast-leak",
                "The circuit empties about as fast as its gas changes temperature; the interval "
                "includes what the readings cannot separate. Log at 10 readings a second or more.",
            )
        )
    highest, unit = abs(seen.hold.start_pa), seen.recording.conditions.show_unit
    if highest < 0.8 * seen.quote_pa:
        flags.append(
            Flag(
                "quoted-outside",
                f"The leak is quoted at {show_pressure(seen.quote_pa, unit)} but the test only reached "
                f"{show_pressure(highest, unit)}: quote it nearer with --quote-at.",
            )
        )
    return flags


def _about_inputs(seen: FlagInputs) -> list[Flag]:
    flags = []
    used = seen.used
    if used.volume_m3.value is None:
        flags.append(
            Flag(
                "volume-unknown",
                "No volume given: no leak rate or hole size. Measure it (leakdown volume) and "
                'give it, for example --volume "250 cm3".',
            )
        )
    elif used.volume_u_m3.value is None:
        flags.append(
            Flag(
                "volume-uncertainty-unknown",
                'The interval takes the volume as exact. Give its doubt with --volume-uncertainty "10 %".',
            )
        )
    if used.barometer_pa.source == "assumed":
        flags.append(
            Flag(
                "ambient-assumed",
                "Barometer assumed at 101.325 kPa (sea level); the interval allows for places up to "
                "1500 m. Give --barometer (station pressure, not the weather report's) or --altitude.",
            )
        )
    if not seen.circuit_given:
        flags.append(Flag("circuit-assumed", "Taken for a crankcase test; say otherwise with --circuit."))
    if used.resolution_pa.source == "inferred" and (
        seen.recording.by_hand or (used.resolution_pa.value or 0.0) > 300.0
    ):
        unit = seen.recording.conditions.show_unit
        flags.append(
            Flag(
                "resolution-assumed",
                f"Readings taken as rounded to {show_pressure(used.resolution_pa.value or 0.0, unit)}; "
                "give --resolution if the gauge was read finer or coarser.",
            )
        )
    if seen.temperature_range_k is None:
        if used.temperature_k.source == "assumed":
            flags.append(
                Flag(
                    "temperature-assumed",
                    "Temperature assumed at 20 degC and steady: one degree during the hold "
                    "is about 0.5 kPa. Test a cold engine.",
                )
            )
    elif seen.temperature_range_k > 0.5:
        flags.append(
            Flag(
                "temperature-drift",
                f"The temperature moved by {seen.temperature_range_k:.1f} K during the hold; "
                "the readings were corrected with the temperature column. Repeat when it is steady.",
            )
        )
    return flags
