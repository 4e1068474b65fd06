"""The headline, and why a group stands where it stands: "consistent with" a place, never proof of it."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown.analysis import MarkEffect
from leakdown.quantities import significant
from leakdown.tuned import text, tuned
from leakdown.where.belonging import NAMED_DOUBTS
from leakdown.where.evidence import Evidence, could_show
from leakdown.where.knowledge import NO_LEAK, Knowledge, KnownPlace
from leakdown.where.located import Group, Ratio, TestVerdict, for_and_against
from leakdown.where.odds import Odds
from leakdown.where.stories import section_of
from leakdown.words.numbers import number, percent_words, shares_words

_T = tuned("where")
_RIG_GROUP = "test-rig"
_REPEAT = {
    "cooling": "let engine and air come to one temperature and repeat both directions",
    "warming": "let engine and air come to one temperature and repeat both directions",
    "vapour": "dry the case, wait, and repeat",
}
_SHAPE_WORDS = {"leak-grows": "the leak grew", "levels-off": "the decay levels off", "step": "the reading jumped"}


def headline(groups: Sequence[Group], evidence: Evidence, odds: Odds) -> str:
    """One sentence or two: the tests' own verdicts first."""
    if evidence.circuit != "tank" and evidence.passes and len(evidence.directions) == 2:
        return _passed(groups[0], evidence)
    if odds.together <= _T.strangers_below:
        named = [flag.text for flag in evidence.belonging.doubts if flag.code in NAMED_DOUBTS]
        return f"Cannot tell. {named[0]}" if named else text("where", "headline/strangers")
    cause = next(iter(odds.likely_causes), "")
    if cause and odds.causes[cause] > 0.5:
        return f"No leak, but {cause}, explains what was lost ({percent_words(odds.causes[cause])}): {_REPEAT[cause]}."
    first = groups[0]
    if first.group == NO_LEAK:
        also = f" {cause.capitalize()} would explain what was lost: {_REPEAT[cause]}." if odds.likely_cause else ""
        return f"{_nothing_found(first, evidence)}{also}"
    found = _ranked(groups, ", this complaint" if evidence.complaint else "")
    return f"{found} {_split(evidence)}".rstrip()


def _passed(first: Group, evidence: Evidence) -> str:
    own = [v for v in evidence.verdicts if v.circuit == evidence.circuit and v.would_see_pa_s is not None]
    best = {v.direction: v for v in sorted(own, key=lambda v: -(v.would_see_pa_s or 0.0))}
    seen = " and ".join(f"{kpa_words(v)} under {direction}" for direction, v in sorted(best.items()))
    would = f" They would have seen a loss above {seen}." if seen else ""
    if first.group == NO_LEAK:
        return f"The tests pass: no leak that a gauge can show, cold, at this crank position.{would}"
    little = f"What little leaks is most like the {first.name}, and no reason for a repair."
    return f"The tests pass their limits.{would} {little}"


def kpa_words(verdict: TestVerdict) -> str:
    """The smallest loss that a test would have seen."""
    return f"{number(0.06 * (verdict.would_see_pa_s or 0.0), 2)} kPa a minute"


def _ranked(groups: Sequence[Group], besides: str) -> str:
    first = groups[0]
    percent = percent_words(first.probability)
    if first.probability >= _T.clear_odds:
        return f"Consistent with the {first.name}: {percent} by the trade's judgement{besides} and these tests."
    if first.probability >= _T.likely_odds:
        return f"Most consistent with the {first.name} ({percent}); the others are not ruled out."
    second = groups[1]
    return (
        f"Cannot tell yet: {first.name} ({percent}) or {second.name} "
        f"({percent_words(second.probability)}); see the next test."
    )


def _split(evidence: Evidence) -> str:
    """The measured sections that carry a real part of the leak, when more than one does."""
    told: dict[tuple[str, ...], float] = {}
    for share in evidence.shares:
        told[share.names] = max((i.value for _, i in share.told if i.value is not None), default=0.0)
    large = {names: value for names, value in told.items() if value > _T.real_part}
    if len(large) < 2:
        return ""
    parts = [f"{' and '.join(n)} up to {number(100.0 * v, 2)} %" for n, v in large.items()]
    return f"More than one section leaks: {'; '.join(parts)}."


def _nothing_found(first: Group, evidence: Evidence) -> str:
    if evidence.circuit == "tank" and evidence.pressure is not None and not evidence.pressure.tight:
        return (
            "The vent breathes in more easily than out, but the tank loses pressure: look at the pressure "
            "test's own verdict (vent stuck open, cap or seam)."
        )
    if evidence.circuit == "tank":
        return f"The vent breathes in and holds pressure, as it should ({percent_words(first.probability)})."
    if any(not tested.tight for _, tested in evidence.directions):
        return "What engine or fuel did, and no leak, would explain this best: repeat before taking anything apart."
    names = " and ".join(name for name, _ in evidence.directions)
    return f"No leak found under {names}, cold, at this crank position."


def reasons(
    group: str, places: Sequence[KnownPlace], evidence: Evidence, known: Knowledge, odds: Odds
) -> tuple[str, ...]:
    """Sentences for one group, the strongest evidence first."""
    mine = [p for p in places if p.group == group]
    found = [
        *_about_tightness(group, evidence, odds),
        *_about_ratio(group, mine, evidence, known),
        *_about_sections(mine, evidence),
        *_about_marks(mine, evidence),
        *_about_observations(mine, evidence, known),
        *_about_complaint(mine, evidence),
        *_about_shape(mine, evidence),
        _about_weight(mine, places, evidence.circuit),
    ]
    return tuple(text for text in found if text)


def ratio_words(ratio: Ratio) -> str:
    """The directional ratio as a sentence's subject."""
    if ratio.value is not None:
        span = f"{significant(ratio.low)} to {significant(ratio.high or ratio.value)}"
        return f"vacuum leaks {significant(ratio.value)} times what pressure leaks ({span})"
    if ratio.at_least is not None:
        least = significant(ratio.at_least)
        return f"vacuum leaks at least {least} times what pressure leaks (pressure was tight)"
    if ratio.high is not None:
        return f"vacuum leaks at most {significant(ratio.high)} times what pressure leaks (vacuum was tight)"
    return "neither direction leaks"


def _about_tightness(group: str, evidence: Evidence, odds: Odds) -> list[str]:
    if group != NO_LEAK:
        return []
    tight = [name for name, tested in evidence.directions if tested.tight and not tested.rises]
    found = [f"no loss beyond the detection limit under {' and '.join(tight)}"] if tight else []
    found += [f"{cause} explains what was lost ({percent_words(odds.causes[cause])})" for cause in odds.likely_causes]
    if any(tested.rises for _, tested in evidence.directions):
        found.append("no leak moves a reading away from zero")
    return found


def _about_ratio(group: str, mine: Sequence[KnownPlace], evidence: Evidence, known: Knowledge) -> list[str]:
    ratio = evidence.ratio
    if ratio is None or not ratio.told or not mine or mine[0].pattern == "tight":
        return []
    why = known.why.get(group, {}).get(_side(ratio), "")
    return [f"{ratio_words(ratio)}: {why or 'unusual here'}"]


def _side(ratio: Ratio) -> str:
    """About 1 is what a fixed hole shows: its discharge coefficient differs each way."""
    size = ratio.value or ratio.at_least or ratio.high or 1.0
    return "more" if size > _T.fixed_hole_most else "less" if size < _T.fixed_hole_least else "same"


def _about_sections(mine: Sequence[KnownPlace], evidence: Evidence) -> list[str]:
    names = [s.section for s in evidence.shares]
    found = []
    for name in dict.fromkeys(section_of(p, names) for p in mine):
        share = next((s for s in evidence.shares if s.section == name), None)
        if share is None:
            continue
        others = ", ".join((share.section, *share.with_))
        label = f"section {share.section!r}" if share.separable else f"sections {others}"
        found += [
            f"{shares_words(interval)} of the {direction} leak goes through {label}"
            for direction, interval in share.told
            if interval.value is not None
        ]
    return found


def _about_marks(mine: Sequence[KnownPlace], evidence: Evidence) -> list[str]:
    touched = {*(p.place for p in mine), *(p.group for p in mine)}
    return [
        mark_words(mark.effect) for mark in evidence.marks if mark.place in touched and (mark.changed or mark.steady)
    ]


def mark_words(effect: MarkEffect) -> str:
    """ "after "boot" the leak fell by 62 % (55 to 68)"."""
    change = effect.after_over_before
    value, low, high = change.value or 1.0, change.low, change.high
    if low <= 1.0 <= high:
        span = f"{100 * (low - 1):+.0f} to {100 * (high - 1):+.0f} %"
        return f"after {effect.text!r} the leak stayed as it was ({span})"
    verb, near, far = ("fell", high, low) if value < 1.0 else ("grew", low, high)
    by, least, most = (100.0 * abs(factor - 1.0) for factor in (value, near, far))
    return f"after {effect.text!r} the leak {verb} by {by:.0f} % ({least:.0f} to {most:.0f})"


def _about_observations(mine: Sequence[KnownPlace], evidence: Evidence, known: Knowledge) -> list[str]:
    found = []
    for identity, seen in evidence.observed:
        observation = known.observations[identity]
        told = [p for p in mine if seen != observation.absence or could_show(observation, p, evidence)]
        factors = [observation.factor(seen, p) for p in told]
        extreme = max(factors, key=lambda f: abs(f - 1.0), default=1.0)
        if extreme == 1.0:
            continue
        said = observation.ask if seen else f"not seen: {observation.ask}"
        found.append(f"{said}: speaks {'for' if extreme > 1.0 else 'against'} it")
    return found


def _about_complaint(mine: Sequence[KnownPlace], evidence: Evidence) -> list[str]:
    if evidence.complaint is None:
        return []
    raised, lowered = for_and_against(evidence.complaint, [p.place for p in mine])
    more, less = "speaks for it", "speaks against it"
    if mine and mine[0].group in (NO_LEAK, _RIG_GROUP):  # nobody complains of these themselves
        more, less = "points outside this circuit", "points into this circuit"
    found = [f"complaint: {'; '.join(raised)}: {more}"] if raised else []
    return found + ([f"complaint: {'; '.join(lowered)}: {less}"] if lowered else [])


def _about_shape(mine: Sequence[KnownPlace], evidence: Evidence) -> list[str]:
    sure = [test.hole_like for test in evidence.tests if not test.tight]
    if not sure or not mine or mine[0].pattern == "tight":
        return []
    mean, hole = sum(sure) / len(sure), max(p.hole for p in mine)
    found = []
    if abs(mean - 0.5) > _T.shape_clear and abs(hole - 0.5) > _T.shape_usual:
        kind = "a hole's" if mean > 0.5 else "a weep's"
        usual = "as" if (mean > 0.5) == (hole > 0.5) else "not as"
        found.append(f"the decay is {kind}, {usual} usual here (weak evidence)")
    odd = [code for code in sorted(evidence.shapes) if any(p.odd.get(code, 1.0) > 1.0 for p in mine)]
    return found + [_SHAPE_WORDS[code] for code in odd]


def _about_weight(mine: Sequence[KnownPlace], places: Sequence[KnownPlace], circuit: str) -> str:
    if not mine or mine[0].pattern == "tight":
        return ""
    leaking = sum(p.weight[circuit] for p in places if p.pattern == "leak" and not p.healthy)
    share = 100.0 * sum(p.weight[circuit] for p in mine) / max(leaking, 1e-9)
    return f"the usual share of this place is {share:.0f} % of failed tests (the trade's judgement)"
