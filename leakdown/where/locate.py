"""Where is the leak? Any number of pressure and vacuum tests of one engine in, one `Located` out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from leakdown.analysis import Flag
from leakdown.errors import UsageError
from leakdown.judge.analyse import fitted
from leakdown.judge.judged import FittedTest
from leakdown.judge.marks import moved
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.where.answers import Answers, EngineFacts, answers_with_words, check_engine, sorted_answers
from leakdown.where.belonging import belonging
from leakdown.where.complaint import complaint_on
from leakdown.where.directional import directional, other_laws
from leakdown.where.evidence import SHAPES, DirectionResult, Evidence
from leakdown.where.knowledge import Knowledge, KnownPlace, knowledge
from leakdown.where.located import Group, Located, MarkOutcome, Place, TestVerdict, Together
from leakdown.where.measured import measured
from leakdown.where.next_test import next_test
from leakdown.where.odds import Odds, place_odds
from leakdown.where.reasons import headline, reasons
from leakdown.where.remarks import not_tested, ruled_out, unclear_blanks, warnings
from leakdown.where.sections import section_shares
from leakdown.where.tests import RIG, Tests, check_recordings, check_words, sort_tests


def locate(
    recordings: Iterable[Recording],
    *,
    seen: Sequence[str] = (),
    not_seen: Sequence[str] = (),
    intake: str = "unknown",
    seal_lips: str = "unknown",
    complaint: str = "",
    settings: Settings | None = None,
) -> Located:
    """Rank where the largest leak is, from pressure and vacuum tests of one engine in any order.

    seen, not_seen: ids of what was seen, and looked for in vain; `leakdown locate --observations` lists them.
    intake: "piston-port", "reed", "rotary", "stratified". seal_lips: the way they face, "in", "out", "twin".
    complaint: the customer's words; what they say counts where `not_seen` does not deny it.
    Raises UsageError for values that cannot be meant and InputError for recordings without a hold.
    """
    if isinstance(recordings, str) or not isinstance(recordings, Iterable):
        raise UsageError(f"recordings={recordings!r:.60} is no list", remedy="Give a list of recordings.")
    recordings = list(recordings)
    check_recordings(**{f"recordings[{k}]": value for k, value in enumerate(recordings)})
    if not recordings:
        raise UsageError("recordings is empty: no tests to look at", remedy="Give one recording or more.")
    check_words(seen=seen, not_seen=not_seen)
    said = answers_with_words(complaint, seen, not_seen)
    facts = EngineFacts(said.seen, said.not_seen, intake, seal_lips)
    check_facts(facts)  # before the work
    return locate_fitted([fitted(recording, settings) for recording in recordings], facts)


def check_facts(facts: EngineFacts) -> tuple[Answers, Answers]:
    """What was seen at the bench, and what the complaint says besides. Raises UsageError."""
    check_engine(facts.intake, facts.seal_lips)
    return sorted_answers(facts.seen, facts.not_seen)


def locate_fitted(analysed: Sequence[FittedTest], facts: EngineFacts | None = None) -> Located:
    """The same for tests that were analysed before. Raises UsageError."""
    facts, known = facts or EngineFacts(), knowledge()
    tests = sort_tests(analysed)
    places = known.of_circuit(tests.circuit)
    if not places:
        raise UsageError(f"no places are known for the circuit {tests.circuit!r}", remedy="Add them to places.toml.")
    evidence, section_flags = evidence_of(tests, facts)
    unclear = unclear_blanks(tests, places)
    odds = place_odds(evidence, known)
    pressure, vacuum = tests.towards(False), tests.towards(True)
    about_tests = warnings(evidence, odds, pressure, vacuum, (*tests.all, *tests.unsized))
    asks = any(flag.code == "ask-together" for flag in about_tests)
    groups = _groups(places, odds, evidence, known)
    ranked = sorted(places, key=lambda p: -odds.places[p.place])
    return Located(
        circuit=evidence.circuit,
        files=tuple(h.analysis.recording.source for h in (*tests.all, *tests.unsized)),
        ratio=evidence.ratio,
        groups=groups,
        places=tuple(Place(p.place, p.group, p.name, odds.places[p.place]) for p in ranked),
        sections=evidence.shares,
        ruled_out=ruled_out(odds, places, evidence, known),
        not_tested=not_tested(evidence, bool(tests.rig)),
        next_test=next_test(odds, evidence, known, asks),
        warnings=(*tests.left_out, *unclear, *section_flags, *about_tests),
        verdicts=evidence.verdicts,
        together=Together(odds.together, evidence.belonging.doubts),
        headline=headline(groups, evidence, odds),
        marks=evidence.marks,
        complaint=evidence.complaint,
    )


def evidence_of(tests: Tests, facts: EngineFacts) -> tuple[Evidence, tuple[Flag, ...]]:
    """Everything that the tests show and that was seen or said. Raises UsageError."""
    bench, heard = check_facts(facts)
    pair = tests.pair()
    shares, section_flags = section_shares(tests.all, tests.inside) if tests.inside.named else ((), ())
    pressure, vacuum = tests.towards(False), tests.towards(True)
    marks = tuple(
        MarkOutcome(h.analysis.recording.source, h.analysis.direction, m.effect, m.place, m.changed, m.steady)
        for h in tests.all
        for m in moved(h)
    )
    asked = {i: was for i, was in bench.all()}.get("same-setup")
    said = None if asked is None else "yes" if asked else "no"
    ratio = directional(*pair) if pair else None
    evidence = Evidence(
        circuit=tests.circuit,
        tests=measured(tests.all, tests.inside.tests),
        verdicts=tuple(map(_verdict, (*tests.all, *tests.unsized))),
        belonging=belonging(tests.all, tests.inside.tests, said, ratio),
        ratio=ratio,
        pressure=_direction(pressure),
        vacuum=_direction(vacuum),
        sections=tests.inside.sections if tests.inside.named else (),
        shapes=frozenset(code for code in SHAPES if any(h.has(code) for h in (*pressure, *vacuum))),
        shares=shares,
        marks=marks,
        seen=(*bench.seen, *_told_by_rig(tests, bench)),
        not_seen=bench.not_seen,
        intake=facts.intake,
        lips=facts.seal_lips,
        complaint=complaint_on(tests.circuit, heard),
        other_laws=other_laws(tests.all[0].found.model.quote_pa),
    )
    return evidence, section_flags


def _told_by_rig(tests: Tests, bench: Answers) -> tuple[str, ...]:
    """A rig test without a volume cannot be set beside the engine's; that it held, in both directions, still counts."""
    if tests.circuit == RIG or "rig-tight" in (*bench.seen, *bench.not_seen):
        return ()
    ways = {h.inward for h in tests.unsized if h.tight}
    return ("rig-tight",) if len(ways) == 2 and all(h.tight for h in tests.unsized) else ()


def _direction(tests: Sequence[FittedTest]) -> DirectionResult | None:
    """What the tests of one direction show together: the one that says most about a leak."""
    usable = [h for h in tests if h.analysis.leak is not None]
    if not usable:
        return None
    leaking = [h for h in usable if h.detected]
    chosen = max(leaking or usable, key=lambda h: h.rate_pa_s.low)
    rises = any(h.has("pressure-rises") for h in usable)
    return DirectionResult(not leaking, 0.06 * chosen.rate_pa_s.low, rises)


def _verdict(h: FittedTest) -> TestVerdict:
    a = h.analysis
    word = a.verdict.word if a.verdict else "undecided"
    would = a.leak.detection_rate_pa_s if a.leak is not None else None
    source = a.recording.source
    return TestVerdict(source, a.circuit, a.direction, word, h.has("lax-limit"), h.has("connection-not-proven"), would)


def _groups(places: Sequence[KnownPlace], odds: Odds, evidence: Evidence, known: Knowledge) -> tuple[Group, ...]:
    names = dict.fromkeys(p.group for p in places)
    total = {name: sum(odds.places[p.place] for p in places if p.group == name) for name in names}
    return tuple(
        Group(name, known.groups[name], total[name], reasons(name, places, evidence, known, odds))
        for name in sorted(names, key=lambda n: -total[n])
    )
