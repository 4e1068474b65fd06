"""How often a live test that stops when it is certain stops wrongly, and how much time it saves.

Virtual tests with the leak a given multiple of the limit.

`python tests/live/stopping.py 40` prints the table.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Limit
from leakdown.errors import LeakdownError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.live.bench.estimator import Looks
from leakdown.live.virtual.vessel import Scenario, Vessel, leak_of
from leakdown.physics.flow import orifice_throughput, viscous_throughput
from leakdown.recording import Conditions, Recording

FIXED_S = 65.0
"""The hold that a limit over 60 s asks for, without stopping early."""

CLOSED_S = 7.0


@dataclass(frozen=True)
class Stopped:
    """The word and the seconds after the valve was shut; "" when nothing was certain in `hold_s`."""

    word: str
    after_s: float


def played(multiple: float, seed: int, hold_s: float = 120.0) -> Stopped:
    """One test with a leak of `multiple` times the limit; size, flow law, direction and noise by chance."""
    dice = np.random.default_rng(seed)
    scenario = Scenario(
        volume_m3=float(dice.uniform(100e-6, 400e-6)),
        hole_m=float(np.sqrt(max(multiple, 1e-6)) * 0.05e-3 * dice.uniform(0.7, 1.6)),
        viscous_share=float(dice.uniform(0.0, 1.0)),
        target_pa=float(dice.choice([45e3, -45e3])),
        relaxation_s=float(dice.uniform(0.3, 1.5)),
        zero_s=3.0,
        fill_s=4.0,
        hold_s=hold_s,
        vent_s=0.0,
    )
    limit = Limit("limit", "rate", "given", rate_pa_m3_s=throughput(scenario) / max(multiple, 1e-6))
    vessel, times = Vessel(scenario), np.arange(0.0, CLOSED_S + hold_s, 0.1)
    shown = np.array([vessel.gauge_pa(float(t)) for t in times]) + dice.normal(0.0, 25.0, times.size)
    return stopped(times, np.round(shown, -1), scenario, Settings(limit=limit))


def throughput(scenario: Scenario) -> float:
    """Pa m3/s through the scenario's leak at 35 kPa, 20 degC."""
    leak, ambient = leak_of(scenario), scenario.ambient_pa
    inside = ambient + np.copysign(35e3, scenario.target_pa)
    high, low = max(inside, ambient), min(inside, ambient)
    return viscous_throughput(high, low, leak.viscous) + orifice_throughput(high, low, leak.orifice, 293.15)


def stopped(times: np.ndarray, shown: np.ndarray, scenario: Scenario, settings: Settings) -> Stopped:
    conditions = Conditions(
        circuit="crankcase",
        volume_m3=scenario.volume_m3,
        barometer_pa=scenario.ambient_pa,
        temperature_k=scenario.room_k,
    )
    looks = Looks()
    for i, time_s in enumerate(times):
        if not looks.due(time_s - CLOSED_S):
            continue
        try:
            result = analyse(Recording(times[: i + 1], shown[: i + 1], conditions=conditions), settings)
        except LeakdownError:
            result = None
        word = looks.take(time_s - CLOSED_S, result)
        if word:
            return Stopped(word, float(time_s - CLOSED_S))
    return Stopped("", float(times[-1] - CLOSED_S))


def table(tests: int, multiples: tuple[float, ...] = (0.1, 0.5, 0.8, 1.0, 1.25, 2.0, 4.0)) -> list[str]:
    """A line for each size of leak: how often pass, fail, open; the mean time, and what it saves."""
    lines = ["leak/limit  pass  fail  open  mean s  saved"]
    for multiple in multiples:
        runs = [played(multiple, 1000 * k + 17) for k in range(tests)]
        passes, fails = (sum(r.word == word for r in runs) for word in ("pass", "fail"))
        mean_s = float(np.mean([min(r.after_s, FIXED_S) if r.word else FIXED_S for r in runs]))
        lines.append(
            f"{multiple:10.2f}  {passes:4d}  {fails:4d}  {tests - passes - fails:4d}  {mean_s:6.1f}  "
            f"{1.0 - mean_s / FIXED_S:5.0%}"
        )
    return lines


if __name__ == "__main__":
    print("\n".join(table(int(sys.argv[1]) if len(sys.argv) > 1 else 40)))
