"""Rehearse a test before it is run: simulated holds with this gauge, judged as the real one will be."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Analysis, Limit
from leakdown.circuits import Direction
from leakdown.circuits import circuit as circuit_of
from leakdown.errors import UsageError
from leakdown.judge.limits import practice_limit
from leakdown.judge.settings import DEFAULT_QUOTE_PA, Settings
from leakdown.judge.tightness import analysed_hold
from leakdown.physics.balance import Leak, settled_pressure, throughput_per_volume
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K
from leakdown.recording import Conditions, Recording

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
    target = circuit_of(circuit).target_pa(direction) or 40e3
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


Array = NDArray[np.float64]
_SCATTER = 0.25  # of the resolution, the most that a reading's standard deviation is before rounding
_VISCOUS_SHARES = (0.5, 0.0, 1.0)
_DENSE_EVERY_S, _SHEET_BELOW = 2.0, 60  # slower, or fewer readings: a sheet, as a file of them would be read


@dataclass(frozen=True)
class Bench:
    """The test that is planned: SI units; pressures are gauge magnitudes except the barometer (absolute).

    start_pa: what it is pumped to. every_s: time between readings. barometer_known: False when its value is
    only assumed, as the analysis will then have to.
    """

    volume_m3: float
    limit: Limit
    resolution_pa: float
    start_pa: float
    every_s: float = 10.0
    direction: Direction = "pressure"
    circuit: str = "crankcase"
    barometer_pa: float = ATMOSPHERE_PA
    barometer_known: bool = False
    temperature_k: float = REFERENCE_TEMPERATURE_K
    volume_u_m3: float | None = None
    quote_pa: float = DEFAULT_QUOTE_PA

    @property
    def inward(self) -> bool:
        """Air flows in: a vacuum test."""
        return self.direction == "vacuum"

    @property
    def sign(self) -> float:
        """Of the gauge pressure."""
        return -1.0 if self.inward else 1.0


@lru_cache(maxsize=64)
def limit_leak(bench: Bench, viscous_share: float = 0.5) -> Leak:
    """The leak that loses exactly what the limit allows, with that share of weep at the quoted pressure."""
    unit = _unit_leak(bench, viscous_share)
    limit = bench.limit
    if limit.kind == "rate":
        at_gas = limit.rate_pa_m3_s * bench.temperature_k / REFERENCE_TEMPERATURE_K
        return _times(unit, at_gas / bench.volume_m3)
    start = limit.start_pa or bench.start_pa
    low, high = 1e-3, 1e6  # Pa/s at the quoted pressure
    for _ in range(60):
        middle = (low * high) ** 0.5
        if lost_pa(bench, _times(unit, middle), start, limit.time_s) < limit.drop_pa:
            low = middle
        else:
            high = middle
    return _times(unit, (low * high) ** 0.5)


def lost_pa(bench: Bench, leak: Leak, start_pa: float, time_s: float) -> float:
    """Loss of gauge pressure (magnitude) in `time_s` from `start_pa`, gas at rest."""
    opened = bench.barometer_pa + bench.sign * start_pa
    end = settled_pressure(np.array([time_s]), leak, bench.inward, opened)[0]
    return float(start_pa - abs(end - bench.barometer_pa))


def rate_pa_s(bench: Bench, leak: Leak) -> float:
    """Loss rate of the leak at the quoted pressure."""
    at = np.array([bench.barometer_pa + bench.sign * bench.quote_pa])
    return float(throughput_per_volume(at, leak, bench.inward)[0])


def rehearsed(bench: Bench, size: float, hold_s: float, seed: int) -> Analysis:
    """One simulated test of `size` times the limit's leak, analysed. `size` 0 is a tight circuit.

    Raises InputError for a hold that cannot be analysed, such as a single reading.
    """
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, hold_s + 1e-6, bench.every_s)
    start = bench.start_pa + rng.uniform(-0.5, 0.5) * bench.resolution_pa
    scatter = max(rng.uniform(-_SCATTER, _SCATTER), 0.0) * bench.resolution_pa  # half of them: rounding alone
    leak = _times(limit_leak(bench, _VISCOUS_SHARES[seed // 2 % len(_VISCOUS_SHARES)]), size)
    opened = bench.barometer_pa + bench.sign * start
    path = settled_pressure(time_s, leak, bench.inward, opened) if size else np.full_like(time_s, opened)
    true = path - bench.barometer_pa
    read = true + rng.normal(0.0, scatter, time_s.size)
    read = np.round(read / bench.resolution_pa) * bench.resolution_pa
    recording = _recorded(bench, time_s, read, seed)
    return analysed_hold(recording, Settings(quote_pa=bench.quote_pa, limit=bench.limit)).analysis


def _recorded(bench: Bench, time_s: Array, pressure_pa: Array, seed: int) -> Recording:
    """What the analysis is told; one file of slow readings in four says that a person read them.

    The barometer is told when it is known; on a log always, which is hardly less sure without and costs
    as much again.
    """
    slow = bench.every_s > _DENSE_EVERY_S
    conditions = Conditions(
        circuit=bench.circuit,
        direction=bench.direction,
        volume_m3=bench.volume_m3,
        volume_u_m3=bench.volume_u_m3,
        barometer_pa=None if slow and not bench.barometer_known else bench.barometer_pa,
        temperature_k=bench.temperature_k,
        resolution_pa=bench.resolution_pa,
    )
    by_hand = time_s.size < _SHEET_BELOW if not slow else seed % 4 == 0
    return Recording(time_s, pressure_pa, conditions=conditions, by_hand=by_hand, source="rehearsal")


def _unit_leak(bench: Bench, viscous_share: float) -> Leak:
    """Part weep, part hole, losing 1 Pa/s at the quoted pressure."""
    back = bench.barometer_pa
    at = np.array([back + bench.sign * bench.quote_pa])
    weep = float(throughput_per_volume(at, Leak(1.0, 0.0, back, back=back), bench.inward)[0])
    hole = float(throughput_per_volume(at, Leak(0.0, 1.0, back, back=back), bench.inward)[0])
    return Leak(viscous_share / weep, (1.0 - viscous_share) / hole, back, back=back)


def _times(leak: Leak, factor: float) -> Leak:
    return Leak(leak.viscous * factor, leak.orifice * factor, leak.start, back=leak.back)
