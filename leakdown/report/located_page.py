"""Located -> the report page: what it comes to, what to do next, and all that stands behind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from leakdown.analysis import Analysis
from leakdown.judge.judged import FittedTest
from leakdown.report.analysis_page import TITLE, sign_off
from leakdown.report.chart_data import Chart
from leakdown.report.decay_chart import decay_chart
from leakdown.report.html import Drawn, asset, capital, fact_list, figure, items, page, symbol, text
from leakdown.report.interval_data import FIXED_HOLE, ratio_chart, shares_chart
from leakdown.report.tables import beside, file_names
from leakdown.where.knowledge import NO_LEAK
from leakdown.where.located import Group, Located
from leakdown.where.reasons import ratio_words
from leakdown.where.tests import RIG, Tests, sort_tests
from leakdown.words.cautions import CONNECTION, work_cautions
from leakdown.words.facts import Fact
from leakdown.words.located import by_reason, complaint_words, mark_sentence
from leakdown.words.numbers import percent_words
from leakdown.words.sizes import circuit_words, seen_above, size_brief, verdict_word
from leakdown.words.wrap import unparted

MOST_TESTS = 6
_LONGEST = 30


def located_chart(found: Located, tests: Sequence[FittedTest]) -> Chart:
    """Both directions mirrored; tests with other blanks quietly behind those that were compared."""
    drawn = drawn_tests(tests)
    if len(drawn) == 1:
        return decay_chart(drawn[0][1])
    names = [name for name, _ in drawn]
    chart = decay_chart(*(a for _, a in drawn), names=names, limits_within=0.0)  # the place is asked for
    directions = " and ".join(sorted({a.direction for _, a in drawn}))
    return replace(chart, title=f"{circuit_words(found.circuit).capitalize()}, {directions} tests")


def drawn_tests(tests: Sequence[FittedTest]) -> list[tuple[str, Analysis]]:
    """Name and analysis of each test on the chart, the compared ones last; at most `MOST_TESTS`."""
    order = sort_tests(list(tests))
    compared = [*order.fullest(False), *order.fullest(True)]
    with_rig = order.circuit == RIG
    others = [h for h in order.all if not _among(h, compared) and (h.analysis.circuit != RIG or with_rig)]
    chosen = [*others, *compared][-MOST_TESTS:]
    names = _apart([_name(h, order) for h in chosen])
    return list(zip(names, (h.analysis for h in chosen), strict=True))


def _among(one: FittedTest, tests: Sequence[FittedTest]) -> bool:
    return any(one is h for h in tests)


def _name(one: FittedTest, order: Tests) -> str:
    """The direction, and what was blocked or what alone was tested, whichever is shorter."""
    direction = one.analysis.direction
    inside = next(s for h, s in zip(order.all, order.inside.tests, strict=True) if h is one) - {RIG}
    missing = frozenset(order.inside.sections) - {RIG} - inside
    if not missing:
        return direction
    few = len(missing) <= len(inside)
    said = f" without {_listed(missing)}" if few else f", {_listed(inside)} only"
    name = direction + said
    return name if len(name) <= _LONGEST else name[: _LONGEST - 3] + "..."


def _listed(names: frozenset[str]) -> str:
    return ", ".join(sorted(names))


def _apart(names: Sequence[str]) -> list[str]:
    """The names, numbered where one stands for several tests."""
    return [
        f"{name} {names[: k + 1].count(name)}" if names.count(name) > 1 else name
        for k, name in enumerate(names)
    ]


_SHOWN = 0.02  # groups less likely than this are named together
_WITHIN = 0.1  # of a group's probability: places less likely than this are not named


def ranking(found: Located) -> str:
    """Bars in the order of probability, each with its places and reasons."""
    shown = [g for g in found.groups if g.probability >= _SHOWN] or list(found.groups[:1])
    rest = found.groups[len(shown) :]
    rows = "".join(_group(found, g) for g in shown)
    if rest:
        names = ", ".join(g.name for g in rest)
        more = f'<p class="places">{text(names)}</p>'
        rows += _row(sum(g.probability for g in rest), "everything else", more)
    note = (
        "<p>Odds that the largest leak is there: common practice, moved by these tests and by what was seen. "
        "Each is consistent with what was found; none is proof.</p>"
    )
    return f'<section><h2>Where the largest leak is</h2>{note}<ol class="ranks">{rows}</ol></section>'


def _group(found: Located, group: Group) -> str:
    inside = [p for p in found.places if p.group == group.group]
    named = [p for p in inside if p.probability > _WITHIN * group.probability]
    places = ", ".join(f"{p.name} {percent_words(p.probability)}" for p in named) if len(inside) > 1 else ""
    more = f'<p class="places">{text(places)}</p>' if places else ""
    return _row(group.probability, group.name, more + items(group.reasons))


def _row(probability: float, name: str, more: str) -> str:
    width = 100.0 * min(max(probability, 0.0), 1.0)
    return (
        f'<li><div class="rank"><span class="odds">{text(percent_words(probability))}</span>'
        f'<span class="bar" aria-hidden="true"><span style="width:{width:.1f}%"></span></span></div>'
        f'<div class="why"><h3>{text(name)}</h3>{more}</div></li>'
    )


def ruled_out(found: Located) -> str:
    """Places that speak for themselves no longer, by reason; "" when there are none."""
    listed = items(capital(sentence) for sentence in by_reason(found.ruled_out))
    note = "<p>Below 1 in 100, because of these tests; a second, smaller leak may still be there.</p>"
    return f"<section><h2>Ruled out</h2>{note}{listed}</section>" if listed else ""


def mark_effects(found: Located) -> str:
    """What the leak did after each action during a test; "" when there is none."""
    listed = items(mark_sentence(mark) for mark in found.marks)
    return f"<section><h2>What was done during the tests</h2>{listed}</section>" if listed else ""


_LIKELY, _CLEAR = 0.5, 0.85


def located_page(found: Located, tests: Sequence[FittedTest]) -> str:
    """One self-contained HTML file. tests: those that `found` was found from."""
    analyses = [h.analysis for h in tests]
    drawings = _drawings(found, tests)
    parts = [
        _header(found, analyses),
        _answer(found),
        _next(found),
        _how_sure(found, tests),
        *(f"<section><h2>{text(title)}</h2>{figure(d)}</section>" for title, d in drawings),
        ranking(found),
        ruled_out(found),
        mark_effects(found),
        flags(flag.text for flag in found.warnings),
        beside(analyses, file_names(analyses)),
        cautions(analyses),
        sign_off(),
    ]
    body = "\n".join(part for part in parts if part)
    return page(f"{TITLE}: where the leak is", body, tuple(d for _, d in drawings), asset("answers.css"))


def _header(found: Located, analyses: Sequence[Analysis]) -> str:
    what = f"{circuit_words(found.circuit).capitalize()}: where the leak is"
    details = [what, ", ".join(file_names(analyses))]
    line = " &middot; ".join(text(d) for d in details if d)
    return f"<header><h1>{TITLE}</h1><p>{line}</p></header>"


def _answer(found: Located) -> str:
    role, word = _word(found)
    return (
        f'<section class="verdict {role}" aria-label="What was found">'
        f'<div class="word">{symbol(role)}<span>{word}</span></div>'
        f'<p class="found">{text(unparted(found.headline))}</p></section>'
    )


def _word(found: Located) -> tuple[str, str]:
    """How far the headline goes, in a word."""
    first = found.groups[0]
    if first.group == NO_LEAK:
        seen = found.headline.startswith("No leak")
        return ("none", "NO LEAK FOUND") if seen else ("undecided", "NOTHING CERTAIN")
    if first.probability >= _CLEAR:
        return "place", "VERY LIKELY"
    return ("place", "LIKELY") if first.probability >= _LIKELY else ("undecided", "CANNOT TELL YET")


def _next(found: Located) -> str:
    test = found.next_test
    if test is None:
        return ""
    why = f'<p class="reason">Why: {text(unparted(test.why))}</p>'
    return f'<section class="next"><h2>Next test</h2><p>{text(unparted(test.do))}</p>{why}</section>'


def _how_sure(found: Located, tests: Sequence[FittedTest]) -> str:
    facts = [Fact("Odds", _odds_words(found))]
    if found.ratio is not None:
        beside_hole = (
            f"; a fixed hole shows {FIXED_HOLE[0]:g} to {FIXED_HOLE[1]:g}" if ratio_chart(found.ratio) else ""
        )
        facts.append(Fact("Directions", ratio_words(found.ratio) + beside_hole))
    if found.complaint is not None:
        facts.append(Fact("Complaint counted in", complaint_words(found)))
    seen = {a.direction: seen_above(a) for _, a in drawn_tests(tests) if a.leak is not None}
    facts += [Fact(f"Would have seen under {d}", f"a leak above {size}") for d, size in seen.items() if size]
    facts = [Fact(f.what, capital(f.value)) for f in facts]
    open_ends = f"{items(capital(line) for line in found.not_tested)}<p>{text(CONNECTION)}</p>"
    return (
        f'<div class="two"><section class="block"><h2>How sure</h2>{fact_list(facts)}</section>'
        f'<section class="block"><h2>Not tested</h2>{open_ends}</section></div>'
    )


def _odds_words(found: Located) -> str:
    """The odds of the first group as engines of a hundred."""
    first = found.groups[0]
    others = round(100.0 * (1.0 - first.probability))
    rest = f"about {others}" if others >= 1 else "fewer than 1"
    leak = "have a leak after all" if first.group == NO_LEAK else "have the largest leak elsewhere"
    return f"of 100 engines that read like this, {rest} {leak}"


def _drawings(found: Located, tests: Sequence[FittedTest]) -> list[tuple[str, Drawn]]:
    drawings = [("Decay", decay_drawn(located_chart(found, tests), drawn_tests(tests)))]
    ratio, shares = ratio_chart(found.ratio), shares_chart(found.sections)
    if ratio is not None and found.ratio is not None:
        said = f"{ratio.title}: {ratio_words(found.ratio)}"
        drawings.append(("Vacuum over pressure", Drawn("ratio", ratio, said, _ratio_caption())))
    if shares is not None:
        said = "; ".join(f"{r.heading} {r.label}".strip() for r in shares.rows)
        drawings.append(("Where it goes, section by section", Drawn("shares", shares, said, _SHARES)))
    return drawings


def decay_drawn(chart: object, named: Sequence[tuple[str, Analysis]]) -> Drawn:
    """The decay chart in its place, each test's size in the caption."""
    lines = [f"{name}: {verdict_word(a)}, {size_brief(a)}" for name, a in named]
    together = " Each starts when its valve was shut." if len(named) > 1 else ""
    caption = f"Points: readings. Lines: fitted decay with its 95 % band.{together}"
    return Drawn("decay", chart, f"Decay chart. {'; '.join(lines)}", caption + items(lines))  # type: ignore[arg-type]


def _ratio_caption() -> str:
    low, high = FIXED_HOLE
    return (
        f"Leak geometry under vacuum over that under pressure, with its 95 % interval. Grey: {low:g} to "
        f"{high:g}, where a fixed hole lies whatever the pressures (common practice). An arrow: no bound on "
        "that side."
    )


_SHARES = (
    "Share of the whole circuit's leak through each section, with its 95 % interval. Sections that these "
    "tests cannot tell apart stand together."
)


def flags(sentences: Iterable[str]) -> str:
    """Warnings, each with what to do."""
    listed = items(sentences, css="flags")
    return f"<section><h2>Mind before you rely on it</h2>{listed}</section>" if listed else ""


def cautions(analyses: Sequence[Analysis]) -> str:
    """Cautions of every circuit and direction, each once."""
    firsts: dict[str, str] = {}
    rest: dict[str, None] = {}
    for analysis in analyses:
        first, *others = work_cautions(analysis)
        firsts[f"{circuit_words(analysis.circuit)}, {analysis.direction}"] = first
        rest |= dict.fromkeys(others)
    same = len(set(firsts.values())) == 1
    lines = (
        list(dict.fromkeys(firsts.values()))
        if same
        else [f"{w.capitalize()}: {f}" for w, f in firsts.items()]
    )
    return f"<section><h2>Cautions</h2>{items([*lines, *rest])}</section>"
