"""A known leak of the rig in words: what it is said to be, what was measured, how old that is."""

from __future__ import annotations

from leakdown.analysis import Analysis, KnownLeak, RigSeen
from leakdown.judge.known_leak import agrees, ratio_of
from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval
from leakdown.words.facts import Fact
from leakdown.words.numbers import kpa_words

_T = tuned("words")


def ratio_words(ratio: Interval) -> str:
    """ "agrees within what both can tell (0.94 to 1.05 times)", or "reads 8 % high (1.03 to 1.14 times)"."""
    ends = f"({significant(ratio.low)} to {significant(ratio.high)} times)"
    if agrees(ratio):
        return f"agrees within what both can tell {ends}"
    off = 100.0 * ((ratio.value or 1.0) - 1.0)
    return f"reads {significant(abs(off), 2)} % {'high' if off > 0 else 'low'} {ends}"


def known_words(known: KnownLeak) -> str:
    """What it is said to be, whence, what was measured, and how they agree."""
    factor = standard_cm3_per_min(1.0)
    stated, measured = (significant((x.value or 0.0) * factor) for x in (known.stated_pa_m3_s, known.measured_pa_m3_s))
    what = known.text if known.kind == "flow" else f"{known.kind} of {known.text}, {stated} cm3/min at"
    what += "" if known.kind == "flow" else f" {kpa_words(known.at_pa, 6)}"
    return f"{what} ({known.source}); measured {measured} cm3/min: {ratio_words(ratio_of(known))}"


def both_words(both: Interval) -> str:
    """How the two directions agree."""
    value = f"{significant(both.value or 1.0)} ({significant(both.low)} to {significant(both.high)})"
    return f"vacuum over pressure {value}: " + ("they agree" if agrees(both) else "the directions do NOT agree")


def age_words(seen: RigSeen) -> str:
    """ "41 days before", or that it is old or came later; "" without a known leak."""
    days = seen.age_days
    if days is None:
        return ""
    if days < 0:
        return f"{-days} days after this test"
    old = ", more than a year (common practice: repeat it)" if days > _T.known_leak_old_days else ""
    return f"{days} day{'s' * (days != 1)} before{old}"


def rig_line(analysis: Analysis) -> str:
    """What the rig's known leak says of this test, in one sentence; "" where none is on record."""
    seen = analysis.rig
    if seen is None or seen.known is None:
        return ""
    other = "" if seen.known.direction == analysis.direction else f", under {seen.known.direction} only"
    both = f"; {both_words(seen.both_ways)}" if seen.both_ways else ""
    return f"{seen.name} on a known leak{other}, {age_words(seen)}: {known_words(seen.known)}{both}."


def rig_facts(analysis: Analysis) -> tuple[Fact, ...]:
    """The row of a page's inputs; it says once where none is on record."""
    seen = analysis.rig
    if seen is None or seen.known is None:
        return () if analysis.circuit == "rig" else (Fact("Known leak through the rig", "none on record"),)
    known = seen.known
    note = f"{known.text}, {known.source}, {known.direction}, {age_words(seen)}"
    return (Fact("Known leak through the rig", ratio_words(ratio_of(known)), "", note),)
