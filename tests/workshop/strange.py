"""Pairs of tests that no single leak explains: two engines mixed up, warm or wet ones, copies, wrong volumes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from leakdown.judge.analyse import fitted
from leakdown.recording import Recording
from leakdown.where.answers import EngineFacts
from leakdown.where.locate import locate_fitted
from tests.workshop.engines import Engine, drawn


def mixed(seed: int) -> tuple[Engine, list[Recording]]:
    """The pressure test of one engine with the vacuum test of another of its kind, or of the same after a repair."""
    one = drawn(seed)
    other = replace(drawn(seed + 5000), volume_m3=one.volume_m3, ambient_pa=one.ambient_pa)
    after = replace(one, leaks=one.leaks[1:]) if seed % 2 else other
    return one, [one.hold(False), after.hold(True)]


def cooled(seed: int) -> tuple[Engine, list[Recording]]:
    """A sound engine tested while it cools at 0.7 to 3 K/min."""
    rng = np.random.default_rng([seed, 31])
    engine = replace(drawn(seed), leaks=(), k_per_min=-float(rng.uniform(0.7, 3.0)))
    return engine, [engine.hold(False), engine.hold(True)]


def wet(seed: int) -> tuple[Engine, list[Recording]]:
    """A sound engine with fuel in its case."""
    rng = np.random.default_rng([seed, 32])
    engine = replace(drawn(seed), leaks=(), vapour_pa=float(rng.uniform(4e3, 12e3)))
    return engine, [engine.hold(False), engine.hold(True)]


def copied(seed: int) -> tuple[Engine, list[Recording]]:
    """The pressure readings handed in as the vacuum test as well, signs turned."""
    engine = drawn(seed)
    log = engine.hold(False)
    said = replace(log.conditions, direction="vacuum")
    turned = Recording(log.time_s, -log.pressure_pa, conditions=said, source="vacuum.csv")
    return engine, [log, turned]


def mismeasured(seed: int) -> tuple[Engine, list[Recording]]:
    """One volume written on the pressure test, another (a third more or less) on the vacuum test."""
    engine = drawn(seed)
    log = engine.hold(True)
    wrong = engine.volume_m3 * (1.35 if seed % 2 else 0.7)
    said = replace(log.conditions, volume_m3=wrong)
    return engine, [engine.hold(False), replace(log, conditions=said)]


def honest(seed: int) -> tuple[Engine, list[Recording]]:
    """Two tests of one engine as it stood."""
    engine = drawn(seed)
    return engine, [engine.hold(False), engine.hold(True)]


STRANGE: dict[str, Callable[[int], tuple[Engine, list[Recording]]]] = {
    "mixed": mixed, "cooled": cooled, "wet": wet, "copied": copied, "mismeasured": mismeasured, "honest": honest,
}  # fmt: skip
NAMED = {
    "mixed": {"not-together", "ask-together"}, "cooled": {"cooling"}, "wet": {"vapour"},
    "copied": {"copied"}, "mismeasured": {"two-volumes"}, "honest": {"not-together"},
}  # fmt: skip


@dataclass(frozen=True)
class Told:
    """What was said of one strange pair. named: its kind was named or asked about. sure_wrong: 80 % and more of a
    group that it is not (for a mixed pair: of a group of neither)."""

    kind: str
    seed: int
    truth: str
    first: str
    claimed: float
    codes: tuple[str, ...]
    named: bool

    @property
    def sure_wrong(self) -> bool:
        return self.claimed >= 0.8 and self.first != self.truth


def told(kind: str, seed: int) -> Told:
    """Hand in the pair and see what is said of it."""
    engine, logs = STRANGE[kind](seed)
    found = locate_fitted([fitted(log) for log in logs], EngineFacts(intake=engine.intake))
    codes = tuple(flag.code for flag in found.warnings)
    first = found.groups[0]
    named = bool(NAMED[kind] & set(codes))
    return Told(kind, seed, engine.group, first.group, first.probability, codes, named)
