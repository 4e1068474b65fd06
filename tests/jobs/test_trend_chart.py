"""The chart of an engine's visits: standard flow by hand, bounds, empty cases, all three kinds of picture."""

from __future__ import annotations

from dataclasses import replace

import pytest

from leakdown.errors import UsageError
from leakdown.jobs.trend import MOST, Visit, _visits, change_words, trend_chart
from leakdown.report.picture import picture, save
from tests.jobs.records import job, test_entry

FLOW = {"value": 7.0, "low": 6.0, "high": 8.0}
VISIT = Visit("J1", "2026-03-02T09:30", "120", "crankcase", "pressure", "before", "pass", "leak", None, FLOW)


def test_standard_flow_by_hand():
    """0.01 Pa m3/s over 101325 Pa is 9.869e-8 m3/s, 5.92 cm3/min; colder gas counts for more, as 1/T."""
    entry = test_entry(1, rate=0.01)
    (plain,) = _visits(job(entry))
    assert plain.leak_cm3_min["value"] == pytest.approx(0.01 / 101325 * 60e6)
    figures = dict(entry.result.figures) | {"used": {"temperature_degc": {"value": 0.0, "source": "given"}}}
    (cold,) = _visits(job(replace(entry, result=replace(entry.result, figures=figures))))
    assert cold.leak_cm3_min["low"] == pytest.approx(0.009 / 101325 * 60e6 * 293.15 / 273.15)
    assert _visits(job(test_entry(1, rate=None)))[0].leak_cm3_min is None


def test_rows_by_kind_with_bounds():
    tight = replace(VISIT, reference="J2", leak_cm3_min={"value": None, "low": 0.0, "high": 0.2}, hours="")
    vacuum = replace(VISIT, direction="vacuum", stage="after")
    chart = trend_chart("P-1", [VISIT, vacuum, tight])
    assert [row.heading for row in chart.rows] == ["Crankcase, pressure", "", "Crankcase, vacuum"]
    assert [row.tone for row in chart.rows] == ["pressure", "pressure", "vacuum"]
    assert chart.rows[0].label == "2026-03-02 J1, 120 h: 7.0 (6.0 to 8.0)"
    assert chart.rows[1].low is None and chart.rows[1].label.endswith("J2: at most 0.20")
    assert chart.x_range[0] < 0.2 and chart.x_range[1] > 8.0 and len(chart.ticks) >= 3


def test_nothing_to_draw():
    unsized = replace(VISIT, leak_cm3_min=None)
    assert trend_chart("P-1", []) is None and trend_chart("P-1", [unsized]) is None
    assert trend_chart("P-1", [replace(VISIT, leak_cm3_min={"value": None, "low": 0.0, "high": None})]) is None


def test_a_long_history_shows_the_last_visits_and_says_so():
    many = [replace(VISIT, reference=f"J{k}") for k in range(30)]
    rows = trend_chart("P-1", many).rows
    assert len(rows) == MOST and "J29" in rows[-1].label
    assert rows[0].heading == f"Crankcase, pressure (the last {MOST} of 30)"


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "start"), [("png", b"\x89PNG"), ("pdf", b"%PDF"), ("svg", b"<?xml")])
def test_pictures(kind, start, tmp_path):
    chart = trend_chart("$<P-1>$", [VISIT])
    content = picture(chart, kind)
    assert content.startswith(start) and picture(chart, kind) == content
    save(chart, tmp_path / f"t.{kind}")
    assert (tmp_path / f"t.{kind}").read_bytes() == content
    with pytest.raises(UsageError, match="unknown kind of picture"):
        save(chart, tmp_path / "t.gif")


def rate(low, high):
    return replace(VISIT, reference=f"J{low}", leak_rate={"low_pa_m3_s": low, "high_pa_m3_s": high})


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ((1.0, 2.0), (2.5, 3.0), "has grown"),
        ((2.5, 3.0), (1.0, 2.0), "is smaller"),
        ((1.0, 2.0), (1.9, 3.0), "no change"),
        ((1.9, 3.0), (1.0, 2.0), "no change"),
        ((1.0, 2.0), (2.0, 3.0), "no change"),  # ends that touch are no change
        ((2.0, 3.0), (1.0, 2.0), "no change"),
        ((1.0, 4.0), (2.0, 3.0), "no change"),
        ((2.0, 3.0), (1.0, 4.0), "no change"),
    ],
)
def test_a_change_is_one_when_the_intervals_part(first, last, said):
    between = rate(50.0, 60.0)
    visits = [replace(rate(*first), reference="A"), between, replace(rate(*last), reference="B")]
    assert said in change_words(visits)


def test_a_change_needs_two_visits_with_both_ends_of_a_rate():
    one = rate(1.0, 2.0)
    assert change_words([]) == "" and change_words([one, one]) == ""
    for missing in (None, {}, {"low_pa_m3_s": 1.0}, {"high_pa_m3_s": 1.0}):
        torn = replace(one, reference="B", leak_rate=missing)
        assert "not comparable" in change_words([one, torn]) and "not comparable" in change_words([torn, one])


def test_the_axis_spans_a_decade_at_least_about_what_is_drawn():
    """0.6 of the least to 1.7 of the most, or ten to one about their geometric mean."""
    low, high = trend_chart("P-1", [replace(VISIT, leak_cm3_min={"value": 1.0, "low": 0.1, "high": 50.0})]).x_range
    assert (low, high) == (pytest.approx(0.06), pytest.approx(85.0))
    low, high = trend_chart("P-1", [VISIT]).x_range
    assert high / low == pytest.approx(10.0) and low * high == pytest.approx(0.6 * 6.0 * 1.7 * 8.0)
    nothing_low = replace(VISIT, leak_cm3_min={"value": 0.0, "low": 0.0, "high": 3.0})
    (row,) = trend_chart("P-1", [nothing_low]).rows
    assert (row.value, row.low, row.high) == (None, None, 3.0) and row.label.endswith("at most 3.0")
