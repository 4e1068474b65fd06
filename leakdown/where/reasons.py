"""Why a group stands where it stands, in words. A finding is "consistent with" a place, never proof of it."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown.quantities import significant
from leakdown.where.evidence import Evidence
from leakdown.where.knowledge import NO_LEAK, Knowledge, KnownPlace
from leakdown.where.located import Ratio, for_and_against
from leakdown.where.odds import SHUT
from leakdown.where.placing import section_of

_RIG_GROUP = "test-rig"


def reasons(
    group: str, places: Sequence[KnownPlace], evidence: Evidence, known: Knowledge
) -> tuple[str, ...]:
    """Sentences for one group, the strongest evidence first."""
    mine = [p for p in places if p.group == group]
    found = [
        *_about_tightness(group, evidence),
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


def _about_tightness(group: str, evidence: Evidence) -> list[str]:
    directions = [
        (name, seen) for name, seen in (("pressure", evidence.pressure), ("vacuum", evidence.vacuum)) if seen
    ]
    tight = [name for name, seen in directions if seen.tight]
    if group != NO_LEAK:
        return []
    found = [f"no loss beyond the detection limit under {' and '.join(tight)}"] if tight else []
    small = [name for name, seen in directions if not seen.tight and seen.loss_kpa_per_min < 0.4]
    if small:
        found.append(
            f"the loss under {' and '.join(small)} is so small that a change of temperature would do it"
        )
    if any(seen.rises for _, seen in directions):
        found.append("a reading that moves away from zero is vapour or warming, never a leak")
    return found


def _about_ratio(group: str, mine: Sequence[KnownPlace], evidence: Evidence, known: Knowledge) -> list[str]:
    ratio = evidence.ratio
    if ratio is None or not mine or mine[0].pattern == "tight":
        return []
    if ratio.value is None and ratio.at_least is None and ratio.high is None:
        return []
    spans = sorted({_span(row) for p in mine for row in p.expected(evidence.lips, evidence.intake)})
    fitting = [span for span in spans if _meets(ratio, *span)]
    words = " or ".join(f"{low:.2g} to {high:.2g}" for low, high in fitting or spans)
    verb = "consistent with" if fitting else "outside"
    why = known.why.get(group, {}).get(_side(ratio), "") if fitting else ""
    return [f"a ratio {_figure(ratio)} is {verb} the {words} expected here" + (f": {why}" if why else "")]


def _figure(ratio: Ratio) -> str:
    if ratio.value is not None:
        return f"of {significant(ratio.value)}"
    return (
        f"of {significant(ratio.at_least)} or more"
        if ratio.at_least is not None
        else f"below {significant(ratio.high or 0.0)}"
    )


def _side(ratio: Ratio) -> str:
    """About 1 is 0.7 to 1.4: a real hole's discharge coefficient differs each way (practice)."""
    size = ratio.value or ratio.at_least or ratio.high or 1.0
    return "more" if size > 1.4 else "less" if size < 0.7 else "same"


def _span(row: tuple[float, float, float, float]) -> tuple[float, float]:
    return row[1], row[3]


def _meets(ratio: Ratio, low: float, high: float) -> bool:
    # a direction that shuts the leak altogether has no ratio: how far beyond that says no more
    lowest = ratio.low if ratio.at_least is None else min(ratio.at_least, SHUT)
    return lowest <= 1.15 * high and (ratio.high is None or ratio.high >= low / 1.15)


def _about_sections(mine: Sequence[KnownPlace], evidence: Evidence) -> list[str]:
    found = []
    names = [s.section for s in evidence.shares]
    for name in dict.fromkeys(section_of(p, names) for p in mine):
        share = next((s for s in evidence.shares if s.section == name), None)
        if share is None:
            continue
        label = (
            f"section {share.section!r}"
            if share.separable
            else f"sections {', '.join((share.section, *share.with_))}"
        )
        for direction, interval in share.together or share.shares:
            if interval.value is not None:
                span = f"{100 * interval.low:.0f} to {100 * interval.high:.0f} %"
                found.append(
                    f"{100 * interval.value:.0f} % ({span}) of the {direction} leak goes through {label}"
                )
    return found


def _about_marks(mine: Sequence[KnownPlace], evidence: Evidence) -> list[str]:
    found = []
    for mark in evidence.marks:
        if mark.place not in {*(p.place for p in mine), *(p.group for p in mine)}:
            continue
        change = mark.effect.after_over_before
        if mark.changed or mark.steady:
            found.append(mark_words(mark.effect.text, change.value or 1.0, change.low, change.high))
    return found


def mark_words(text: str, value: float, low: float, high: float) -> str:
    """ "after "boot" the leak fell by 62 % (55 to 68)"."""
    if low <= 1.0 <= high:
        return (
            f"after {text!r} the leak stayed as it was ({100 * (low - 1):+.0f} to {100 * (high - 1):+.0f} %)"
        )
    verb, near, far = ("fell", high, low) if value < 1.0 else ("grew", low, high)
    by, least, most = (100.0 * abs(factor - 1.0) for factor in (value, near, far))
    return f"after {text!r} the leak {verb} by {by:.0f} % ({least:.0f} to {most:.0f})"


def _about_observations(mine: Sequence[KnownPlace], evidence: Evidence, known: Knowledge) -> list[str]:
    found = []
    for identity, seen in [*((i, True) for i in evidence.seen), *((i, False) for i in evidence.not_seen)]:
        observation = known.observations[identity]
        factors = [observation.factor(seen, p) for p in mine]
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
    sure = [s.sure_hole for s in (evidence.pressure, evidence.vacuum) if s is not None and not s.tight]
    if not sure or not mine or mine[0].pattern == "tight":
        return []
    mean, hole = sum(sure) / len(sure), max(p.hole for p in mine)
    found = []
    if abs(mean - 0.5) > 0.35 and abs(hole - 0.5) > 0.2:
        kind = "hole-like" if mean > 0.5 else "weep-like"
        usual = "as" if (mean > 0.5) == (hole > 0.5) else "not as"
        found.append(f"the decay is {kind}, {usual} usual here (weak evidence)")
    for code in sorted(evidence.shapes):
        if any(p.odd.get(code, 1.0) > 1.0 for p in mine):
            found.append(
                {
                    "levels-off": "the decay levels off",
                    "leak-grows": "the leak grew",
                    "step": "the reading jumped",
                }[code]
            )
    return found


def _about_weight(mine: Sequence[KnownPlace], places: Sequence[KnownPlace], circuit: str) -> str:
    if not mine or mine[0].pattern == "tight":
        return ""
    leaking = sum(p.weight[circuit] for p in places if p.pattern == "leak" and not p.healthy)
    share = 100.0 * sum(p.weight[circuit] for p in mine) / max(leaking, 1e-9)
    return f"about {share:.0f} in 100 first failed tests end here (practice)"
