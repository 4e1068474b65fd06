"""A bench from what is known of the planned test, with what common practice assumes for the rest."""

from __future__ import annotations

from leakdown.analysis import Limit
from leakdown.errors import UsageError
from leakdown.estimate.limits import practice, practice_limit
from leakdown.planning.rehearsal import Bench
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K
from leakdown.recording import Direction

_ABOVE_LIMIT = 1.05  # start this much above the limit's start, so that the hold falls through it
_NEEDLE_FROM_PA = 500.0  # a gauge read no finer than this is a needle, read by a person
_BY_HAND_S, _BY_LOGGER_S = 10.0, 1.0


def bench_for(
    volume_m3: float,
    resolution_pa: float,
    limit: Limit | None = None,
    circuit: str = "crankcase",
    direction: Direction = "pressure",
    every_s: float | None = None,
    start_pa: float | None = None,
    barometer_pa: float | None = None,
    temperature_k: float | None = None,
    volume_u_m3: float | None = None,
) -> Bench:
    """Fill in the start pressure, the reading interval and the air. Raises UsageError without any limit."""
    limit = limit or practice_limit(circuit, direction)
    if limit is None:
        raise UsageError(
            f"no limit is usual for {circuit} under {direction}",
            remedy='Give --limit, such as "7 kPa in 60 s".',
        )
    target = 1e3 * float(practice().get(circuit, {}).get(direction, {}).get("target_kpa", 40.0))
    start = start_pa or max(target, _ABOVE_LIMIT * (limit.start_pa or 0.0))
    if limit.kind == "drop" and limit.start_pa is None and limit.drop_pa >= start:
        raise UsageError(
            f"the limit allows more than the {start / 1e3:g} kPa there are",
            remedy="Give --start or another limit.",
        )
    if every_s is None:
        every_s = _BY_HAND_S if resolution_pa >= _NEEDLE_FROM_PA else _BY_LOGGER_S
    if every_s <= 0.0:
        raise UsageError("--every must be above zero", remedy='Give it as "10 s".')
    return Bench(
        volume_m3=volume_m3,
        limit=limit,
        resolution_pa=resolution_pa,
        start_pa=start,
        every_s=every_s,
        direction=direction,
        circuit=circuit,
        barometer_pa=barometer_pa or ATMOSPHERE_PA,
        barometer_known=barometer_pa is not None,
        temperature_k=temperature_k or REFERENCE_TEMPERATURE_K,
        volume_u_m3=volume_u_m3,
    )
