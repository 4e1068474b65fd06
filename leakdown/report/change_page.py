"""Change -> the report page: how much the leak changed, both decays, and all that stands behind."""

from __future__ import annotations

from dataclasses import replace

from leakdown.analysis import Analysis
from leakdown.judge.judged import FittedTest
from leakdown.report.decay_chart import change_decay
from leakdown.report.interval_chart import change_chart
from leakdown.report.located_page import cautions, decay_drawn
from leakdown.report.page import Drawn, page
from leakdown.report.tables import beside, file_names
from leakdown.where.located import Change
from leakdown.words.signs import own_texts
from leakdown.words.sizes import circuit_words, size_sentence, verdict_role, verdict_sentence, verdict_word
from leakdown.words.wrap import texts

_WORDS = {"smaller": "SMALLER", "larger": "LARGER", "same": "THE SAME", "unclear": "CANNOT SAY YET"}
_NAMES = ("before", "after")


def change_page(change: Change, before: FittedTest, after: FittedTest) -> str:
    """One self-contained HTML file of two tests of one direction."""
    first, last = before.analysis, after.analysis
    analyses = (first, last)
    role, word = "undecided" if change.word == "unclear" else change.word, _WORDS[change.word]
    if before.tight and after.tight:
        role, word = "none", "NO LEAK SEEN"
    names = file_names(analyses)
    other = "vacuum" if last.direction == "pressure" else "pressure"
    what = f"{circuit_words(first.circuit).capitalize()}, {first.direction} test, before and after"
    return page(
        "change.html",
        own_texts(first.recording, last.recording),
        drawings(change, first, last),
        details=(what, ", ".join(names)),
        role=role,
        word=word,
        sentence=change.sentence,
        judged=[_judged(name, a) for name, a in zip(_NAMES, analyses, strict=True)],
        flags=[flag.text for flag in change.warnings],
        tables=beside(analyses, [f"{n}: {file}" for n, file in zip(_NAMES, names, strict=True)]),
        open=(
            f"The {other} direction: compare its two tests as well.",
            "The repair alone: both tests need the same blanks, the same crank position and a cold, dry engine.",
        ),
        cautions=cautions(analyses),
    )


def _judged(name: str, analysis: Analysis) -> dict[str, str]:
    """A test against its limit: a smaller leak may still be too large."""
    return {
        "name": name,
        "role": verdict_role(analysis),
        "word": verdict_word(analysis),
        "size": size_sentence(analysis),
        "reason": verdict_sentence(analysis),
    }


def drawings(change: Change, before: Analysis, after: Analysis) -> list[Drawn]:
    """The charts of the page in their order."""
    named = list(zip(_NAMES, (before, after), strict=True))
    decay = decay_drawn("decay", change_decay(before, after), named)
    drawn = [replace(decay, title="Decay before and after")]
    strip = change_chart(change)
    if strip is not None:
        said = f"{strip.title}: {strip.rows[0].label}"
        drawn.append(Drawn("change", "How much of the leak is left", strip, said, texts("captions")["change"]))
    return drawn
