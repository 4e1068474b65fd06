"""What to do next: the test, or the repair, that costs the fewest minutes in all, looking two steps ahead.

A repair at the wrong place costs its minutes and a test again; a test costs its own and makes the repair surer. What
is expected to cost least is proposed: a test only where it is possible, in a direction that leaks, and not done yet.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Array
from leakdown.circuits import Direction, circuit
from leakdown.tuned import text, tuned
from leakdown.where.evidence import Evidence, could_show
from leakdown.where.knowledge import NO_LEAK, Knowledge, KnownPlace, KnownTest, Observation
from leakdown.where.located import Entry, NextTest
from leakdown.where.odds import Odds

_T = tuned("where")
_OTHER_WAY: dict[str, Direction] = {"vacuum": "vacuum", "pressure": "pressure"}
"""Tests that are the direction not tested yet."""


def next_test(odds: Odds, evidence: Evidence, known: Knowledge, asks: bool = False) -> NextTest:
    """The best next step: a test, a repair, or to stop. asks: whether the tests belong together is asked first."""
    found = _next(odds, evidence, known)
    if asks:
        asked = text("where", "ask together")
        enter = (Entry("seen", "same-setup"), Entry("not_seen", "same-setup"), *found.enter)
        return replace(found, do=f"{asked} {found.do}", enter=enter)
    return found


def _next(odds: Odds, evidence: Evidence, known: Knowledge) -> NextTest:
    special = _special(odds, evidence, known)
    if special is not None:
        return special
    places = known.of_circuit(evidence.circuit)
    now = np.array([odds.places[p.place] for p in places])
    repairs = Repairs.of(places, known)
    tests = [t for t in known.tests if possible(t, evidence, known)]
    chances = {priced(t, evidence, known): _chances(t, places, evidence, odds, known) for t in tests}
    step = cheapest(now, chances, repairs)
    if step is not None:
        return _as_next(step, evidence, known)
    first = repairs.first(now)
    return _end(max((p for p in places if first in (p.place, p.group)), key=lambda p: odds.places[p.place]), evidence)


def _special(odds: Odds, evidence: Evidence, known: Knowledge) -> NextTest | None:
    """What comes next where it is no question of telling places apart."""
    tested = [name for name, _ in evidence.directions]
    both_told = len(tested) == 2 or circuit(evidence.circuit).both == "no"
    if evidence.passes and both_told:
        return _stop("passes", evidence)
    when = ""
    if evidence.circuit == "rig":
        when = "rig" if odds.places.get(NO_LEAK, 0.0) < 0.5 else "tight"
    elif odds.together <= _T.strangers_below:
        return _on_one_set_up(evidence, known)
    elif (cause := odds.likely_cause) is not None:
        when = "vapour" if cause == "vapour" else "repeat"
    elif both_told and odds.places.get(NO_LEAK, 0.0) > 0.5:
        when = "tight" if all(tested.tight for _, tested in evidence.directions) else "repeat"
    if not when:
        return None
    test = next(t for t in known.tests if t.when == when)
    answered = bool(evidence.answered & set(test.answers))
    return _stop(when, evidence) if answered else _as_next(test, evidence, known)


def _on_one_set_up(evidence: Evidence, known: Knowledge) -> NextTest:
    """Both directions anew, where the tests do not belong together."""
    step = _as_next(known.test("repeat"), evidence, known)
    do, why = text("where", "one set-up"), text("where", "why one set-up")
    return replace(step, do=do, why=f"{why}.", enter=tuple(e for e in step.enter if e.kind == "file"))


def _stop(why: str, evidence: Evidence) -> NextTest:
    do = text("where", f"stop/{why}")
    if why == "passes" and "reading-fell" not in evidence.seen and any(v.unproven for v in evidence.verdicts):
        do = f"{do} {text('where', 'prove')}"
    return NextTest("stop", do, f"{text('where', 'why stop')}.", 0.0, None, ())


def _end(place: KnownPlace, evidence: Evidence) -> NextTest:
    if place.pattern == "tight" and not place.repair:
        return _stop("tight", evidence)
    do = text("where", "repair", repair=place.repair or f"Repair the {place.name}")
    why = text("where", "why repair", place=place.name)
    return NextTest("repair", do, f"{why}.", place.repair_min, None, (Entry("file", text("where", "file repair")),))


def _as_next(test: KnownTest, evidence: Evidence, known: Knowledge) -> NextTest:
    way = direction_of(test, evidence)
    absent = [i for i in test.answers if known.observations[i].absence]
    present = [i for i in test.answers if i not in absent]
    enter = [Entry("seen", i) for i in test.answers]
    if not absent:
        enter += [Entry("not_seen", i) for i in present]
    if test.file:
        enter.append(Entry("file", test.file))
    minutes = priced(test, evidence, known).minutes
    do = f"{text('where', 'dry first')} {test.do}" if minutes > test.minutes else test.do
    return NextTest(test.id, do, f"{test.why} (about {minutes:g} minutes).", minutes, way, tuple(enter))


# ---------------------------------------------------------------- which tests are possible


def possible(test: KnownTest, evidence: Evidence, known: Knowledge) -> bool:
    """Whether a test of telling places apart can be done on this engine, could show something and is not done yet."""
    if test.when or (test.circuits and evidence.circuit not in test.circuits):
        return False
    tested = [name for name, _ in evidence.directions]
    if evidence.answered & set(test.answers):
        return False
    if test.id in _OTHER_WAY:
        return test.direction not in tested
    if test.part and f"no-{test.part.split('-')[0]}" in evidence.seen:
        return False
    if test.direction and direction_of(test, evidence) is None:
        return False
    return not (_measured_by_section(test, evidence) or _shown_by_mark(test, evidence, known))


def direction_of(test: KnownTest, evidence: Evidence) -> Direction | None:
    """The direction in which a test is done: one that leaks, or None when none does or it is done in neither."""
    if test.id in _OTHER_WAY:
        return _OTHER_WAY[test.id]
    wanted = ("pressure", "vacuum") if test.direction == "leaking" else (test.direction,)
    leaking = {name for name, tested in evidence.directions if not tested.tight}
    return next((name for name in _OTHER_WAY.values() if name in wanted and name in leaking), None) or _untested(
        wanted, evidence
    )


def _untested(wanted: Sequence[str], evidence: Evidence) -> Direction | None:
    tested = {name for name, _ in evidence.directions}
    return next((_OTHER_WAY[name] for name in wanted if name in _OTHER_WAY and name not in tested), None)


def _measured_by_section(test: KnownTest, evidence: Evidence) -> bool:
    if test.id == "cap":
        return len({t.inward for t in evidence.tests if t.of_rig}) == 2
    separate = [s.section.lower() for s in evidence.shares if s.separable]
    return any(word in section for word in test.sections for section in separate)


def _shown_by_mark(test: KnownTest, evidence: Evidence, known: Knowledge) -> bool:
    """Whether a mark during the tests already shows what this test would: its place was touched."""
    told = {place for i in test.answers for place in known.observations[i].seen}
    single = len(test.answers) == 1
    return single and any(mark.place in told and (mark.changed or mark.steady) for mark in evidence.marks)


# ---------------------------------------------------------------- what each could show


def _chances(test: KnownTest, places: Sequence[KnownPlace], evidence: Evidence, odds: Odds, known: Knowledge) -> Array:
    """(places, outcomes) chance of each outcome for each place; rows sum to 1."""
    if test.id in _OTHER_WAY:
        return np.array([_ratio_bins(p, odds) for p in places])
    asked = [known.observations[i] for i in test.answers]
    shown = [o for o in asked if not o.absence]
    rows = np.array([[_chance(o, p, evidence) for o in shown] for p in places])
    rows = rows / np.maximum(rows.sum(axis=1, keepdims=True), 1.0)
    rest: Array = 1.0 - rows.sum(axis=1, keepdims=True)
    return np.concatenate((rows, rest), axis=1)


def _chance(observation: Observation, place: KnownPlace, evidence: Evidence) -> float:
    return observation.chance(place) if could_show(observation, place, evidence) else 0.0


def _ratio_bins(place: KnownPlace, odds: Odds) -> Array:
    """How often the other direction would fall into each class of ratio, as the tests have left it."""
    edges = _T.told_apart_ratios
    if place.place not in odds.ratios:
        return np.asarray(np.eye(len(edges) + 2)[-1])
    cases, weight = odds.ratios[place.place]
    total = float(weight.sum())
    weight = weight / total if total > 0.0 else np.full(cases.size, 1.0 / cases.size)
    counts = np.histogram(cases, [-math.inf, *(math.log(edge) for edge in edges), math.inf], weights=weight)[0]
    return np.append(counts, 0.0)


# ---------------------------------------------------------------- what it costs


@dataclass(frozen=True)
class Priced:
    """A test with what it takes. minutes: with drying what an earlier one made wet.

    then_min: what it adds to a later test that evacuates (`evacuates`): water is sucked in where it is not wiped off.
    """

    test: KnownTest
    minutes: float
    then_min: float
    evacuates: bool


def priced(test: KnownTest, evidence: Evidence, known: Knowledge) -> Priced:
    """What a test takes on this engine as it stands."""
    evacuates = direction_of(test, evidence) == "vacuum"
    wet = any(t.wets and evidence.answered & set(t.answers) for t in known.tests)
    dry_min = known.numbers["dry_min"]
    return Priced(test, test.minutes + dry_min * (evacuates and wet), dry_min * test.wets, evacuates)


@dataclass(frozen=True)
class Repairs:
    """What can be done in the end: each repair, and letting the engine go.

    mends: (repairs, places) 1 where a repair mends a place. wrong_min: (repairs,) minutes lost when it was another.
    go_on_min: minutes that finding the place takes from there at most.
    """

    names: tuple[str, ...]
    mends: Array
    wrong_min: Array
    go_on_min: float

    @classmethod
    def of(cls, places: Sequence[KnownPlace], known: Knowledge) -> Repairs:
        """Every place by itself, but for groups that one repair mends whole."""
        names = list(dict.fromkeys(p.group if p.whole_group or p.group == NO_LEAK else p.place for p in places))
        mends = [[float(name in (p.place, p.group)) for p in places] for name in names]
        again, share, back = (known.numbers[k] for k in ("wrong_repair_min", "wrong_repair_share", "come_back_min"))
        longest = [max(p.repair_min for p in places if name in (p.place, p.group)) for name in names]
        wrong = [back if name == NO_LEAK else again + share * m for name, m in zip(names, longest, strict=True)]
        return cls(tuple(names), np.array(mends), np.array(wrong), known.numbers["go_on_min"])

    def minutes(self, odds: Array) -> Array:
        """(n,) minutes that wrong repairs are expected to cost; odds (places, n), of any scale.

        The repair is made first that is likeliest for what it costs: no order loses less (a search with costs: Stone,
        Theory of Optimal Search, 1975, chapter 4). After a wrong one the next is made, or the search goes on.
        """
        likely = self.mends @ odds
        order = np.argsort(-likely / self.wrong_min[:, None], axis=0)
        found = np.cumsum(np.take_along_axis(likely, order, axis=0), axis=0)
        left = np.maximum(found[-1] - found, 0.0)
        lost = self.wrong_min[order] * left
        return np.asarray(lost[0] + np.minimum(lost[1:].sum(axis=0), self.go_on_min * left[0]))

    def first(self, odds: Array) -> str:
        """The repair to begin with; odds (places,)."""
        return self.names[int(np.argmax((self.mends @ odds) / self.wrong_min))]


def cheapest(now: Array, tests: Mapping[Priced, Array], repairs: Repairs) -> KnownTest | None:
    """The test from which on the fewest minutes are expected, or None when repairing now costs no more.

    now: (places,) odds. tests: (places, outcomes) chances of each. Two tests ahead, then the repair.
    """
    if not tests:
        return None
    every = np.concatenate(list(tests.values()), axis=1)
    starts = np.cumsum([0, *(table.shape[1] for table in tests.values())][:-1])
    minutes, evacuates = np.array([[test.minutes, test.evacuates] for test in tests]).T
    best, least = None, float(repairs.minutes(now[:, None])[0])
    for k, (test, chances) in enumerate(tests.items()):
        cost = minutes[k]
        for column in chances.T:
            then = now * column
            lost = np.add.reduceat(repairs.minutes(then[:, None] * every), starts)
            further = then.sum() * (minutes + test.then_min * evacuates) + lost
            further[k] = repairs.minutes(then[:, None])[0]
            cost += float(further.min())
        if cost < least:
            best, least = test.test, cost
    return best
