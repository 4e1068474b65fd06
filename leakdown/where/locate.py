"""Where is the leak? Any number of pressure and vacuum tests of one engine in, one `Located` out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from leakdown.analysis import Flag
from leakdown.errors import UsageError
from leakdown.judge.analyse import held
from leakdown.judge.held import Held
from leakdown.judge.marks import moved
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.where.directional import directional
from leakdown.where.evidence import Evidence, check_said, seen_in, shapes_in
from leakdown.where.knowledge import NO_LEAK, Knowledge, KnownPlace, knowledge
from leakdown.where.located import Complaint, Group, Located, Marked, Place
from leakdown.where.next_test import next_test
from leakdown.where.odds import place_odds
from leakdown.where.reasons import reasons
from leakdown.where.remarks import not_tested, ruled_out, warnings
from leakdown.where.sections import section_shares
from leakdown.where.tests import RIG, Tests, sort_tests
from leakdown.words.numbers import percent_words

_LIKELY, _CLEAR = 0.5, 0.85


def headline(groups: Sequence[Group], evidence: Evidence) -> str:
    """One sentence."""
    first = groups[0]
    if first.group == NO_LEAK:
        return _nothing_found(first, evidence)
    found = _ranked(groups, ", this complaint" if evidence.complaint else "")
    split = _split(evidence)
    return f"{found} {split}" if split else found


def _ranked(groups: Sequence[Group], besides: str) -> str:
    first = groups[0]
    percent = percent_words(first.probability)
    if first.probability >= _CLEAR:
        return f"Consistent with the {first.name}: {percent} by common practice{besides} and these tests."
    if first.probability >= _LIKELY:
        return f"Most consistent with the {first.name} ({percent}); the others are not ruled out."
    second = groups[1]
    return (
        f"Cannot tell yet: {first.name} ({percent}) or {second.name} "
        f"({percent_words(second.probability)}); see the next test."
    )


def _split(evidence: Evidence) -> str:
    """The measured sections that carry a sixth of the leak or more, when more than one does."""
    told: dict[tuple[str, ...], float] = {}
    for share in evidence.shares:
        values = [
            interval.value for _, interval in share.together or share.shares if interval.value is not None
        ]
        if values:
            told[tuple(sorted((share.section, *share.with_)))] = max(values)
    large = {names: value for names, value in told.items() if value > 1.0 / 6.0}
    if len(large) < 2:
        return ""
    return (
        "More than one section leaks: "
        + "; ".join(f"{' and '.join(n)} up to {100 * v:.0f} %" for n, v in large.items())
        + "."
    )


def _nothing_found(first: Group, evidence: Evidence) -> str:
    if evidence.circuit == "tank" and evidence.pressure is not None and not evidence.pressure.tight:
        return (
            "The vent breathes in more easily than out, but the tank loses pressure: look at the pressure "
            "test's own verdict (vent stuck open, cap or seam)."
        )
    if evidence.circuit == "tank":
        return f"The vent breathes in and holds pressure, as it should ({percent_words(first.probability)})."
    tested = [n for n, seen in (("pressure", evidence.pressure), ("vacuum", evidence.vacuum)) if seen]
    if any(seen and not seen.tight for seen in (evidence.pressure, evidence.vacuum)):
        return "Vapour or temperature would explain what was seen: repeat before taking anything apart."
    return f"No leak found under {' and '.join(tested)}, cold, at this crank position."


@dataclass(frozen=True)
class BenchAnswers:
    """What the mechanic says: ids of observations seen and looked for in vain, intake type, seal lips.

    complaint: what the customer's complaint does to the odds of the circuit's places.
    """

    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    intake: str = "unknown"
    lips: str = "unknown"
    complaint: Complaint | None = None


def locate(
    recordings: Sequence[Recording], said: BenchAnswers | None = None, settings: Settings | None = None
) -> Located:
    """Rank the places. Raises UsageError for unknown words and InputError for recordings without a hold."""
    said = said or BenchAnswers()
    check_said(said.seen, said.not_seen, said.intake, said.lips, knowledge())
    return locate_held([held(r, settings) for r in recordings], said)


def circuit_of(analysed: Sequence[Held]) -> str:
    """The circuit that these tests are about."""
    return sort_tests(list(analysed)).circuit


def locate_held(analysed: Sequence[Held], said: BenchAnswers | None = None) -> Located:
    """The same for tests that were analysed before."""
    said = said or BenchAnswers()
    known = knowledge()
    check_said(said.seen, said.not_seen, said.intake, said.lips, known)
    tests = sort_tests(list(analysed))
    pair = tests.pair()
    ratio = directional(*pair) if pair else None
    shares, section_flags = section_shares(tests.all, tests.inside) if tests.inside.said else ((), ())
    pressure, vacuum = tests.fullest(False), tests.fullest(True)
    done = [(h.analysis.recording.source, m) for h in tests.all for m in moved(h)]
    evidence = Evidence(
        circuit=tests.circuit,
        ratio=ratio,
        pressure=seen_in(pressure),
        vacuum=seen_in(vacuum),
        shapes=shapes_in([*pressure, *vacuum]),
        shares=shares,
        marks=tuple(m for _, m in done),
        seen=(*said.seen, *_rig_said(tests, said)),
        not_seen=said.not_seen,
        intake=said.intake,
        lips=said.lips,
        complaint=said.complaint,
    )
    flags = (
        *tests.left_out,
        *section_flags,
        *warnings(evidence, pressure, vacuum, (*tests.all, *tests.unsized)),
    )
    marks = tuple(Marked(file, m.effect, m.place, m.changed, m.steady) for file, m in done)
    return replace(_located(evidence, known, tests, flags), marks=marks, complaint=said.complaint)


def _rig_said(tests: Tests, said: BenchAnswers) -> tuple[str, ...]:
    """A rig test that held says what the observation "rig-tight" says."""
    if tests.circuit == RIG or not tests.rig or "rig-tight" in (*said.seen, *said.not_seen):
        return ()
    return ("rig-tight",) if all(h.tight for h in tests.rig) else ()


def _located(evidence: Evidence, known: Knowledge, tests: Tests, flags: tuple[Flag, ...]) -> Located:
    places = known.of_circuit(evidence.circuit)
    if not places:
        raise UsageError(
            f"no places are known for the circuit {evidence.circuit!r}", remedy="Add them to places.toml."
        )
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
    )


def _groups(
    places: Sequence[KnownPlace], odds: dict[str, float], evidence: Evidence, known: Knowledge
) -> tuple[Group, ...]:
    names = dict.fromkeys(p.group for p in places)
    total = {name: sum(odds[p.place] for p in places if p.group == name) for name in names}
    return tuple(
        Group(name, known.groups.get(name, name), total[name], reasons(name, places, evidence, known))
        for name in sorted(names, key=lambda n: -total[n])
    )
