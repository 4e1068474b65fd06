"""The regimes of the study: for each a way to draw virtual tests whose truth is known.

A regime yields `Drawn`: a recording, the true settled loss at 35 kPa and, where a verdict is asked, the limit
and which side of it the truth is on. Ranges are of an ordinary bench (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Recording
from tests.fit import truth as begun
from tests.study.circuit import (
    Law,
    Log,
    Truth,
    flow_pa_m3_s,
    hole,
    long_turbulent,
    mixed,
    plain_hole,
    played,
    pressed,
    weep,
)

LIMIT = "7 kPa in 60 s from 40 kPa"
_LOST_PA, _WITHIN_S, _FROM_PA = 7e3, 60.0, 40e3


@dataclass(frozen=True)
class Drawn:
    """One virtual test. rate_pa_s None: there is no one true rate. over: the true loss over the limit."""

    recording: Recording
    rate_pa_s: float | None
    over: float | None = None


def rate_for(over: float, law: Law, vacuum: bool, ambient: float) -> float:
    """The settled loss at 35 kPa of a leak that loses `over` times the limit, isothermally."""
    sign = -1.0 if vacuum else 1.0
    at = ambient + sign * 35e3
    unit = law(ambient, at) if vacuum else law(at, ambient)

    def lost(rate: float) -> float:
        def fall(_: float, y: np.ndarray) -> list[float]:
            p = ambient + sign * max(y[0], 0.0)
            return [-rate * (law(ambient, p) if vacuum else law(p, ambient)) / unit]

        end = solve_ivp(fall, (0.0, _WITHIN_S), [_FROM_PA], rtol=1e-8, atol=1e-2).y[0, -1]
        return float(_FROM_PA - end - over * _LOST_PA)

    return float(brentq(lost, 1.0, 5e3))


def _law(rng: np.random.Generator) -> Law:
    return (weep, plain_hole, mixed(float(rng.uniform(0.2, 0.8))))[rng.integers(3)]


def _ordinary(rng: np.random.Generator, seed: int) -> Truth:
    """Any bench: 60 to 600 cm3 filled in 3 to 10 s, logged at 5 to 20 a second for 40 to 90 s."""
    volume = float(np.exp(rng.uniform(np.log(60e-6), np.log(600e-6))))
    return Truth(
        vacuum=bool(rng.random() < 0.5),
        ambient_pa=float(rng.uniform(92e3, 102.5e3)),
        volume_m3=volume,
        target_pa=float(rng.uniform(38e3, 47e3)),
        rate_pa_s=35e3 / float(np.exp(rng.uniform(np.log(40), np.log(500)))),
        law=_law(rng),
        tau_s=_tau_s(rng, volume),
        fill_s=float(rng.uniform(3.0, 10.0)),
        strokes=int(rng.integers(3, 12)),
        pump_warmth=float(rng.uniform(0.0, 0.6)),
        hold_s=float(rng.uniform(40.0, 90.0)),
        every_s=1.0 / float(rng.choice([5.0, 10.0, 20.0])),
        noise_pa=float(rng.uniform(10.0, 50.0)),
        zero_pa=float(rng.normal(0.0, 100.0)),
        wall_k_per_min=float(rng.normal(0.0, 0.04)),
        zero_pa_per_min=float(rng.normal(0.0, 15.0)),
        seed=seed,
    )


def _tau_s(rng: np.random.Generator, volume_m3: float) -> float:
    return float(1.4 * (volume_m3 / 200e-6) ** (1 / 3) * np.exp(rng.uniform(-0.6, 0.6)))


def _recording(truth: Truth, log: Log) -> Recording:
    told = Conditions(
        "crankcase",
        "vacuum" if truth.vacuum else "pressure",
        truth.volume_m3,
        0.03 * truth.volume_m3,
        truth.ambient_pa,
        293.15,
    )
    return Recording(log.time_s, log.pressure_pa, conditions=told)


def _drawn(truth: Truth, over: float | None = None) -> Drawn:
    return Drawn(_recording(truth, played(truth)), truth.rate_pa_s, over)


def plain(rng: np.random.Generator, seed: int) -> Drawn:
    return _drawn(_ordinary(rng, seed))


def convection(rng: np.random.Generator, seed: int) -> Drawn:
    """Walls that take heat by free convection too: 0.6 to 3 times the conduction at 10 K, power 0.2 to 1/3."""
    t = _ordinary(rng, seed)
    share, power = float(rng.uniform(0.6, 3.0)), float(rng.uniform(0.2, 1 / 3))
    return _drawn(replace(t, convection=share, convection_power=power))


def creep(rng: np.random.Generator, seed: int) -> Drawn:
    """Rubber that gives way by 0.08 to 0.2 kPa in each e-fold of time."""
    return _drawn(replace(_ordinary(rng, seed), creep_pa=float(rng.uniform(80.0, 200.0))))


def turbulent(rng: np.random.Generator, seed: int) -> Drawn:
    return _drawn(replace(_ordinary(rng, seed), law=long_turbulent))


def sharp_hole(rng: np.random.Generator, seed: int) -> Drawn:
    return _drawn(replace(_ordinary(rng, seed), law=hole))


def lips(rng: np.random.Generator, seed: int) -> Drawn:
    """Lips that the pressure opens or shuts by 5 to 20 % in 10 kPa."""
    per = float(rng.uniform(0.5e-5, 2e-5)) * (1 if rng.random() < 0.5 else -1)
    return _drawn(replace(_ordinary(rng, seed), law=pressed(weep, per)))


def slow_noise(rng: np.random.Generator, seed: int) -> Drawn:
    slow, over_s = float(rng.uniform(20.0, 80.0)), float(rng.uniform(1.0, 6.0))
    return _drawn(replace(_ordinary(rng, seed), slow_pa=slow, slow_s=over_s))


def drifting(rng: np.random.Generator, seed: int) -> Drawn:
    """A room in the sun: walls at up to 1 K/min, a zero that moves by up to 0.1 kPa/min."""
    return _drawn(_ordinary_drifting(rng, seed))


def tight(rng: np.random.Generator, seed: int) -> Drawn:
    return _drawn(replace(_ordinary(rng, seed), rate_pa_s=0.0), 0.0)


def tight_drifting(rng: np.random.Generator, seed: int) -> Drawn:
    return _drawn(replace(_ordinary_drifting(rng, seed), rate_pa_s=0.0), 0.0)


def _ordinary_drifting(rng: np.random.Generator, seed: int) -> Truth:
    t = _ordinary(rng, seed)
    wall, zero = float(rng.uniform(-1.0, 1.0)), float(rng.uniform(-100.0, 100.0))
    return replace(t, wall_k_per_min=wall, zero_pa_per_min=zero)


def at_detection(drifting: bool) -> Callable[[np.random.Generator, int], Drawn]:
    """A leak of the very size that the analysis of its tight twin says it would have seen."""

    def draw(rng: np.random.Generator, seed: int) -> Drawn:
        t = _ordinary_drifting(rng, seed) if drifting else _ordinary(rng, seed)
        tight_twin = analyse(_recording(t, played(replace(t, rate_pa_s=0.0))), Settings())
        assert tight_twin.leak is not None
        return _drawn(replace(t, rate_pa_s=tight_twin.leak.detection_rate_pa_s, seed=seed + 5_000))

    return draw


def _brisk(rng: np.random.Generator, seed: int) -> Truth:
    """12 to 60 cm3 pumped in a second or two by one to three strokes, over the limit's 40 kPa once settled."""
    volume = float(np.exp(rng.uniform(np.log(12e-6), np.log(60e-6))))
    t = _ordinary(rng, seed)
    return replace(
        t,
        volume_m3=volume,
        tau_s=_tau_s(rng, volume),
        fill_s=float(rng.uniform(0.6, 2.2)),
        strokes=int(rng.integers(1, 4)),
        target_pa=float(rng.uniform(38e3, 52e3)),
        rate_pa_s=0.0,
        hold_s=float(rng.uniform(60.0, 90.0)),
        convection=float(rng.choice([0.0, rng.uniform(0.5, 2.0)])),
    )


def brisk_tight(rng: np.random.Generator, seed: int) -> Drawn:
    return _drawn(_brisk(rng, seed), 0.0)


def brisk_leak(rng: np.random.Generator, seed: int) -> Drawn:
    """The same circuits with a leak of 1.25 times the limit."""
    t = _brisk(rng, seed)
    return _drawn(replace(t, rate_pa_s=rate_for(1.25, t.law, t.vacuum, t.ambient_pa)), 1.25)


def at_limit(over: float) -> Callable[[np.random.Generator, int], Drawn]:
    def draw(rng: np.random.Generator, seed: int) -> Drawn:
        t = _ordinary(rng, seed)
        rate = rate_for(over, t.law, t.vacuum, t.ambient_pa)
        return _drawn(replace(t, rate_pa_s=rate, hold_s=float(rng.uniform(60.0, 110.0))), over)

    return draw


def growing(rng: np.random.Generator, seed: int) -> Drawn:
    """A valve that pressure holds shut, or a film that clears: more than the limit is lost in its time."""
    t = replace(_ordinary(rng, seed), hold_s=float(rng.uniform(60.0, 90.0)), target_pa=float(rng.uniform(40e3, 46e3)))
    if rng.random() < 0.5:
        law = pressed(mixed(0.5), -float(rng.uniform(5e-5, 1.6e-4)))
        rate = float(rng.uniform(60.0, 400.0))
        t = replace(t, law=law, rate_pa_s=rate)
    else:
        rate = rate_for(float(rng.uniform(0.5, 1.2)), t.law, t.vacuum, t.ambient_pa)
        t = replace(t, rate_pa_s=rate, grows_per_s=float(rng.uniform(1 / 25.0, 1 / 5.0)))
    log = played(t)
    inside = (log.time_s >= log.closed_s) & (log.time_s <= log.closed_s + 60.0)
    size = np.abs(log.pressure_pa[inside])
    if size[0] - size[-1] < 0.35 * size[0]:  # lost too little to be beyond what gas can give back
        return growing(rng, seed)
    return Drawn(_recording(t, log), None, 2.0)


def closing(rng: np.random.Generator, seed: int) -> Drawn:
    """A leak that shuts at 8 to 25 kPa; the rate is that at 35 kPa, with its own back pressure."""
    t = _ordinary(rng, seed)
    t = replace(
        t, closes_pa=float(rng.uniform(8e3, 25e3)), rate_pa_s=float(np.exp(rng.uniform(np.log(150), np.log(1500))))
    )
    at = t.ambient_pa + t.sign * 35e3
    return Drawn(_recording(t, played(t)), abs(flow_pa_m3_s(t, at, 0.0)) / t.volume_m3)


def _sheet(rng: np.random.Generator, seed: int, over: float, first_s: float) -> Drawn:
    """Rows every 10 s read off a needle, the first one `first_s` after the valve was shut."""
    t = replace(
        _ordinary(rng, seed),
        hold_s=first_s + 85.0,
        every_s=0.25,
        noise_pa=0.0,
        step_pa=1.0,
        target_pa=float(rng.uniform(42e3, 50e3)),
        fill_s=float(rng.uniform(2.0, 8.0)),
    )
    t = replace(t, rate_pa_s=rate_for(over, t.law, t.vacuum, t.ambient_pa) if over else 0.0)
    log = played(t)
    rows = np.arange(0.0, float(rng.choice([60.0, 80.0])) + 1.0, 10.0)
    clean = np.interp(log.closed_s + first_s + rows, log.time_s, log.pressure_pa)
    mark = (0.25 * 6894.757 if rng.random() < 0.5 else 1000.0) if not t.vacuum else 0.5 * 3386.389
    unit = "psi" if mark == 0.25 * 6894.757 else ("inHg" if t.vacuum else "kPa")
    read = np.round((clean + rng.normal(0.0, 0.15 * mark, rows.size)) / mark) * mark
    said = _recording(t, log).conditions
    told = replace(said, resolution_pa=mark, unit=unit, waited_s=first_s if first_s >= 10.0 else None)
    return Drawn(Recording(rows, read, conditions=told, by_hand=True), t.rate_pa_s, over)


def sheets(over: float, first_s: float = 1.0) -> Callable[[np.random.Generator, int], Drawn]:
    return lambda rng, seed: _sheet(rng, seed, over, first_s)


def two_readings(rng: np.random.Generator, seed: int) -> Drawn:
    drawn = _sheet(rng, seed, float(rng.uniform(0.8, 4.0)), 20.0)
    r = drawn.recording
    return replace(drawn, recording=replace(r, time_s=r.time_s[[0, -1]], pressure_pa=r.pressure_pa[[0, -1]]))


def _without_filling(make: Callable[[np.random.Generator], begun.Case]) -> Callable[[np.random.Generator, int], Drawn]:
    """Tests of `tests.fit.truth`, whose logs and sheets begin at the top: nobody saw the filling."""

    def draw(rng: np.random.Generator, _: int) -> Drawn:
        case = make(rng)
        told = Conditions(
            "crankcase",
            "vacuum" if case.vacuum else "pressure",
            case.volume_m3,
            None,
            case.ambient_pa,
            293.15,
            resolution_pa=case.resolution_pa,
        )
        recording = Recording(case.time_s, case.pressure_pa, conditions=told, by_hand=case.resolution_pa is not None)
        return Drawn(recording, case.rate_pa_s, 0.0 if case.rate_pa_s == 0.0 else None)

    return draw


REGIMES: dict[str, Callable[[np.random.Generator, int], Drawn]] = {
    "plain": plain,
    "convection": convection,
    "creep": creep,
    "turbulent": turbulent,
    "sharp-hole": sharp_hole,
    "lips": lips,
    "slow-noise": slow_noise,
    "drifting": drifting,
    "tight": tight,
    "tight-drifting": tight_drifting,
    "seen-95": at_detection(False),
    "seen-95-drifting": at_detection(True),
    "brisk-tight": brisk_tight,
    "brisk-leak-1.25": brisk_leak,
    "log-0.95": at_limit(0.95),
    "log-1.05": at_limit(1.05),
    "growing": growing,
    "closing": closing,
    "sheet-tight": sheets(0.0),
    "sheet-0.8": sheets(0.8),
    "sheet-1.25": sheets(1.25),
    "sheet-waited-0.8": sheets(0.8, 30.0),
    "sheet-waited-1.25": sheets(1.25, 30.0),
    "two-readings": two_readings,
    "from-the-top": _without_filling(begun.dense),
    "fast-from-the-top": _without_filling(begun.fast),
    "settled-sheet": _without_filling(begun.sheet),
    "tight-from-the-top": _without_filling(lambda rng: begun.dense(rng, tight=True)),
}
