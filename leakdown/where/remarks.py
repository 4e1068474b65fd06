"""What the reader of an answer must know besides: what was not tested, what is ruled out, what to ask."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown.analysis import Flag
from leakdown.circuits import circuit
from leakdown.judge.judged import FittedTest
from leakdown.tuned import tuned
from leakdown.where.belonging import NAMED_DOUBTS, about_one
from leakdown.where.directional import other_gauge
from leakdown.where.evidence import Evidence, factor_of_finding
from leakdown.where.knowledge import Knowledge, KnownPlace
from leakdown.where.located import warning
from leakdown.where.odds import Odds
from leakdown.where.reasons import mark_words
from leakdown.where.stories import names, section_of
from leakdown.where.tests import Tests

_T = tuned("where")

NOTABLE = ("no-fit", "step", "levels-off", "leak-grows", "leak-shrinks", "not-settled", "zero-moved",
           "pressure-rises", "connection-not-proven")  # fmt: skip
"""Codes of a test's own flags that bear on how large its leak is."""
_PASSED_ON = (*NOTABLE, "several-holds", "ambient-assumed", "fast-leak")


def about_belonging(evidence: Evidence, odds: Odds) -> tuple[Flag, ...]:
    """Whether the tests are of one engine as it stood: what speaks against it, named, or the question."""
    doubts = evidence.belonging.doubts
    named = [flag for flag in doubts if flag.code in NAMED_DOUBTS]
    others = [flag for flag in doubts if flag.code == "not-together"]
    if odds.together <= _T.strangers_below and not named:
        why = " ".join(flag.text for flag in others) or warning("not-together/readings").text
        return (warning("not-together", why=why),)
    if evidence.belonging.asked or named or evidence.passes:
        return tuple(named)
    rests_on_direction = evidence.ratio is not None and not about_one(evidence.ratio)
    asks = others or odds.together < _T.asked_below or rests_on_direction
    return (warning("ask-together"), *(Flag("not-together-perhaps", flag.text) for flag in others)) if asks else ()


def warnings(
    evidence: Evidence,
    odds: Odds,
    pressure: Sequence[FittedTest],
    vacuum: Sequence[FittedTest],
    tests: Sequence[FittedTest],
) -> tuple[Flag, ...]:
    """Everything that makes the ranking less sure than it looks, each with what to do."""
    ratio, tested = evidence.ratio, circuit(evidence.circuit)
    said = evidence.answered
    wet, engine = "case-wet" in evidence.seen, tested.breathed
    seal_like = ratio is not None and (ratio.value or ratio.at_least or 0.0) > _T.fixed_hole_most
    shift = _T.warming_k_per_min * ratio.warming_log_per_k_min if ratio and ratio.value is not None else 0.0
    deep = any(h.analysis.hold.start_pa < -_T.deep_vacuum_pa for h in vacuum)
    vapour = any(h.has(code) for h in vacuum for code in ("levels-off", "leak-shrinks", "not-settled"))
    causes = odds.likely_causes
    open_question = not (evidence.passes and len(evidence.directions) == 2)
    holds = {
        "one-direction": ratio is None and tested.both != "no",
        "two-gauges": other_gauge([*pressure, *vacuum]),
        "reading-rises": any(one.rises for _, one in evidence.directions),
        "laws-differ": ratio is not None and not ratio.same_law,
        "temperature-matters": shift > _T.warming_matters,
        "deep-vacuum": seal_like and deep and tested.id == "crankcase",
        "case-wet": engine and wet,
        "ask-dry": open_question and engine and not wet and "case-dry" not in said and (seal_like or vapour),
        "ask-intake": open_question and engine and evidence.intake == "unknown",
        "ask-lips": open_question and tested.id == "crankcase" and ratio is not None and evidence.lips == "unknown",
    }
    both = "Pressure and vacuum were not tested on the same blanks, or one of them gave no size"
    why = both if pressure and vacuum else "Only one direction was tested"
    found = [warning(code, why=why, percent=100.0 * shift) for code, so in holds.items() if so]
    return (*map(warning, causes), *about_belonging(evidence, odds), *found, *_of_the_tests(tests))


def unclear_blanks(tests: Tests, places: Sequence[KnownPlace]) -> tuple[Flag, ...]:
    """Blanks that are neither what every set-up blanks nor a part that is known: asked, not guessed."""
    found = []
    for h, blocked in zip(tests.all, tests.inside.blocked, strict=True):
        unknown = [name for name in blocked if not any(names(p, name) for p in places)]
        if unknown:
            source = h.analysis.recording.source
            found.append(warning("ask-blocked", source=source, blocked=", ".join(unknown)))
    return tuple(found)


def _of_the_tests(tests: Sequence[FittedTest]) -> list[Flag]:
    """The tests' own flags that bear on the place, each said once with the files it is about."""
    found: dict[str, tuple[str, list[str]]] = {}
    for h in tests:
        for flag in h.analysis.flags:
            if flag.code in _PASSED_ON:
                text, files = found.setdefault(flag.code, (flag.text, []))
                files.append(h.analysis.recording.source)
    return [Flag(code, f"{', '.join(files)}: {text}") for code, (text, files) in found.items()]


def not_tested(evidence: Evidence, with_rig: bool) -> tuple[str, ...]:
    """What these tests cannot speak about."""
    said = evidence.answered
    crankcase = evidence.circuit == "crankcase"
    missing = {
        "pressure": evidence.pressure is None,
        "vacuum": evidence.vacuum is None and circuit(evidence.circuit).both != "no",
        "the rig alone, capped": not with_rig and "rig-tight" not in said and evidence.circuit != "rig",
        "the blanks (reseat, soap)": not said & {"reseat-changes", "bubbles-blanks"},
        "other crank positions": crankcase and "angle-changes" not in said,
        "a warm engine": crankcase,
        "main-bearing play: a seal can hold at rest and leak at speed": crankcase and "bearing-play" not in said,
    }
    return tuple(name for name, so in missing.items() if so)


def ruled_out(
    odds: Odds, places: Sequence[KnownPlace], evidence: Evidence, known: Knowledge
) -> tuple[tuple[str, str], ...]:
    """Places that the evidence, not their rarity, has made unlikely (below 1 in 100), each with why.

    A place whose section carries a real part of the leak is not ruled out: it may be the second leak. Nothing is
    where the tests fit no one engine.
    """
    total = sum(p.weight[evidence.circuit] for p in places)
    out = []
    for p in places if odds.together > _T.strangers_below else ():
        prior = p.weight[evidence.circuit] / total
        if p.pattern == "tight" or odds.places[p.place] > min(_T.out_below, _T.out_below_prior * prior):
            continue
        why = _why_out(p, evidence, known, odds.by_tests[p.place])
        if why:
            out.append((p.name, why))
    return tuple(out)


def _why_out(place: KnownPlace, evidence: Evidence, known: Knowledge, by_tests: float) -> str:
    """by_tests: what the ratio and the tightness alone leave to this place."""
    if evidence.shares:
        return _out_by_section(place, evidence)
    for mark in evidence.marks:
        if mark.place in (place.place, place.group) and mark.steady:
            return mark_words(mark.effect)
    if factor_of_finding(place, evidence, known) < _T.out_by_finding:
        return "by what was seen"
    if len(evidence.directions) == 2 and all(tested.tight for _, tested in evidence.directions):
        return "tight in both directions, cold, at this crank position"
    if evidence.ratio is not None and by_tests < _T.out_below:
        return "the two directions differ in another way than it would make them"
    return ""


def _out_by_section(place: KnownPlace, evidence: Evidence) -> str:
    section = section_of(place, [s.section for s in evidence.shares])
    own = next((s for s in evidence.shares if s.section == section), None)
    if own is None:
        return ""
    highest = max((interval.high for _, interval in own.told), default=1.0)
    return f"little of the leak goes through section {section!r}" if highest < _T.little_share else ""
