"""The page: verdict first, everything escaped, self-contained, accessible, small."""

from __future__ import annotations

import base64
import gzip
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from leakdown.analysis import Flag, Quantity
from leakdown.judge.limits import WHOSE
from leakdown.report.analysis_page import analysis_page
from leakdown.report.page import TITLE
from leakdown.report.tables import beside
from leakdown.words.terminal import terminal_report
from tests.report.report_examples import ALL, NASTY, analysis, passed, undecided, without_fit

VOID = {"meta", "br", "img", "link", "input", "hr"}


class Reader(HTMLParser):
    """Tags, attributes and visible text; asserts that tags nest."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.scripts: list[str] = []
        self.feed(re.sub(r'<span class="option">(.*?)</span>', r"\1", page))  # a tag that parts no words
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] == "script":
            self.scripts.append(data)
        elif self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def _digest(content: bytes) -> str:
    return base64.b64encode(hashlib.sha256(content).digest()).decode()


@pytest.fixture(scope="module")
def pages():
    return {name: analysis_page(make()) for name, make in ALL.items()}


@pytest.mark.parametrize("name", ALL)
def test_page_is_sound(pages, name):
    page = Reader(pages[name])
    assert len(pages[name].encode()) < 2_300_000
    assert page.tags[0] == ("html", {"lang": "en"}) and sum(t == "h1" for t, _ in page.tags) == 1
    heads = [a for t, a in page.tags if t == "th"]
    assert heads and all(a.get("scope") in ("col", "row") for a in heads)
    assert TITLE in page.text


def policy_without_network(page: Reader) -> str:
    """Nothing in the page asks for anything outside it; its policy."""
    for tag, attributes in page.tags:
        assert tag not in ("link", "img", "iframe", "object", "embed", "form"), tag
        for key in ("src", "href", "xlink:href", "action", "srcset"):
            assert (attributes.get(key) or "#").startswith("#"), (tag, attributes)
    policy = next(a["content"] for t, a in page.tags if t == "meta" and a.get("http-equiv"))
    assert policy.startswith("default-src 'none'") and "http" not in policy
    return policy


@pytest.mark.parametrize("name", ALL)
def test_page_asks_no_network(pages, name):
    page = Reader(pages[name])
    policy = policy_without_network(page)
    library = gzip.decompress(base64.b64decode(page.scripts[1]))  # a script once the page has unpacked it
    allowed = re.findall(r"'sha256-([^']+)'", policy)
    assert allowed == [_digest(page.scripts[2].encode()), _digest(library)] and b"plotly" in library
    assert '"displaylogo": false' in page.scripts[0] and '"showSendToCloud": false' in page.scripts[0]


def test_verdict_and_size_come_before_everything_else(pages):
    text = Reader(pages["fail"]).text
    order = ["FAIL", "The leak is 17.0 cm³/min", "Some reason for fail.", "Leak rate", "Decay", "Given and assumed"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert "PASS" in Reader(analysis_page(passed())).text
    assert "CANNOT SAY YET" in Reader(analysis_page(undecided())).text


def test_pass_says_what_was_not_tested(pages):
    text = Reader(pages["pass"]).text
    assert "no leak that this test could show, cold, at this crank position" in text
    assert "pressure AND vacuum" in text and "connection proven" in text and "Not tested:" in text
    for caution in ("Low pressure only", "regulator", "eye protection", "Never turn the crankshaft", "hot engine"):
        assert caution in text
    assert "maker's service manual, local codes and licensed practice come first" in text


def test_cautions_follow_the_circuit():
    tank = Reader(analysis_page(replace(analysis(), circuit="tank"))).text
    bowl = Reader(analysis_page(replace(analysis(), circuit="float-inlet"))).text
    assert "−10 kPa at most" in tank and "crankshaft" not in tank
    assert "15 to 30 kPa" in bowl and "Thin plastic" not in bowl


def test_user_texts_are_data(pages):
    page = Reader(pages["nasty"])
    assert len(page.scripts) == 3 and not any(t == "img" for t, _ in page.tags)
    shown = NASTY.replace("\x1b", "\\x1b").replace("\n", " ")
    assert page.text.count(" ".join(shown.split())) >= 6  # gauge, start, note, remark, flag, mark, sections
    assert "\x1b" not in pages["nasty"]


def test_without_fit_there_is_a_chart_and_no_size(pages):
    page = Reader(pages["without fit"])
    assert sum(t == "figure" for t, _ in page.tags) == 1 and "Leak rate" not in page.text
    assert "No leak model fits this hold. Repeat the test." in page.text
    assert 'class="scale"' not in analysis_page(without_fit())


def test_given_and_assumed_are_marked(pages):
    assert re.search(r"Barometer</th><td>99 kPa absolute</td><td><span class=\"source given\">", pages["fail"])
    assert re.search(r"Temperature</th><td>20 °C</td><td><span class=\"source assumed\">", pages["fail"])


def test_long_log_is_thinned_and_says_so():
    text = analysis_page(analysis(n=40_000))
    assert len(text.encode()) < 2_300_000
    assert "Readings: 40000, of which 120 are shown" in text


def test_short_sheet_shows_every_reading_and_its_temperature():
    base = analysis(n=12)
    warm = np.full(12, 295.15)
    warm[3] = np.nan
    page = analysis_page(replace(base, recording=replace(base.recording, temperature_k=warm)))
    assert "<details open>" in page and page.count("<td>22.0</td>") == 11


def test_readings_are_shown_with_the_places_they_were_read_with():
    base = analysis(unit="psi")
    psi = np.array([7.25, 7.0, 6.5, 6.25]) * 6894.757293168
    rec = replace(base.recording, time_s=np.array([0.0, 10.0, 20.0, 30.0]), pressure_pa=psi)
    page = analysis_page(replace(base, recording=rec))
    assert "<td>10</td><td>7.00</td>" in page and "<td>30</td><td>6.25</td>" in page


def test_scale_puts_the_interval_on_the_right_side_of_the_limit(pages):
    seen = re.search(r'class="seen" style="left:([\d.]+)%;width:([\d.]+)%', pages["fail"])
    limit = re.search(r'class="mark" style="left:([\d.]+)%', pages["fail"])
    assert float(seen[1]) > float(limit[1])
    seen = re.search(r'class="seen" style="left:([\d.]+)%;width:([\d.]+)%', pages["undecided"])
    limit = re.search(r'class="mark" style="left:([\d.]+)%', pages["undecided"])
    assert float(seen[1]) < float(limit[1]) < float(seen[1]) + float(seen[2])


def test_scale_names_its_units_and_says_no_second_bound_for_a_pass(pages):
    assert '<div class="at" style="left:' in pages["fail"] or '<div class="at" style="right:' in pages["fail"]
    assert ">limit 7 kPa</div>" in pages["fail"] and "<span>9.5&nbsp;kPa</span>" in pages["fail"]
    assert "Bar: estimated, 7.20 to 7.60 kPa lost in 60 s" in pages["fail"]
    assert "Bar: no loss for certain, only the room that the readings leave" in pages["pass"]


def test_the_file_is_named_without_its_folders():
    base = analysis()
    for source in ("/home/somebody/jobs/saw-12.csv", "C:\\jobs\\saw-12.csv"):
        text = Reader(analysis_page(replace(base, recording=replace(base.recording, source=source)))).text
        assert "test: saw-12.csv" in text and "jobs" not in text


def test_a_grave_doubt_stands_in_the_verdict_block():
    page = analysis_page(replace(analysis(vacuum=True), flags=(Flag("creep", "Or fuel vapour."),)))
    block = page[page.index('class="verdict fail"') : page.index("</section>")]
    assert "This may be fuel vapour from a wet case" in block and "Taken for a leak it is 17.0" in block
    assert "cannot be told: fuel vapour would look the same" in page and "Or fuel vapour." in page


def test_a_gauge_step_of_nothing_is_not_mentioned():
    base = analysis()
    fine = replace(base.used, resolution_pa=Quantity(1e-7, "inferred"))
    flagged = replace(base, used=fine, flags=(Flag("resolution-assumed", "Rounded to 1.00e-07 psi."),))
    assert "e-07" not in Reader(analysis_page(flagged)).text


def test_results_are_shown_in_the_unit_that_is_asked_for():
    """The shop may read in one unit and show in another; page, facts and terminal follow."""
    read = passed()
    conditions = replace(read.recording.conditions, shown_in="psi")
    shown = replace(read, recording=replace(read.recording, conditions=conditions))
    page, text = analysis_page(shown), terminal_report(shown)
    assert "Gauge pressure (psi)" in page and "psi/min" in page and "psi" in text
    assert "Gauge pressure (kPa)" not in page and "kPa/min" not in text


@pytest.mark.parametrize("source", ["given", "file", "job", "settings", "practice"])
def test_the_tables_say_whose_the_limit_is(source):
    judged = passed()
    limit = replace(judged.verdict.limit, source=source)
    judged = replace(judged, verdict=replace(judged.verdict, limit=limit))
    (row,) = (rows for group, rows in beside([judged], ["a"])[0].groups if "Limit" in rows)
    assert row["Limit"][0][0].note == WHOSE[source]


def test_shop_and_mechanic_stand_on_the_page_as_they_are_set(tmp_path, monkeypatch):
    assert "Tested by" not in analysis_page(analysis())
    (tmp_path / "s.toml").write_text('shop = "Mill <Lane>"\nmechanic = "A. +/- Smith"\n', encoding="utf-8")
    monkeypatch.setenv("LEAKDOWN_SETTINGS", str(tmp_path / "s.toml"))
    assert "Tested by Mill &lt;Lane&gt;, A. +/- Smith" in analysis_page(analysis())


@pytest.mark.parametrize("name", sorted(ALL))
def test_no_option_can_be_parted_after_its_hyphens(name):
    """Browsers break lines after a hyphen: "--" at the end of one, "volume" on the next."""
    body = re.sub(r"<(style|script)[^>]*>.*?</\1>", "", analysis_page(ALL[name]()), flags=re.DOTALL)
    options = re.findall(r"(.{0,21})(?<![\w-])(--[a-z-]+)", body)
    assert [one for one in options if not one[0].endswith('<span class="option">')] == []
    assert options or name != "no limit", "its verdict names one"


def test_what_users_wrote_stays_text_beside_an_option():
    flag = Flag("x", "Give --volume <b>now</b> & 5 kPa. Say --not-seen same-setup or --seen wet-joint here.")
    page = analysis_page(replace(analysis(), flags=(flag,)))
    assert (
        '<span class="option">--not-seen same-setup</span> or <span class="option">--seen wet-joint</span> here' in page
    )
    assert 'Give <span class="option">--volume</span> &lt;b&gt;now&lt;/b&gt; &amp; 5\u00a0kPa.' in page
