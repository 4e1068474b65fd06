"""The tests of a record, analysed: when they are added, and again from the bytes that were kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from leakdown import __version__
from leakdown.analysis import Analysis
from leakdown.jobs.record import Found, Said, Test
from leakdown.jobs.store import recording_bytes
from leakdown.judge.analyse import examine
from leakdown.judge.limits import parse_limit
from leakdown.judge.tightness import Settings
from leakdown.recording import Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from leakdown.words.objects import analysis_object
from leakdown.words.sizes import size_brief, size_sentence, verdict_sentence

_FIGURES = (
    "circuit",
    "direction",
    "start_pressure_kpa",
    "end_pressure_kpa",
    "exponential",
    "leak_rate",
    "loss_kpa_per_min",
    "equivalent_hole_mm",
    "viscous_share",
    "detection_limit_kpa_per_min",
    "limit",
    "used",
)


def settings_of(said: Said) -> Settings:
    """What was fixed when the test was added. Raises UsageError for a limit that cannot be read."""
    limit = parse_limit(said.limit) if said.limit else None
    return Settings(quote_pa=said.quote_pa, hold_s=said.hold_s, limit=limit)


def found_of(analysis: Analysis) -> Found:
    """A result in words and figures that need no program to be read."""
    whole = analysis_object(analysis)
    figures: dict[str, Any] = {key: whole[key] for key in _FIGURES}
    hold = whole["hold"]
    figures["hold"] = {key: hold[key] for key in ("start_s", "end_s", "readings")}
    return Found(
        verdict=whole["verdict"],
        reason=verdict_sentence(analysis),
        size=size_sentence(analysis),
        brief=size_brief(analysis),
        detected=whole["detected"],
        flags=tuple((flag.code, flag.text) for flag in analysis.flags),
        figures=figures,
        program=__version__,
    )


def recording_again(folder: Path, test: Test) -> Recording:
    """The recording of a test, read as it was read then. Raises RecordError, InputError."""
    said = test.said
    options = ReadingOptions(said.unit, said.direction, said.absolute, said.barometer_pa)
    recording = read_bytes(recording_bytes(folder, test.kept), test.kept.name, options)
    return replace(recording, conditions=said.conditions)


def analysed_again(folder: Path, test: Test) -> Analysis:
    """The analysis of a test from its bytes. Raises RecordError, InputError, UsageError."""
    return examine(recording_again(folder, test), settings_of(test.said))
