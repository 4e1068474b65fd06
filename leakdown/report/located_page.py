"""Located -> the report page: what it comes to, what to do next, and all that stands behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from leakdown.analysis import Analysis
from leakdown.judge.judged import FittedTest
from leakdown.report.chart_data import Chart, in_words
from leakdown.report.interval_chart import FIXED_HOLE, ratio_chart, shares_chart
from leakdown.report.located_chart import drawn_tests, located_chart
from leakdown.report.page import Drawn, page
from leakdown.report.tables import beside, file_names
from leakdown.tuned import tuned
from leakdown.where.knowledge import NO_LEAK
from leakdown.where.located import Group, Located
from leakdown.where.reasons import ratio_words
from leakdown.words.cautions import CONNECTION, work_cautions
from leakdown.words.facts import Fact
from leakdown.words.located import by_reason, complaint_words, entry_words, mark_sentence, shown_groups, verdicts_words
from leakdown.words.numbers import percent_words
from leakdown.words.signs import own_texts
from leakdown.words.sizes import circuit_words, seen_above, size_brief, verdict_word
from leakdown.words.wrap import capital, texts

_T, _CAPTIONS = tuned("report"), texts("captions")


def located_page(found: Located, tests: Sequence[FittedTest]) -> str:
    """One self-contained HTML file. tests: those that `found` was found from."""
    analyses = [h.analysis for h in tests]
    names = file_names(analyses)
    role, word = _word(found)
    return page(
        "located.html",
        own_texts(*(a.recording for a in analyses)),
        drawings(found, tests),
        details=(f"{circuit_words(found.circuit).capitalize()}: where the leak is", ", ".join(names)),
        role=role,
        word=word,
        found=found,
        verdicts=verdicts_words(found),
        then=entry_words(found.next_test),
        sure=_how_sure(found, tests),
        not_tested=[capital(line) for line in found.not_tested],
        connection=CONNECTION,
        ranks=_ranks(found),
        ruled_out=[capital(sentence) for sentence in by_reason(found.ruled_out)],
        marks=[mark_sentence(mark) for mark in found.marks],
        tables=beside(analyses, names),
        cautions=cautions(analyses),
    )


def drawings(found: Located, tests: Sequence[FittedTest]) -> list[Drawn]:
    """The charts of the page in their order."""
    named = drawn_tests(tests)
    drawn = [replace(decay_drawn("decay", located_chart(found, tests), named), title="Decay")]
    ratio, shares = ratio_chart(found.ratio), shares_chart(found.sections)
    if ratio is not None and found.ratio is not None:
        said = f"{ratio.title}: {ratio_words(found.ratio)}"
        caption = _CAPTIONS["ratio"].format(low=FIXED_HOLE[0], high=FIXED_HOLE[1])
        drawn.append(Drawn("ratio", ratio.title, ratio, said, caption))
    if shares is not None:
        said = "; ".join(f"{r.heading} {r.label}".strip() for r in shares.rows)
        drawn.append(Drawn("shares", "Where it goes, section by section", shares, said, _CAPTIONS["shares"]))
    return drawn


def decay_drawn(name: str, chart: Chart, named: Sequence[tuple[str, Analysis]]) -> Drawn:
    """The decays of several tests in their place, each test's size in the caption."""
    lines = tuple(f"{name}: {verdict_word(a)}, {size_brief(a)}" for name, a in named)
    together = " Each starts when its valve was shut." if len(named) > 1 else ""
    caption = f"Points: readings. Lines: fitted decay with its 95 % band.{together}"
    said = f"Decay chart. {chart.title}. {'; '.join(lines)}. {in_words(chart)}"
    return Drawn(name, chart.title, chart, said, caption, lines)


def _word(found: Located) -> tuple[str, str]:
    """The role of the answer, and the likeliest group with its odds; or that none can be named."""
    first = found.groups[0]
    if first.group == NO_LEAK:
        seen = all(v.word == "pass" for v in found.verdicts if v.circuit == found.circuit)
        return ("none", "NO LEAK FOUND") if seen else ("undecided", "NOTHING CERTAIN")
    if first.probability < _T.likely:
        return "undecided", "CANNOT TELL YET"
    return "place", f"{first.name.upper()} {percent_words(first.probability)}"


def _how_sure(found: Located, tests: Sequence[FittedTest]) -> list[Fact]:
    facts = [Fact("Odds", _odds_words(found))]
    if found.ratio is not None:
        low, high = FIXED_HOLE
        beside_hole = f"; a fixed hole shows {low:g} to {high:g}" if ratio_chart(found.ratio) else ""
        facts.append(Fact("Directions", ratio_words(found.ratio) + beside_hole))
    if found.complaint is not None:
        facts.append(Fact("Complaint counted in", complaint_words(found)))
    seen = {a.direction: seen_above(a) for _, a in drawn_tests(tests) if a.leak is not None}
    facts += [Fact(f"Would have seen under {d}", f"a leak above {size}") for d, size in seen.items() if size]
    return [Fact(f.what, capital(f.value)) for f in facts]


def _odds_words(found: Located) -> str:
    """The odds of the first group and of all the others, as the judgement that they are."""
    first = found.groups[0]
    others = "a leak after all" if first.group == NO_LEAK else "the largest leak elsewhere"
    return (
        f"{percent_words(first.probability)} by the trade's judgement moved by these tests; "
        f"{others}: {percent_words(1.0 - first.probability)}"
    )


@dataclass(frozen=True)
class Rank:
    """A row of the ranking. width: % of the bar."""

    odds: str
    width: float
    name: str
    places: str
    reasons: tuple[str, ...] = ()


def _ranks(found: Located) -> list[Rank]:
    """In the order of probability; the least likely groups together at the end."""
    shown = shown_groups(found)
    rest = found.groups[len(shown) :]
    ranks = [_rank(g.probability, g.name, _places(found, g), g.reasons) for g in shown]
    if rest:
        names = ", ".join(g.name for g in rest)
        ranks.append(_rank(sum(g.probability for g in rest), "everything else", names))
    return ranks


def _rank(probability: float, name: str, places: str, reasons: tuple[str, ...] = ()) -> Rank:
    return Rank(percent_words(probability), 100.0 * min(max(probability, 0.0), 1.0), name, places, reasons)


def _places(found: Located, group: Group) -> str:
    inside = [p for p in found.places if p.group == group.group]
    named = [p for p in inside if p.probability > _T.named_share * group.probability]
    return ", ".join(f"{p.name} {percent_words(p.probability)}" for p in named) if len(inside) > 1 else ""


def cautions(analyses: Sequence[Analysis]) -> list[str]:
    """Cautions of every circuit and direction, each once."""
    firsts: dict[str, str] = {}
    rest: dict[str, None] = {}
    for analysis in analyses:
        first, *others = work_cautions(analysis)
        firsts[f"{circuit_words(analysis.circuit)}, {analysis.direction}"] = first
        rest |= dict.fromkeys(others)
    if len(set(firsts.values())) > 1:
        return [*(f"{what.capitalize()}: {first}" for what, first in firsts.items()), *rest]
    return [*dict.fromkeys(firsts.values()), *rest]
