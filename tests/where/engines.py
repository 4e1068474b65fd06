"""Virtual engines: leaks with a place, a size, a flow law and a lip, and the tests a mechanic would run.

The truth is integrated by scipy (tests/fit/truth.py), independent of the solver under test.
Invented engines; nothing here is measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from leakdown.judge.analyse import fitted
from leakdown.judge.judged import FittedTest
from leakdown.recording import Conditions, Mark, Recording
from leakdown.where.knowledge import Knowledge, KnownPlace
from tests.fit.truth import WALL_K, balanced, geometry, isothermal

QUARTER_PSI_PA = 0.25 * 6894.757293168
HALF_INHG_PA = 0.5 * 3386.388640341


_FITTED: dict[int, tuple[Recording, FittedTest]] = {}


def fitted_once(log: Recording, settings: None = None) -> FittedTest:
    """A recording's analysis, made once however many pairs it is part of."""
    if id(log) not in _FITTED:
        _FITTED[id(log)] = (log, fitted(log, settings))  # with the log itself, so that no other gets its id
    return _FITTED[id(log)][1]


@dataclass(frozen=True)
class Leak:
    """rate_pa_s in the whole engine at +35 kPa, viscous share there, vacuum over pressure, its section."""

    rate_pa_s: float
    share: float
    ratio: float = 1.0
    section: str = "case"
    place: str = ""


@dataclass(frozen=True)
class Engine:
    """Leaks in one circuit. boot_m3 is the volume that blocking the boot takes away."""

    leaks: tuple[Leak, ...]
    ambient_pa: float = 100e3
    volume_m3: float = 250e-6
    boot_m3: float = 30e-6
    circuit: str = "crankcase"

    def per_volume(self, sign: float, sections: tuple[str, ...], volume_m3: float) -> tuple[float, float]:
        """(viscous, orifice) geometry per volume of the sections in a test of this volume."""
        k = a = 0.0
        for leak in self.leaks:
            if leak.section not in sections:
                continue
            kk, aa = geometry(leak.rate_pa_s, leak.share, self.ambient_pa, 1.0)
            factor = (leak.ratio if sign < 0 else 1.0) * self.volume_m3 / volume_m3
            k, a = k + kk * factor, a + aa * factor
        return k, a


def run(
    engine: Engine,
    rng: np.random.Generator,
    sign: float,
    *,
    sections: tuple[str, ...] = ("boot", "case"),
    sheet: bool = False,
    start_pa: float | None = None,
    named: bool = False,
    warming_k_min: float = 0.0,
    hold_s: float | None = None,
    source: str = "",
    **conditions: object,
) -> Recording:
    """One hold of an engine: sign +1 pressure, -1 vacuum."""
    volume = engine.volume_m3 - (0.0 if "boot" in sections else engine.boot_m3)
    k, a = engine.per_volume(sign, sections, volume)
    start = engine.ambient_pa + sign * (start_pa or rng.uniform(36e3, 48e3))
    vacuum = sign < 0
    step = None
    if sheet:
        rate = sum(leak.rate_pa_s for leak in engine.leaks) or 35e3 / 300
        count = int(rng.integers(8, 14))
        t = np.arange(count) * float(max(5, round(35e3 / rate * rng.uniform(0.7, 2.0) / (count - 1) / 5) * 5))
        p = isothermal(t, start, engine.ambient_pa, k, a) - engine.ambient_pa
        step = HALF_INHG_PA if vacuum else QUARTER_PSI_PA
        p = np.round(p / step) * step
    else:
        t = np.arange(0.0, hold_s or rng.uniform(45, 100), 0.1)
        warm = sign * rng.uniform(0, 800) / start * WALL_K
        p = balanced(t, start, engine.ambient_pa, k, a, warm, rng.uniform(0.7, 3.0))
        p = p * (1.0 + warming_k_min / 60.0 * t / WALL_K) - engine.ambient_pa
        p = p + rng.normal(0, rng.uniform(10, 40), t.size)
    said: dict[str, object] = {
        "circuit": engine.circuit,
        "direction": "vacuum" if vacuum else "pressure",
        "volume_m3": volume,
        "barometer_pa": engine.ambient_pa,
        "temperature_k": WALL_K,
        "resolution_pa": step,
        "includes": sections if named else (),
    }
    text = source or ("vacuum.csv" if vacuum else "pressure.csv")
    return Recording(t, p, conditions=Conditions(**(said | conditions)), source=text, by_hand=sheet)  # type: ignore[arg-type]


def marked(
    engine: Engine, rng: np.random.Generator, factor: float, text: str, at_s: float = 40.0, end_s: float = 90.0
) -> Recording:
    """A pressure hold in which the leak becomes `factor` times as large at a mark."""
    k, a = engine.per_volume(1.0, ("boot", "case"), engine.volume_m3)
    first, second = np.arange(0.0, at_s + 0.05, 0.1), np.arange(0.0, end_s - at_s, 0.1)
    before = balanced(first, engine.ambient_pa + 42e3, engine.ambient_pa, k, a, 1.0, 1.2)
    after = balanced(second, before[-1], engine.ambient_pa, k * factor, a * factor, 0.0, 1.2)
    p = np.concatenate((before[:-1], after)) - engine.ambient_pa
    p = p + rng.normal(0, 20, p.size)
    conditions = Conditions(circuit="crankcase", direction="pressure", volume_m3=engine.volume_m3,
                            barometer_pa=engine.ambient_pa, temperature_k=WALL_K)  # fmt: skip
    return Recording(np.arange(p.size) * 0.1, p, conditions=conditions, marks=(Mark(at_s, text),), source="m.csv")


def drawn(rng: np.random.Generator, known: Knowledge, intake: str) -> Engine:
    """A crankcase whose leak or leaks come from the knowledge file: place, ratio, flow law, two at once."""
    places = [p for p in known.of_circuit("crankcase") if p.pattern == "leak"]
    weight = np.array([p.weight["crankcase"] for p in places])
    count = 2 if rng.random() < known.numbers["two_leaks"] else 1
    chosen = rng.choice(len(places), count, replace=False, p=weight / weight.sum())
    rate = 35e3 / math.exp(rng.uniform(math.log(25), math.log(300)))
    first = rng.uniform(0.05, 0.95) if count == 2 else 1.0
    leaks = [
        _drawn_leak(rng, places[int(i)], rate * part, known.numbers["extra_log_sd"], intake)
        for i, part in zip(chosen, (first, 1.0 - first), strict=False)
    ]
    volume = rng.uniform(100e-6, 500e-6)
    return Engine(tuple(leaks), rng.uniform(85e3, 102e3), volume, volume * rng.uniform(0.08, 0.18))


def _drawn_leak(rng: np.random.Generator, place: KnownPlace, rate: float, spread: float, intake: str) -> Leak:
    rows = place.expected("unknown", intake)
    _, low, typical, high = rows[rng.choice(len(rows), p=[row[0] for row in rows])]
    z = rng.normal()
    ratio = typical * math.exp(z / 1.6449 * math.log((high if z > 0 else typical) / (typical if z > 0 else low)))
    ratio *= math.exp(spread * rng.normal())
    hole = rng.random() < place.hole
    share = rng.uniform(0.0, 0.3) if hole else rng.uniform(0.7, 1.0)
    section = "boot" if place.place == "intake-boot" else "case"
    return Leak(rate, share, ratio, section, place.place)


def main_place(engine: Engine) -> str:
    """The place of the larger leak, seen over both directions."""
    return max(engine.leaks, key=lambda leak: leak.rate_pa_s**2 * leak.ratio).place
