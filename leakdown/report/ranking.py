"""Located -> its ranking as HTML: a bar and the reasons for each kind of place, and what is ruled out."""

from __future__ import annotations

from leakdown.report.html import capital, items, text
from leakdown.where.located import Group, Located
from leakdown.words.located import by_reason, mark_sentence
from leakdown.words.numbers import percent_words

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
