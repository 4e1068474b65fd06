"""The paragraph for the customer: tested, found, how sure, not tested, done, does it hold now."""

from __future__ import annotations

from leakdown.jobs.job_verdict import (
    ENGINE,
    RIG,
    CircuitStanding,
    Standing,
    last_finding,
    places_named,
    standing_of,
)
from leakdown.jobs.record import FIELDS, Job, Note, Test
from leakdown.jobs.story import suspect_words
from leakdown.recording import CIRCUITS
from leakdown.words.sizes import VERDICT_WORDS, circuit_words
from leakdown.words.wrap import capital


def headline(job: Job) -> str:
    """One line: the word, and what it is about."""
    standing = standing_of(job)
    if not standing.circuits:
        return "Not tested yet."
    after = " after the repair" if standing.repaired else ""
    if standing.word == "fail":
        bad = [c for c in standing.circuits if c.word == "fail"]
        what = _listed([f"the {circuit_words(c.circuit)}" for c in bad])
        fault = _fault([t for c in bad for t in c.tests if t.found.verdict == "fail"])
        return f"{capital(what)} {'is' if len(bad) == 1 else 'are'} {fault}{after}."
    if standing.word == "pass":
        what = _listed([f"the {circuit_words(c.circuit)}" for c in standing.circuits])
        return f"{capital(what)} {_holds(standing)}{after}{_only(standing)}."
    if any("since the repair" in m for c in standing.circuits for m in c.missing):
        return "Repaired, and not tested since."
    return "No test is over its limit, and a pass is not proven yet."


def _holds(standing: Standing) -> str:
    return "holds" if len(standing.circuits) == 1 else "hold"


def _only(standing: Standing) -> str:
    if not standing.engine_tested:
        return "; the crankcase was not tested"
    return ", with pressure and with vacuum"


def paragraphs(job: Job) -> tuple[str, ...]:
    """Short paragraphs of plain sentences, in the order a reader asks."""
    standing = standing_of(job)
    parts = [_tested(job), _found(job), _done(job, standing), _now(standing), _left_out(standing)]
    return tuple(part for part in parts if part)


def _tested(job: Job) -> str:
    engine = job.current
    name = engine.engine or "The engine"
    serial = f" (serial {engine.serial})" if engine.serial else ""
    came = (
        f'{name}{serial} came in with: "{engine.complaint}".'
        if engine.complaint
        else f"{name}{serial} came in."
    )
    done: dict[str, list[str]] = {}
    for test in job.counted:
        done.setdefault(test.circuit, []).append(test.direction)
    if not done:
        guess = f" By the complaint. {suspect_words(job.suspected[-1])}." if job.suspected else ""
        return f"{came} Nothing has been tested yet.{guess}"
    what = [
        f"the {circuit_words(c)} with {_listed([d for d in ('pressure', 'vacuum') if d in done[c]])}"
        for c in CIRCUITS
        if c in done
    ]
    return (
        f"{came} Tested: {_listed(what)}. Air was let in or drawn out, the valve shut, and the gauge watched."
    )


def _found(job: Job) -> str:
    before = _last_each([t for t in job.counted if t.stage == "before" and t.circuit != RIG])
    if not before:
        return ""
    when = "As it came in: " if any(t.stage == "after" for t in job.counted) else ""
    first, *others = (_result(t) for t in before)
    lines = [f"{when}{first}" if when else capital(first), *map(capital, others)]
    text = " ".join(lines)
    place = last_finding(job)
    if place is not None:
        text += f" {place.headline}"
    if any(t.found.detected for t in before):
        text += " The ranges in brackets hold the true size 95 times in 100."
    said = [n.place for n in job.notes("note", "repair", "verdict") if n.place]
    return text + (f" The mechanic found the fault here: {_listed(list(places_named(job)))}." if said else "")


def _by_loss(test: Test) -> bool:
    """Whether the verdict is about a loss; a vent or a needle is judged by what it passes."""
    limit = test.found.figures.get("limit") or {}
    return limit.get("kind", "drop") in ("drop", "rate")


def _fault(failed: list[Test]) -> str:
    return "over the limit" if all(_by_loss(t) for t in failed) else "at fault"


def _result(test: Test) -> str:
    passed = "within the limit" if _by_loss(test) else "as it should be"
    word = {"pass": passed, "fail": _fault([test]), "undecided": "not decided"}[test.found.verdict]
    limited = test.found.figures.get("limit") is not None
    said = word if limited else "without a limit to judge by"
    return f"the {circuit_words(test.circuit)} under {test.direction} is {said}. {test.found.size}"


def _done(job: Job, standing: Standing) -> str:
    repairs = job.notes("repair")
    if not repairs:
        return "A repair was made." if standing.repaired else "Nothing has been repaired yet."
    return "Done: " + " ".join(_ended(n.text) for n in repairs)


def _ended(text: str) -> str:
    plain = " ".join(text.split())
    return plain if plain[-1:] in ".!?" else f"{plain}."


def _now(standing: Standing) -> str:
    if not standing.circuits:
        return ""
    question = "Does it hold now? " if standing.repaired else "Does it hold? "
    return question + " ".join(_state(c, standing.repaired) for c in standing.circuits)


def _state(c: CircuitStanding, repaired: bool) -> str:
    name = capital(f"the {circuit_words(c.circuit)}")
    sizes = " ".join(f"{capital(t.direction)}: {_after_words(t)}" for t in c.tests) if repaired else ""
    if c.word == "fail":
        failed = [t for t in c.tests if t.found.verdict == "fail"]
        bad = _listed([t.direction for t in failed])
        answer = f"No: {name[0].lower()}{name[1:]} is {_fault(failed)} under {bad}."
    elif c.word == "pass":
        ways = _listed([t.direction for t in c.tests])
        cold = ", cold and at the crank position of the test" if c.circuit == ENGINE else ""
        does = "holds" if all(_by_loss(t) for t in c.tests) else "does what it must"
        answer = f"Yes: {name[0].lower()}{name[1:]} {does} under {ways}{cold}, with the blanks checked."
    else:
        answer = f"Not shown yet for {name[0].lower()}{name[1:]}. Still wanted: {_listed(list(c.missing))}."
    return f"{answer} {sizes}".strip()


def _after_words(test: Test) -> str:
    return test.changed.sentence if test.changed else test.found.size


def _left_out(standing: Standing) -> str:
    names = [circuit_words(c) for c in standing.not_tested]
    engine = "a hot or running engine, other crank positions, and whatever was blanked off"
    circuits = f"{_listed(names)}; " if names else ""
    rule = (
        " An engine passes only with both pressure and vacuum, the connection proven and the blanks checked."
        if standing.engine_tested
        else ""
    )
    return f"Not tested: {circuits}{engine}.{rule}"


def _last_each(tests: list[Test]) -> list[Test]:
    return list({(t.circuit, t.direction): t for t in tests}.values())


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def word(job: Job) -> str:
    """PASS, FAIL, CANNOT SAY YET or NOT TESTED."""
    standing = standing_of(job)
    return VERDICT_WORDS[standing.word] if standing.circuits else "NOT TESTED"


def rig_remark(job: Job) -> str:
    """A caution when the rig itself did not hold."""
    rig = _last_each([t for t in job.counted if t.circuit == RIG])
    if any(t.found.verdict == "fail" for t in rig):
        return (
            "The test rig itself did not hold: part of every loss below may be its own. "
            "Make it tight and repeat before anything is taken apart."
        )
    return ""


def texts_of_people(job: Job) -> tuple[str, ...]:
    """Every text of the record that a person wrote, not the program."""
    texts = [job.reference]
    for name in FIELDS:
        value = getattr(job.current, name)
        texts += value if isinstance(value, tuple) else [value]
    for entry in job.entries:
        if isinstance(entry, Note):
            texts += [entry.text, entry.place]
        elif isinstance(entry, Test):
            c = entry.said.conditions
            texts += [entry.kept.file, entry.kept.name, entry.said.manual_page]
            texts += [c.note or "", c.gauge or "", *c.blocked, *c.includes]
    return tuple(dict.fromkeys(text for text in texts if text))
