"""Odds of places, suspects and what was heard, over invented knowledge small enough to be reckoned in full."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.errors import UsageError
from leakdown.tuned import tuned
from leakdown.where import heard as hearing
from leakdown.where import odds as weighing
from leakdown.where.answers import Answers, answers_with_words
from leakdown.where.belonging import Belonging
from leakdown.where.complaint import complaint_on
from leakdown.where.complaint_knowledge import Check, ComplaintKnowledge, KnownComplaint, KnownSuspect
from leakdown.where.evidence import DirectionResult, Evidence
from leakdown.where.heard import Heard, heard
from leakdown.where.knowledge import CAUSES, NO_LEAK, Knowledge, KnownPlace, Observation
from leakdown.where.located import Complaint, Ratio
from leakdown.where.measured import Measured
from leakdown.where.odds import Odds, _capped, _splits, place_odds
from leakdown.where.phrases import vocabulary
from leakdown.where.stories import SIZES, Bench, Story
from leakdown.where.suspects import (
    _by_worth,
    _gain,
    _worth_of_question,
    information,
    next_question,
    probabilities,
    questions,
    suspects,
)

T = tuned("where")

# ---------------------------------------------------------------- odds of places


def _place(name: str, weight: float, group: str = "", **more: Any) -> KnownPlace:
    return KnownPlace(name, name, group or name, {"crankcase": weight}, **more)


PLACES = (
    _place("a", 3.0, sections=("boot",)),
    _place("b", 2.0, "pair"),
    _place("c", 4.0, "pair"),
    _place("well", 1.0, healthy=True),
    _place("stiff", 0.5, pattern="tight"),
    _place(NO_LEAK, 2.5, pattern="tight"),
    KnownPlace("tap", "tap", "tap", {"tank": 1.0}),
)
LEAKS, GROUPS = ("a", "b", "c", "well"), {p.place: p.group for p in PLACES[:-1]}
FOUND = {"a": 3.0, "b": 0.5, "c": 1.4, "stiff": 2.0, NO_LEAK: 0.8, "cooling": 2.0, "vapour": 0.3}
NUMBERS = {"extra_log_sd": 0.2, "missed": 0.1, "two_leaks": 0.15, "cluster_cap": 30.0}
TEST = Measured("t", False, frozenset(), 30.0, 6.0, 12.0, 1.0, 1.0, 0.5, False, -7.5, False, False)
LEAKING = DirectionResult(False, 5.0, False)
PLAIN = Evidence("crankcase", (), (), Belonging(), None, LEAKING, LEAKING, sections=("boot", "case"))


def _known(found: dict[str, float]) -> Knowledge:
    look = Observation("look", "seen?", "look", seen=found)
    return Knowledge(PLACES, {}, {}, {"look": look}, (), NUMBERS)


class _Made:
    """A bench whose stories are drawn by chance, of four cases each, with sizes about what the tests lost."""

    def __init__(self, seed: int, tests: tuple[Measured, ...]) -> None:
        self.rng, self.tests, self.given = np.random.default_rng(seed), tests, Bench((), (), (), "", "", frozenset(), 0)
        self.of: dict[Any, Story] = {}
        self.kept: dict[Any, float] = {}

    def __call__(self, *given: Any) -> _Made:
        self.given = Bench(*given)
        return self

    def _story(self, name: Any, doubt: float = 0.2) -> Story:
        assert doubt == NUMBERS["extra_log_sd"]
        rows = (len(self.tests), 4)
        usual = np.exp(-0.5 * (np.log(SIZES / self.rng.uniform(10.0, 60.0)) / 0.7) ** 2)
        self.of[name] = Story(
            per_size=self.rng.uniform(0.5, 1.5, rows), besides=self.rng.uniform(-4.0, 4.0, rows),
            shape=self.rng.uniform(0.2, 1.0, 4), usual=usual / usual.sum(), log_ratio=self.rng.normal(0.0, 1.0, 4),
            first=np.array([1.0, 0.0, 1.0, 1.0]), surprise=float(self.rng.choice([1e-3, 0.05, 0.3])),
        )  # fmt: skip
        return self.of[name]

    def of_place(self, place: KnownPlace, doubt: float) -> Story:
        return self._story(place.place, doubt)

    def of_two(self, one: KnownPlace, other: KnownPlace, doubt: float) -> Story:
        return self._story((one.place, other.place), doubt)

    def without_leak(self, cause: str = "") -> Story:
        return self._story(cause or "sound")

    def like(self, name: Any, chosen: Sequence[int], case: int | None, slips: bool = True) -> float:
        """Likelihood of the chosen tests in one case, every size by its prior; None: where the leak shows in none.

        slips: whether a test may be something else than it looks.
        """
        key = (name, tuple(chosen), case, slips)
        if key not in self.kept:
            self.kept[key] = self._like(self.of[name], chosen, case, slips)
        return self.kept[key]

    def _like(self, story: Story, chosen: Sequence[int], case: int | None, slips: bool) -> float:
        per_test = []
        for k in chosen:
            lost = np.zeros(1) if case is None else story.per_size[k, case] * SIZES + story.besides[k, case]
            sd = np.where(lost < self.tests[k].loss, self.tests[k].below, self.tests[k].above)
            bell = np.exp(-0.5 * ((lost - self.tests[k].loss) / sd) ** 2)
            per_test.append(bell + story.surprise * slips)
        each = np.prod(per_test, axis=0)
        return float(each[0] if case is None else story.shape[case] * sum(each * story.usual))

    def cases(self, name: Any, chosen: Sequence[int] | None = None) -> list[float]:
        """Four cases and their like, with a leak at one place that may be missed."""
        every = range(len(self.tests)) if chosen is None else chosen
        missed = NUMBERS["missed"] if name in LEAKS else 0.0
        return [(1 - missed) * self.like(name, every, k) + missed * self.like(name, every, None) for k in range(4)]

    def mean(self, name: Any, chosen: Sequence[int] | None = None) -> float:
        return sum(self.cases(name, chosen)) / 4.0

    def genuine(self, name: Any) -> float:
        """With every test what it looks, or the leak missed; never likelier than with slips."""
        every = range(len(self.tests))
        missed = NUMBERS["missed"] * self.like(name, every, None) if name in LEAKS else 0.0
        return min(sum(self.like(name, every, k, False) for k in range(4)) / 4.0 + missed, self.mean(name))


def _joint(made: _Made, prior: dict[str, float], factors: dict[str, float], like: Any) -> dict[Any, float]:
    """Weight of every story: a place alone, no leak, a disturbance alone, two places (15 % of what can be two)."""
    of = {p: prior[p] * factors[p] * (0.85 * like(p) if p in LEAKS else like("sound")) for p in prior}
    sound = prior[NO_LEAK] * factors[NO_LEAK]
    of |= {cause: sound * T.disturbed[cause] * factors[cause] * like(cause) for cause in CAUSES}
    pairs = list(itertools.combinations(("a", "b", "c"), 2))
    norm = sum(prior[one] * prior[other] for one, other in pairs)
    for one, other in pairs:
        usual = 0.15 * (prior["a"] + prior["b"] + prior["c"]) * prior[one] * prior[other] / norm
        f = sorted((factors[one], factors[other]))
        explained = 0.0 if f[0] == 0.0 else max(f[1], 1.0) * min(f[0], 1.0) * min(f[1], 1.0)
        of[one, other] = usual * explained * like((one, other))
    return of


def _of_places(made: _Made, weights: dict[Any, float], prior: dict[str, float]) -> dict[str, float]:
    """The largest leak's place in every story: of two, the first one's in the cases that say so."""
    found = {p: weights[p] for p in prior}
    found[NO_LEAK] += sum(weights[cause] for cause in CAUSES)
    for pair in itertools.combinations(("a", "b", "c"), 2):
        cases = made.cases(pair)
        found[pair[0]] += weights[pair] * (cases[0] + cases[2] + cases[3]) / sum(cases)
        found[pair[1]] += weights[pair] * cases[1] / sum(cases)
    return found


def _drawn(rng: np.random.Generator, tight_share: float) -> Measured:
    tight = bool(rng.random() < tight_share)
    loss = 0.0 if tight else float(rng.uniform(10.0, 60.0))
    return replace(TEST, loss=loss, above=float(rng.uniform(5.0, 12.0)), tight=tight, inward=bool(rng.random() < 0.5))


def test_odds_are_bayes_rule_over_every_story(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each story held against each test case by case and size by size; the tests of one engine, or of two."""
    for seed in range(8):
        _odds_are_bayes_rule_over_every_story(seed, monkeypatch)


def _odds_are_bayes_rule_over_every_story(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(seed)
    tests = tuple(_drawn(rng, 1.0 if seed == 6 else 0.3) for _ in range(1 + seed % 4))
    made = _Made(seed, tests)
    monkeypatch.setattr(weighing, "Bench", made)
    usual, seen = (0.98, 0.7)[seed % 2] if len(tests) > 1 else 1.0, seed % 3 != 0
    evidence = replace(
        PLAIN, tests=tests, belonging=Belonging(usual, 1.0 - 0.1 * (seed % 2)), seen=("look",) * seen,
        complaint=Complaint({"b": 2.0}), intake="reed", lips="in", shapes=frozenset(("step",)), other_laws=0.3,
    )  # fmt: skip
    odds = place_odds(evidence, _known(FOUND))
    assert made.given == Bench(tests, ("boot", "case"), ("case",), "reed", "in", frozenset(("step",)), 0.3)

    prior = {"a": 3.0, "b": 4.0, "c": 4.0, "well": 1.0, "stiff": 0.5, NO_LEAK: 2.5}
    prior = {p: w / 15.0 for p, w in prior.items()}
    ones = dict.fromkeys((*prior, *CAUSES), 1.0)
    factors = ones | (FOUND if seen else {})
    alone = _of_places(made, _joint(made, prior, ones, made.mean), prior)
    assert odds.by_tests == pytest.approx({p: v / sum(alone.values()) for p, v in alone.items()})
    weights = _joint(made, prior, factors, made.mean)
    whole = sum(weights.values())
    assert odds.causes == pytest.approx({cause: weights[cause] / whole for cause in CAUSES})

    together, places = 1.0, {p: v / whole for p, v in _of_places(made, weights, prior).items()}
    if len(tests) > 1:
        splits = [s for n in range(1, len(tests)) for s in itertools.combinations(range(len(tests)), n) if 0 in s]

        def whatever(chosen: Sequence[int]) -> float:
            leak = sum(prior[p] * made.mean(p, chosen) for p in LEAKS) / sum(prior[p] for p in LEAKS)
            sound = made.mean("sound", chosen) + sum(T.disturbed[c] * made.mean(c, chosen) for c in CAUSES)
            return float((1.0 - T.sound_apart) * leak + T.sound_apart * sound)

        rest = [[k for k in range(len(tests)) if k not in s] for s in splits]
        strangers = sum(whatever(s) * whatever(r) for s, r in zip(splits, rest, strict=True)) / len(splits)
        joint = sum(_joint(made, prior, ones, made.genuine).values())
        together = usual * joint / (usual * joint + (1.0 - usual) * strangers)
    assert odds.together == pytest.approx(min(together, evidence.belonging.most))
    for k in (leaking := [k for k, t in enumerate(tests) if not t.tight] or list(range(len(tests)))):
        own = {p: prior[p] * factors[p] * made.mean(p if p in LEAKS else "sound", [k]) for p in prior}
        part = (1.0 - together) / len(leaking) / sum(own.values())
        places = {p: places[p] * (together if k == leaking[0] else 1.0) + part * own[p] for p in prior}
    assert odds.places == pytest.approx(_capped(places, GROUPS, odds.together))
    assert sum(odds.places.values()) == pytest.approx(1.0) and set(odds.ratios) == set(LEAKS)
    for place, (ratio, likely) in odds.ratios.items():
        assert ratio is made.of[place].log_ratio and likely == pytest.approx(made.cases(place))


def test_what_was_seen_may_rule_out_everything(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then what is usual stands, and no disturbance."""
    made = _Made(1, (TEST,))
    monkeypatch.setattr(weighing, "Bench", made)
    nothing = _known(dict.fromkeys((*GROUPS, *CAUSES), 0.0))
    odds = place_odds(replace(PLAIN, tests=(TEST,), seen=("look",)), nothing)
    assert odds.places == pytest.approx({p.place: p.weight["crankcase"] / 13.0 for p in PLACES[:-1]})
    assert odds.causes == dict.fromkeys(CAUSES, 0.0) and odds.likely_cause is None


def test_a_cause_is_named_beyond_its_bound() -> None:
    """And is the likely one where it explains more than half of what speaks for no leak."""
    least = T.cause_named
    causes = {"cooling": least, "warming": 1.01 * least, "vapour": 1.5 * least}
    assert Odds({}, causes, 1.0, {}).likely_causes == ("vapour", "warming")
    for no_leak, named in ((0.0, "vapour"), (2.9 * least, "vapour"), (3.0 * least, None), (3.1 * least, None)):
        assert Odds({NO_LEAK: no_leak}, causes, 1.0, {}).likely_cause == named
    assert Odds({"a": 1.0}, causes, 1.0, {}).likely_cause == "vapour"
    assert Odds({}, {}, 1.0, {}).likely_cause is None


def test_five_tests_alike_are_parted_one_by_one() -> None:
    assert {len(a) if len(a) < 3 else len(b) for a, b in _splits([TEST] * 5)} == {1} and len(_splits([TEST] * 5)) == 5


# ---------------------------------------------------------------- what was heard


def _heard(monkeypatch: pytest.MonkeyPatch, text: str, **rows: tuple[str, str]) -> Heard:
    """rows: cluster and ways to say it (parted by |) of each complaint."""
    claims = {
        name: KnownComplaint(name, name, cluster, 0.5, {}, words=tuple(ways.split(" | ")))
        for name, (cluster, ways) in rows.items()
    }
    ways = {c.id: tuple(hearing._way(c, way, {}) for way in c.words) for c in claims.values()}
    bars = {"doubt": (hearing.Half.of("perhaps", {}),)}
    monkeypatch.setattr(hearing, "complaint_knowledge", lambda: SimpleNamespace(complaints=claims))
    monkeypatch.setattr(hearing, "_language", lambda _: hearing._Language(vocabulary({}), ways, bars))
    return heard(text)


def test_what_is_half_said_is_asked_the_most_said_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """From one half on, by the way that says most of it, three at most; of what was taken nothing more is asked."""
    rows = {
        "third": ("c", "red + kilo + lima"),
        "half": ("d", "red + kilo + lima | red + kilo"),
        "two-thirds": ("e", "red + blue + kilo"),
        "most": ("f", "red + blue + green + kilo"),
        "late": ("g", "red + kilo"),
        "same-fact": ("b", "red + blue + green + white + kilo"),
        "said": ("b", "black"),
        "other": ("h", "kilo"),
    }
    found = _heard(monkeypatch, "red blue green white and black, or so", **rows)
    assert found.ask == ("most", "two-thirds", "half") and found.seen == ("said",) and found.left_over == ("or so",)
    assert _heard(monkeypatch, "red and black", **rows).ask == ("half", "late")
    assert _heard(monkeypatch, "red blue green white", **rows).ask == ("same-fact", "most", "two-thirds")
    doubted = _heard(monkeypatch, "perhaps black", **rows)
    assert (doubted.seen, doubted.ask, doubted.left_over) == ((), ("said",), ("perhaps black",))


# ---------------------------------------------------------------- suspects


def _suspects(*rows: tuple[str, float, Any]) -> tuple[KnownSuspect, ...]:
    return tuple(KnownSuspect(name, name, weight, found) for name, weight, found in rows)


def _claim(name: str, cluster: str, usual: float = 0.2, **more: Any) -> KnownComplaint:
    return KnownComplaint(name, f"{name}?", cluster, usual, more.pop("seen", {}), **more)


def _trade(suspected: Any, claims: Sequence[KnownComplaint] = (), checks: Sequence[Check] = ()) -> ComplaintKnowledge:
    return ComplaintKnowledge(suspected, {c.id: c for c in claims}, tuple(checks), 30.0, 0.95, 0.0)


RIVALS = _suspects(("seal", 0.4, "leak"), ("vent", 0.3, "fuel"), ("coil", 0.2, "none"))
SPLITS = _claim("splits", "x", 0.5, seen={"seal": 1.9, "others": 0.1})
MUTE = _claim("mute", "y")


def _bits(*chances: float) -> float:
    """Entropy of a distribution."""
    return -sum(p * math.log2(p) for p in chances if p > 0.0)


def test_answers_that_leave_nobody_are_refused() -> None:
    """Whole odds of less than 1 are odds."""
    nobody = _claim("nobody", "z", seen={"others": 0.0})
    known = _trade(RIVALS, (SPLITS, MUTE, nobody), (Check("look", "do", "why", "check", 1.0, {}),))
    plain = {s.place: s.probability for s in suspects(Answers(("mute",)), known).suspects}
    assert plain == pytest.approx({"seal": 4 / 9, "vent": 3 / 9, "coil": 2 / 9})
    with pytest.raises(UsageError, match="rule every suspect out") as caught:
        suspects(Answers(("nobody",)), known)
    assert "Look at them again." in str(caught.value)


def test_questions_that_tell_nothing_are_not_asked() -> None:
    """None where everything was asked, or nothing tells; as many as there are."""
    known = _trade(RIVALS, (MUTE, SPLITS, _claim("mute-too", "w")))
    assert next_question(Answers(), known) == SPLITS
    assert next_question(Answers(), known, frozenset(("splits",))) is None
    assert next_question(Answers(("mute", "splits"), ("mute-too",)), known) is None
    assert questions((), Answers(), known) == ("splits",) and questions(("mute",), Answers(), known) == (
        "mute",
        "splits",
    )
    assert questions((), Answers(), _trade(RIVALS, (MUTE,))) == ()


def test_what_a_question_is_worth_beside_another_of_its_cluster() -> None:
    """Whatever else was answered: the fall of entropy, summed over both answers of a joint table."""
    twin, other = _claim("twin", "x", 0.5, seen={"vent": 1.6, "coil": 0.4}), _claim("other", "y", seen={"seal": 2.0})
    known = _trade(RIVALS, (SPLITS, twin, other))
    answers = Answers(("other", "splits"))
    odds = {"seal": 0.4 * 1.9 * 2.0, "vent": 0.3 * 0.1, "coil": 0.2 * 0.1}
    now = {name: value / sum(odds.values()) for name, value in odds.items()}
    yes = {"seal": 0.5, "vent": 0.8, "coil": 0.2}
    tables = [{name: now[name] * yes[name] for name in now}, {name: now[name] * (1.0 - yes[name]) for name in now}]
    left = sum(sum(t.values()) * _bits(*(v / sum(t.values()) for v in t.values())) for t in tables)
    assert _worth_of_question(twin, answers, now, known) == pytest.approx(_bits(*now.values()) - left)
    tight = replace(known, cluster_cap=2.0)  # the cluster has said all that it may
    full = probabilities(answers, tight)
    assert _worth_of_question(twin, answers, full, tight) == pytest.approx(0.0) and information(full, yes) > 0.02
    never = _claim("never", "x", seen={"others": 0.0})  # nobody's, so a no says nothing and a yes cannot be
    assert _worth_of_question(never, answers, now, _trade(RIVALS, (SPLITS, twin, other, never))) == pytest.approx(0.0)
    assert _gain({"a": 0.0, "b": 1.0}, {"a": 0.5, "b": 0.5}) == 1.0


def _check(name: str, minutes: float, finds: dict[str, float], **more: Any) -> Check:
    return Check(name, f"{name}.", "why", "check", minutes, finds, **more)


def test_which_checks_are_to_be_done_and_in_which_order() -> None:
    """Bits a minute; not what was done or answered, what waits for another, what runs an engine that must not run."""
    sure, half = {"seal": 1.0}, {"seal": 0.5, "others": 0.1}
    checks = (
        _check("slow", 8.0, sure),
        _check("quick", 4.0, half),
        _check("blind", 1.0, {}),
        _check("answered", 1.0, sure, done_by=("mute", "splits")),
        _check("kept", 2.0, sure, when="never-run"),
        _check("then", 5.0, sure, after="slow"),
        _check("run", 6.0, sure, runs=True),
    )
    seized = _claim("seized", "s", never_run=True)
    known = _trade(RIVALS, (SPLITS, MUTE, seized), checks)

    def order(*done: str, seen: Sequence[str] = (), not_seen: Sequence[str] = ()) -> list[str]:
        return [c.id for c in _by_worth(Answers(tuple(seen), tuple(not_seen)), known, done)]

    p = {"seal": 4 / 9, "vent": 3 / 9, "coil": 2 / 9}
    found = p["seal"] * 0.5 + 5 / 9 * 0.1
    bits = {
        "sure": _bits(4 / 9, 5 / 9),
        "half": _bits(found, 1 - found) - 4 / 9 * _bits(0.5, 0.5) - 5 / 9 * _bits(0.1, 0.9),
    }
    worth = {
        "answered": bits["sure"] / 1.0,
        "run": bits["sure"] / 6.0,
        "slow": bits["sure"] / 8.0,
        "quick": bits["half"] / 4.0,
    }
    worth |= {"blind": 0.0}
    assert order() == sorted(worth, key=lambda name: -worth[name])
    assert order(not_seen=("mute",)) == [name for name in order() if name != "answered"]
    assert set(order(seen=("seized",))) == {"slow", "quick", "blind", "answered"}
    assert set(order("slow")) == {"quick", "blind", "answered", "then", "run"}
    every = ("slow", "quick", "blind", "answered", "then", "run")
    assert set(order(*every)) == set(every) and order(*every[1:]) == ["slow"]  # all done: any of them again


def test_what_is_said_of_each_suspect() -> None:
    """Which a leak test can find, what was answered, and reasons from a factor of 1.25 on."""
    just = _claim("just", "u", seen={"seal": T.telling_factor, "vent": 1.0 / T.telling_factor})
    known = _trade(RIVALS, (SPLITS, just, MUTE), (_check("look", 1.0, {}),))
    found = suspects(Answers(("just",), ("mute",)), known)
    assert {s.place: s.leak for s in found.suspects} == {"seal": True, "vent": True, "coil": False}
    assert found.answers == ("yes: just?", "no: mute?")
    assert {s.place: len(s.reasons) for s in found.suspects} == {"seal": 2, "vent": 2, "coil": 1}
    assert suspects(Answers(), known).next_test.id == "look"


# ---------------------------------------------------------------- a complaint's part in the odds of places


def test_what_a_complaint_does_to_places() -> None:
    """By hand: the suspects of each place in the mean of their weights, a fifth by chance; 1 in the mean of places."""
    suspected = tuple(
        KnownSuspect(name, name, weight, "leak", places=places)
        for name, weight, places in (("one", 4.0, ("a",)), ("two", 2.0, ("a", "b")), ("far", 6.0, ("tap",)))
    )
    claims = (
        _claim("x", "x", seen={"one": 3.0, "two": 0.5, "far": 0.25}, says="it is x"),
        _claim("y", "y", seen={"one": 2.0}, says="it is y"),
        _claim("nobody", "z", seen={"others": 0.0}),
    )
    known = replace(_trade(suspected, claims), incidental=0.2)
    rows = (_place("a", 3.0), _place("b", 2.0), _place("c", 1.0), _place(NO_LEAK, 4.0, pattern="tight"), PLACES[-1])
    places = Knowledge(rows, {}, {}, {}, (), NUMBERS | {"cluster_cap": 2.0})

    def by_hand(one: float, two: float, far: float) -> dict[str, float]:
        anybody = (4.0 * one + 2.0 * two + 6.0 * far) / 12.0
        raw = {"a": 0.8 * (4.0 * one + 2.0 * two) / 6.0 + 0.2 * anybody, "b": 0.8 * two + 0.2 * anybody, "c": anybody}
        raw[NO_LEAK] = far
        mean = (3.0 * raw["a"] + 2.0 * raw["b"] + raw["c"] + 4.0 * far) / 10.0
        return {place: min(max(value / mean, 0.5), 2.0) for place, value in raw.items()}

    found = complaint_on("crankcase", Answers(("x",), ("y",)), known, places)
    no = (1.0 - 0.2 * 2.0) / (1.0 - 0.2)  # of a yes that is twice the usual 0.2
    assert found is not None and found.factors == pytest.approx(by_hand(3.0 * no, 0.5, 0.25))
    assert [(one.id, one.seen, one.text) for one in found.answers] == [("x", True, "it is x"), ("y", False, "it is y")]
    assert found.answers[0].factors == pytest.approx(by_hand(3.0, 0.5, 0.25))
    assert found.answers[1].factors == pytest.approx(by_hand(no, 1.0, 1.0))
    assert complaint_on("crankcase", Answers(), known, places) is None
    nowhere = complaint_on("pump", Answers(("x",)), known, places)
    assert nowhere is not None and nowhere.factors == {}
    with pytest.raises(UsageError, match="rule every place out") as caught:
        complaint_on("crankcase", Answers(("nobody",)), known, places)
    assert "Look at them again." in str(caught.value)
    with pytest.raises(UsageError, match="unknown observation 'w'"):
        complaint_on("crankcase", Answers(("w",)), known, places)


def test_answers_stay_what_they_are() -> None:
    """Seen is seen; of the words what nobody denies, before the ids."""
    assert Answers(("a",), ("b",)).and_("c", True) == Answers(("a", "c"), ("b",))
    assert Answers(("a",), ("b",)).and_("c", False) == Answers(("a",), ("b", "c"))
    said = "There is a hiss when I unscrew the gas cap. It floods"
    assert answers_with_words(said, ("dies-cap",), ("floods",)) == Answers(("hiss-at-cap", "dies-cap"), ("floods",))
    with pytest.raises(UsageError, match="'b' is both seen and not seen"):
        Answers(("c", "b"), ("c", "b")).check(("b", "c"), "locate")


def test_when_a_ratio_says_something() -> None:
    for value, high, at_least in itertools.product((None, 1.0), repeat=3):
        assert Ratio(value, 0.0, high, at_least).told is any((value, high, at_least))
