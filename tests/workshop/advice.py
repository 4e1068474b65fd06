"""Following the advice to its end, beside a fixed order of tests: how often right, and in how many minutes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from leakdown.judge.analyse import fitted
from leakdown.judge.judged import FittedTest
from leakdown.where.answers import EngineFacts
from leakdown.where.locate import locate_fitted
from leakdown.where.located import Located
from tests.workshop.bench import SHOWS, Bench
from tests.workshop.engines import CAUSES, Engine

MINUTES = {"cap": 3.0, "reseat": 5.0, "pressure": 4.0, "vacuum": 4.0, "soap": 8.0, "block-boot": 8.0, "grease": 7.0}
"""Hands-on time (common practice, no source)."""
SOAP = ["bubbles-blanks", "bubbles-rig", "bubbles-base", "bubbles-joint", "bubbles-plug", "bubbles-boot",
        "bubbles-decompression", "bubbles-flywheel-seal", "bubbles-drive-seal", "soap-clean"]  # fmt: skip
LONGEST = 14


@dataclass(frozen=True)
class Followed:
    """How it went with one engine. steps: ids of the tests that were done. ended: a repair or a stop was proposed."""

    engine: Engine
    group: str
    minutes: float
    steps: tuple[str, ...]
    ended: bool

    @property
    def right(self) -> bool:
        return self.group == self.engine.group


class Fits:
    """The fits of one engine's logs, each made once."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._made: dict[tuple[bool, bool, bool], FittedTest] = {}

    def __call__(self, inward: bool, boot: bool = True, sections: bool = False) -> FittedTest:
        key = inward, boot, sections
        if key not in self._made:
            self._made[key] = fitted(self.engine.hold(*key))
        return self._made[key]


def located(fits: Fits, bench: Bench, tests: list[FittedTest]) -> Located:
    """What the program says of what is known so far."""
    facts = EngineFacts(tuple(dict.fromkeys(bench.seen)), tuple(dict.fromkeys(bench.not_seen)), fits.engine.intake)
    return locate_fitted(tests, facts)


def started(fits: Fits) -> tuple[Bench, list[FittedTest], float]:
    """What both do first: the rig alone, the blanks seated anew, the pressure test."""
    bench = Bench(fits.engine)
    bench.look(["rig-tight"])
    bench.look(["reseat-changes"])
    return bench, [fits(False)], MINUTES["cap"] + MINUTES["reseat"] + MINUTES["pressure"]


def by_advice(fits: Fits, ask: Callable[[Fits, Bench, list[FittedTest]], Located] = located) -> Followed:
    """Do what is proposed until it ends."""
    bench, tests, minutes = started(fits)
    steps: list[str] = []
    while len(steps) < LONGEST:
        found = ask(fits, bench, tests)
        step = found.next_test
        if step.id in ("repair", "stop"):
            return Followed(fits.engine, found.groups[0].group, minutes, tuple(steps), True)
        steps.append(step.id)
        minutes += step.minutes
        tests = _done(fits, bench, tests, found)
    return Followed(fits.engine, found.groups[0].group, minutes, tuple(steps), False)


def _done(fits: Fits, bench: Bench, tests: list[FittedTest], found: Located) -> list[FittedTest]:
    step = found.next_test
    if step.id in ("vacuum", "pressure"):
        return [*tests, fits(step.id == "vacuum")]
    if step.id == "block-boot":
        whole = [fits(h.inward, True, True) if h.analysis.recording.conditions.includes == () else h for h in tests]
        return [*whole, fits(step.direction == "vacuum", False)]
    answers = [e.what for e in step.enter if e.kind in ("seen", "not_seen")]
    bench.look(list(dict.fromkeys(a for a in answers if a not in bench.seen + bench.not_seen)))
    return tests


def by_fixed_order(fits: Fits) -> Followed:
    """Rig, blanks, pressure, vacuum; then soap, boot, grease until one of them shows where; else what is likeliest."""
    bench, tests, minutes = started(fits)
    tests, minutes = [*tests, fits(True)], minutes + MINUTES["vacuum"]
    if "rig-tight" in bench.not_seen or "reseat-changes" in bench.seen:
        return Followed(fits.engine, "test-rig", minutes, (), True)
    steps = []
    for name, look in (
        ("soap", SOAP),
        ("block-boot", ["blocked-at-cylinder"]),
        ("grease", ["grease-flywheel", "grease-drive"]),
    ):
        steps.append(name)
        minutes += MINUTES[name]
        shown = [f for f in bench.look(look) if f != "soap-clean"]
        if shown:
            return Followed(fits.engine, CAUSES[SHOWS[shown[0]][0]].group, minutes, tuple(steps), True)
    return Followed(fits.engine, located(fits, bench, tests).groups[0].group, minutes, tuple(steps), True)
