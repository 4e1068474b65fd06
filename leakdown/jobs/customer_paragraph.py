"""The paragraph for the customer: tested, found, how sure, not tested, done, does it hold now."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown.circuits import CIRCUITS
from leakdown.jobs.alike import counting_change, of_the_whole
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.engine_runs import story_sentence
from leakdown.jobs.job_verdict import ENGINE, RIG, CircuitVerdict, JobVerdict, job_verdict, last_finding, places_named
from leakdown.jobs.record import FIELDS, Job, Note, Photo, Test
from leakdown.jobs.story import suspect_words
from leakdown.words.flags import LAX
from leakdown.words.sizes import VERDICT_WORDS, circuit_words
from leakdown.words.wrap import capital, texts


def headline(job: Job) -> str:
    """One line: the word, and what it is about."""
    verdict = job_verdict(job)
    if not verdict.circuits:
        return "Not tested yet."
    after = " after the repair" if verdict.repaired else ""
    if verdict.word == "fail":
        bad = [c for c in verdict.circuits if c.word == "fail"]
        what = listed([f"the {circuit_words(c.circuit)}" for c in bad])
        fault = fault_words([t for c in bad for t in c.tests if t.result.verdict == "fail"])
        return f"{capital(what)} {'is' if len(bad) == 1 else 'are'} {fault}{after}."
    if verdict.word == "pass":
        what = listed([f"the {circuit_words(c.circuit)}" for c in verdict.circuits])
        holds = "holds" if len(verdict.circuits) == 1 else "hold"
        how = ", with pressure and with vacuum" if verdict.engine_tested else "; the crankcase was not tested"
        return f"{capital(what)} {holds}{after}{how}.{lax_words([t for c in verdict.circuits for t in c.tests])}"
    if any("since the repair" in m for c in verdict.circuits for m in c.missing):
        return "Repaired, and not tested since."
    return "No test is over its limit, and a pass is not proven yet."


def paragraphs(job: Job) -> tuple[str, ...]:
    """Short paragraphs of plain sentences, in the order a reader asks."""
    verdict = job_verdict(job)
    parts = [_tested(job), _found(job), story_sentence(job), _done(job, verdict), _now(job, verdict), _left_out(job)]
    return tuple(part for part in parts if part)


def _tested(job: Job) -> str:
    engine = job.current
    name = engine.engine or "The engine"
    serial = f" (serial {engine.serial})" if engine.serial else ""
    came = f"{name}{serial} came in" + (f' with: "{engine.complaint}".' if engine.complaint else ".")
    done: dict[str, list[str]] = {}
    for test in job.counted:
        done.setdefault(test.circuit, []).append(test.direction)
    if not done:
        guess = f" By the complaint. {suspect_words(job.suspect_lists[-1])}." if job.suspect_lists else ""
        return f"{came} Nothing has been tested yet.{guess}"
    what = [
        f"the {circuit_words(c)} with {listed([d for d in ('pressure', 'vacuum') if d in done[c]])}"
        for c in CIRCUITS
        if c in done
    ]
    return f"{came} Tested: {listed(what)}. Air was let in or drawn out, the valve shut, and the gauge watched."


def _found(job: Job) -> str:
    before = last_each([t for t in job.counted if t.stage == "before" and t.circuit != RIG])
    if not before:
        return ""
    when = "As it came in: " if any(t.stage == "after" for t in job.counted) else ""
    first, *others = (_result(t) for t in before)
    text = " ".join([f"{when}{first}" if when else capital(first), *map(capital, others)])
    place = last_finding(job)
    if place is not None:
        text += f" {place.headline}"
    if any(t.result.detected for t in before):
        text += " The ranges in brackets hold the true size 95 times in 100."
    said = [n.place for n in job.notes("note", "repair", "verdict") if n.place]
    return text + (f" The mechanic found the fault here: {listed(list(places_named(job)))}." if said else "")


def loses(test: Test) -> bool:
    """Whether the verdict is about a loss; a vent or a needle is judged by what it passes."""
    return test.result.figure("limit").get("kind", "drop") in ("drop", "rate")


def fault_words(failed: list[Test]) -> str:
    """What is said of tests that failed: a loss is over its limit, anything else is at fault."""
    return "over the limit" if all(loses(t) for t in failed) else "at fault"


def _result(test: Test) -> str:
    passed = "within the limit" if loses(test) else "as it should be"
    word = {"pass": passed, "fail": fault_words([test]), "undecided": "not decided"}[test.result.verdict]
    judged = word if test.result.figure("limit") else "without a limit to judge by"
    return f"the {circuit_words(test.circuit)} under {test.direction} is {judged}. {test.result.size}"


def _done(job: Job, verdict: JobVerdict) -> str:
    repairs = job.notes("repair")
    if not repairs:
        return "A repair was made." if verdict.repaired else "Nothing has been repaired yet."
    done = [" ".join(n.text.split()) for n in repairs]
    return "Done: " + " ".join(text if text[-1:] in ".!?" else f"{text}." for text in done)


def _now(job: Job, verdict: JobVerdict) -> str:
    if not verdict.circuits:
        return ""
    question = "Does it hold now? " if verdict.repaired else "Does it hold? "
    return question + " ".join(_state(job, c, verdict.repaired) for c in verdict.circuits)


def _state(job: Job, c: CircuitVerdict, repaired: bool) -> str:
    name = f"the {circuit_words(c.circuit)}"
    changes = {t.number: counting_change(job, t) for t in c.tests}
    told = {number: change.sentence for number, change in changes.items() if change is not None}
    now = [(t.direction, told.get(t.number, t.result.size)) for t in c.tests if repaired]
    sizes = " ".join(f"{capital(direction)}: {size}" for direction, size in now)
    if c.word == "fail":
        failed = [t for t in c.tests if t.result.verdict == "fail"]
        bad = listed([t.direction for t in failed])
        answer = f"No: {name} is {fault_words(failed)} under {bad}."
    elif c.word == "pass":
        ways = listed([t.direction for t in c.tests])
        cold = ", cold and at the crank position of the test" if c.circuit == ENGINE else ""
        does = "holds" if all(loses(t) for t in c.tests) else "does what it must"
        answer = f"Yes: {name} {does} under {ways}{cold}, with the blanks checked.{lax_words(c.tests)}"
    else:
        answer = f"Not shown yet for {name}. Still wanted: {listed(list(c.missing))}."
    return f"{answer} {sizes}".strip()


def lax_words(tests: Sequence[Test]) -> str:
    """What must stand beside a pass that only a lax limit gave."""
    lax = [t.direction for t in tests if any(flag.code == LAX for flag in t.result.flags)]
    return "".join(f" {texts('job')['lax'].format(direction=d)}" for d in dict.fromkeys(lax))


def _left_out(job: Job) -> str:
    rule = f" {texts('job')['rule']}" if job_verdict(job).engine_tested else ""
    return f"Not tested: {not_tested_words(job)}{rule}"


def not_tested_words(job: Job) -> str:
    """What nobody tested: other circuits, and what no such test reaches."""
    names = [circuit_words(c) for c in job_verdict(job).not_tested]
    circuits = f"{listed(names)}; " if names else ""
    return f"{circuits}{texts('job')['not-tested']}."


def last_each(tests: list[Test]) -> list[Test]:
    """The last of each circuit and direction, of those that contained most of their circuit."""
    circuits = dict.fromkeys(t.circuit for t in tests)
    whole = [t for c in circuits for t in of_the_whole([u for u in tests if u.circuit == c])]
    return list({(t.circuit, t.direction): t for t in whole}.values())


def listed(names: list[str]) -> str:
    """ "a, b and c"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def word(job: Job) -> str:
    """PASS, FAIL, CANNOT SAY YET or NOT TESTED."""
    verdict = job_verdict(job)
    return VERDICT_WORDS[verdict.word] if verdict.circuits else "NOT TESTED"


def rig_remark(job: Job) -> str:
    """A caution when the rig itself did not hold."""
    rig = last_each([t for t in job.counted if t.circuit == RIG])
    return texts("job")["rig-leaks"] if any(t.result.verdict == "fail" for t in rig) else ""


def texts_of_people(job: Job) -> tuple[str, ...]:
    """Every text of the record that a person wrote, not the program."""
    said = [job.reference]
    for name in FIELDS:
        value = getattr(job.current, name)
        said += value if isinstance(value, tuple) else [value]
    for entry in job.entries:
        if isinstance(entry, Note | Photo):
            said += [entry.text, entry.place]
        elif isinstance(entry, EngineRun):
            said += [entry.fuel, entry.fitted, entry.text]
        elif isinstance(entry, Test):
            c = entry.inputs.conditions
            said += [entry.recording.file, entry.recording.name, entry.inputs.manual_page]
            said += [c.note or "", c.gauge or "", *c.blocked, *c.includes]
    return tuple(dict.fromkeys(text for text in said if text))
