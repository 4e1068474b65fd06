"""Every check of the knowledge files, one line of a shop's own at a time; and what the rows mean, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from leakdown.errors import InputError
from leakdown.where.complaint_knowledge import Check, KnownComplaint, KnownSuspect, complaint_knowledge
from leakdown.where.heard import heard
from leakdown.where.knowledge import (
    CAUSES,
    INTAKES,
    LIPS,
    KnownPlace,
    KnownTest,
    Observation,
    _check_names,
    _check_places,
    capped,
    knowledge,
)
from leakdown.where.suspects import factor_of

PLACE = KnownPlace("base-gasket", "base gasket", "gasket-or-joint", {"crankcase": 8.0})
BAD_RATIOS = (
    "[[1.0, 0, 1, 2]]",
    "[[1.0, 1, 1, 2]]",
    "[[1.0, 1, 2, 2]]",
    "[[1.0, 2, 1, 3]]",
    "[[1.0, 1, 3, 2]]",
    "[[0.9999, 1, 2, 3]]",
    "[[1.0001, 1, 2, 3]]",
    "[[0.5, 1, 2, 3], [0.4, 1, 2, 3]]",
    "[[0.5, 1, 2, 3], [0.5, 3, 2, 3]]",
)


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", str(tmp_path))
    return tmp_path


def _read(own: Path, name: str, text: str) -> object:
    (own / name).write_text(text + "\n", "utf-8")
    return complaint_knowledge() if name[:2] in ("su", "co", "ch") else knowledge()


@pytest.mark.parametrize("at", ["ratio", "lips.in", "intake.reed"])
@pytest.mark.parametrize("ratio", BAD_RATIOS)
def test_a_ratio_is_shares_of_one_and_three_rising_points(own: Path, at: str, ratio: str) -> None:
    with pytest.raises(InputError, match=r"^\S*places.toml: place.base-gasket has a ratio whose shares do not sum"):
        _read(own, "places.toml", f"place.base-gasket.{at} = {ratio}")


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("places.toml", 'place.base-gasket.group = "seal"', "place.base-gasket.group.seal is not known"),
        ("places.toml", "place.base-gasket.weight.case = 1", "place.base-gasket.weight.case is not known"),
        ("places.toml", "place.base-gasket.lips.up = [[1.0, 1, 2, 3]]", "base-gasket.lips.up is not known"),
        ("places.toml", "place.base-gasket.intake.port = [[1.0, 1, 2, 3]]", "base-gasket.intake.port is not known"),
        ("places.toml", 'why.seals.more = "x"', "why.seals is not known"),
        ("places.toml", 'why.other.both = "x"', "why.other.both is not known"),
        ("places.toml", "extra = 1", "extra is not known"),
        ("observations.toml", "case-dry.not_seen.bas-gasket = 3", "case-dry.not_seen.bas-gasket is not known"),
        ("tests.toml", 'soap.circuits = ["crankcase", "case"]', "soap.circuits.case is not known"),
        ("complaints.toml", "dies-cap.usual = 0", "dies-cap.usual must be a share between 0 and 1"),
        ("complaints.toml", "dies-cap.usual = 1", "dies-cap.usual must be a share between 0 and 1"),
        ("complaints.toml", "dies-cap.not_seen.tank-vnet = 3", "dies-cap.not_seen.tank-vnet is not known"),
        ("complaints.toml", 'dies-cap.words = ["<nothing-such>"]', "dies-cap.words names 'nothing-such'"),
        ("suspects.toml", "suspect.no-spark.weight = 0", "suspect.no-spark.weight must be above 0"),
        ("suspects.toml", "numbers.incidental = 1", "numbers.incidental must be a share from 0 to 1"),
        ("suspects.toml", "numbers.other = 1", "numbers.other is not known"),
        ("suspects.toml", "new = 1", "new is not known"),
        ("checks.toml", "cap.minutes = 0", "cap.minutes must be above 0"),
        ("checks.toml", "cap.finds.tank-vnet = 0.5", "cap.finds.tank-vnet is not known"),
        ("checks.toml", 'cap.kind = "look"', "cap.kind cannot be 'look'"),
    ],
)
def test_each_line_that_cannot_be_meant_is_refused_by_its_key(own: Path, name: str, text: str, told: str) -> None:
    with pytest.raises(InputError) as caught:
        _read(own, name, text)
        heard("It dies.")  # the words are read at their first use
    assert told in str(caught.value) and name in str(caught.value)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        *(("places.toml", f"place.base-gasket.lips.{lips} = [[1.0, 1, 2, 3]]") for lips in LIPS),
        *(("places.toml", f"place.base-gasket.intake.{kind} = [[1.0, 1, 2, 3]]") for kind in INTAKES),
        *(("places.toml", f'why.other.{side} = "x"') for side in ("more", "same", "less")),
        *(("observations.toml", f"case-dry.seen.{name} = 2") for name in (*CAUSES, "others", "shaft-seal", "oil-pump")),
        ("suspects.toml", "numbers.incidental = 0"),
        ("suspects.toml", "numbers.incidental = 0.99"),
        ("suspects.toml", "suspect.no-spark.weight = 0.5"),
        ("complaints.toml", "dies-cap.usual = 0.99"),
        ("checks.toml", "cap.minutes = 0.5"),
        ("places.toml", "place.base-gasket.ratio = [[0.25, 1, 2, 3], [0.75, 0.1, 0.2, 0.3]]"),
        ("tests.toml", 'soap.circuits = ["crankcase", "tank"]'),
    ],
)
def test_what_a_shop_may_say_is_taken(own: Path, name: str, text: str) -> None:
    assert _read(own, name, text)


def test_every_name_of_a_place_and_of_a_test_is_checked_at_its_key() -> None:
    """The same checks on rows in memory: one thing wrong at a time, and the edges of a ratio."""
    known, any_ratio = knowledge(), ((1.0, 1.0, 2.0, 3.0),)
    for change, told in (
        ({"group": "seal"}, r"^places.toml.*: place.base-gasket.group.seal "),
        ({"weight": {"case": 1.0}}, r"^places.toml.*: place.base-gasket.weight.case "),
        ({"lips": {"up": any_ratio}}, r"^places.toml.*: place.base-gasket.lips.up "),
        ({"intake": {"port": any_ratio}}, r"^places.toml.*: place.base-gasket.intake.port "),
        *(
            ({name: value}, r"^places.toml.*: place.base-gasket has a ratio")
            for low, mid, high in ((0.0, 1.0, 2.0), (1.0, 1.0, 2.0), (1.0, 2.0, 2.0), (2.0, 1.0, 3.0), (-1.0, 1.0, 2.0))
            for row in [((1.0, low, mid, high),)]
            for name, value in (("ratio", row), ("lips", {"in": row}), ("intake", {"reed": row}))
        ),
        *(({"ratio": ((share, 1.0, 2.0, 3.0),)}, "has a ratio") for share in (1.0 - 1.2e-6, 1.0 + 1.2e-6, 2.0)),
    ):
        with pytest.raises(InputError, match=told):
            _check_places(replace(known, places=(replace(PLACE, **change),)))  # type: ignore[arg-type]
    for share in (1.0 - 0.9e-6, 1.0 + 0.9e-6):
        _check_places(replace(known, places=(replace(PLACE, ratio=((share, 1.0, 2.0, 3.0),)),)))
    for why, told in (({"seals": {"more": "x"}}, "^places.toml.*: why.seals "),
                      ({"other": {"both": "x"}}, "^places.toml.*: why.other.both ")):  # fmt: skip
        with pytest.raises(InputError, match=told):
            _check_places(replace(known, why=why))
    look, test = Observation("look", "ask", "c"), KnownTest("soap", "do", "why", 3.0)
    for looks, tests, told in (
        ([replace(look, seen={"seel": 2.0})], (), r"^observations.toml.*: look.seen.seel "),
        ([replace(look, not_seen={"seel": 2.0})], (), r"^observations.toml.*: look.not_seen.seel "),
        ([look], (replace(test, answers=("lock",)),), r"^tests.toml.*: soap.answers.lock "),
        ([look], (replace(test, circuits=("case",)),), r"^tests.toml.*: soap.circuits.case "),
    ):
        with pytest.raises(InputError, match=told):
            _check_names(replace(known, observations={o.id: o for o in looks}, tests=tests))
    _check_names(replace(known, observations={"look": look}, tests=(replace(test, answers=("look",)),)))
    assert all(known.place(p.place) is p for p in known.places) and all(known.test(t.id) is t for t in known.tests)


def test_what_a_new_row_need_not_say() -> None:
    """The defaults: nothing known of it, so a ratio about 1 and either kind of hole (common practice, no source)."""
    assert PLACE.ratio == ((1.0, 0.5, 1.0, 2.0),) and PLACE.hole == 0.5 and PLACE.repair_min == 30.0
    assert not (PLACE.lips or PLACE.intake or PLACE.odd or PLACE.sections or PLACE.repair)
    assert PLACE.pattern == "leak" and not PLACE.healthy and not PLACE.whole_group
    test = KnownTest("x", "do", "why", 3.0)
    assert not (test.answers or test.direction or test.file or test.when or test.wets or test.part or test.sections)
    said = KnownComplaint("x", "ask", "c", 0.2, {})
    assert not (said.says or said.not_seen or said.words or said.same_as or said.past or said.unmoved or said.cure)
    check = Check("x", "do", "why", "check", 1.0, {})
    assert not (said.never_run or check.done_by or check.runs or check.after or check.when)
    look = Observation("x", "ask", "c")
    assert not (look.seen or look.not_seen or look.under or look.absence or look.usual)


def test_the_ratio_of_an_engine_whose_lips_are_known() -> None:
    lips, intake = ((1.0, 2.0, 3.0, 4.0),), ((1.0, 5.0, 6.0, 7.0),)
    place = replace(PLACE, lips={"in": lips}, intake={"reed": intake})
    assert place.expected("in", "reed") == lips and place.expected("out", "reed") == intake
    assert place.expected("out", "rotary") == PLACE.ratio == place.expected("unknown", "unknown")


def test_how_often_a_sight_is_seen_elsewhere() -> None:
    """f(yes) c + f(no) (1 - c) = 1 at the place it tells most of: 4 c + 0.5 (1 - c) = 1 gives c = 1/7."""
    look = Observation("x", "ask", "c", {"base-gasket": 4.0, "crack": 2.0}, {"base-gasket": 0.5, "crack": 0.1})
    assert look.chance_elsewhere == pytest.approx(1.0 / 7.0)
    assert look.chance(PLACE) == pytest.approx(4.0 / 7.0)
    weak = replace(look, seen={"crack": 0.1, "base-gasket": 4.0}, not_seen={"crack": 1.9, "base-gasket": 0.5})
    assert weak.chance_elsewhere == pytest.approx((1.0 - 1.9) / (0.1 - 1.9))  # 0.1 is further from 1 than 4 is
    never = replace(look, seen={"crack": 0.0, "base-gasket": 4.0}, not_seen={"crack": 1.5, "base-gasket": 0.5})
    assert never.chance_elsewhere == pytest.approx(1.0 / 3.0)
    only = Observation("x", "ask", "c", {"others": 4.0}, {"others": 0.5})
    assert only.chance_elsewhere == Observation("x", "ask", "c", {"crack": 4.0}).chance_elsewhere == 0.5
    assert replace(look, usual=0.2).chance_elsewhere == 0.2
    for yes, no, chance in ((2.0, 3.0, 1.0), (3.0, 2.0, 0.0), (2.0, 2.0, 0.5)):  # no chance makes them agree
        odd = Observation("x", "ask", "c", {"crack": yes}, {"crack": no})
        assert odd.chance_elsewhere == chance
    assert replace(look, usual=0.5).chance(PLACE) == 0.97  # no sight is surer (practice)


def test_the_nearest_name_counts() -> None:
    own = Observation("x", "ask", "c", {"base-gasket": 2.0, "gasket-or-joint": 3.0, "others": 4.0})
    assert own.factor(True, PLACE) == 2.0 and own.factor(False, PLACE) == 1.0
    assert own.factor(True, replace(PLACE, place="plug-thread")) == 3.0
    assert own.factor(True, replace(PLACE, place="crack", group="other")) == 4.0
    assert replace(own, not_seen={"others": 0.5}).factor(False, PLACE) == 0.5


def test_caps_hold_both_ways_and_nothing_stays_nothing() -> None:
    assert capped([], 30.0) == 1.0 and capped([2.0, 0.25], 30.0) == 0.5
    assert capped([100.0, 2.0], 30.0) == 60.0 and capped([0.001, 2.0], 20.0) == pytest.approx(0.1)
    assert capped([0.0, 1000.0], 30.0) == 0.0


def test_what_a_no_says_of_a_suspect() -> None:
    """(1 - chance of yes) / (1 - usual): of a suspect that brings 0.2 to 0.6, a no leaves 0.4 / 0.8."""
    known = complaint_knowledge()
    said = KnownComplaint("x", "ask", "c", 0.2, {"vent": 3.0, "spark": 9.0, "others": 0.5}, not_seen={"coil": 0.3})
    vent, spark, coil = (KnownSuspect(name, name, 1.0, "none") for name in ("tank-vent", "spark", "coil"))
    vent = replace(vent, groups=("vent",))
    assert known.chance_of_yes(said, vent) == pytest.approx(0.6)
    assert known.chance_of_yes(said, spark) == known.most_sure == 0.95
    assert known.factor(said, vent, True) == 3.0 and known.factor(said, vent, False) == pytest.approx(0.5)
    assert known.factor(said, spark, False) == pytest.approx(0.05 / 0.8)
    assert known.factor(said, coil, False) == 0.3 and known.factor(said, coil, True) == 0.5
    plain = replace(said, seen={"spark": 9.0})
    assert known.chance_of_yes(plain, vent) == 0.2 and known.factor(plain, vent, True) == 1.0
    answers = SimpleNamespace(all=lambda: (("x", True), ("y", True), ("z", False)))
    facts = {"x": said, "y": replace(said, id="y"), "z": replace(plain, id="z", cluster="d")}
    small = replace(known, complaints=facts, cluster_cap=5.0)
    assert factor_of(vent, answers, small) == pytest.approx(5.0)  # 3 x 3, capped; the no says nothing
    assert factor_of(spark, answers, small) == pytest.approx(5.0 * max(0.05 / 0.8, 0.2))


def test_rows_are_read_whole(own: Path) -> None:
    (own / "complaints.toml").write_text(
        '[odd-noise]\nask = "Does it whine?"\ncluster = "whine"\nusual = 0.1\nseen.spark = 2\nwords = ["WHINES"]\n',
        "utf-8",
    )
    (own / "suspects.toml").write_text('[suspect.bear]\nname = "bear"\nweight = 2\nfound = "none"\n', "utf-8")
    known = complaint_knowledge()
    row = known.complaints["odd-noise"]
    assert row.says == row.ask == "Does it whine?" and row.words == ("whines",)
    assert known.suspects[-1].places == ("bear",)
    named = next(s for s in known.suspects if s.places != (s.id,))
    assert named.places and named.named_in({"others": 3.0}) == 3.0 and named.named_in({"x": 1.0}) is None
