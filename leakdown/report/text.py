"""Analysis -> the terminal report: the verdict first, then the size, then the little that must not be missed.

The page and the JSON line say all of it; this is for a screen read at arm's length.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from leakdown.analysis import Analysis
from leakdown.report.brief import (
    assumed_line,
    caution_line,
    change_lines,
    figure_line,
    kind_line,
    open_line,
    used_line,
)
from leakdown.report.facts import finding_facts
from leakdown.report.flag_words import grave_sentences, minded_flags, shown_findings
from leakdown.report.words import circuit_words, file_name, size_sentence, verdict_sentence, verdict_word
from leakdown.report.wrap import clean, wrapped

Style = Callable[[str, str], str]
_MOST_FLAGS = 3  # more stand on the page
_FIGURE_IN_REASON = ("air-in",)  # its verdict says the figure
_WORKINGS = ("would-not-build",)  # how it was reckoned is for the page
_INDENT = 12  # the column in which the lines beside a name start


def plain(text: str, role: str) -> str:
    """The style of a stream that takes no colour."""
    return text


def terminal_report(
    analysis: Analysis, width: int = 88, style: Style = plain, ascii_only: bool = False
) -> str:
    """The report as lines no wider than `width` (>= 30).

    style(text, role) may add colour; roles: pass, fail, undecided, strong, dim. ascii_only replaces
    what a poor terminal cannot show (only the user's own texts hold any).
    """
    named = (
        ("Still open", open_line(analysis)),
        ("Assumed", assumed_line(analysis)),
        ("Used", used_line(analysis)),
        ("Cautions", caution_line(analysis)),
    )
    blocks = [
        _headline(analysis, width, style),
        _bullets("Mind", _minded(analysis), width, style),
        "\n".join(line for name, words in named if words for line in _named(name, words, width, style)),
    ]
    text = "\n\n".join(block for block in blocks if block)
    return text.encode("ascii", "replace").decode("ascii") if ascii_only else text


def summary(analysis: Analysis, width: int = 88, style: Style = plain) -> str:
    """Verdict, size and kind in a few sentences: all of it for whoever wants only the result."""
    return _headline(analysis, width, style)


def _headline(analysis: Analysis, width: int, style: Style) -> str:
    role = analysis.verdict.word if analysis.verdict else "undecided"
    word = verdict_word(analysis)
    test = f"{circuit_words(analysis.circuit)}, {analysis.direction} test"
    source = clean(file_name(analysis))
    lines = wrapped(f"{word}  {test}" + (f", {source}" if source else ""), width, rest="  ")
    lines[0] = lines[0].replace(word, style(word, role), 1)
    for sentence in (verdict_sentence(analysis), *grave_sentences(analysis), *_sizes(analysis)):
        lines += wrapped(clean(sentence), width, "  ", "  ") if sentence else []
    return "\n".join(lines)


def _sizes(analysis: Analysis) -> tuple[str, ...]:
    """Size, kind, what became of the leak, and the findings."""
    told = [finding for finding in shown_findings(analysis) if finding.name not in _WORKINGS]
    instead = [finding for finding in analysis.findings if finding.instead]
    figures = (figure_line(finding_facts(f)) for f in instead if f.name not in _FIGURE_IN_REASON)
    beside = (finding.sentence for finding in told if not finding.instead)
    if instead:
        return (*(finding.sentence for finding in told if finding.instead), *figures, *beside)
    return (size_sentence(analysis), kind_line(analysis), *change_lines(analysis), *beside)


def _minded(analysis: Analysis) -> tuple[str, ...]:
    flags = [flag.text for flag in minded_flags(analysis)]
    more = len(flags) - _MOST_FLAGS
    return (*flags[:_MOST_FLAGS], *([f"{more} more on the page (--report)."] if more > 0 else []))


def _bullets(title: str, sentences: Iterable[str], width: int, style: Style) -> str:
    body = [line for s in sentences for line in wrapped(clean(s), width, "  - ", "    ")]
    return "\n".join([style(title, "strong"), *body]) if body else ""


def _named(name: str, words: str, width: int, style: Style) -> list[str]:
    """A name and what stands beside it, the rest of it indented."""
    lines = wrapped(clean(words), width, f"{name:<{_INDENT}}", " " * _INDENT)
    lines[0] = lines[0].replace(name, style(name, "strong"), 1)
    return lines
