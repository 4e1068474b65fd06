"""Virtual circuits with more physics in them than the program's model has, integrated by scipy.

The gas: mass and energy of an ideal gas in a vessel, real strokes of a pump that fill it (warm air from the
pump), walls that take its heat by conduction and by free convection, and drift. The vessel: rubber that gives
way in equal amounts per octave of time. The leak: any flow law. The gauge: zero, its drift, white and slow
noise, rounding. All invented; constants of air from CODATA/ISO 2533, flow laws as named beside each.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

R, CV, CP = 287.05, 717.6, 1004.7
ROOM_K = 293.15
AIR_PA = 101_325.0
Law = Callable[[float, float], float]
"""(high, low) absolute pressures -> flow per unit of the law, any unit; zero at high = low."""


def weep(high: float, low: float) -> float:
    """Laminar flow of a gas through a long narrow path (Hagen-Poiseuille, compressible)."""
    return high * high - low * low


def hole(high: float, low: float) -> float:
    """A sharp hole by Saint-Venant and Wantzel, choked below 0.528, whose C_d grows as it chokes.

    C_d from 0.60 to 0.75: Perry (1949), as handbooks quote him; the curve between is from memory.
    """
    return plain_hole(high, low) * (0.60 + 0.15 * (1.0 - low / high) ** 1.3)


def plain_hole(high: float, low: float) -> float:
    """The same with one C_d."""
    r = max(low / high, 0.52828)
    return high * math.sqrt(max(7.0 * (r ** (2 / 1.4) - r ** (2.4 / 1.4)), 0.0))


def long_turbulent(high: float, low: float) -> float:
    """A long rough path in turbulent flow (isothermal pipe flow: q ~ sqrt(p1^2 - p2^2))."""
    return math.sqrt(max(high * high - low * low, 0.0))


def mixed(share: float, one: Law = weep, other: Law = plain_hole) -> Law:
    """Two paths side by side; `share` of the flow at 35 kPa from one atmosphere through the first."""
    at = (AIR_PA + 35e3, AIR_PA)
    a, b = share / one(*at), (1.0 - share) / other(*at)
    return lambda high, low: a * one(high, low) + b * other(high, low)


def pressed(law: Law, per_pa: float) -> Law:
    """A lip whose gap the pressure opens (per_pa > 0) or shuts (< 0): the law's size changes in proportion."""
    return lambda high, low: law(high, low) * math.exp(per_pa * (high - low - 35e3))


class CannotFill(Exception):
    """The pump cannot reach the target against this leak."""


@dataclass(frozen=True)
class Truth:
    """What a virtual test is made of. rate_pa_s: settled loss at 35 kPa. Times in s, pressures in Pa gauge."""

    vacuum: bool = False
    ambient_pa: float = AIR_PA
    volume_m3: float = 250e-6
    target_pa: float = 42e3
    rate_pa_s: float = 0.0
    law: Law = weep
    tau_s: float = 1.5
    convection: float = 0.0
    convection_power: float = 0.25
    fill_s: float = 4.0
    strokes: int = 4
    pump_warmth: float = 0.3
    hold_s: float = 60.0
    every_s: float = 0.1
    lead_s: float = 4.0
    tail_s: float = 4.0
    wall_k_per_min: float = 0.0
    zero_pa: float = 0.0
    zero_pa_per_min: float = 0.0
    creep_pa: float = 0.0
    noise_pa: float = 20.0
    slow_pa: float = 0.0
    slow_s: float = 4.0
    step_pa: float = 1.0
    closes_pa: float = 0.0
    grows_per_s: float = 0.0
    seed: int = 0

    @property
    def sign(self) -> float:
        return -1.0 if self.vacuum else 1.0


@dataclass(frozen=True)
class Log:
    """What the gauge gave. closed_s: when the valve was shut."""

    truth: Truth
    time_s: np.ndarray
    pressure_pa: np.ndarray
    closed_s: float


def flow_pa_m3_s(truth: Truth, pressure_pa: float, since_s: float) -> float:
    """Outward flow (p V per second at room temperature) at an absolute pressure of the vessel."""
    gauge = truth.sign * (pressure_pa - truth.ambient_pa)
    back = truth.ambient_pa + truth.sign * truth.closes_pa
    size = truth.sign * (pressure_pa - back)
    if size <= 0.0 or gauge <= 0.0 and truth.closes_pa > 0:
        return 0.0
    at = truth.ambient_pa + truth.sign * 35e3
    if truth.vacuum:
        unit, now = truth.law(truth.ambient_pa, at), truth.law(back, pressure_pa)
    else:
        unit, now = truth.law(at, truth.ambient_pa), truth.law(pressure_pa, back)
    grown = 1.0 + truth.grows_per_s * max(since_s, 0.0)
    return truth.sign * truth.rate_pa_s * truth.volume_m3 * now / unit * grown


def played(truth: Truth) -> Log:
    """The log of a whole test: open to air, filled by strokes, valve shut, held, let out."""
    rng = np.random.default_rng(truth.seed)
    begin, closed = truth.lead_s, truth.lead_s + truth.fill_s
    t, p = _filled(truth, begin, closed)
    held = np.arange(math.ceil(closed / truth.every_s), math.ceil((closed + truth.hold_s) / truth.every_s))
    times = held * truth.every_s
    gas, _ = _let_go(truth, p, closed, times)
    rubber = truth.creep_pa * np.log1p((times - closed) / 0.3) * -truth.sign
    lead = np.arange(0, len(t)) * truth.every_s
    tail = times[-1] + truth.every_s * np.arange(1, int(truth.tail_s / truth.every_s) + 1)
    vented = (gas[-1] - truth.ambient_pa) * np.exp(-(tail - times[-1]) / 0.2)
    time = np.concatenate((lead, times, tail))
    gauge = np.concatenate((t - truth.ambient_pa, gas - truth.ambient_pa + rubber, vented))
    return Log(truth, time, as_read(truth, rng, time, gauge, closed), closed)


def as_read(truth: Truth, rng: np.random.Generator, time: np.ndarray, gauge: np.ndarray, closed: float) -> np.ndarray:
    """What a gauge with a zero, a drift, noise and a last digit shows."""
    drift = truth.zero_pa_per_min / 60.0 * (time - time[0])
    slow = np.zeros(time.size)
    if truth.slow_pa:
        keep = math.exp(-truth.every_s / truth.slow_s)
        kicks = rng.normal(0.0, truth.slow_pa * math.sqrt(1.0 - keep * keep), time.size)
        slow[0] = rng.normal(0.0, truth.slow_pa)
        for k in range(1, time.size):
            slow[k] = keep * slow[k - 1] + kicks[k]
    shown = gauge + truth.zero_pa + drift + slow + rng.normal(0.0, truth.noise_pa, time.size)
    return np.round(shown / truth.step_pa) * truth.step_pa


def _heat(truth: Truth, mass_ref: float, kelvin: float, wall: float) -> float:
    """Heat to the gas, W. tau_s: m c_v / (hA) at the room's air when 10 K apart."""
    apart = wall - kelvin
    free = (abs(apart) / 10.0) ** truth.convection_power
    share = truth.convection / (1.0 + truth.convection)
    return mass_ref * CV / truth.tau_s * ((1.0 - share) + share * free) * apart


def _filled(truth: Truth, begin: float, closed: float) -> tuple[np.ndarray, tuple[float, float]]:
    """Absolute pressures at the log's steps up to the closing, and mass and temperature there.

    The mass comes (or goes) in strokes; air from the pump is warmed by a part of its own compression. How much
    mass: what brings the gas to the target at the last stroke, found by the secant.
    """
    ref = truth.ambient_pa * truth.volume_m3 / (R * ROOM_K)

    def run(total: float, every: np.ndarray | None) -> tuple[np.ndarray, tuple[float, float]]:
        period = truth.fill_s / truth.strokes

        def rates(t: float, y: np.ndarray) -> list[float]:
            m, kelvin = y
            p = m * R * kelvin / truth.volume_m3
            phase = ((t - begin) / period) % 1.0
            into = 0.0
            if begin <= t <= closed and phase < 0.6:
                into = total / truth.strokes * math.pi / (1.2 * period) * math.sin(math.pi * phase / 0.6)
            wall = ROOM_K
            leak = flow_pa_m3_s(truth, p, 0.0) / (R * ROOM_K)
            out, air_in = max(leak, 0.0), max(-leak, 0.0)
            ratio = max(p / truth.ambient_pa, 1e-3)
            supply = ROOM_K * (1.0 + truth.pump_warmth * (ratio ** (0.4 / 1.4) - 1.0))
            gain = _heat(truth, ref, kelvin, wall)
            if into >= 0.0:
                gain += into * (CP * supply - CV * kelvin)
            else:
                gain += into * R * kelvin
            gain += air_in * (CP * ROOM_K - CV * kelvin) - out * R * kelvin
            return [into + air_in - out, gain / (m * CV)]

        span = (0.0, closed)
        longest = min(period / 12.0, 0.1)
        done = solve_ivp(rates, span, [ref, ROOM_K], t_eval=every, rtol=1e-7, atol=1e-12, max_step=longest)
        if np.size(done.y) == 0 or done.y[0][-1] <= 0:
            raise CannotFill
        m, kelvin = done.y
        return m * R * kelvin / truth.volume_m3, (float(m[-1]), float(kelvin[-1]))

    wanted = truth.ambient_pa + truth.sign * truth.target_pa
    low, high = (-5.0 * ref, 0.0) if truth.vacuum else (0.0, 6.0 * ref)
    total = truth.sign * truth.target_pa / truth.ambient_pa * ref
    before: list[tuple[float, float]] = []
    for _ in range(12):
        _, (m, kelvin) = run(total, np.array([closed]))
        miss = m * R * kelvin / truth.volume_m3 - wanted
        if abs(miss) < 20.0:
            break
        before.append((total, miss))
        if len(before) > 1 and before[-1][1] != before[-2][1]:
            (a, fa), (b, fb) = before[-2:]
            total = b - fb * (b - a) / (fb - fa)
        else:
            total -= miss / wanted * ref
        total = min(max(total, low), high)
    steps = np.arange(0, math.ceil(closed / truth.every_s)) * truth.every_s
    every = np.append(steps[steps < closed], closed)
    p, state = run(total, every)
    return p[:-1], state


def _let_go(
    truth: Truth, state: tuple[float, float], closed: float, times: np.ndarray
) -> tuple[np.ndarray, tuple[float, float]]:
    """Absolute pressure at `times` after the valve was shut, and mass and temperature at the end."""
    ref = truth.ambient_pa * truth.volume_m3 / (R * ROOM_K)

    def rates(t: float, y: np.ndarray) -> list[float]:
        m, kelvin = y
        p = m * R * kelvin / truth.volume_m3
        wall = ROOM_K + truth.wall_k_per_min / 60.0 * (t - closed)
        leak = flow_pa_m3_s(truth, p, t - closed) / (R * ROOM_K)
        if leak >= 0.0:
            leak *= math.sqrt(ROOM_K / kelvin)
        out, air_in = max(leak, 0.0), max(-leak, 0.0)
        gain = _heat(truth, ref, kelvin, wall) + air_in * (CP * ROOM_K - CV * kelvin) - out * R * kelvin
        return [air_in - out, gain / (m * CV)]

    span = (closed, float(times[-1]) + 1e-6)
    done = solve_ivp(rates, span, list(state), t_eval=times, method="LSODA", rtol=1e-8, atol=1e-12, max_step=1.0)
    m, kelvin = done.y
    return m * R * kelvin / truth.volume_m3, (float(m[-1]), float(kelvin[-1]))
