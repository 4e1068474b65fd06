"""What can go wrong on a bench, each fault a row of one table: what it does to the circuit, the gauge or its lines.

Every message of a live test can be tried with one of them; `leakdown simulate --fault NAME` plays them, also together.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from leakdown.errors import UsageError
from leakdown.live.texts import FAULTS_DO
from leakdown.live.virtual.styles import Measured
from leakdown.live.virtual.vessel import Scenario
from leakdown.tuned import tuned

_T = tuned("live.virtual")


def _as_it_is(scenario: Scenario) -> Scenario:
    return scenario


def _unchanged(m: Measured, now_s: float, scenario: Scenario) -> Measured:
    return m


@dataclass(frozen=True)
class Fault:
    """scenario: the test played instead; measured: what the gauge thinks it knows, at a second of the test; beside:
    lines of something else before the reading of that number; style: how the gauge words its lines, "" as told;
    clump_s: lines wait and come together so often. `freezes`, `away`: from and to, as shares of the hold; None: not.
    """

    scenario: Callable[[Scenario], Scenario] = _as_it_is
    measured: Callable[[Measured, float, Scenario], Measured] = _unchanged
    beside: Callable[[int], tuple[str, ...]] = lambda number: ()
    style: str = ""
    clump_s: float = 0.0
    freezes: float | None = None
    away: tuple[float, float] | None = None


def _too_high(scenario: Scenario) -> Scenario:
    """Pumped well above what any caution allows (under vacuum: as deep as a pump gets)."""
    deep = -0.85 * scenario.ambient_pa
    return replace(scenario, target_pa=max(_T.too_high * scenario.target_pa, deep), top_up_s=0.0)


def _never_builds_up(scenario: Scenario) -> Scenario:
    return replace(scenario, hole_m=max(scenario.hole_m, _T.huge_hole_m), top_up_s=0.0)


def _grows(scenario: Scenario) -> Scenario:
    return replace(scenario, growth_per_s=_T.growth_per_s)


def _every(nth: int, run: int, word: str) -> Callable[[Measured, float, Scenario], Measured]:
    """A word in place of `run` readings running, once in `nth`."""

    def said(m: Measured, now_s: float, scenario: Scenario) -> Measured:
        here = m.number % nth >= nth - run
        return replace(m, pressure_pa=None, word=word) if here and m.number else m

    return said


def _last_words(m: Measured, now_s: float, scenario: Scenario) -> Measured:
    """Two fault values running now and then, and at the end of the hold."""
    at_end = 0.0 <= now_s - (scenario.zero_s + scenario.fill_s + scenario.hold_s) < 0.3
    return replace(m, pressure_pa=None, word="-999.9") if at_end else _every(60, 2, "-999.9")(m, now_s, scenario)


def _torn_clock(m: Measured, now_s: float, scenario: Scenario) -> Measured:
    """The clock's number loses its last figure, once in 37 lines."""
    return replace(m, time_ms=m.time_ms // 10) if m.number % 37 == 36 else m


def _at_speed(speed: float) -> Callable[[Measured, float, Scenario], Measured]:
    return lambda m, now_s, scenario: replace(m, time_ms=round(m.time_ms * speed))


def _chatter(number: int) -> tuple[str, ...]:
    """What a board says of itself between readings."""
    said = (
        f"\x1b[0;32m[I][radio:{300 + number % 40}]: try {number % 7} of 16, -{60 + number % 9} dB\x1b[0m",
        f"\x1b[0;36m[D][gauge:041]: 'Shed': state now {21 + number % 5 / 10:.3f} °C, 1 decimals kept\x1b[0m",
        f"\x1b[0;33m[W][loop:237]: one turn took {90 + number % 50} ms\x1b[0m",
    )
    return said[number % 5 : number % 5 + 1]


FAULTS: dict[str, Fault] = {
    "frozen": Fault(freezes=0.35),
    "too-high": Fault(_too_high),
    "lost-and-back": Fault(away=(0.2, 0.3)),
    "never-builds-up": Fault(_never_builds_up),
    "growing-leak": Fault(_grows),
    "overload": Fault(measured=_every(25, 1, "9.9E37")),
    "fault-values": Fault(measured=_last_words),
    "torn-clock": Fault(measured=_torn_clock),
    "fast-clock": Fault(measured=_at_speed(1.09)),
    "slow-clock": Fault(measured=_at_speed(0.91)),
    "clumps": Fault(clump_s=1.5),
    "psi": Fault(style="psi"),
    "chatter": Fault(style="log", beside=_chatter),
}


def faults_named(names: list[str]) -> tuple[Fault, ...]:
    """The faults of these names. Raises UsageError that lists them."""
    for name in names:
        if name not in FAULTS:
            raise UsageError(f"--fault: {name!r} is not known", remedy=f"Known: {', '.join(FAULTS)}.")
    return tuple(FAULTS[name] for name in names)


def listed() -> str:
    """Every name with what it does, for the help."""
    return "; ".join(f"{name}: {FAULTS_DO[name]}" for name in FAULTS)


def sent_s(faults: tuple[Fault, ...], now_s: float) -> float:
    """When a line that is written now goes out."""
    clump_s = max((fault.clump_s for fault in faults), default=0.0)
    return math.ceil(now_s / clump_s - 1e-9) * clump_s if clump_s else now_s
