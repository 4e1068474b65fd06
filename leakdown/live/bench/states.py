"""Which one state a live test is in, and the words of each: the only place where that is decided. Pure.

A state excludes all others, so that what is shown cannot contradict itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from leakdown.analysis import Limit
from leakdown.circuits import Circuit
from leakdown.live.bench.prompts import Aim, Moment, lead
from leakdown.live.bench.vain import Vain
from leakdown.live.texts import STATES
from leakdown.quantities import show_pressure
from leakdown.tuned import tuned

State = Literal["waiting", "open", "filling", "settling", "holding", "decided", "frozen", "over", "lost", "vain"]
ALARMING: tuple[State, ...] = ("frozen", "over", "lost", "vain")
"""In these nothing of a calm test is shown: no phases, no estimate, no verdict so far."""
_PHASES: dict[str, State] = {"zero": "open", "vent": "open", "fill": "filling", "stabilise": "settling"}
_CALM: dict[str, State] = _PHASES | {"hold": "holding"}
_T = tuned("live.bench")


@dataclass(frozen=True)
class TooHigh:
    """A reading beyond what the circuit may be given (gauge magnitudes, Pa), and what to come down to."""

    inward: bool
    bound_pa: float
    target_pa: float


@dataclass(frozen=True)
class Facts:
    """All that decides the state. lost_s, frozen_s: for how long (None: not). wait_s: how long a lost gauge is waited
    for. unread: lines come that are no readings. aim, moment: as in `prompts`."""

    moment: Moment
    aim: Aim
    lost_s: float | None = None
    wait_s: float = 0.0
    unread: bool = False
    frozen_s: float | None = None
    too_high: TooHigh | None = None
    vain: Vain | None = None


@dataclass(frozen=True)
class Said:
    """A state in words: what is true, in capitals where it alarms, what to do, and why (may be "")."""

    state: State
    headline: str
    lead: str
    why: str = ""


def state_of(facts: Facts) -> State:
    """The one state: what makes the reading worthless or dangerous before what the test is at."""
    if facts.lost_s is not None or facts.unread:
        return "lost"
    if facts.too_high is not None:
        return "over"
    if facts.frozen_s is not None:
        return "frozen"
    if facts.vain is not None:
        return "vain"
    if facts.moment.phase == "hold" and facts.moment.decided:
        return "decided"
    return _CALM.get(facts.moment.phase, "waiting")


def said(facts: Facts, table: Circuit) -> Said:
    """The state with its words."""
    state, unit = state_of(facts), facts.aim.unit
    if state not in ALARMING:
        return Said(state, STATES[state]["head"], lead(facts.moment, facts.aim))
    if state == "over":
        return _over(facts, table, unit)
    if state == "lost":
        which = "lost" if facts.lost_s is not None else "unread"
        left = {"waited": facts.lost_s or 0.0, "wait": facts.wait_s}
        return _said(state, which, **left)
    if state == "frozen":
        return _said(state, state, frozen_s=facts.frozen_s)
    vain = facts.vain
    assert vain is not None
    return _said(state, state, strokes=vain.strokes, held=vain.held, leak=vain.leak, hole=vain.hole)


def _over(facts: Facts, table: Circuit, unit: str) -> Said:
    high = facts.too_high
    assert high is not None
    shown = {"target": show_pressure(high.target_pa, unit, 2), "bound": show_pressure(high.bound_pa, unit, 2)}
    found = _said("over", "over vacuum" if high.inward else "over pressure", **shown, harm=table.harm)
    return found if facts.frozen_s is None else replace(found, why=STATES["over and frozen"]["why"])


def _said(state: State, which: str, **figures: object) -> Said:
    return Said(state, *(STATES[which][part].format(**figures) for part in ("head", "lead", "why")))


class PressureGuard:
    """Feed readings: from the caution of the circuit on, until it is down to its target, the circuit is too high.

    A limit that was given, or the maker's, which begins higher raises the caution to its own start.
    """

    def __init__(self, table: Circuit, limit: Limit | None) -> None:
        self.now: TooHigh | None = None
        self._table = table
        own = limit is not None and limit.source in ("given", "job", "file")
        self._allowed_pa = limit.start_pa * _T.allowed_share if own and limit is not None and limit.start_pa else 0.0

    def feed(self, pressure_pa: float) -> None:
        """Take a reading (gauge, signed)."""
        inward, size_pa = pressure_pa < 0.0, abs(pressure_pa)
        direction = "vacuum" if inward else "pressure"
        bound_pa = max(self._table.caution_pa(direction), self._allowed_pa)
        target_pa = min(self._table.target_pa(direction) or bound_pa, bound_pa)
        if size_pa > bound_pa:
            self.now = TooHigh(inward, bound_pa, target_pa)
        elif self.now is not None and (inward != self.now.inward or size_pa <= target_pa):
            self.now = None
