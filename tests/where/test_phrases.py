"""A complaint's words piece by piece: clauses, stems, forms, halves, and what keeps a claim from being taken."""

# ruff: noqa: E501  (cases are as long as they are)
from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from leakdown.where.heard import (
    _SHORT,
    MOST_ASKED,
    Heard,
    Taken,
    _barred,
    _found,
    _kept,
    _Language,
    _Said,
    _text,
    _way,
    _where,
    _worth_asking,
    groups_said,
    heard,
)
from leakdown.where.phrases import Concept, Form, Half, Hit, clauses, stem, vocabulary

WORDS = vocabulary(
    {
        "open": ["open", "loosen", "undo"],
        "cap": ["cap", "fuel cap", "!cap screw"],
        "dies": ["dies", "cuts out", "stop"],
        "no-spark": ["no spark"],
    }
)


def _plain(text: str) -> list[str]:
    return [" ".join(word.written for word in clause.words) for clause in clauses(text)]


# ---------------------------------------------------------------- clauses and words


_TEXT_IN_CLAUSES: list[Any] = [
    ("It dies. Then it starts", ["it dies", "then it starts"]),
    ("It dies; it starts, again: so (or so)", ["it dies", "it starts", "again", "so", "or so"]),
    ("It runs but dies - always", ["it runs", "dies", "always"]),
    ("0.5 l of fuel", ["0 5 l of fuel"]),
    ("a cut-out", ["a cut out"]),
    ("won't start", ["will not start"]),
    ("it doesn't idle", ["it does not idle"]),
    ("cant start, ain't good", ["can not start", "is not good"]),
    ("the owner's saw", ["the owner saw"]),
    ("dies after two minutes", ["dies after 2 minutes"]),
    ("twenty seconds", ["20 seconds"]),
    ("It won't run unless the choke is on", ["it only run when the choke is on"]),
    ("it doesn't start until it is cold", ["it only start when it is cold"]),
    ("it\u2019s dead", ["it is dead"]),
    ("", []),
    (" ... ,;", []),
]


def test_text_in_clauses() -> None:
    for case in _TEXT_IN_CLAUSES:
        _text_in_clauses(*case)


def _text_in_clauses(text: str, parts: list[str]) -> None:
    assert _plain(text) == parts


def test_sentences_and_questions() -> None:
    """Only a sentence that begins as a yes/no question asks."""
    said = clauses("Does it die? Why does it die? It dies! It dies")
    assert [(c.asked, c.sentence) for c in said] == [(True, 0), (False, 1), (False, 2), (False, 3)]
    assert [c.asked for c in clauses("Is it the cap, or the line? Yes")] == [True, True, False]
    assert clauses("Could  it   be, so?")[0].text == "Could it be" and not clauses("Is it so")[0].asked
    assert [w.denies for c in clauses("no spark, never hardly any") for w in c.words] == [
        True,
        False,
        True,
        True,
        False,
    ]


def test_stems() -> None:
    assert stem("stalls") == stem("stalled") == stem("stalling") and stem("died") == stem("dies")
    assert (
        stem("fell") == stem("fall")
        and stem("ran") == stem("run")
        and stem("12") == "#"
        and stem("caps") != stem("captain")
    )


def test_forms_word_by_word() -> None:
    (clause,) = clauses("loosened the fuel cap after 12 runs")
    words = clause.words
    assert Form.of("fuel cap").at(words, 2) == 4 and Form.of("fuel cap").at(words, 3) is None
    assert (
        Form.of("loosen").at(words, 0) == 1
        and Form.of("=loosen").at(words, 0) is None
        and Form.of("=loosened").at(words, 0) == 1
    )
    assert Form.of("#").at(words, 5) == 6 and Form.of("12").at(words, 5) == 6 and Form.of("11").at(words, 5) is None
    assert Form.of("runs again").at(words, 6) is None and Form.of("twelve").at(words, 5) == 6
    assert Form.of("no spark").denies and not Form.of("spark").denies


def test_concepts_take_the_longest_and_not_something_else() -> None:
    (clause,) = clauses("the fuel cap or a cap screw")
    concept = WORDS["cap"]
    end, form = concept.at(clause.words, 1)  # type: ignore[misc]
    assert end == 3 and len(form.parts) == 2
    assert (
        concept.at(clause.words, 2) is not None
        and concept.at(clause.words, 5) is None
        and concept.at(clause.words, 99) is None
    )
    only = Concept.of(["boot", "!plug boot", "", "!"])
    assert len(only.forms) == 1 == len(only.others)
    (plug,) = clauses("the plug boot and the boot")
    assert only.at(plug.words, 2) is None and only.at(plug.words, 5) is not None


def test_halves_within_a_clause() -> None:
    """Four words may stand between; .word follows at once; ^ in the first three words, $ at the end, ! denied."""
    half = Half.of("<open> <cap>", WORDS)

    def hits(one: Half, text: str, spent: Any = ()) -> list[Hit]:
        (clause,) = clauses(text)
        return one.hits(clause, spent)

    assert hits(half, "open the cap") == [Hit(0, 3, False)] and hits(half, "open a b c d cap") == [Hit(0, 6, False)]
    assert hits(half, "open a b c d e cap") == [] and hits(half, "cap open") == []
    assert hits(half, "not open the cap") == [] and hits(half, "open no cap") == []
    assert hits(half, "not a b c open the cap") == [] and hits(half, "not a b c d open the cap") == [Hit(5, 8, False)]
    assert hits(half, "not open the cap", spent=(0,)) == [Hit(1, 4, False)]
    assert hits(Half.of("!<open> <cap>", WORDS), "not open the cap") == [Hit(1, 4, True)]
    assert hits(Half.of("!<open> <cap>", WORDS), "open the cap") == []
    assert (
        hits(Half.of("<open> .<cap>", WORDS), "open cap") != []
        and hits(Half.of("<open> .<cap>", WORDS), "open the cap") == []
    )
    first = Half.of("^<open>", WORDS)
    assert hits(first, "a b open") != [] and hits(first, "a b c open") == [] and hits(first, "open") != []
    last = Half.of("<open>$", WORDS)
    assert hits(last, "a open") != [] and hits(last, "open a") == [] and last.last and not last.absent
    own = Half.of("<no-spark>", WORDS)
    assert hits(own, "there is no spark") == [Hit(2, 4, False)]  # its own "no" denies nothing
    with pytest.raises(KeyError):
        Half.of("<unknown>", WORDS)


# ---------------------------------------------------------------- claims


def _ways(text: str) -> tuple[tuple[Half, bool], ...]:
    return _way(SimpleNamespace(id="x"), text, WORDS)  # type: ignore[arg-type]


def test_a_claim_of_several_halves() -> None:
    both, linked = _ways("<dies> + <open> <cap>"), _ways("<dies> & <open> <cap>")
    assert [link for _, link in both] == [False, False] and [link for _, link in linked] == [False, True]
    whole = clauses("it dies when I open the cap")
    (found,) = _found(both, whole)
    assert (found.at, found.share, found.words) == ((0,), 1.0, "dies ... open the cap")
    apart = clauses("it dies, I open the cap")
    assert [f.share for f in _found(both, apart)] == [0.5] and [f.share for f in _found(linked, apart)] == [1.0]
    assert _found(linked, apart)[0].at == (0, 1) and _found(linked, clauses("I open the cap, it dies"))[0].at == (0, 1)
    assert _found(linked, clauses("It dies. I open the cap"))[0].share == 1.0
    assert _found(linked, clauses("I open the cap. It dies"))[0].share == 0.5  # what came before is another sentence
    assert _found(linked, clauses("It dies. Well then. I open the cap"))[0].share == 0.5
    third = _ways("<dies> + <open> + <cap>")
    assert _found(third, clauses("it dies"))[0].share == pytest.approx(1.0 / 3.0)
    assert _found(both, clauses("nothing of it")) == []
    twice = _found(_ways("<dies> + <dies>"), clauses("it dies"))
    assert twice[0].words == "dies"
    assert _found(_ways("<dies>"), clauses("it dies or cuts out"))[0].words == "dies"  # where it is said first
    last = clauses("well, I open the cap, it dies")
    assert _found(linked, last)[0].at == (1, 2)
    assert [f.share for f in _found(linked, clauses("it dies, well, I open the cap"))] == [0.5]  # not all round
    at = _where(linked[1][0], True, 0, apart, range(0, 0))
    assert at is not None and at[0] == 1 and _text(apart[1], at[1]) == "open the cap"
    assert _where(linked[1][0], False, 0, apart, range(0, 0)) is None


def _bars(**groups: list[str]) -> _Language:
    words = vocabulary(groups)
    halves = {name: (Half.of(f"<{name}>", words),) for name in groups}
    return _Language(words, {}, halves)


def test_what_bars_a_clause() -> None:
    language = _bars(
        other=["neighbour"], doubt=["perhaps"], cured=["fixed"], still=["still"], nothing=["no difference"]
    )
    assert _barred(clauses("it dies, perhaps, and so. It dies"), language) == [
        {"doubt"},
        {"doubt"},
        {"doubt"},
        frozenset(),
    ]
    assert _barred(clauses("the neighbour has one, it dies"), language) == [{"other"}, {"other"}]
    assert _barred(clauses("fixed it, it dies"), language) == [{"cured"}, frozenset()]
    assert _barred(clauses("fixed it and still dies"), language) == [frozenset()]
    assert _barred(clauses("Does it die? It dies"), language) == [{"doubt"}, frozenset()]
    assert _barred(clauses("no difference, it dies"), language) == [{"nothing"}, frozenset()]


def test_what_keeps_a_claim_back() -> None:
    plain: Any = SimpleNamespace(past=False, unmoved=False)

    def kept(text: str, *bars: set[str], at: tuple[int, ...] = (0,), claim: Any = plain) -> bool:
        said = clauses(text)
        barred = [frozenset(b) for b in bars] + [frozenset()] * (len(said) - len(bars))
        return _kept(claim, _Said(at, "x", 1.0), barred, said)

    assert (
        not kept("it dies")
        and kept("it dies", {"doubt"})
        and kept("it dies", {"cured"})
        and kept("it dies", {"nothing"})
    )
    past, unmoved = SimpleNamespace(past=True, unmoved=False), SimpleNamespace(past=False, unmoved=True)
    assert not kept("it dies", {"cured"}, claim=past) and not kept("it dies", {"nothing"}, claim=unmoved)
    assert (
        kept("it dies", {"cured"}, claim=unmoved)
        and kept("it dies", {"nothing"}, claim=past)
        and kept("it dies", {"cured", "other"}, claim=past)
    )
    short, long = "a b c d e f g h", "a b c d e f g h i"
    assert len(short.split()) == _SHORT == 8
    assert kept(f"it floods. {short}", set(), {"cured"}) and not kept(f"it floods. {long}", set(), {"cured"})
    assert kept("with the cap open, no difference", set(), {"nothing"}) and not kept(
        "with the cap open. No difference", set(), {"nothing"}
    )
    assert kept("it dies, b, c", set(), set(), {"cured"}, at=(0, 1)) and not kept(
        "it dies, b, c", set(), set(), {"cured"}, at=(0,)
    )
    cap = "well, with the cap open, no difference"
    assert kept(f"{cap}. So", set(), set(), {"nothing"}, at=(1,)) and kept(cap, set(), set(), {"nothing"}, at=(1,))
    assert not kept("with the cap open. No difference, I say", set(), {"nothing"})
    assert not kept("it dies, c", set(), {"doubt"}) and kept("a, it dies", {"doubt"}, at=(0, 1))


def test_what_is_worth_asking() -> None:
    known: Any = SimpleNamespace(
        complaints={k: SimpleNamespace(cluster=c) for k, c in (("a", "x"), ("b", "x"), ("c", "y"))}
    )
    assert _worth_asking("a", 0.5, set(), known) and not _worth_asking("a", 0.49, set(), known)
    assert not _worth_asking("a", 0.9, {"b"}, known) and _worth_asking("a", 0.9, {"c"}, known)


def test_what_was_heard() -> None:
    assert heard("") == Heard() == heard(" , .") and Heard((Taken("a", "x"), Taken("b", "y"))).seen == ("a", "b")
    found = heard("There is a hiss when I unscrew the gas cap. The sky is blue. It floods")
    assert found.seen == ("hiss-at-cap", "floods") and found.left_over == ("The sky is blue",)
    turned = heard("It floods. There is a hiss when I unscrew the gas cap")
    assert turned.seen == ("floods", "hiss-at-cap")  # in the order in which it is said
    assert all(one.words for one in found.taken) and MOST_ASKED == 3
    many = heard(
        "Perhaps it floods, perhaps there is a hiss when I unscrew the gas cap, perhaps the spark is gone when hot, perhaps it idles too high, perhaps it dies"
    )
    assert many.taken == () and len(many.ask) <= 3 and len(set(many.ask)) == len(many.ask) and many.ask
    assert groups_said("it ran at full throttle", ("full-throttle", "idle")) == ("full-throttle",)
    assert groups_said("Does it idle?", ("idle",)) == () and groups_said(
        "at idle and at full throttle", ("full-throttle", "idle")
    ) == ("full-throttle", "idle")
    with pytest.raises(KeyError):
        groups_said("x", ("no-such-group",))
