"""The signs of print: our own words get them, a user's words and what is to be typed do not."""

from __future__ import annotations

import io
import sys
from dataclasses import replace

import pytest

from leakdown.cli.console import out
from leakdown.recording import Mark
from leakdown.words.signs import own_texts, signs
from leakdown.words.terminal import terminal_report
from tests.report.report_examples import ALL, analysis


@pytest.mark.parametrize(
    ("ascii_words", "signed"),
    [
        ("17.0 cm3/min at 20 degC", "17.0 cm³/min at 20 °C"),
        ("0.0287 Pa m3/s", "0.0287 Pa·m³/s"),
        ("-20 to -35 kPa, (-5), +/- 0.6 cm3", "−20 to −35 kPa, (−5), ± 0.6 cm³"),
        ("Gauge pressure (inH2O), kgf/cm2", "Gauge pressure (inH₂O), kgf/cm²"),
        ("V = bottle x (before / after - 1)", "V = bottle × (before / after − 1)"),
        ("2026-11-26, two-stroke, piston-1, C-3", "2026-11-26, two-stroke, piston-1, C-3"),
        ("M3 screw, 3 cm, Gm3", "M3 screw, 3 cm, Gm3"),
    ],
)
def test_our_words_get_the_signs_of_print(ascii_words, signed):
    assert signs(ascii_words) == signed


def test_what_is_to_be_typed_stays_as_it_is_typed():
    assert signs('Use it as: --volume "255 cm3", 2 cm3') == 'Use it as: --volume "255 cm3", 2 cm³'
    assert signs("after 'oil at 20 degC' the reading's 2 cm3") == "after 'oil at 20 degC' the reading's 2 cm³"


def test_a_users_own_words_stay_even_where_they_are_wrapped():
    own = ("hose 5 cm3 off", "a -5 kPa\tdip", "plain")
    assert signs("saw: hose 5 cm3\n    off, 5 cm3", own) == "saw: hose 5 cm3\n    off, 5 cm³"
    assert signs("a -5 kPa  dip, -5 kPa, plain", own) == "a -5 kPa  dip, −5 kPa, plain"


def test_the_report_of_a_test_with_such_words():
    base = analysis(marks=(Mark(30.0, "5 cm3 -5 degC"),))
    conditions = replace(base.recording.conditions, note="2 degC", gauge="G -1")
    own = own_texts(replace(base.recording, source="/jobs/oil 3 cm3.csv", conditions=conditions))
    assert {"5 cm3 -5 degC", "2 degC", "G -1", "oil 3 cm3.csv"} <= set(own)
    text = signs(terminal_report(base), own)
    assert "cm³/min" in text and "cm3/min" not in text


@pytest.mark.parametrize(("encoding", "shown"), [("utf-8", "5 cm³ ø"), ("ascii", "5 cm3 ?"), ("cp1252", "5 cm3 ?")])
def test_the_encoding_of_the_stream_decides(monkeypatch, encoding, shown):
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr(sys, "stdout", stream)
    out("5 cm3 ø")
    assert stream.buffer.getvalue().decode(encoding).strip() == shown


@pytest.mark.parametrize("name", [name for name in ALL if name != "nasty"])
def test_our_own_words_are_ascii_before_that(name):
    assert terminal_report(ALL[name]()).isascii()
