"""The volume under test with its interval, three ways: a bottle, a syringe, the engine's dimensions."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from leakdown.errors import UsageError
from leakdown.physics.volume import by_bottle_m3, by_syringe_m3, crankcase_at_bottom_m3, swept_m3
from leakdown.uncertainty import Interval, Propagated, Written, assumed, propagate

Ports = Literal["open", "closed"]

# Common practice, no source.
_CLEARANCE_SHARE = 0.12  # of the swept volume, where the clearance is not given ...
_CLEARANCE_HALF = 0.06  # ... with this 95 % half-width: trapped compression 6 to 12
_RATIO_HALF = 0.05  # doubt (95 %) of a printed crankcase compression ratio

RIG_IN_TEST = (
    "The rig's volume IS included: hoses and gauge that were connected are part of what was measured."
)


@dataclass(frozen=True)
class SizedVolume:
    """A volume (m3, 95 %) with how it came about.

    formula: the sum with its numbers, to check by hand. rig: whether the rig's volume is in it.
    inputs: what went in and where each doubt comes from. parts: signed share of each input in `u_m3`.
    """

    method: str
    volume_m3: Interval
    u_m3: float
    formula: str
    rig: str
    inputs: tuple[Written, ...]
    parts: tuple[tuple[str, float], ...]
    warnings: tuple[str, ...] = ()


def by_bottle(bottle: Written, before: Written, after: Written) -> SizedVolume:
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


def by_syringe(injected: Written, rise: Written, barometer: Written) -> SizedVolume:
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
    warnings = (
        *_about_boyle(found),
        "The gauge's own error of scale enters in full; with a bottle it drops out.",
    )
    return _sized("syringe", found, formula, RIG_IN_TEST, inputs, warnings)


@dataclass(frozen=True)
class Engine:
    """Dimensions of one cylinder and its crankcase; `clearance` and `rig` None when not given."""

    bore: Written
    stroke: Written
    crankcase_ratio: Written
    clearance: Written | None = None
    rig: Written | None = None
    ports: Ports = "open"


def ratio_as_printed(value: float) -> Written:
    """A crankcase compression ratio with the doubt of a printed one. Raises UsageError outside 1.1 to 3."""
    if not 1.1 <= value <= 3.0:
        raise UsageError(
            f"crankcase ratio {value:g} is outside 1.1 to 3",
            remedy="Give (crankcase at bottom + swept) / crankcase at bottom; 1.3 to 1.5 is usual.",
        )
    note = f"crankcase ratio {value:g}, assumed good to {_RATIO_HALF:g} (95 %)"
    return assumed("crankcase ratio", value, min(_RATIO_HALF, 0.4 * (value - 1.0)), note)


def by_engine(engine: Engine) -> SizedVolume:
    """Crankcase, and with a transfer port open cylinder too, from bore, stroke and crankcase ratio.

    Open: crankcase at bottom + swept + clearance, the same at every crank angle. Closed: the crankcase
    alone, which grows by up to the swept volume as the piston rises: the interval spans that.
    """
    for size, most in ((engine.bore, 0.2), (engine.stroke, 0.2)):
        if not 0.005 <= size.value <= most:
            raise UsageError(
                f"{size.name} of {size.value * 1e3:g} mm is outside 5 to 200 mm", remedy="Check the unit."
            )
    swept = swept_m3(engine.bore.value, engine.stroke.value)
    rig = engine.rig or Written("rig", 0.0, 0.0, "given", "")
    third = _third(engine, swept)
    inputs = (engine.bore, engine.stroke, engine.crankcase_ratio, third, rig)
    found = propagate(_open_m3 if engine.ports == "open" else _closed_m3, inputs)
    case = crankcase_at_bottom_m3(swept, engine.crankcase_ratio.value)
    formula = (
        f"swept = pi/4 bore^2 stroke = {_cm3(swept)}; "
        f"crankcase at bottom = swept / (ratio - 1) = {_cm3(case)}"
    )
    if engine.ports == "open":
        formula += f"; + swept + clearance {_cm3(third.value)}"
    else:
        formula += f"; + {_cm3(third.value * swept)} for the piston (none at bottom, {_cm3(swept)} at top)"
    if engine.rig:
        formula += f" + rig {_cm3(rig.value)}"
    formula += f" = {_cm3(found.value)}"
    used = inputs if engine.rig else inputs[:-1]
    return _sized(
        f"engine, ports {engine.ports}", found, formula, _rig_words(engine), used, _about_engine(engine)
    )


def _third(engine: Engine, swept: float) -> Written:
    """The one number that only one of the two cases has: clearance (open), the piston's place (closed)."""
    if engine.ports == "closed":
        why = "crank angle unknown: the piston may be anywhere between bottom and top"
        return Written("piston place", 0.5, 1.0 / math.sqrt(12.0), "assumed", why)
    if engine.clearance is not None:
        return engine.clearance
    why = f"clearance not given, assumed {_cm3(_CLEARANCE_SHARE * swept)} (12 % of swept, common practice)"
    return assumed("clearance", _CLEARANCE_SHARE * swept, _CLEARANCE_HALF * swept, why)


def _open_m3(bore: float, stroke: float, ratio: float, clearance: float, rig: float) -> float:
    swept = swept_m3(bore, stroke)
    return crankcase_at_bottom_m3(swept, ratio) + swept + clearance + rig


def _closed_m3(bore: float, stroke: float, ratio: float, place: float, rig: float) -> float:
    swept = swept_m3(bore, stroke)
    return crankcase_at_bottom_m3(swept, ratio) + place * swept + rig


def _rig_words(engine: Engine) -> str:
    if engine.rig is None:
        return "The rig's volume is NOT included: add hoses and gauge (12 cm3 is usual), or give --rig."
    return f"The rig's volume IS included: {_cm3(engine.rig.value)}, as given."


def _about_engine(engine: Engine) -> tuple[str, ...]:
    lines = [
        "One cylinder. Ducts and an intake tract that stay connected are not in it; measuring with a bottle "
        "is better than reckoning."
    ]
    if engine.ports == "closed":
        lines.append(
            "With the ports closed it depends on the crank angle; never turn the crank under pressure."
        )
    return tuple(lines)


def _about_boyle(found: Propagated) -> tuple[str, ...]:
    lines = ["Wait until the reading stands (some 10 s) before writing it down: moved gas is warm or cold."]
    if found.u / found.value > 0.1:
        name = max(found.parts, key=lambda part: abs(part[1]))[0]
        lines.append(
            f"The doubt is over 20 %, most of it from {name}: a finer reading or a bigger step helps."
        )
    return tuple(lines)


def _sized(
    method: str,
    found: Propagated,
    formula: str,
    rig: str,
    inputs: tuple[Written, ...],
    warnings: tuple[str, ...],
) -> SizedVolume:
    return SizedVolume(method, found.interval, found.u, formula, rig, inputs, found.parts, warnings)


def _cm3(volume_m3: float) -> str:
    return f"{volume_m3 * 1e6:.4g} cm3"
