"""The terminal report says the right things, in the right order, within its width."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from leakdown.analysis import Finding, Flag, Quantity
from leakdown.uncertainty import Interval
from leakdown.words.facts import judgement_facts, size_facts
from leakdown.words.sizes import duration_words, kind_words, size_sentence, sure_words, verdict_word
from leakdown.words.terminal import terminal_report
from leakdown.words.what_next import what_next
from tests.report.report_examples import ALL, NASTY, analysis, leak, passed, undecided, without_fit, without_volume


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(("make", "word"), [(analysis, "FAIL"), (passed, "PASS"), (undecided, "CANNOT SAY YET")])
def test_verdict_comes_first(make, word):
    assert terminal_report(make()).startswith(word)


def test_fail_states_size_with_range_and_reference():
    text = flat(terminal_report(analysis()))
    # 115 Pa/s x 250 cm3 = 0.02875 Pa m3/s; 1 standard cm3/min is 101325e-6/60 Pa m3/s: 17.02
    assert "The leak is 17.0 cm3/min (16.3 to 17.9) at 35 kPa of pressure, like one round hole of 0.052 mm." in text
    assert "Weep-like: a long tight path, such as a seal lip, gasket or thread; size well known." in text
    assert "cm3/min of air at 20 degC, 101.325 kPa. Ranges hold 95 times in 100." in text


def test_a_plain_log_fits_a_screen_with_every_caution():
    long = terminal_report(analysis(), 80)
    text = flat(long)
    assert len(long.splitlines()) <= 23 and len(terminal_report(analysis(), 60).splitlines()) <= 30
    for words in ("Maker's manual, local codes and licensed practice come first", "aid to a competent person"):
        assert words in text
    for words in ("55 kPa, 8 psi", "regulator", "eyes protected", "turning the crank", "no sparks"):
        assert words in text
    for words in ("The vacuum test on the same blanks", "blanks (crack one open: it must fall)", "hot or running"):
        assert words in text
    for left_to_the_page in ("Half of it", "C_d", "95 % sure", "Scatter"):
        assert left_to_the_page not in text


@pytest.mark.parametrize(
    ("one", "circuit", "says"),
    [
        (passed(), "crankcase", "vacuum test on the same blanks: only both pass an engine"),
        (analysis(), "crankcase", "then leakdown locate with both files"),
        (undecided(), "crankcase", "hold this one longer"),
        (analysis(), "rig", "no test with it counts before"),
        (passed(), "tank", "then the vacuum test"),
        (analysis(), "float-inlet", "renew needle and seat"),
        (undecided(), "carburettor-inlet", "pump it up five times"),
    ],
)
def test_every_verdict_says_what_now(one, circuit, says):
    """Common practice, no source: an engine passes only with both; a rig first; needles are pumped five times."""
    text = flat(terminal_report(replace(one, circuit=circuit, recording=replace(one.recording, conditions=replace(
        one.recording.conditions, circuit=circuit)))))  # fmt: skip
    assert says.lower() in text.lower() and text.count("Next ") == 1


@pytest.mark.parametrize(("code", "says"), [("frozen", "the gauge lives"), ("pressure-rises", "let it cool")])
def test_a_spoilt_test_is_repeated_first(code, says):
    assert says in what_next(replace(undecided(), flags=(Flag(code, "Long."),)))


def test_a_loss_that_vapour_gives_too_is_dried_before_it_is_failed():
    wet = replace(analysis(vacuum=True), flags=(Flag("levels-off", "It levels off, as fuel vapour does."),))
    assert verdict_word(wet) == "OVER THE LIMIT: DRY IT FIRST" and what_next(wet).startswith("drain and dry")
    assert verdict_word(analysis(vacuum=True)) == "FAIL"


def test_what_was_assumed_takes_one_sentence():
    base = analysis()
    used = replace(base.used, barometer_pa=Quantity(101325.0, "assumed"))
    flags = tuple(Flag(code, "A long text.") for code in ("ambient-assumed", "temperature-assumed", "circuit-assumed"))
    text = flat(terminal_report(replace(base, used=used, flags=flags)))
    assert "Assumed barometer 101.3 kPa, 20 degC and steady, volume exact, a crankcase test (see" in text
    assert "A long text" not in text and "Mind" not in text


def test_three_flags_at_most_and_the_rest_counted():
    flags = tuple(Flag(f"x{k}", f"Flag {k}.") for k in range(5))
    text = terminal_report(replace(analysis(), flags=flags))
    assert [f"Flag {k}." in text for k in range(5)] == [True, True, True, False, False]
    assert "2 more on the page" in text


def test_rate_is_stated_at_20_degc():
    hot = analysis()
    hot = replace(hot, used=replace(hot.used, temperature_k=replace(hot.used.temperature_k, value=313.15)))
    # the same Pa m3/s of warmer gas is fewer molecules: x 293.15 / 313.15
    assert "15.9 cm3/min" in terminal_report(hot)


def test_not_detected_gives_one_bound_and_no_number():
    text = flat(terminal_report(passed()))
    # detection 5e-4 Pa m3/s = 0.296 cm3/min, 2 Pa/s = 0.12 kPa/min
    assert "No leak seen; anything above 0.30 cm3/min (0.12 kPa/min) at 35 kPa of pressure would have" in text
    assert len(set(re.findall(r"(?<!\w)\d[\d.]* (?=cm3/min)", text))) == 1 and "size well" not in text


def test_cards_of_an_unseen_leak_show_the_same_bound():
    rows = {fact.what: fact.span for fact in size_facts(passed())}
    # the hole of 5 um at 1.2 Pa/s is 5 sqrt(2 / 1.2) um at the 2 Pa/s that would have shown
    assert rows == {
        "Leak rate": "at most 0.30 cm3/min",
        "Pressure loss": "at most 0.12 kPa/min",
        "Like one hole of": "at most 0.0065 mm",
    }
    assert judgement_facts(passed()) == ()


def test_a_fall_within_the_readings_doubt_is_not_called_no_loss():
    base = passed()
    fell = replace(base, hold=replace(base.hold, end_pa=base.hold.start_pa - 1000.0))
    text = flat(terminal_report(fell))
    assert "No leak seen: the fall of 1.00 kPa may be settling, or the readings' doubt" in text
    died = replace(fell, flags=(Flag("creep", "Creeps."),))
    assert "No steady leak seen: the fall of 1.00 kPa died out during the hold" in size_sentence(died)


def test_upper_limit_above_the_detection_limit_wins():
    lucky = replace(passed(), leak=replace(passed().leak, rate_pa_s=Interval(None, 0.0, 3.0)))
    assert "(0.18 kPa/min)" in flat(terminal_report(lucky))


def test_a_hold_that_could_show_nothing_says_so():
    blind = replace(passed(), leak=replace(passed().leak, detection_rate_pa_s=2e6))
    assert "too short, or the gauge too coarse, to show any" in size_sentence(blind)
    assert "e+" not in terminal_report(blind) and size_facts(blind) == ()


@pytest.mark.parametrize("code", ["frozen", "saturated", "pressure-rises"])
def test_what_cannot_be_known_is_not_claimed(code):
    blind = replace(passed(), flags=(Flag(code, "Long."),))
    assert "would have been seen" not in terminal_report(blind) and "No leak can be read" in size_sentence(blind)


def test_the_share_of_the_idle_air_is_left_out_where_no_leak_could_be_read():
    idle = Finding("idle-air", "Big enough to matter?", "Too small to explain it.", answers=True)
    beside = replace(passed(), findings=(idle,))
    assert "Too small to explain it." in terminal_report(beside)
    for code in ("pressure-rises", "frozen", "fell-before-hold"):
        assert "Too small" not in terminal_report(replace(beside, flags=(Flag(code, "Long."),)))


def test_a_short_hold_names_its_bound_once_with_the_remedy():
    short = replace(passed(), flags=(Flag("too-short", "Only a loss above 0.12 kPa a minute would have shown."),))
    text = flat(terminal_report(short))
    assert "only one above 0.30 cm3/min (0.12 kPa/min) at 35 kPa of pressure would have shown: hold longer" in text
    assert "a minute" not in text


def test_nothing_is_claimed_above_the_pressure_that_was_held():
    base = passed()
    low = replace(base, hold=replace(base.hold, start_pa=25e3, end_pa=24.95e3))
    fell = replace(low, flags=(Flag("fell-before-hold", "Long."),))
    assert size_sentence(fell) == "No leak seen at 25.0 kPa and below."
    assert "nothing is known of what leaks above that" in flat(terminal_report(fell))
    quoted = replace(low, flags=(Flag("quoted-outside", "Long."),))
    assert size_sentence(quoted) == "No leak seen; nothing is known above 25.0 kPa."


def test_a_rig_taken_off_and_a_leak_that_closes_claim_no_more_than_is_known():
    beside = replace(passed(), findings=(Finding("rig", "The rig", "Taken off."),))
    assert "cannot be told from none: at most 0.30 cm3/min" in size_sentence(beside)
    closing = replace(passed(), leak=replace(passed().leak, opening_pa=40e3))
    assert size_sentence(closing).endswith("what leaks above 40.0 kPa closes near there.")
    lower = replace(passed(), leak=replace(passed().leak, opening_pa=20e3))
    assert "how much leaks above that is not known" in size_sentence(lower)


def test_vapour_stands_right_under_the_verdict_and_takes_the_kind_away():
    wet = replace(analysis(vacuum=True), flags=(Flag("levels-off", "Levels off. Under vacuum, fuel vapour does too."),))
    lines = flat(terminal_report(wet, 200).split("\n\n")[0])
    first, then = (lines.index("This may be fuel vapour from a wet case"), lines.index("Taken for a leak it is 17.0"))
    assert lines.index("Some reason") < first < then and "Weep-like" not in lines and "like one round" not in lines
    dry = replace(analysis(), flags=(Flag("levels-off", "Levels off."),))
    assert "something closes there" in terminal_report(dry, 200) and "fuel vapour from" not in terminal_report(dry, 200)


def test_undecided_says_what_would_decide():
    text = flat(terminal_report(undecided()))
    assert "Hold for at least 60 s." in text and "The hold cannot tell a weep from a hole" in text


def test_without_volume_no_rate_and_no_hole():
    text = flat(terminal_report(without_volume()))
    assert "6.90 kPa/min" in text and "cm3/min" not in text and " mm " not in text
    assert "no volume" in text


def test_without_fit_gives_what_was_read():
    text = flat(terminal_report(without_fit()))
    assert "No size: no leak model fits this hold (44.5 kPa at its start, 36.8 kPa at its end)." in text
    assert "Leak rate" not in text


def test_user_unit_and_quoted_pressure():
    text = flat(terminal_report(analysis(vacuum=True, unit="inHg")))
    assert "at 10.3 inHg (35 kPa) of vacuum" in text
    facts = {fact.what: fact.value for fact in size_facts(analysis(vacuum=True, unit="inHg"))}
    assert facts["Pressure loss"] == "2.04 inHg/min"  # 6.9 kPa / 3.386389 kPa
    assert "-13.1 to -10.9 inHg" in text


def test_no_engineering_units_on_screen():
    for make in ALL.values():
        text = terminal_report(make())
        assert "Pa m3" not in text and "share" not in text and "nan" not in text.lower().split()


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("width", [40, 63, 64, 88, 100])
def test_no_line_is_wider_than_asked(name, width):
    text = terminal_report(ALL[name](), width)
    assert max(len(line) for line in text.splitlines()) <= width


def test_style_is_the_only_source_of_colour():
    seen = []
    styled = terminal_report(analysis(), 88, lambda text, role: seen.append(role) or f"<{role}>{text}</>")
    assert styled.startswith("<fail>FAIL</>") and {"fail", "strong"} == set(seen)
    assert re.sub(r"</?\w*>", "", styled) == terminal_report(analysis(), 88)


def test_user_texts_cannot_steer_the_terminal():
    text = terminal_report(ALL["nasty"](), 100)
    assert "\x1b" in NASTY and "\x1b" not in text


def test_number_stays_with_its_unit():
    for width in range(40, 100):
        for line in terminal_report(analysis(), width).splitlines():
            assert not re.search(r"^\s*(kPa|cm3(?!/min of)|degC|%)", line), (width, line)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(0.6, 1.0, "weep-like"), (0.0, 0.4, "hole-like"), (0.3, 0.7, "in between"), (0.1, 0.9, "cannot tell")],
)
def test_kind_follows_the_interval(low, high, words):
    share = Interval(0.5 * (low + high), low, high)
    assert words in kind_words(replace(leak(), viscous_share=share))


def test_scatter_alone_is_no_fall():
    base = passed()
    used = replace(base.used, noise_pa=100.0)
    for fall_pa, seen in ((300.0, "No leak seen;"), (500.0, "No leak seen: the fall of 0.500 kPa")):
        fell = replace(base, used=used, hold=replace(base.hold, end_pa=base.hold.start_pa - fall_pa))
        assert size_sentence(fell).startswith(seen)


def test_how_sure_follows_the_width():
    words = [sure_words(Interval(1.0, 1.0 / r, r)) for r in (1.1, 1.15, 2.0, 3.0)]
    assert len(set(words)) == 4 and sure_words(Interval(None, 0.0, 1.0)).startswith("only an upper")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(8.21, "8.2 s"), (99.4, "99 s"), (270.0, "4 min 30 s"), (1800.0, "30 min"), (3599.0, "60 min"), (9000.0, "2.5 h")],
)
def test_durations(seconds, words):
    assert duration_words(seconds) == words
