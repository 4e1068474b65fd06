"""The terminal report says the right things, in the right order, within its width."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from report_examples import ALL, NASTY, analysis, leak, passed, undecided, without_fit, without_volume

from leakdown.estimate.result import Interval
from leakdown.report.text import terminal_report
from leakdown.report.words import duration_words, kind_words, sure_words


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("make", "word"), [(analysis, "FAIL"), (passed, "PASS"), (undecided, "CANNOT SAY YET")]
)
def test_verdict_comes_first(make, word):
    assert terminal_report(make()).startswith(word)


def test_fail_states_size_with_range_and_reference():
    text = flat(terminal_report(analysis()))
    # 115 Pa/s x 250 cm3 = 0.02875 Pa m3/s; 1 standard cm3/min is 101325e-6/60 Pa m3/s: 17.02
    assert "17.0 cm3/min 16.3 to 17.9 air at 20 degC, 101.325 kPa" in text
    assert "6.90 kPa/min 6.60 to 7.26 in this volume" in text
    assert "0.052 mm 0.050 to 0.054 round, sharp-edged, C_d 0.61" in text
    assert "at 35 kPa of pressure" in text and "3 min 30 s" in text
    assert "weep-like" in text and "well known" in text
    assert "Barometer assumed. Give --barometer." in text


def test_rate_is_stated_at_20_degc():
    hot = analysis()
    hot = replace(hot, used=replace(hot.used, temperature_k=replace(hot.used.temperature_k, value=313.15)))
    # the same Pa m3/s of warmer gas is fewer molecules: x 293.15 / 313.15
    assert "15.9 cm3/min" in terminal_report(hot)


def test_not_detected_gives_a_bound_and_no_number():
    text = flat(terminal_report(passed()))
    # detection 5e-4 Pa m3/s = 0.296 cm3/min, 2 Pa/s = 0.12 kPa/min
    assert "No leak seen; anything above 0.30 cm3/min (0.12 kPa/min)" in text
    assert "none seen at most 0.178 cm3/min" in text
    assert "Half of it" not in text and "Kind" not in text
    assert "no leak above 0.30 cm3/min (0.12 kPa/min) found, cold, at this crank position" in text


def test_a_fall_within_the_readings_doubt_is_not_called_no_loss():
    base = passed()
    fell = replace(base, hold=replace(base.hold, end_pa=base.hold.start_pa - 1000.0))
    text = flat(terminal_report(fell))
    assert "No leak seen for certain: the fall of 1.00 kPa may be the readings' doubt" in text


def test_upper_limit_above_the_detection_limit_wins():
    lucky = replace(passed(), leak=replace(passed().leak, rate_pa_s=Interval(None, 0.0, 3.0)))
    assert "(0.18 kPa/min)" in flat(terminal_report(lucky))


def test_undecided_says_what_would_decide():
    text = flat(terminal_report(undecided()))
    assert "Hold for at least 60 s." in text and "the hold cannot tell a weep from a hole" in text


def test_without_volume_no_rate_and_no_hole():
    text = flat(terminal_report(without_volume()))
    assert "6.90 kPa/min" in text and "cm3/min" not in text and " mm " not in text
    assert "Volume under test not given" in text


def test_without_fit_gives_what_was_read():
    text = flat(terminal_report(without_fit()))
    assert "No size: no leak model fits this hold (44.5 kPa at its start, 36.8 kPa at its end)." in text
    assert "Leak rate" not in text


def test_user_unit_and_quoted_pressure():
    text = flat(terminal_report(analysis(vacuum=True, unit="inHg")))
    assert "at 10.3 inHg (35 kPa) of vacuum" in text
    assert "2.04 inHg/min" in text  # 6.9 kPa / 3.386389 kPa
    assert "-13.1 inHg to -10.9 inHg" in text


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
    assert terminal_report(ALL["nasty"](), 88, ascii_only=True).isascii()


def test_number_stays_with_its_unit():
    for width in range(40, 100):
        for line in terminal_report(analysis(), width).splitlines():
            assert not re.search(r"^\s*(kPa|cm3|degC|%)", line), (width, line)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(0.6, 1.0, "weep-like"), (0.0, 0.4, "hole-like"), (0.3, 0.7, "in between"), (0.1, 0.9, "cannot tell")],
)
def test_kind_follows_the_interval(low, high, words):
    share = Interval(0.5 * (low + high), low, high)
    assert words in kind_words(replace(leak(), viscous_share=share))


def test_how_sure_follows_the_width():
    words = [sure_words(Interval(1.0, 1.0 / r, r)) for r in (1.05, 1.3, 2.0, 3.0)]
    assert len(set(words)) == 4 and sure_words(Interval(None, 0.0, 1.0)).startswith("only an upper")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (8.21, "8.2 s"),
        (99.4, "99 s"),
        (270.0, "4 min 30 s"),
        (1800.0, "30 min"),
        (3599.0, "60 min"),
        (9000.0, "2.5 h"),
    ],
)
def test_durations(seconds, words):
    assert duration_words(seconds) == words
