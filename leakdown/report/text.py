"""Analysis -> the terminal report: the verdict first, then the size, then everything that qualifies it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from leakdown.estimate.result import Analysis
from leakdown.report.cautions import AUTHORITY, limits_of_test, work_cautions
from leakdown.report.facts import Fact, finding_facts, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.report.words import circuit_words, size_sentence, size_title, verdict_sentence, verdict_word
from leakdown.report.wrap import clean, wrapped

Style = Callable[[str, str], str]
_SHORT = 64  # columns below which a table becomes one fact a paragraph


def plain(text: str, role: str) -> str:
    """The style of a stream that takes no colour."""
    return text


def terminal_report(
    analysis: Analysis, width: int = 88, style: Style = plain, ascii_only: bool = False
) -> str:
    """The whole report as lines no wider than `width` (>= 30).

    style(text, role) may add colour; roles: pass, fail, undecided, strong, dim. ascii_only replaces
    what a poor terminal cannot show (only the user's own texts hold any).
    """
    size = size_facts(analysis) + judgement_facts(analysis)
    beside = [f for f in analysis.findings if not (f.instead or f.answers)]
    blocks = [
        _headline(analysis, width, style),
        _table(size_title(analysis), size, width, style),
        *(_table(f.title, (*finding_facts(f), Fact("Reckoned", f.sentence)), width, style) for f in beside),
        _bullets("Mind", (flag.text for flag in analysis.flags), width, style),
        _bullets("What this test leaves open", limits_of_test(analysis), width, style),
        _table("What was used", hold_facts(analysis) + used_facts(analysis), width, style),
        _paragraph("Cautions", (*work_cautions(analysis), AUTHORITY), width, style),
    ]
    text = "\n\n".join(block for block in blocks if block)
    return text.encode("ascii", "replace").decode("ascii") if ascii_only else text


def summary(analysis: Analysis, width: int = 88, style: Style = plain) -> str:
    """Verdict and size in two or three sentences, for lists of several tests."""
    return _headline(analysis, width, style)


def _headline(analysis: Analysis, width: int, style: Style) -> str:
    role = analysis.verdict.word if analysis.verdict else "undecided"
    word = verdict_word(analysis)
    test = f"{circuit_words(analysis.circuit)}, {analysis.direction} test"
    source = clean(analysis.recording.source)
    lines = wrapped(f"{word}  {test}" + (f", {source}" if source else ""), width, rest="  ")
    lines[0] = lines[0].replace(word, style(word, role), 1)
    more = (finding.sentence for finding in analysis.findings if finding.answers)
    for sentence in (verdict_sentence(analysis), size_sentence(analysis), *more):
        lines += wrapped(clean(sentence), width, "  ", "  ") if sentence else []
    return "\n".join(lines)


def _table(title: str, facts: tuple[Fact, ...], width: int, style: Style) -> str:
    if not facts:
        return ""
    rows = [(clean(f.what), clean(f.value), f.span, clean(f.note)) for f in facts]
    if width < _SHORT:
        return "\n".join([*_title(title, width, style), *_narrow(rows, width)])
    first = min(22, max(len(r[0]) for r in rows)) + 2
    figures = [r for r in rows if r[2]]
    second = max((len(r[1]) for r in figures), default=0) + 2
    third = max((len(r[2]) for r in figures), default=0) + 2
    lines = _title(title, width, style)
    for what, value, span, note in rows:
        alone = f"{value} ({note})" if note else value
        body = f"{value:<{second}}{span:<{third}}{note}" if span else alone
        lines += wrapped(body.rstrip(), width, f"  {what:<{first}}", " " * (2 + first))
    return "\n".join(lines)


def _narrow(rows: Iterable[tuple[str, str, str, str]], width: int) -> list[str]:
    lines: list[str] = []
    for what, value, span, note in rows:
        body = f"{what}: {value}" + (f" ({span})" if span else "") + (f", {note}" if note else "")
        lines += wrapped(body, width, "  ", "    ")
    return lines


def _bullets(title: str, sentences: Iterable[str], width: int, style: Style) -> str:
    lines = _title(title, width, style)
    body = [line for s in sentences for line in wrapped(clean(s), width, "  - ", "    ")]
    return "\n".join(lines + body) if body else ""


def _paragraph(title: str, sentences: Iterable[str], width: int, style: Style) -> str:
    return "\n".join(_title(title, width, style) + wrapped(" ".join(sentences), width, "  ", "  "))


def _title(title: str, width: int, style: Style) -> list[str]:
    return [style(line, "strong") for line in wrapped(title, width)]
