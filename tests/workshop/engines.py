"""Engines with a leak, or none, and the holds a gauge would log of them. Invented; nothing here is measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from leakdown.recording import Conditions, Recording
from tests.fit.truth import WALL_K, balanced, geometry

Spread = tuple[float, float, float]
"""Share of the cases, median and log sd of vacuum over pressure."""


@dataclass(frozen=True)
class Cause:
    """What a place of the second elicitation is like. weight: per hundred failed tests (common practice, no source)."""

    group: str
    weight: float
    ratio: tuple[Spread, ...]
    hole: float
    behind_reeds: tuple[Spread, ...] = ()


_SEAL = ((0.58, 2.7, 0.55), (0.30, 1.0, 0.18), (0.12, 0.5, 0.35))
_FIXED = ((1.0, 1.0, 0.16),)
CAUSES: dict[str, Cause] = {
    "seal-flywheel-side": Cause("shaft-seal", 13, _SEAL, 0.3),
    "seal-drive-side": Cause("shaft-seal", 12, _SEAL, 0.3),
    "intake-boot": Cause("intake-boot", 22, ((1.0, 0.75, 0.45),), 0.85, ((1.0, 8.0, 0.7),)),
    "impulse-passage": Cause("impulse", 5, ((1.0, 1.0, 0.3),), 0.8),
    "base-gasket": Cause("gasket-or-joint", 8, ((1.0, 0.95, 0.2),), 0.5),
    "crankcase-joint": Cause("gasket-or-joint", 4, ((1.0, 1.0, 0.2),), 0.3),
    "plug-thread": Cause("gasket-or-joint", 3, _FIXED, 0.5),
    "decompression-valve": Cause("decompression-valve", 2, ((0.7, 2.5, 0.6), (0.3, 1.0, 0.15)), 0.9),
    "rig-blanks": Cause("test-rig", 15, ((1.0, 0.45, 0.6),), 0.8),
    "rig-hose": Cause("test-rig", 9, ((1.0, 1.0, 0.15),), 0.3),
    "oil-pump": Cause("other", 3, ((1.0, 1.1, 0.35),), 0.4),
    "crack": Cause("other", 2, _FIXED, 0.7),
}
TWO_LEAKS = 0.12


@dataclass(frozen=True)
class Leak:
    """One leak: what it loses under pressure at 35 kPa (Pa/s of the whole circuit), vacuum over pressure, its law."""

    place: str
    rate_pa_s: float
    ratio: float
    viscous: float


@dataclass(frozen=True)
class Engine:
    """The truth of one engine on its rig. residual_pa_s: what leaks besides. k_per_min: drift of its walls."""

    seed: int
    intake: str
    leaks: tuple[Leak, ...]
    residual_pa_s: float
    volume_m3: float
    boot_part: float
    ambient_pa: float
    k_per_min: float
    vapour_pa: float = 0.0

    @property
    def place(self) -> str:
        """Where the largest leak is (geometric mean of both directions)."""
        if not self.leaks:
            return "no-leak-found"
        return max(self.leaks, key=lambda leak: leak.rate_pa_s**2 * leak.ratio).place

    @property
    def group(self) -> str:
        return CAUSES[self.place].group if self.leaks else "no-leak-found"

    @property
    def rig_leaks(self) -> bool:
        """Whether the rig leaks too, the largest leak or not."""
        return any(CAUSES[leak.place].group == "test-rig" for leak in self.leaks)

    def rate_pa_s(self, inward: bool, boot: bool = True, only: str | None = None) -> float:
        """What is lost in one direction by the leaks, with the boot in the circuit or blocked off."""
        chosen = [k for k in self.leaks if (boot or k.place != "intake-boot") and only in (None, k.place)]
        return sum(k.rate_pa_s * (k.ratio if inward else 1.0) for k in chosen)

    def hold(self, inward: bool, boot: bool = True, sections: bool = False) -> Recording:
        """The log of one hold, with what a careful person writes beside it."""
        rng = np.random.default_rng([self.seed, inward, boot, 7])
        sign = -1.0 if inward else 1.0
        volume = self.volume_m3 * (1.0 if boot else 1.0 - self.boot_part)
        k = a = 0.0
        for leak in self.leaks:
            if boot or leak.place != "intake-boot":
                kk, aa = geometry(leak.rate_pa_s, leak.viscous, self.ambient_pa, 1.0)
                k, a = k + kk * (leak.ratio if inward else 1.0), a + aa * (leak.ratio if inward else 1.0)
        kk, _ = geometry(self.residual_pa_s, 1.0, self.ambient_pa, 1.0)
        over = self.volume_m3 / volume * float(np.exp(0.06 * rng.normal()))
        start = self.ambient_pa + sign * rng.uniform(36e3, 47e3)
        t = np.arange(0.0, rng.uniform(50.0, 90.0), 0.2)
        warm_k = sign * rng.uniform(0.0, 700.0) / start * WALL_K
        p = balanced(t, start, self.ambient_pa, (k + kk) * over, a * over, warm_k, rng.uniform(0.8, 2.5))
        p = p * (1.0 + self.k_per_min / 60.0 * t / WALL_K)
        if inward and self.vapour_pa:
            p = p + self.vapour_pa * (1.0 - np.exp(-t / rng.uniform(12.0, 30.0)))
        p = p - self.ambient_pa + rng.normal(0.0, rng.uniform(8.0, 30.0), t.size)
        said = Conditions(
            circuit="crankcase", direction="vacuum" if inward else "pressure", volume_m3=volume,
            barometer_pa=self.ambient_pa, temperature_k=WALL_K,
            includes=(("boot", "case") if boot else ("case",)) if sections or not boot else (),
        )  # fmt: skip
        name = f"{'vacuum' if inward else 'pressure'}{'' if boot else '-boot-blocked'}.csv"
        return Recording(t, np.round(p / 5.0) * 5.0, conditions=said, source=name)


def drawn(seed: int) -> Engine:
    """An engine whose failed test has one cause, or two."""
    rng = np.random.default_rng([seed, 20])
    intake = "reed" if rng.random() < 0.3 else "piston-port"
    names, weight = list(CAUSES), np.array([c.weight for c in CAUSES.values()], dtype=float)
    count = 2 if rng.random() < TWO_LEAKS else 1
    chosen = rng.choice(len(names), count, replace=False, p=weight / weight.sum())
    size = 35e3 / float(np.exp(rng.uniform(np.log(25.0), np.log(260.0))))
    leaks = tuple(_leak(rng, names[int(i)], size * (1.0, 0.3)[n], intake) for n, i in enumerate(chosen))
    return _engine(seed, rng, intake, leaks)


def _engine(seed: int, rng: np.random.Generator, intake: str, leaks: tuple[Leak, ...]) -> Engine:
    return Engine(
        seed, intake, leaks, float(rng.exponential(3.0)), float(rng.uniform(110e-6, 450e-6)),
        float(rng.uniform(0.08, 0.18)), float(rng.uniform(88e3, 102e3)), float(0.05 * rng.normal()),
    )  # fmt: skip


def _leak(rng: np.random.Generator, place: str, size: float, intake: str) -> Leak:
    cause = CAUSES[place]
    rows = cause.behind_reeds if intake == "reed" and cause.behind_reeds else cause.ratio
    _, median, log_sd = rows[rng.choice(len(rows), p=[row[0] for row in rows])]
    ratio = median * float(np.exp(log_sd * rng.normal()))
    viscous = rng.uniform(0.0, 0.3) if rng.random() < cause.hole else rng.uniform(0.6, 1.0)
    return Leak(place, size / ratio**0.5, ratio, float(viscous))
