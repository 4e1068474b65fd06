"""Virtual holds: a physical truth integrated by scipy, independent of the solver under test.

Two truths, because a real circuit lies between them: an isothermal decay with an additive stabilisation,
and the energy balance of the gas. Invented engines; nothing here is measured.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

GAMMA = 1.4
CRITICAL = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
WALL_K = 293.15


@dataclass(frozen=True)
class Case:
    """One virtual test: what the gauge said and what was true. rate_pa_s: settled loss rate at 35 kPa."""

    time_s: np.ndarray
    pressure_pa: np.ndarray
    ambient_pa: float
    volume_m3: float
    vacuum: bool
    rate_pa_s: float
    resolution_pa: float | None = None


def psi(ratio: float) -> float:
    """Saint-Venant and Wantzel, written again so that the tests do not lean on the project's own."""
    r = max(ratio, CRITICAL)
    inside = 2 * GAMMA / (GAMMA - 1) * (r ** (2 / GAMMA) - r ** ((GAMMA + 1) / GAMMA))
    return float(max(inside, 0.0) ** 0.5)


def throughput(p: float, ambient: float, viscous: float, orifice: float) -> float:
    """Outward throughput per volume (Pa/s) at absolute pressure p."""
    if p >= ambient:
        return viscous * (p * p - ambient**2) + orifice * p * psi(ambient / p)
    return -(viscous * (ambient**2 - p * p) + orifice * ambient * psi(p / ambient))


def _integrated(
    rates: Callable[[float, np.ndarray], list[float]], t: np.ndarray, start: list[float], least_steps: int
) -> np.ndarray:
    """The last of the quantities of `rates` at the times t."""
    span, longest = (0, t[-1] + 1e-9), max(t[-1] / least_steps, 0.01)
    return solve_ivp(rates, span, start, t_eval=t, method="LSODA", rtol=1e-8, atol=1e-3, max_step=longest).y[-1]


def isothermal(t: np.ndarray, start: float, ambient: float, viscous: float, orifice: float) -> np.ndarray:
    """Absolute pressure of V dp/dt = -q."""
    return _integrated(lambda _, y: [-throughput(y[0], ambient, viscous, orifice)], t, [start], 20)


def balanced(
    t: np.ndarray, start: float, ambient: float, viscous: float, orifice: float, warm_k: float, tau_s: float
) -> np.ndarray:
    """Absolute pressure of the energy balance, hA constant, tau at ambient density."""
    theta0 = 1.0 + warm_k / WALL_K

    def rates(_: float, y: np.ndarray) -> list[float]:
        n, p = y
        theta = p / n
        if p < ambient:
            flow = viscous * (ambient**2 - p * p) + orifice * ambient * psi(p / ambient)
            return [flow, GAMMA * flow + ambient / tau_s * (1 - theta)]
        flow = viscous * (p * p - ambient**2) / theta + orifice * p * psi(ambient / p) / theta**0.5
        return [-flow, -GAMMA * theta * flow + ambient / tau_s * (1 - theta)]

    return _integrated(rates, t, [start / theta0, start], 40)


def geometry(rate_pa_s: float, share: float, ambient: float, sign: float) -> tuple[float, float]:
    """(viscous, orifice) per volume that lose `rate_pa_s` at 35 kPa, `share` of it viscously."""
    p = ambient + sign * 35e3
    return (
        share * rate_pa_s / abs(throughput(p, ambient, 1.0, 0.0)),
        (1 - share) * rate_pa_s / abs(throughput(p, ambient, 0.0, 1.0)),
    )


@dataclass(frozen=True)
class _Bench:
    ambient: float
    volume: float
    sign: float
    start: float
    share: float


def _bench(rng: np.random.Generator) -> _Bench:
    ambient = rng.uniform(82e3, 102e3)
    sign = -1.0 if rng.random() < 0.5 else 1.0
    share = (1.0, 0.0, float(rng.uniform(0.1, 0.9)))[rng.integers(3)]
    return _Bench(ambient, rng.uniform(60e-6, 600e-6), sign, ambient + sign * rng.uniform(30e3, 50e3), share)


def dense(rng: np.random.Generator, tight: bool = False) -> Case:
    """A log of 30 to 120 s at 5 to 20 Hz with stabilisation up to 1 kPa and noise of 0.01 to 0.06 kPa."""
    b = _bench(rng)
    t = np.arange(0, rng.uniform(30, 120), 1 / rng.uniform(5, 20))
    rate = 0.0 if tight else 35e3 / np.exp(rng.uniform(np.log(20), np.log(600)))
    k, a = geometry(rate, b.share, b.ambient, b.sign)
    extra, tau = rng.uniform(0, 1000), rng.uniform(0.5, 5)
    if rng.random() < 0.5:
        p = isothermal(t, b.start - b.sign * extra, b.ambient, k, a) + b.sign * extra * np.exp(-t / tau)
    else:
        p = balanced(t, b.start, b.ambient, k, a, b.sign * extra / b.start * WALL_K, tau)
    noise = rng.normal(0, rng.uniform(10, 60), t.size)
    return Case(t, p - b.ambient + noise, b.ambient, b.volume, b.sign < 0, rate)


def fast(rng: np.random.Generator) -> Case:
    """A leak that takes the circuit down to a twentieth in 3 to 15 s; the energy balance is the truth."""
    b = _bench(rng)
    empty_s = rng.uniform(3, 15)
    k1, a1 = geometry(1.0, b.share, b.ambient, b.sign)
    low, high = 1e2, 3e5
    for _ in range(30):
        rate = (low * high) ** 0.5
        left = isothermal(np.array([0, empty_s]), b.start, b.ambient, k1 * rate, a1 * rate)[-1] - b.ambient
        low, high = (rate, high) if abs(left) > 0.05 * abs(b.start - b.ambient) else (low, rate)
    t = np.arange(0, empty_s * rng.uniform(1, 2), 1 / rng.uniform(10, 20))
    tau = np.exp(rng.uniform(np.log(0.5), np.log(3)))
    p = balanced(t, b.start, b.ambient, k1 * rate, a1 * rate, b.sign * rng.uniform(0, 8), tau)
    noise = rng.normal(0, rng.uniform(10, 60), t.size)
    return Case(t, p - b.ambient + noise, b.ambient, b.volume, b.sign < 0, rate)


def sheet(rng: np.random.Generator) -> Case:
    """Eight to thirteen needle readings rounded to a quarter psi or half an inHg."""
    b = _bench(rng)
    tau = np.exp(rng.uniform(np.log(20), np.log(600)))
    count = int(rng.integers(8, 14))
    t = np.arange(count) * float(max(5, round(tau * rng.uniform(0.7, 2.0) / (count - 1) / 5) * 5))
    k, a = geometry(35e3 / tau, b.share, b.ambient, b.sign)
    p = isothermal(t, b.start, b.ambient, k, a) - b.ambient
    step = 0.25 * 6894.757293168 if b.sign > 0 else 0.5 * 3386.388640341
    return Case(t, np.round(p / step) * step, b.ambient, b.volume, b.sign < 0, 35e3 / tau, step)
