"""Better, worse or cannot say; what bars a word."""

from __future__ import annotations

from pathlib import Path

import pytest

from leakdown.errors import UsageError
from leakdown.runs.compare import compared
from leakdown.runs.durations import duration_words, parse_duration
from leakdown.runs.run import Run
from leakdown.runs.sheet import read_runs
from tests.runs.false_words import LAWS, share


def _runs(before, after, **late):
    early = [Run(t, "died") for t in before]
    return early + [Run(t, "stopped" if t >= 240 else "died", period=1, **late) for t in after]


def test_three_clear_runs_against_three_decide_and_two_against_two_never():
    found = compared(_runs([28, 41, 33], [240, 250, 300]))
    assert (found.verdict, found.p_value, found.more_runs) == ("better", pytest.approx(0.05), 0)
    two = compared(_runs([28, 41], [240, 250]))
    assert (two.verdict, two.p_value, two.bars) == ("cannot-say", pytest.approx(1 / 6), ("few",))
    assert two.more_runs == 3  # 2 against 5: 1/21
    assert compared(_runs([28, 41, 33], [240, 250])).more_runs == 1
    assert compared(_runs([228, 231, 233], [20, 25, 30])).verdict == "worse"


def test_a_word_once_earned_stands_as_the_runs_go_on():
    assert compared(_runs([28, 41, 33], [240, 250, 300, 240, 260])).verdict == "better"


def test_what_bars_a_small_p_is_said():
    assert compared(_runs([30, 40, 50], [60, 70, 80])).bars == ("trend",)
    assert compared(_runs([30, 32, 31], [60, 62, 61])).verdict == "better"
    cold = [Run(t, "died", "full", False, day="2026-03-01") for t in (30, 32, 31)]

    def after(**more):
        given = {"fuel": "full", "warm": False, "day": "2026-03-01"} | more
        return [Run(t, "died", period=1, **given) for t in (60, 62, 61)]

    assert compared(cold + after()).verdict == "better"
    assert compared(cold + after(warm=True)).bars == ("warmth",)
    assert compared(cold + after(fuel="quarter")).bars == ("fuel",)
    assert compared(cold + after(day="2026-03-02")).bars == ("day",)
    assert compared(cold + after(day="2026-03-02")).p_value == pytest.approx(0.05)


def test_looking_again_has_to_be_paid_for():
    """3 against 3 without a decision has used up the 5 %: a small p two runs later is no word."""
    found = compared(_runs([30, 41, 33], [90, 39, 91, 92, 93, 95]))
    assert found.p_value <= 0.05 and found.verdict == "cannot-say" and found.bars == ("looks",)


def test_sides_are_the_runs_about_the_latest_change_and_one_side_is_no_comparison():
    runs = [Run(30, "died"), Run(31, "died", period=1), Run(200, "died", period=2)]
    assert compared(runs).p_value == pytest.approx(0.5)
    assert compared(runs, changes=3).p_value is None  # nothing was run since the third
    alone = compared([Run(30, "died")] * 3)
    assert (alone.p_value, alone.verdict, alone.more_runs) == (None, "cannot-say", 3)


@pytest.mark.parametrize("law", ["lognormal, 0.15", "Weibull, shape 1"])
@pytest.mark.parametrize("scene", [{"trend": 1.1}, {"day_sd": 0.4}, {"stops_s": (60.0, 300.0)}])
def test_no_change_is_rarely_called_better(law, scene):
    """The short form of false_words: a look after every run, 4 a side."""
    assert share("better", 120, LAWS[law], 4, **scene) <= 0.05 + 2.5 * (0.05 * 0.95 / 120) ** 0.5


@pytest.mark.parametrize(
    "text, seconds",
    [("45 s", 45), ("1:20", 80), ("2 min", 120), ("1 min 20 s", 80), ("1m20s", 80), ("1.5 min", 90), ("1:02:03", 3723)]
    + [("1 min, 5 sec", 65), ("0 s", 0), ("1'30", 90), ("1 h 2 min", 3720)],
)  # fmt: skip
def test_durations_in_any_usual_form(text, seconds):
    assert parse_duration(text) == pytest.approx(seconds)


@pytest.mark.parametrize("text", ["45", "1.5", "s", "", "-3 s", "10 h", "20 s 1 min", "1 min 20", "5 kPa"])
def test_other_durations_are_refused(text):
    with pytest.raises(UsageError) as caught:
        parse_duration(text)
    assert "Known" in str(caught.value) or caught.value.remedy


def test_durations_in_words():
    assert [duration_words(s) for s in (41, 90, 240, 260, 3900, 7500)] == [
        "41 s", "90 s", "4 min", "4 min 20 s", "65 min", "2 h 5 min"
    ]  # fmt: skip


def test_a_run_checks_itself_and_reads_its_fuel():
    assert [Run(1, "died", fuel).level for fuel in ("full", "Half a tank", "half", "1/4", "low tank", "red", "")] == [
        "above-half", "half", "half", "below-half", "below-half", "", ""
    ]  # fmt: skip
    for given in ({"ran_s": -1, "ended": "died"}, {"ran_s": 5, "ended": "would-not-start"}, {"ran_s": 5, "ended": "x"}):
        with pytest.raises(UsageError):
            Run(**given)


def test_a_sheet_of_runs_is_read_row_by_row():
    """The demo's: five before, four after; exact p 1/126 by the count of labellings that are as extreme."""
    text = (Path(__file__).parents[2] / "datasets" / "8_runs.csv").read_text("utf-8")
    sheet = read_runs(text.splitlines())
    assert [r.ran_s for r in sheet.runs[-4:]] == [240.0, 300.0, 55.0, 270.0]
    assert [r.period for r in sheet.runs] == [0] * 5 + [1] * 4 and sheet.changes == ("new vent in the tank cap",)
    found = compared(sheet.runs)
    assert found.verdict == "better" and found.p_value == pytest.approx(1 / 126)
    with pytest.raises(UsageError, match="run 1"):
        read_runs(["run,ended,fuel,start,with", "31,died,full,cold,"])
    with pytest.raises(UsageError, match="columns"):
        read_runs(["time,pressure", "1,2"])
