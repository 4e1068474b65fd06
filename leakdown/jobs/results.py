"""The tests of a record, analysed; the result that is kept of each, and the place and change they come to."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from leakdown import __version__
from leakdown.analysis import Analysis, Limit
from leakdown.errors import UsageError
from leakdown.jobs.alike import last_before
from leakdown.jobs.complaint_answers import answer_words, complaint_answers, engine_facts
from leakdown.jobs.record import Job, StoredChange, StoredCurve, StoredFlag, StoredPlace, StoredResult, Test, TestInputs
from leakdown.jobs.store import recording_bytes
from leakdown.judge.analyse import analyse, judged
from leakdown.judge.judged import fitted_test
from leakdown.judge.limits import Source, limit_in_force, parse_limit
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.report.chart_data import spread
from leakdown.settings import ShopSettings
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from leakdown.where.compare import compare
from leakdown.where.locate import locate_fitted
from leakdown.where.located import Located
from leakdown.words.objects import analysis_object
from leakdown.words.sizes import size_brief, size_sentence, verdict_sentence

_CURVE_POINTS = 32  # as many as a picture of a thumb's width shows
_FIGURES = ("circuit", "direction", "start_pressure_kpa", "end_pressure_kpa", "exponential", "leak_rate",
            "loss_kpa_per_min", "equivalent_hole_mm", "viscous_share", "detection_limit_kpa_per_min", "limit",
            "used", "before_watch", "rig")  # fmt: skip


_SOURCES: dict[str, Source] = {"given": "given", "maker": "job", "file": "file", "settings": "settings"}
"""Whose limit a test was judged by, in the record's words, and as a `Limit` has it."""


def with_counting_limit(
    inputs: TestInputs, recording: Recording, job: Job, shop: ShopSettings | None
) -> tuple[TestInputs, str]:
    """The inputs with the limit in force (see `judge.limits`), and a remark for the mechanic, or "".

    What counts is kept with the test, so that it is judged alike whenever it is read again.
    Raises UsageError for a limit that cannot be read.
    """
    maker = job.maker_test(recording.circuit, recording.direction)
    figure = parse_limit(maker.inputs.limit, "job") if maker is not None else None
    limit = limit_in_force(recording, _limit(inputs), figure, shop)
    if limit is None or limit.source == "practice" or inputs.limit:
        return inputs, ""
    whose = next(name for name, source in _SOURCES.items() if source == limit.source)
    inputs = replace(inputs, limit=limit.text, limit_from=whose)
    if maker is None or whose != "maker":
        return inputs, ""
    inputs = replace(inputs, manual_page=maker.inputs.manual_page)
    return inputs, f"judged by the maker's figure of test {maker.number}, {limit.text}"


def with_shop_air(inputs: TestInputs, recording: Recording, shop: ShopSettings | None) -> TestInputs:
    """The inputs with the air that the shop has set, where nothing else says it: kept, as the limit is."""
    needed, whose = Settings(air_needed_m3_s=inputs.air_needed_m3_s, shop=shop).air_for(recording)
    return replace(inputs, air_needed_m3_s=needed, air_needed_from=whose) if whose == "settings" else inputs


def _limit(inputs: TestInputs) -> Limit | None:
    return parse_limit(inputs.limit, _SOURCES[inputs.limit_from or "given"]) if inputs.limit else None


def settings_of(inputs: TestInputs) -> Settings:
    """What was fixed when the test was added. Raises UsageError for a limit that cannot be read."""
    whose: Source = "settings" if inputs.air_needed_from == "settings" else "given"
    air = {"air_needed_m3_s": inputs.air_needed_m3_s, "air_needed_from": whose}
    return Settings(quote_pa=inputs.quote_pa, hold_s=inputs.hold_s, limit=_limit(inputs), **air)  # type: ignore[arg-type]


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
        curve=_curve(analysis),
    )


def _curve(analysis: Analysis) -> StoredCurve | None:
    recording, hold = analysis.recording, analysis.hold
    inside = np.flatnonzero((recording.time_s >= hold.closed_s) & (recording.time_s <= hold.end_s))
    if inside.size < 2:
        return None
    rows = inside[spread(inside.size, _CURVE_POINTS)]
    times, pressures = recording.time_s[rows] - hold.closed_s, recording.pressure_pa[rows] / 1e3
    return StoredCurve(tuple(round(float(t), 2) for t in times), tuple(round(float(p), 2) for p in pressures))


def recording_again(folder: Path, test: Test) -> Recording:
    """The recording of a test, read as it was read then. Raises RecordError, InputError."""
    given = test.inputs
    told = {"zero_pa": given.zero_pa, "test": given.test, "columns": given.columns}
    options = ReadingOptions(given.unit, given.direction, given.absolute, given.barometer_pa, **told)  # type: ignore[arg-type]
    recording = read_bytes(recording_bytes(folder, test.recording), test.recording.name, options)
    return replace(recording, conditions=given.conditions)


def analysed_again(folder: Path, test: Test) -> Analysis:
    """The analysis of a test from its bytes. Raises RecordError, InputError, UsageError."""
    return analyse(recording_again(folder, test), settings_of(test.inputs))


def place_found(folder: Path, job: Job, newest: Test, analysis: Analysis) -> StoredPlace | None:
    """What the newest test and the earlier ones of its circuit and stage say; None when it sizes no leak.

    A vent's inflow, a needle's openings and a circuit that would not pump up say nothing of a place.
    Raises LeakdownError.
    """
    if not sizes_a_leak(analysis):
        return None
    earlier = [t for t in job.counted if t.stage == newest.stage and t.number != newest.corrects]
    before = [judged(recording_again(folder, t), settings_of(t.inputs)) for t in earlier]
    now = judged(analysis.recording, settings_of(newest.inputs))
    tests = [fitted_test(one) for one in (*before, now) if sizes_a_leak(one.analysis)]
    located = locate_fitted(tests, engine_facts(job))
    return _stored_place(located, answer_words(complaint_answers(job)))


def sizes_a_leak(analysis: Analysis) -> bool:
    """Whether the test was a hold whose loss is a leak."""
    return not any(finding.instead for finding in analysis.findings)


def _stored_place(located: Located, answers: tuple[str, ...]) -> StoredPlace:
    group = located.groups[0]
    place = next((p for p in located.places if p.group == group.group), located.places[0])
    step = located.next_test
    named = (group.group, group.name, place.place, place.name)
    return StoredPlace(located.headline, *named, group.probability, step.do, step.why, answers)


def change_since(folder: Path, job: Job, newest: Test, analysis: Analysis) -> StoredChange | None:
    """The newest test against the last one like it before the repair; or None. Raises LeakdownError.

    Like: the same circuit, direction and parts in it. Raises UsageError where the tests before have other parts.
    """
    if newest.stage != "after" or not sizes_a_leak(analysis):
        return None
    before, others = last_before(job, newest)
    if before is None and others:
        numbers = ", ".join(str(t.number) for t in others)
        raise UsageError(
            f"no test before the repair is like it: test {numbers} had other parts of the circuit in it",
            remedy="Repeat one of them as it was then, and add that too.",
        )
    if before is None:
        return None
    settings = settings_of(newest.inputs)
    change = compare(recording_again(folder, before), analysis.recording, settings=settings)
    return StoredChange(before.number, change.word, change.sentence, *change.after_over_before)
