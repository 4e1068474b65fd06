"""The test that is planned: gauge, limit, circuit and air, with what is usual filled in."""

from __future__ import annotations

import math
from dataclasses import dataclass

from leakdown.analysis import Limit
from leakdown.circuits import Direction, circuit_named
from leakdown.circuits import circuit as circuit_of
from leakdown.errors import UsageError
from leakdown.judge.limits import limit_for, parse_limit
from leakdown.judge.settings import DEFAULT_QUOTE_PA
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K
from leakdown.settings import ShopSettings
from leakdown.tuned import tuned

_T = tuned("prepare")


@dataclass(frozen=True)
class PlannedTest:
    """The test that is planned: SI units; pressures are gauge magnitudes except the barometer (absolute).

    start_pa: what it is pumped to. every_s: time between readings.
    """

    volume_m3: float
    limit: Limit
    resolution_pa: float
    start_pa: float
    every_s: float
    direction: Direction
    circuit: str
    barometer_pa: float
    temperature_k: float
    volume_u_m3: float | None
    quote_pa: float = DEFAULT_QUOTE_PA

    @property
    def tops_up(self) -> bool:
        """Goes through the steps of `circuits.procedure` before it is held."""
        way = circuit_of(self.circuit).way(self.direction)
        return way is None or way.tops_up

    @property
    def inward(self) -> bool:
        """Air flows in: a vacuum test."""
        return self.direction == "vacuum"

    @property
    def sign(self) -> float:
        """Of the gauge pressure."""
        return -1.0 if self.inward else 1.0

    @property
    def needle(self) -> bool:
        """A gauge read no finer than this is a needle, read by a person."""
        return bool(self.resolution_pa >= _T.needle_from_pa)

    @property
    def by_hand(self) -> bool:
        """Read so slowly that the readings are written on a sheet."""
        return bool(self.every_s > _T.by_hand_above_s)


def planned_test(
    *,
    volume_m3: float,
    resolution_pa: float,
    limit: str | Limit | None = None,
    circuit: str = "crankcase",
    direction: Direction = "pressure",
    every_s: float | None = None,
    start_pa: float | None = None,
    barometer_pa: float | None = None,
    temperature_k: float | None = None,
    volume_u_m3: float | None = None,
    shop: ShopSettings | None = None,
) -> PlannedTest:
    """The test with limit, start pressure, reading interval and air filled in; arguments as those of `plan`.

    Raises UsageError, naming the value.
    """
    check_above_zero(volume_m3=volume_m3, volume_u_m3=volume_u_m3, resolution_pa=resolution_pa)
    check_above_zero(every_s=every_s, start_pa=start_pa)
    _check_within("barometer_pa", barometer_pa, 30e3, 120e3, "Pa, absolute")
    _check_within("temperature_k", temperature_k, 200.0, 400.0, "K")
    if direction not in ("pressure", "vacuum"):
        raise UsageError(f"direction = {direction!r}", remedy="Say pressure or vacuum.")
    circuit = circuit_named(circuit)
    agreed = parse_limit(limit) if isinstance(limit, str) else limit or limit_for(circuit, direction, shop)
    if agreed is None:
        raise UsageError(
            f"no limit is usual for {circuit} under {direction}", remedy='Give one, such as "7 kPa in 60 s".'
        )
    usual_s = _T.every_by_hand_s if resolution_pa >= _T.needle_from_pa else _T.every_by_logger_s
    test = PlannedTest(
        volume_m3=volume_m3,
        limit=agreed,
        resolution_pa=resolution_pa,
        start_pa=start_pa or _usual_start_pa(agreed, circuit, direction),
        every_s=every_s or usual_s,
        direction=direction,
        circuit=circuit,
        barometer_pa=barometer_pa or ATMOSPHERE_PA,
        temperature_k=temperature_k or REFERENCE_TEMPERATURE_K,
        volume_u_m3=volume_u_m3,
    )
    _check_possible(test)
    return test


def _usual_start_pa(limit: Limit, circuit: str, direction: Direction) -> float:
    """The circuit's usual pressure, or a little more than the limit's own, so that the hold falls through."""
    usual = circuit_of(circuit).target_pa(direction) or 1e3 * _T.start_kpa
    return float(max(usual, _T.start_above_limit * (limit.start_pa or 0.0)))


def check_above_zero(**values: float | None) -> None:
    """Raises UsageError, naming the first that is not; None is not given."""
    for name, value in values.items():
        if value is not None and not 0.0 < value < math.inf:
            raise UsageError(f"{name} = {value:g} is not above zero", remedy="Give a number above zero, in SI.")


def _check_within(name: str, value: float | None, low: float, high: float, unit: str) -> None:
    if value is not None and not low <= value <= high:
        raise UsageError(f"{name} = {value:g} is outside {low:g} to {high:g} {unit}", remedy="Check the unit.")


def _check_possible(test: PlannedTest) -> None:
    limit, start = test.limit, test.start_pa
    if limit.kind == "drop" and limit.start_pa is None and limit.drop_pa >= start:
        raise UsageError(
            f"the limit allows more than the {start / 1e3:g} kPa there are",
            remedy="Give a start pressure or another limit.",
        )
    if test.inward and start >= test.barometer_pa:
        raise UsageError(
            f"a vacuum of {start / 1e3:g} kPa is more than the air's {test.barometer_pa / 1e3:g}",
            remedy="Check the limit's start pressure and the barometer.",
        )
    if test.resolution_pa > 0.5 * start:
        what = "the gauge's step is more than half of the test pressure"
        raise UsageError(what, remedy="Check the resolution.")
