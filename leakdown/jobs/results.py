"""The tests of a record, analysed; the result that is kept of each, and the place and change they come to."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from leakdown import __version__
from leakdown.analysis import Analysis
from leakdown.jobs.complaint_answers import answer_words, bench_answers, complaint_answers
from leakdown.jobs.record import Job, StoredChange, StoredFlag, StoredPlace, StoredResult, Test, TestInputs
from leakdown.jobs.store import recording_bytes
from leakdown.judge.analyse import examine
from leakdown.judge.held import held_of
from leakdown.judge.limits import parse_limit
from leakdown.judge.tightness import Settings
from leakdown.recording import Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from leakdown.where.compare import compare
from leakdown.where.locate import circuit_of, locate_held
from leakdown.where.located import Located
from leakdown.words.objects import analysis_object
from leakdown.words.sizes import size_brief, size_sentence, verdict_sentence

_FIGURES = ("circuit", "direction", "start_pressure_kpa", "end_pressure_kpa", "exponential", "leak_rate",
            "loss_kpa_per_min", "equivalent_hole_mm", "viscous_share", "detection_limit_kpa_per_min", "limit",
            "used")  # fmt: skip


def with_counting_limit(inputs: TestInputs, recording: Recording, job: Job) -> tuple[TestInputs, str]:
    """The inputs with the limit that counts, and a remark for the mechanic, or "".

    One given now counts before the file's own, and that before the maker's figure that the job has.
    """
    own = recording.conditions.other("limit")
    if inputs.limit or own:
        return (inputs if inputs.limit else replace(inputs, limit=own or "", limit_from="file")), ""
    maker = job.maker_test(recording.conditions.circuit or "crankcase", recording.direction)
    if maker is None:
        return inputs, ""
    before = maker.inputs
    taken = replace(inputs, limit=before.limit, limit_from="maker", manual_page=before.manual_page)
    return taken, f"judged by the maker's figure of test {maker.number}, {before.limit}"


def settings_of(inputs: TestInputs) -> Settings:
    """What was fixed when the test was added. Raises UsageError for a limit that cannot be read."""
    limit = parse_limit(inputs.limit) if inputs.limit else None
    return Settings(quote_pa=inputs.quote_pa, hold_s=inputs.hold_s, limit=limit)


def stored_result(analysis: Analysis) -> StoredResult:
    """A result in words and figures that need no program to be read."""
    whole = analysis_object(analysis)
    figures: dict[str, Any] = {key: whole[key] for key in _FIGURES}
    figures["hold"] = {key: whole["hold"][key] for key in ("start_s", "end_s", "readings")}
    return StoredResult(
        verdict=whole["verdict"],
        reason=verdict_sentence(analysis),
        size=size_sentence(analysis),
        brief=size_brief(analysis),
        detected=whole["detected"],
        flags=tuple(StoredFlag(flag.code, flag.text) for flag in analysis.flags),
        figures=figures,
        program=__version__,
    )


def recording_again(folder: Path, test: Test) -> Recording:
    """The recording of a test, read as it was read then. Raises RecordError, InputError."""
    given = test.inputs
    options = ReadingOptions(given.unit, given.direction, given.absolute, given.barometer_pa)
    recording = read_bytes(recording_bytes(folder, test.recording), test.recording.name, options)
    return replace(recording, conditions=given.conditions)


def analysed_again(folder: Path, test: Test) -> Analysis:
    """The analysis of a test from its bytes. Raises RecordError, InputError, UsageError."""
    return examine(recording_again(folder, test), settings_of(test.inputs))


def place_found(folder: Path, job: Job, newest: Test, analysis: Analysis) -> StoredPlace | None:
    """What the newest test and the earlier ones of its circuit and stage say; None when it sizes no leak.

    A vent's inflow, a needle's openings and a circuit that would not pump up say nothing of a place.
    Raises LeakdownError.
    """
    if not sizes_a_leak(analysis):
        return None
    earlier = [t for t in job.counted if t.stage == newest.stage and t.number != newest.corrects]
    before = [(t, analysed_again(folder, t)) for t in earlier]
    held = [held_of(a, settings_of(t.inputs)) for t, a in before if sizes_a_leak(a)]
    held.append(held_of(analysis, settings_of(newest.inputs)))
    located = locate_held(held, bench_answers(job, circuit_of(held)))
    return _stored_place(located, answer_words(complaint_answers(job)))


def sizes_a_leak(analysis: Analysis) -> bool:
    """Whether the test was a hold whose loss is a leak."""
    return not any(finding.instead for finding in analysis.findings)


def _stored_place(located: Located, answers: tuple[str, ...]) -> StoredPlace:
    group = located.groups[0]
    place = next((p for p in located.places if p.group == group.group), located.places[0])
    step = located.next_test
    return StoredPlace(
        located.headline,
        group.group,
        group.name,
        place.place,
        place.name,
        group.probability,
        step.do if step else "",
        step.why if step else "",
        answers,
    )


def change_since(folder: Path, job: Job, newest: Test, analysis: Analysis) -> StoredChange | None:
    """The newest test against the last one before the repair, same circuit and direction; or None.

    Raises LeakdownError.
    """
    kind = (newest.circuit, newest.direction)
    before = [t for t in job.counted if t.stage == "before" and (t.circuit, t.direction) == kind]
    if newest.stage != "after" or not before or not sizes_a_leak(analysis):
        return None
    settings = settings_of(newest.inputs)
    change = compare(recording_again(folder, before[-1]), analysis.recording, settings)
    return StoredChange(before[-1].number, change.word, change.sentence, *change.after_over_before)
