"""The pages of locate and compare: answer first, worded as evidence, everything escaped, self-contained."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from leakdown.report.change_page import change_page
from leakdown.report.located_chart import drawn_tests, located_chart
from leakdown.report.located_page import located_page
from leakdown.report.page import TITLE
from leakdown.where.located import Place
from leakdown.words.signs import signs
from tests.report.located_examples import (
    CHANGES,
    LOCATED,
    alone,
    healed,
    nasty,
    one_sided,
    repaired,
    seal,
    sections,
    tight,
)
from tests.report.report_examples import NASTY
from tests.report.test_analysis_page import Reader, policy_without_network


@pytest.fixture(scope="module")
def pages():
    located = {name: located_page(*make()) for name, make in LOCATED.items()}
    return located | {f"change {name}": change_page(*make()) for name, make in CHANGES.items()}


ALL = [*LOCATED, *(f"change {name}" for name in CHANGES)]


@pytest.mark.slow
@pytest.mark.parametrize("name", ALL)
def test_page_is_sound_and_asks_no_network(pages, name):
    page = Reader(pages[name])
    assert len(pages[name].encode()) < 2_300_000
    assert sum(t == "h1" for t, _ in page.tags) == 1 and TITLE in page.text
    assert all(a.get("scope") for t, a in page.tags if t == "th")
    policy_without_network(page)
    assert "maker's service manual, local codes and licensed practice come first" in page.text


def test_the_answer_comes_first_then_what_to_do(pages):
    found, _ = seal()
    text = Reader(pages["seal"]).text
    order = [
        found.headline,
        "Next step",
        found.next_test.do,
        *("How sure", "Not tested", "Decay", "Vacuum over pressure", "Where the largest leak is"),
        *("Ruled out", "Mind before you rely on it", "The tests in numbers", "Cautions"),
    ]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert "onsistent with" in found.headline and "none is proof" in text
    for group in found.groups[:2]:
        assert all(signs(reason) in text for reason in group.reasons)
    for warning in found.warnings:
        assert signs(warning.text) in text


@pytest.mark.parametrize(
    ("probability", "word"), [(0.9, "SHAFT SEAL 90 %"), (0.55, "SHAFT SEAL 55 %"), (0.4, "CANNOT TELL YET")]
)
def test_the_word_follows_the_odds(probability, word):
    found, tests = LOCATED["seal"]()
    first = replace(found.groups[0], probability=probability)
    page = located_page(replace(found, groups=(first, *found.groups[1:])), tests)
    assert f"<span>{word}</span>" in page


def test_unlikely_groups_are_named_together():
    found, tests = LOCATED["seal"]()
    low = (replace(found.groups[-2], probability=0.03), replace(found.groups[-1], probability=0.01))
    page = located_page(replace(found, groups=(*found.groups[:1], *low)), tests)
    assert f"<h3>{low[0].name}</h3>" in page and f"<h3>{low[1].name}</h3>" not in page


def test_unlikely_places_of_a_group_are_not_named():
    found, tests = LOCATED["seal"]()
    group = replace(found.groups[0], probability=1.0)
    inside = [Place(n, group.group, n, p) for n, p in (("alpha", 0.8), ("beta", 0.15), ("gamma", 0.05))]
    page = located_page(replace(found, groups=(group,), places=tuple(inside)), tests)
    assert "alpha 80 %, beta 15 %</p>" in page


def test_bars_are_as_long_as_the_odds_and_sum_to_all(pages):
    found, _ = seal()
    widths = [float(w) for w in re.findall(r'class="bar".*?width:([\d.]+)%', pages["seal"])]
    assert widths[0] == pytest.approx(100.0 * found.groups[0].probability, abs=0.06)
    assert sum(widths) == pytest.approx(100.0, abs=0.5) and widths[:-1] == sorted(widths[:-1], reverse=True)


def test_a_tight_pair_is_no_pass_of_the_engine(pages):
    found, _ = tight()
    assert found.groups[0].group == "no-leak-found"
    text = Reader(pages["tight"]).text
    assert "NO LEAK FOUND" in text and "cold, at this crank position" in text and "leak after all" in text
    assert 'class="verdict pass"' not in pages["tight"] and 'id="ratio"' not in pages["tight"]


def test_one_sided_tightness_is_a_bound(pages):
    text = Reader(pages["one-sided"]).text
    assert one_sided()[0].ratio.at_least is not None
    assert (
        re.search(r"Vacuum leaks at least [\d.]+ times what pressure leaks", text)
        and 'id="ratio"' in pages["one-sided"]
    )


def test_sections_have_their_shares_and_their_tests_on_the_chart(pages):
    found, tests = sections()
    assert {s.section for s in found.sections} == {"boot", "case"} and 'id="shares"' in pages["sections"]
    names = [name for name, _ in drawn_tests(tests)]
    assert names == ["pressure without boot", "vacuum without boot", "pressure", "vacuum"]
    chart = located_chart(found, tests)
    assert {s.tone for s in chart.series} == {"pressure", "vacuum", "pressure-earlier", "vacuum-earlier"}
    assert chart.limits == ()


def test_a_lone_test_keeps_its_own_chart(pages):
    found, tests = alone()
    assert [s.strong for s in located_chart(found, tests).spans if s.strong] == [True]
    assert 'id="ratio"' not in pages["alone"] and "Only one direction was tested" in Reader(pages["alone"]).text


@pytest.mark.parametrize(("name", "least"), [("nasty", 14), ("change nasty", 3)])
def test_texts_of_others_are_data(pages, name, least):
    page = Reader(pages[name])
    assert len(page.scripts) == 3 and not any(t == "img" for t, _ in page.tags) and "\x1b" not in pages[name]
    shown = " ".join(NASTY.replace("\x1b", "\\x1b").split())
    assert page.text.count(shown) >= least


def test_effects_of_marks_are_told():
    text = Reader(located_page(*nasty())).text
    assert "What was done during the tests" in text and "the leak fell by 50 % (40 to 60)" in text


def test_compare_says_how_much_and_keeps_the_limit_apart(pages):
    change, before, after = repaired()
    text = Reader(pages["change repaired"]).text
    places = [text.index(p) for p in ("SMALLER", change.sentence, "Before", "After", "Decay before and after")]
    assert places == sorted(places) and change.word == "smaller"
    assert before.analysis.verdict.limit.text in text and "compare its two tests as well" in text
    assert "NO LEAK SEEN" in Reader(pages["change never"]).text
    assert healed()[0].sentence in Reader(pages["change healed"]).text
