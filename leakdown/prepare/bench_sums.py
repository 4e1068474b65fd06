"""Sums of the bench, each with its uncertainty: the volume under test by a bottle, a syringe or the engine's
dimensions, and, for several cylinders, what leaks past the centre seal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from leakdown.errors import UsageError
from leakdown.physics.volume import by_bottle_m3, by_syringe_m3, crankcase_at_bottom_m3, swept_m3
from leakdown.quantities import ATMOSPHERE_PA
from leakdown.tuned import tuned
from leakdown.uncertainty import InputQuantity, Interval, Propagated, assumed, propagate, read_input

Ports = Literal["open", "closed"]

_T = tuned("prepare")
RIG_IN_TEST = "The rig's volume IS included: hoses and gauge that were connected are part of what was measured."


_ABOUT_ENGINES = (
    "One cylinder. Ducts and an intake tract that stay connected are not in it; measuring with a bottle "
    "is better than reckoning.",
    "With the ports closed it depends on the crank angle; never turn the crank under pressure.",
)


@dataclass(frozen=True)
class SizedVolume:
    """A volume (m3, 95 %) with how it came about.

    formula: the sum with its numbers, to check by hand. rig: whether the rig's volume is in it.
    inputs: what went in and where each uncertainty comes from. parts: signed share of each input in `u_m3`.
    """

    method: str
    volume_m3: Interval
    u_m3: float
    formula: str
    rig: str
    inputs: tuple[InputQuantity, ...]
    parts: tuple[tuple[str, float], ...]
    warnings: tuple[str, ...]


def by_bottle(bottle: InputQuantity, before: InputQuantity, after: InputQuantity) -> SizedVolume:
    """A bottle of known volume at gauge pressure `before` is opened into the circuit at ambient.

    Raises UsageError when the pressures cannot belong to such a test.
    """
    if before.value * after.value <= 0.0 or abs(after.value) >= abs(before.value):
        raise UsageError(
            f"the bottle went from {before.value / 1e3:g} to {after.value / 1e3:g} kPa: opened into an empty "
            "circuit it must fall, and stay on the same side of zero",
            remedy="Read both as gauge pressures, with the circuit open to air before.",
        )
    inputs = (bottle, before, after)
    found = propagate(by_bottle_m3, inputs)
    formula = (
        f"V = bottle x (before / after - 1) = {_cm3(bottle.value)} x "
        f"({before.value / 1e3:g} / {after.value / 1e3:g} - 1) = {_cm3(found.value)}"
    )
    return _sized("bottle", found, formula, RIG_IN_TEST, inputs, _about_boyle(found))


def by_syringe(injected: InputQuantity, rise: InputQuantity, barometer: InputQuantity) -> SizedVolume:
    """Ambient air pushed in from a syringe raises the pressure by `rise` (the syringe ends up empty)."""
    if rise.value <= 0.0 or rise.value > 3.0 * barometer.value:
        raise UsageError(
            f"a rise of {rise.value / 1e3:g} kPa tells no volume",
            remedy="Push ambient air in and give the rise that stays after a few seconds.",
        )
    inputs = (injected, rise, barometer)
    found = propagate(by_syringe_m3, inputs)
    formula = (
        f"V = barometer x injected / rise = {barometer.value / 1e3:g} x {_cm3(injected.value)} / "
        f"{rise.value / 1e3:g} = {_cm3(found.value)}"
    )
    warnings = (*_about_boyle(found), "The gauge's own error of scale enters in full; with a bottle it drops out.")
    return _sized("syringe", found, formula, RIG_IN_TEST, inputs, warnings)


def assumed_barometer(station_pa: float | None) -> InputQuantity:
    """The barometer when only the altitude's pressure (Pa, absolute) or nothing is known."""
    if station_pa:
        why = "barometer from the altitude, weather +/- 3 %"
    else:
        station_pa, why = ATMOSPHERE_PA, "barometer assumed 101.325 kPa +/- 3 %"
    return assumed("barometer", station_pa, _T.weather_half * station_pa, why)


@dataclass(frozen=True)
class Engine:
    """Dimensions of one cylinder and its crankcase; `clearance` and `rig` None when not given."""

    bore: InputQuantity
    stroke: InputQuantity
    crankcase_ratio: InputQuantity
    clearance: InputQuantity | None = None
    rig: InputQuantity | None = None
    ports: Ports = "open"


def crankcase_ratio(text: str) -> InputQuantity:
    """A crankcase compression ratio, "1.45" or "1.45 +/- 0.02". Raises UsageError outside 1.1 to 3."""
    name = "crankcase ratio"

    def number(piece: str, _: str = "") -> float:
        return float(piece.replace(",", "."))

    value, *given = (piece.strip() for piece in text.split("+/-"))
    try:
        ratio = number(value)
        if not 1.1 <= ratio <= 3.0:
            raise UsageError(
                f"{name} {ratio:g} is outside 1.1 to 3",
                remedy="Give (crankcase at bottom + swept) / crankcase at bottom; 1.3 to 1.5 is usual.",
            )
        if given:
            return read_input(text, name, number)
    except ValueError as error:
        raise UsageError(f"{name}: {text!r} is no number", remedy="Write it as 1.45.") from error
    half = _T.printed_ratio_half
    note = f"{name} {ratio:g}, assumed good to {half:g} (95 %)"
    return assumed(name, ratio, min(half, 0.4 * (ratio - 1.0)), note)


def by_engine(engine: Engine) -> SizedVolume:
    """Crankcase, and with a transfer port open cylinder too, from bore, stroke and crankcase ratio.

    Open: crankcase at bottom + swept + clearance, the same at every crank angle. Closed: the crankcase
    alone, which grows by up to the swept volume as the piston rises: the interval spans that.
    """
    for size in (engine.bore, engine.stroke):
        if not 0.005 <= size.value <= 0.2:
            raise UsageError(f"{size.name} of {size.value * 1e3:g} mm is outside 5 to 200 mm", remedy="Check the unit.")
    closed = engine.ports == "closed"

    def volume_m3(bore: float, stroke: float, ratio: float, third: float, rig: float) -> float:
        swept = swept_m3(bore, stroke)
        case = crankcase_at_bottom_m3(swept, ratio)
        return (case + third * swept if closed else case + swept + third) + rig

    swept = swept_m3(engine.bore.value, engine.stroke.value)
    third = _piston_place() if closed else engine.clearance or _usual_clearance(swept)
    rig = engine.rig or InputQuantity("rig", 0.0, 0.0, "given", "")
    inputs = (engine.bore, engine.stroke, engine.crankcase_ratio, third, rig)
    found = propagate(volume_m3, inputs)
    case = crankcase_at_bottom_m3(swept, engine.crankcase_ratio.value)
    formula = (
        f"swept = pi/4 bore^2 stroke = {_cm3(swept)}; crankcase at bottom = swept / (ratio - 1) = {_cm3(case)}; + "
    )
    if closed:
        formula += f"{_cm3(third.value * swept)} for the piston (none at bottom, {_cm3(swept)} at top)"
    else:
        formula += f"swept + clearance {_cm3(third.value)}"
    formula += (f" + rig {_cm3(rig.value)}" if engine.rig else "") + f" = {_cm3(found.value)}"
    rig_words = "The rig's volume is NOT included: add hoses and gauge (12 cm3 is usual), or give --rig."
    if engine.rig:
        rig_words = f"The rig's volume IS included: {_cm3(rig.value)}, as given."
    used = inputs if engine.rig else inputs[:-1]
    warnings = _ABOUT_ENGINES if closed else _ABOUT_ENGINES[:1]
    return _sized(f"engine, ports {engine.ports}", found, formula, rig_words, used, warnings)


def _piston_place() -> InputQuantity:
    why = "crank angle unknown: the piston may be anywhere between bottom and top"
    return InputQuantity("piston place", 0.5, 1.0 / math.sqrt(12.0), "assumed", why)


def _usual_clearance(swept: float) -> InputQuantity:
    share, half = _T.clearance_share * swept, _T.clearance_half * swept
    percent = f"{100 * _T.clearance_share:g} % of swept, common practice"
    return assumed("clearance", share, half, f"clearance not given, assumed {_cm3(share)} ({percent})")


def _about_boyle(found: Propagated) -> tuple[str, ...]:
    lines = ["Wait until the reading stands (some 10 s) before writing it down: moved gas is warm or cold."]
    if found.u / found.value > _T.notable_u_share:
        name = max(found.parts, key=lambda part: abs(part[1]))[0]
        lines.append(f"The doubt is over 20 %, most of it from {name}: a finer reading or a bigger step helps.")
    return tuple(lines)


def _sized(
    method: str, found: Propagated, formula: str, rig: str, inputs: tuple[InputQuantity, ...], warnings: tuple[str, ...]
) -> SizedVolume:
    return SizedVolume(method, found.interval, found.u, formula, rig, inputs, found.parts, warnings)


def _cm3(volume_m3: float) -> str:
    return f"{volume_m3 * 1e6:.4g} cm3"


@dataclass(frozen=True)
class CentreSeal:
    """Throughput past the centre seal (Pa m3/s, 95 %); share: of the whole leak, if that is known."""

    throughput_pa_m3_s: Interval
    share: Interval | None
    formula: str
    notes: tuple[str, ...]


def centre_seal(
    rise: InputQuantity, time: InputQuantity, volume: InputQuantity, test_pa: float, whole_leak: Interval | None = None
) -> CentreSeal:
    """From the neighbour's rise (Pa) in a time (s) and its volume (m3): q = V_2 dp_2/dt.

    The neighbour is closed and at ambient at first; what it gains came through the seal between them, not
    from outside. Valid while it stays near ambient, and for a neighbour that is itself tight: otherwise the
    figure is a lower bound. Raises UsageError for no rise.
    """
    if rise.value * test_pa <= 0.0 or time.value <= 0.0:
        raise UsageError(
            "the neighbour's reading must move the way of the tested cylinder's pressure",
            remedy="A neighbour that does not move has a tight centre seal (within the gauge's step).",
        )
    found = propagate(lambda p, t, v: abs(p) * v / t, (rise, time, volume))
    notes = ["This part of the loss goes to the neighbour; it is not air drawn from outside."]
    if abs(rise.value) > _T.neighbour_near_ambient * abs(test_pa):
        notes.append("The neighbour rose by more than a tenth of the test pressure: the seal leaks more than this.")
    share = None
    if whole_leak is not None and whole_leak.value:
        ratio = found.value / whole_leak.value
        share = Interval(ratio, found.interval.low / whole_leak.high, found.interval.high / max(whole_leak.low, 1e-12))
    formula = (
        f"q = V2 dp2/dt = {volume.value * 1e6:.4g} cm3 x {abs(rise.value) / 1e3:.3g} kPa / {time.value:g} s "
        f"= {found.value:.3g} Pa m3/s"
    )
    return CentreSeal(found.interval, share, formula, tuple(notes))
