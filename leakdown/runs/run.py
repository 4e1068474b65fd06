"""A run of the engine, as it was timed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, get_args

from leakdown.errors import UsageError

Ended = Literal["died", "stopped", "bogged", "would-not-start"]
Level = Literal["above-half", "half", "below-half", ""]
Throttle = Literal["open", "idle", ""]
ENDED: tuple[Ended, ...] = get_args(Ended)
ENDED_WORDS: dict[Ended, str] = {
    "died": "died",
    "stopped": "stopped by hand",
    "bogged": "bogged down",
    "would-not-start": "would not start",
}

_LEVELS: tuple[tuple[Level, str], ...] = (
    ("above-half", r"full|brim|(3/4|three[- ]quarters?|2/3|more than half|above half|over half)( full)?"),
    ("half", r"(half|1/2)( full)?"),
    ("below-half", r"low|quarter|1/4|1/3|third|nearly empty|almost empty|empty|(less than|below|under) half"),
)


@dataclass(frozen=True)
class Run:
    """One run. A run that was stopped by hand would have gone on: its time is a lower bound (censored).

    ran_s: seconds from the start (0 for an engine that would not start). fuel: as said, "" not said. warm: None
    not said. fitted: what was on it. day: the date, as "2026-03-05", or "". period: repairs made before this run.
    throttle: "" not said, or both. restarts: noted that it started again at once after it had died.
    """

    ran_s: float
    ended: Ended
    fuel: str = ""
    warm: bool | None = None
    fitted: str = ""
    day: str = ""
    period: int = 0
    throttle: Throttle = ""
    restarts: bool = False

    def __post_init__(self) -> None:
        if self.ended not in ENDED:
            raise UsageError(f"a run ended {self.ended!r}", remedy=f"Say {', '.join(ENDED)}.")
        if not 0.0 <= self.ran_s < float("inf"):
            raise UsageError(f"a run of {self.ran_s} s", remedy="Give the seconds it ran, 0 or more.")
        if self.ended == "would-not-start" and self.ran_s > 0.0:
            raise UsageError("an engine that would not start ran for some time", remedy='Say "0 s", or died.')

    @property
    def event(self) -> bool:
        """It ended by itself."""
        return self.ended != "stopped"

    @property
    def level(self) -> Level:
        """Where the fuel stood at the start; "" where that was not said, or not in words that are known."""
        said = " ".join(re.sub(r"\b(a|of|tank)\b", " ", self.fuel.lower()).split())
        return next((level for level, words in _LEVELS if re.fullmatch(words, said)), "")
