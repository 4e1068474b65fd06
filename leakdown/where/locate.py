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
from leakdown.where.complaint import complaint_on
from leakdown.where.directional import directional
from leakdown.where.evidence import Evidence, decay_shapes, direction_result
from leakdown.where.knowledge import Knowledge, KnownPlace, knowledge
from leakdown.where.located import Group, Located, MarkOutcome, Place
from leakdown.where.next_test import next_test
from leakdown.where.odds import place_odds
from leakdown.where.reasons import headline, reasons
from leakdown.where.remarks import not_tested, ruled_out, warnings
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
    bench, heard = check_facts(facts)
    tests = sort_tests(analysed)
    pair = tests.pair()
    shares, section_flags = section_shares(tests.all, tests.inside) if tests.inside.named else ((), ())
    pressure, vacuum = tests.fullest(False), tests.fullest(True)
    marks = tuple(
        MarkOutcome(h.analysis.recording.source, m.effect, m.place, m.changed, m.steady)
        for h in tests.all
        for m in moved(h)
    )
    evidence = Evidence(
        circuit=tests.circuit,
        ratio=directional(*pair) if pair else None,
        pressure=direction_result(pressure),
        vacuum=direction_result(vacuum),
        shapes=decay_shapes([*pressure, *vacuum]),
        shares=shares,
        marks=marks,
        seen=(*bench.seen, *_told_by_rig(tests, bench)),
        not_seen=bench.not_seen,
        intake=facts.intake,
        lips=facts.seal_lips,
        complaint=complaint_on(tests.circuit, heard),
    )
    about_tests = warnings(evidence, pressure, vacuum, (*tests.all, *tests.unsized))
    return _located(evidence, known, tests, (*tests.left_out, *section_flags, *about_tests))


def _told_by_rig(tests: Tests, bench: Answers) -> tuple[str, ...]:
    """A rig test that held says what the observation "rig-tight" says."""
    if tests.circuit == RIG or not tests.rig or "rig-tight" in (*bench.seen, *bench.not_seen):
        return ()
    return ("rig-tight",) if all(h.tight for h in tests.rig) else ()


def _located(evidence: Evidence, known: Knowledge, tests: Tests, flags: tuple[Flag, ...]) -> Located:
    places = known.of_circuit(evidence.circuit)
    if not places:
        raise UsageError(f"no places are known for the circuit {evidence.circuit!r}", remedy="Add them to places.toml.")
    odds = place_odds(evidence, known)
    groups = _groups(places, odds, evidence, known)
    ranked = sorted(places, key=lambda p: -odds[p.place])
    return Located(
        circuit=evidence.circuit,
        files=tuple(h.analysis.recording.source for h in (*tests.all, *tests.unsized)),
        ratio=evidence.ratio,
        groups=groups,
        places=tuple(Place(p.place, p.group, p.name, odds[p.place]) for p in ranked),
        sections=evidence.shares,
        ruled_out=ruled_out(odds, places, evidence, known),
        not_tested=not_tested(evidence, bool(tests.rig)),
        next_test=next_test(odds, evidence, known),
        warnings=flags,
        headline=headline(groups, evidence),
        marks=evidence.marks,
        complaint=evidence.complaint,
    )


def _groups(
    places: Sequence[KnownPlace], odds: dict[str, float], evidence: Evidence, known: Knowledge
) -> tuple[Group, ...]:
    names = dict.fromkeys(p.group for p in places)
    total = {name: sum(odds[p.place] for p in places if p.group == name) for name in names}
    return tuple(
        Group(name, known.groups[name], total[name], reasons(name, places, evidence, known))
        for name in sorted(names, key=lambda n: -total[n])
    )
