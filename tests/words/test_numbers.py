"""No more digits than the doubt leaves (JCGM 100:2008, 7.2.6), equal ends once, no exponents."""

from __future__ import annotations

import math

import pytest

from leakdown.analysis import Figure
from leakdown.uncertainty import Interval
from leakdown.words.numbers import alike, ends, figure_words, interval_words, number, short


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.0118, 0.0573, "0.012 to 0.057"),
        (24.17, 24.21, "24.2"),
        (701.0, 1160.0, "700 to 1160"),
        (16.29, 17.91, "16.3 to 17.9"),
        (0.00448, 0.0856, "0.004 to 0.086"),
        (0.0, 80.0, "0 to 80"),
        (0.0, 0.0, "0"),
    ],
)
def test_both_ends(low, high, words):
    assert ends(low, high) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [(1.2e6, "1200000"), (0.00021, "0.000210"), (9.996, "10.0"), (1e-7, "under 0.00001"), (math.inf, "?"), (0.0, "0")],
)
def test_numbers_without_exponents(value, words):
    assert number(value) == words


def test_intervals():
    assert interval_words(Interval(0.0723, 0.0236, 0.130), 1.0, "cm3/min") == ("0.072 cm3/min", "0.024 to 0.130")
    assert interval_words(Interval(2.0, 2.0, 2.0), 1.0, "kPa") == ("2.00 kPa", "")
    assert interval_words(Interval(None, 0.0, 0.0123), 10.0, "kPa") == ("none seen", "at most 0.12 kPa")


def test_figures_of_findings():
    def words(interval, unit):
        return figure_words(Figure("key", "Label", unit, interval))

    assert words(Interval(None, 0.0, 2.1e-4), "%") == ("less than 0.01 %", "")
    assert words(Interval(None, 3.0, math.inf), "kPa") == ("at least 3.0 kPa", "")
    assert words(Interval(4.26, 4.26, 4.26), "%") == ("4.3 %", "")


def test_readings_and_steps():
    assert alike(14.96, 9.0) == ("15.0", "9.0") and alike(0.1, 56.4) == ("0.1", "56.4")
    assert (short("0.00100"), short("250"), short("2.50")) == ("0.001", "250", "2.5")
