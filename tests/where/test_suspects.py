"""Odds, reasons and next steps of `suspects`. The tables behind them are common practice, no source."""

import json
import math

import pytest

from leakdown.errors import InputError, UsageError
from leakdown.where.answers import Answers
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.heard import heard
from leakdown.where.suspects import (
    NOTHING_SAID,
    factor_of,
    information,
    next_question,
    probabilities,
    questions,
    suspects,
)
from leakdown.words.suspects import triage_lines, triage_object
from tests.where.sentences import PLAIN, TRAPS

KNOWN = complaint_knowledge()
# Said well enough for a person, beyond what is gathered so far: kept so that nobody counts them as understood.
BEYOND = {"Compression 150 psi, fine", "Comes straight back to life, first pull"}
BY_ID = {s.id: s for s in KNOWN.suspects}
LOW_TANK = Answers(("dies-at-once", "restarts-at-once", "below-half-tank", "compression-good"))


def test_a_line_that_leaks_only_when_the_fuel_is_low():
    # runs, dies within a minute, restarts at once, worse below half a tank, compression good
    found = suspects(LOW_TANK)
    assert "pickup-line-in-tank" in [s.place for s in found.suspects[:2]]
    assert "line" in found.next_test.do
    assert found.suspects[0].reasons[0].startswith("yes to 'Does it happen only, or get worse, below half a tank?'")


@pytest.mark.parametrize(
    ("seen", "place"),
    [
        (("dies-cap",), "tank-vent"),
        (("dies-hot-no-spark",), "spark-when-hot"),
        (("floods",), "inlet-needle"),
        (("low-power-black",), "exhaust"),
        (("filter-dirty", "full-throttle-only"), "fuel-filter"),
        (("fuel-in-impulse",), "impulse-passage"),
        (("boot-push",), "intake-boot"),
        (("stored",), "old-fuel"),
        (("draws-bar-oil", "bearing-play", "high-idle"), "seal-drive-side"),
        (("scored",), "compression"),
    ],
)
def test_the_textbook_signs_point_where_they_should(seen, place):
    assert place in [s.place for s in suspects(Answers(seen)).suspects[:2]]


def test_says_plainly_when_no_leak_test_tells():
    assert suspects(Answers(("dies-hot-no-spark",))).plain.startswith("No leak test will tell you this")
    assert "Test the fuel side" in suspects(Answers(("dies-cap",))).plain
    assert "worth it" in suspects(Answers(("high-idle",))).plain


def test_probabilities_are_weights_times_factors():
    # by hand: bubbles multiply both lines by 10, the fitting by 6, impulse by 2, vent by 0.7
    chance = probabilities(Answers(("bubbles-in-line",)), KNOWN)
    weights = {s.id: s.weight for s in KNOWN.suspects}
    by_hand = dict(weights)
    by_hand |= {
        "pickup-line-in-tank": 80,
        "pickup-line-outside": 30,
        "filter-fitting": 12,
        "impulse-passage": 8,
        "tank-vent": 7.7,
    }
    whole = sum(by_hand.values())
    assert chance == pytest.approx({i: v / whole for i, v in by_hand.items()})
    assert sum(chance.values()) == pytest.approx(1.0)


def test_without_answers_the_weights_stand():
    assert sum(s.weight for s in KNOWN.suspects) == pytest.approx(100.0)
    assert probabilities(Answers(), KNOWN)["tank-vent"] == pytest.approx(0.11)


def test_a_cluster_is_one_fact():
    # boot pushed x10 and boot hard x5 are one cluster: 50 is held at the cap of 30
    both = Answers(("boot-push", "boot-hard"))
    assert factor_of(BY_ID["intake-boot"], both, KNOWN) == pytest.approx(KNOWN.cluster_cap)
    against = Answers((), ("half-choke", "full-throttle-only", "high-screw-dead"))
    assert factor_of(BY_ID["fuel-filter"], against, KNOWN) >= 1.0 / KNOWN.cluster_cap


def test_a_no_is_what_the_yes_leaves_over():
    # P(yes) of the in-tank line is 10 x 0.05 = 0.5, so a no is worth 0.5/0.95
    factor = factor_of(BY_ID["pickup-line-in-tank"], Answers((), ("below-half-tank",)), KNOWN)
    assert factor == pytest.approx(0.5 / 0.95)


def test_ids_are_checked():
    with pytest.raises(UsageError, match="unknown observation 'half-tank'") as error:
        suspects(Answers(("half-tank",)))
    assert "below-half-tank" in error.value.remedy
    with pytest.raises(UsageError, match="both seen and not seen"):
        suspects(Answers(("floods",), ("floods",)))


def test_two_minute_checks_come_first_when_nothing_is_known():
    assert suspects(Answers(), KNOWN).next_test.minutes <= 2
    done = tuple(c.id for c in suspects(Answers(), KNOWN).quick)
    assert {"cap-open", "filter", "fuel", "screws", "screen"} <= set(done)
    assert suspects(Answers(), KNOWN, done).next_test.minutes > 2


def test_a_check_that_was_done_is_not_proposed():
    assert suspects(Answers(("dies-cap",)), KNOWN).next_test.id != "cap"


def test_information_of_a_perfect_question_is_one_bit():
    # two suspects, even odds, a question that parts them: 1 bit; one that does not: 0
    now = {"a": 0.5, "b": 0.5}
    assert information(now, {"a": 1.0, "b": 0.0}) == pytest.approx(1.0)
    assert information(now, {"a": 0.3, "b": 0.3}) == pytest.approx(0.0, abs=1e-12)
    # binary symmetric channel with error 0.11: 1 - H(0.11) = 0.5001 bit (textbook)
    assert information(now, {"a": 0.89, "b": 0.11}) == pytest.approx(0.5001, abs=1e-4)


def test_questions_end_and_never_repeat():
    answers, asked = Answers(), []
    while question := next_question(answers, KNOWN):
        asked.append(question.id)
        answers = Answers(answers.seen, (*answers.not_seen, question.id))
    assert len(asked) == len(set(asked)) > 5
    first = next_question(Answers(), KNOWN)
    second = next_question(Answers(), KNOWN, frozenset({first.id}))
    assert second.id != first.id


@pytest.mark.slow
def test_questions_find_the_cause():
    """Truthful answers to the questions asked raise the true suspect to the top."""
    for truth in ("tank-vent", "pickup-line-in-tank", "inlet-needle", "spark-when-hot"):
        answers = Answers()
        while question := next_question(answers, KNOWN):
            yes = KNOWN.chance_of_yes(question, BY_ID[truth]) >= 0.5
            more = (question.id,)
            answers = Answers(answers.seen + (more if yes else ()), answers.not_seen + (() if yes else more))
        assert suspects(answers).suspects[0].place == truth


def test_words_of_a_complaint():
    text = "Runs, dies within a minute, restarts at once, worse below half a tank, compression good"
    found = heard(text)
    assert found.seen == LOW_TANK.seen
    assert [one.words for one in found.taken][:2] == ["dies within a minute", "restarts at once"]
    assert found.left_over == ("Runs",) and found.ask == ()
    assert heard("does not bog, never floods").seen == ()
    assert heard("no spark when hot").seen == ("dies-hot-no-spark",)
    assert heard("").taken == () and heard("???").taken == ()


@pytest.mark.parametrize(("text", "said"), PLAIN)
def test_what_is_said_is_understood(text, said):
    if text in BEYOND:
        assert said not in heard(text).seen
    else:
        assert said in heard(text).seen


@pytest.mark.parametrize(("text", "not_said"), TRAPS)
def test_what_is_not_said_is_not_taken(text, not_said):
    assert not_said not in heard(text).seen


def test_what_is_half_said_is_asked():
    assert "dies-cap" in heard("could it be that it restarts when I open the cap?").ask
    found = heard("My neighbour's saw dies within a minute")
    assert found.seen == () and found.ask == ("dies-at-once",)
    asked = questions(heard("it makes a strange noise").ask, Answers())
    assert len(asked) == 3 and set(asked) <= set(KNOWN.complaints)


def test_nothing_said_ranks_nobody():
    found = suspects(Answers())
    assert found.suspects == () and found.plain == NOTHING_SAID and found.next_test.minutes <= 2


def test_a_finding_leads_to_its_cure():
    found = suspects(Answers(("filter-dirty", "full-throttle-only")))
    assert "new fuel filter" in found.next_test.do and found.next_test.id == "cure-filter-dirty"
    assert suspects(Answers(("filter-dirty",)), done=("cure-filter-dirty",)).next_test.id != "cure-filter-dirty"


def test_an_engine_that_seized_is_not_run():
    found = suspects(Answers(("scored", "dies-at-once")))
    assert "Pressure AND vacuum" in found.next_test.do and "before a new piston" in found.next_test.do
    assert not any(check.runs for check in found.quick)
    then = suspects(Answers(("scored",)), done=("test-before-piston",))
    assert not then.next_test.runs


def test_the_cap_is_opened_before_it_is_run_open():
    ids = [check.id for check in suspects(Answers(("restarts-at-once",))).quick]
    assert "cap-open" in ids and "cap" not in ids
    run_open = next(check for check in KNOWN.checks if check.id == "cap")
    assert run_open.after == "cap-open" and "Outdoors" in run_open.do and "half a tank at most" in run_open.do


def test_object_and_text():
    found = suspects(LOW_TANK)
    plain = json.loads(json.dumps(triage_object(found), allow_nan=False))
    assert math.isclose(sum(s["probability"] for s in plain["suspects"]), 1.0)
    assert plain["next_test"]["do"] and plain["next_test"]["why"]
    assert all(s["reasons"] for s in plain["suspects"])
    text = "\n".join(triage_lines(found, 80, lambda words, *_: [words], lambda words, _: words))
    assert "Most likely: fuel pickup line inside the tank" in text
    assert "not counted jobs" in text


def test_a_shop_may_edit_the_files(tmp_path, monkeypatch):
    source = tmp_path / "suspects.toml"
    from importlib import resources

    text = resources.files("leakdown.where").joinpath("knowledge", "suspects.toml").read_text("utf-8")
    source.write_text(text.replace("weight = 11 ", "weight = 44 "), "utf-8")
    monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", str(tmp_path))
    assert probabilities(Answers(), complaint_knowledge())["tank-vent"] == pytest.approx(44 / 133)


def test_a_mistyped_name_is_refused(tmp_path, monkeypatch):
    folder = tmp_path / "own"
    folder.mkdir()
    from importlib import resources

    text = resources.files("leakdown.where").joinpath("knowledge", "complaints.toml").read_text("utf-8")
    (folder / "complaints.toml").write_text(text.replace("tank-vent = 15", "tank-vnet = 15"), "utf-8")
    monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", str(folder))
    with pytest.raises(InputError, match="tank-vnet"):
        complaint_knowledge()


def test_every_line_with_a_number_is_marked_as_practice():
    from importlib import resources

    for name in ("suspects.toml", "complaints.toml", "checks.toml"):
        text = resources.files("leakdown.where").joinpath("knowledge", name).read_text("utf-8")
        for line in text.splitlines():
            if line.split("=")[0].strip() in ("weight", "usual", "seen", "not_seen", "minutes", "finds", "found"):
                assert "(practice)" in line, f"{name}: {line}"
