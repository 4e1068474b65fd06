"""The answer of `suspects`. Frozen data only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Suspect:
    """One suspect. leak: True when a pressure, vacuum or flow test can find it. reasons: strongest first."""

    place: str
    name: str
    leak: bool
    probability: float
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class ToDo:
    """Something to do, why, and how long it takes."""

    do: str
    why: str
    minutes: float


@dataclass(frozen=True)
class Triage:
    """Ranked suspects, the quick checks first, the one next step, and what a leak test can tell.

    leak_test: probability that the cause is one a crankcase test finds; fuel_test: one that a test of the
    fuel side finds. plain: that in words. caveat: what the odds are worth.
    """

    suspects: tuple[Suspect, ...]
    quick: tuple[ToDo, ...]
    next_test: ToDo
    leak_test: float
    fuel_test: float
    plain: str
    caveat: str
    understood: tuple[str, ...]
