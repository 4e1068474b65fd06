"""Change -> the report page: how much the leak changed, both decays, and all that stands behind."""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.judge.judged import FittedTest
from leakdown.report.analysis_page import TITLE, sign_off
from leakdown.report.chart_data import Chart
from leakdown.report.decay_chart import decay_chart
from leakdown.report.html import Drawn, asset, figure, items, page, symbol, text
from leakdown.report.interval_data import change_chart
from leakdown.report.located_page import cautions, decay_drawn, flags
from leakdown.report.tables import badge, beside, file_names
from leakdown.where.located import Change
from leakdown.words.sizes import circuit_words, size_sentence, verdict_sentence
from leakdown.words.wrap import unparted

_WORDS = {"smaller": "SMALLER", "larger": "LARGER", "same": "THE SAME", "unclear": "CANNOT SAY YET"}
_NAMES = ("before", "after")


def change_page(change: Change, before: FittedTest, after: FittedTest) -> str:
    """One self-contained HTML file of two tests of one direction."""
    analyses = (before.analysis, after.analysis)
    drawings = _drawings(change, analyses)
    names = [f"{n}: {file}" for n, file in zip(_NAMES, file_names(analyses), strict=True)]
    parts = [
        _header(analyses),
        _answer(change, before, after),
        _judged(analyses),
        *(f"<section><h2>{text(title)}</h2>{figure(d)}</section>" for title, d in drawings),
        flags(flag.text for flag in change.warnings),
        beside(analyses, names),
        _open_ends(analyses[1]),
        cautions(analyses),
        sign_off(),
    ]
    body = "\n".join(part for part in parts if part)
    return page(f"{TITLE}: before and after", body, tuple(d for _, d in drawings), asset("answers.css"))


def change_decay(before: Analysis, after: Analysis) -> Chart:
    """Both decays on one chart, the earlier one quiet."""
    return decay_chart(before, after, names=_NAMES, limits_within=1.2)


def _named(analyses: tuple[Analysis, Analysis]) -> list[tuple[str, Analysis]]:
    return list(zip(_NAMES, analyses, strict=True))


def _header(analyses: tuple[Analysis, Analysis]) -> str:
    first = analyses[0]
    what = f"{circuit_words(first.circuit).capitalize()}, {first.direction} test, before and after"
    line = f"{text(what)} &middot; {text(', '.join(file_names(analyses)))}"
    return f"<header><h1>{TITLE}</h1><p>{line}</p></header>"


def _answer(change: Change, before: FittedTest, after: FittedTest) -> str:
    word = _WORDS[change.word]
    role = "undecided" if change.word == "unclear" else change.word
    if before.tight and after.tight:
        role, word = "none", "NO LEAK SEEN"
    return (
        f'<section class="verdict {role}" aria-label="What changed">'
        f'<div class="word">{symbol(role)}<span>{word}</span></div>'
        f'<p class="found">{text(unparted(change.sentence))}</p></section>'
    )


def _judged(analyses: tuple[Analysis, Analysis]) -> str:
    """Each test against its limit: a smaller leak may still be too large."""
    blocks = "".join(
        f'<section class="block"><h2>{name.capitalize()}</h2>'
        f"<p>{badge(a)}</p>"
        f"<p>{text(unparted(size_sentence(a)))}</p><p>{text(unparted(verdict_sentence(a)))}</p></section>"
        for name, a in _named(analyses)
    )
    return f'<div class="two">{blocks}</div>'


def _drawings(change: Change, analyses: tuple[Analysis, Analysis]) -> list[tuple[str, Drawn]]:
    drawings = [("Decay before and after", decay_drawn(change_decay(*analyses), _named(analyses)))]
    strip = change_chart(change)
    if strip is not None:
        said = f"{strip.title}: {strip.rows[0].label}"
        drawings.append(("How much of the leak is left", Drawn("change", strip, said, _CAPTION)))
    return drawings


_CAPTION = (
    "Leak geometry after over that before, with its 95 % interval, whatever pressures the two tests started "
    "from. An arrow: no bound on that side."
)


def _open_ends(after: Analysis) -> str:
    other = "vacuum" if after.direction == "pressure" else "pressure"
    lines = [
        f"The {other} direction: compare its two tests as well.",
        "The repair alone: both tests need the same blanks, the same crank position and a cold, dry engine.",
    ]
    return f"<section><h2>What this comparison leaves open</h2>{items(lines)}</section>"
