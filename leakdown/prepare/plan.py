"""How long to hold so that this limit is decided with this gauge, found before the test is run."""

from __future__ import annotations

import math
from dataclasses import dataclass

from leakdown.analysis import Limit, Shown
from leakdown.circuits import Direction, procedure
from leakdown.prepare import shortest_hold as search
from leakdown.prepare.planned_test import PlannedTest, check_above_zero, planned_test
from leakdown.prepare.shortest_hold import CLEARLY_FEWER, ShortestHold
from leakdown.prepare.simulate import Count, Simulator, limit_leak, rate_pa_s
from leakdown.settings import ShopSettings
from leakdown.tuned import tuned

_T = tuned("prepare")
LONGEST_S: float = _T.longest_s


@dataclass(frozen=True, repr=False)
class Plan(Shown):
    """How long to hold, and what such a test can and cannot see.

    hold_s: None when no hold up to `longest_s` decides the limit with this gauge.
    detection_pa_m3_s, loss_pa_s: smallest leak seen 95 times in 100 by that hold (or the longest), as a
    throughput and as loss of pressure at the quoted pressure. allowed_pa_s: the limit, likewise.
    count: the simulated tests of that hold. half_s, half_count: those of half of it, as far as there are
    readings (0 s: only the first). open_s: a longer hold that left more open than this one, if one was met.
    drift_k_s: drift of the gas temperature that looks like half the limit. The hold follows the steps of
    `circuits.procedure`; valve_s: how long a sheet that begins with the valve must be read to be as sure (None:
    none is), valve_count: simulated tests of that.
    """

    test: PlannedTest
    hold_s: float | None
    longest_s: float
    detection_pa_m3_s: float
    loss_pa_s: float
    allowed_pa_s: float
    count: Count
    half_s: float
    half_count: Count
    open_s: float | None
    drift_k_s: float
    valve_s: float | None
    valve_count: Count
    notes: tuple[str, ...]


def plan(
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
    longest_s: float = LONGEST_S,
    workers: int | None = None,
    shop: ShopSettings | None = None,
) -> Plan:
    """The shortest hold that decides a limit: `plan(volume_m3=250e-6, resolution_pa=100.0)`.

    volume_m3, volume_u_m3: the volume under test with hoses and gauge, and its 95 % half-width.
    resolution_pa: the smallest step read off the gauge. limit: such as "7 kPa in 60 s", or a `Limit`; common
    practice for the circuit and direction when not given. every_s: time between readings (10 s by hand, 1 s
    logged). start_pa: gauge pressure (a magnitude) to fill to; what is usual. barometer_pa: absolute, sea
    level. temperature_k: of gas and engine, 20 degC. workers: processes that simulate, all cores; 1 stays in
    this process. shop: whose limit counts where none is given. Raises UsageError, naming the value, for a
    test that cannot be.
    """
    of_the_test = {name: value for name, value in locals().items() if name not in ("longest_s", "workers")}
    check_above_zero(longest_s=longest_s, workers=workers)
    return _planned(planned_test(**of_the_test), longest_s, workers)


def _planned(test: PlannedTest, longest_s: float, workers: int | None) -> Plan:
    allowed = rate_pa_s(test, limit_leak(test))
    with Simulator(test, workers) as simulator:
        found = search.shortest(simulator, longest_s)
        valve_s, valve_count = None, Count()
        if found.hold_s is not None:
            valve_s, valve_count = search.begun_with_the_valve(simulator, found.hold_s, longest_s)
    detection = search.detection_pa_s(test, found.hold_s or search.holds_worth_trying(test, longest_s)[-1])
    drift = 0.5 * allowed * test.temperature_k / (test.barometer_pa + test.sign * test.quote_pa)
    return Plan(
        test=test,
        longest_s=longest_s,
        detection_pa_m3_s=detection * test.volume_m3,
        loss_pa_s=detection,
        allowed_pa_s=allowed,
        drift_k_s=drift,
        **vars(found),
        valve_s=valve_s,
        valve_count=valve_count,
        notes=_notes(test, found, longest_s, allowed, detection),
    )


def _notes(
    test: PlannedTest, found: ShortestHold, longest_s: float, allowed: float, detection: float
) -> tuple[str, ...]:
    lines = [_gauge_note(test, found.hold_s, longest_s, allowed, detection)]
    if found.half_count.share > CLEARLY_FEWER:
        lines.append("Half of this hold would often do as well: the rest is for safety.")
    if found.open_s is not None:
        lines.append(
            f"With so few readings a longer hold is not always better: one of {found.open_s:g} s left more "
            "tests undecided. If in doubt, repeat the test."
        )
    if found.hold_s is not None and found.hold_s < _T.settling_s:
        lines.append(f"Hold {_T.settling_s:g} s all the same before you believe a pass: rubber creeps and gas settles.")
    if test.tops_up and test.limit.kind == "drop" and test.limit.time_s < procedure().start_s:
        lines.append(
            f"The limit's {test.limit.time_s:g} s are over by the time the watch starts: a longer hold helps little. "
            "Log it from the valve on, or write down every reading from there."
        )
    if test.needle:
        lines.append("Note the time at which the needle crosses a mark: that tells more than the mark at a time.")
    return tuple(lines)


def _gauge_note(test: PlannedTest, hold_s: float | None, longest_s: float, allowed: float, detection: float) -> str:
    gauge = "needle gauge" if test.needle else "gauge"
    if hold_s is None:
        sees = f" and sees {60e-3 * detection:.2g} kPa/min at best" if math.isfinite(detection) else ""
        return (
            f"This {gauge} cannot tell half the limit from twice the limit within {longest_s / 60:.0f} min: "
            f"it is read to {test.resolution_pa / 1e3:.3g} kPa{sees}, the limit allows "
            f"{60e-3 * allowed:.2g} kPa/min. Take a finer gauge or less dead volume."
        )
    if hold_s > _T.long_s:
        return f"A {gauge} can do it, but the hold is long and drift counts: a finer gauge is better."
    return f"A {gauge} read to {test.resolution_pa / 1e3:.3g} kPa can do it."
