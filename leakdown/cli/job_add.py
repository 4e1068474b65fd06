"""`leakdown job add`: recordings into a job, each analysed on its way in."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, say, style_for, width
from leakdown.cli.job_options import Folder, Reference, attached
from leakdown.cli.results import settings_from
from leakdown.errors import LeakdownError, OutputError, UsageError

if TYPE_CHECKING:
    from leakdown.jobs.record import Stage, TestInputs
    from leakdown.jobs.store import Writing
    from leakdown.judge.settings import Settings
    from leakdown.reading import Told
    from leakdown.settings import ShopSettings
    from leakdown.sheets.options import ReadingOptions

_RECORD = "For the record"
StageText = Annotated[str | None, o.option("--stage", "before or after the repair.", _RECORD)]
MakerLimit = Annotated[str | None, o.option("--maker-limit", "The maker's figure, as --limit takes it.", _RECORD)]
ManualPage = Annotated[str, o.option("--manual-page", "Where the service manual has it.", _RECORD)]
Gauge = Annotated[str | None, o.option("--gauge", "Which gauge, by name or number.", _RECORD)]
Blocked = Annotated[str | None, o.option("--blocked", 'What was blanked off: "boot, exhaust".', _RECORD)]
Includes = Annotated[str | None, o.option("--includes", 'Sections in this test: "seals, boot".', _RECORD)]
_CORRECTS = "Takes the place of test N, which stays."
_PROVEN = "A blank was cracked open at the end and the reading fell."
Proven = Annotated[bool, o.option("--connection-proven", _PROVEN, _RECORD)]
Checked = Annotated[bool, o.option("--blanks-checked", "Blanks and plugs were checked.", _RECORD)]
Corrects = Annotated[int | None, o.option("--corrects", _CORRECTS, _RECORD, metavar="N")]
NoReport = Annotated[bool, o.option("--no-report", "Leave page and chart as they are.", _RECORD)]


def register(group: typer.Typer) -> None:
    """Add the command."""
    group.command("add", epilog="Example: leakdown job add 2026-017 pressure.csv vacuum.csv --blanks-checked")(add)


@dataclass(frozen=True)
class _Given:
    """What was given for all files: how to read them, and what to put over what each says."""

    options: ReadingOptions
    told: Told
    conditions: Mapping[str, object]
    inputs: TestInputs
    shop: ShopSettings | None


def add(
    reference: Reference,
    files: o.Files,
    stage: StageText = None,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    limit: o.LimitText = None,
    maker_limit: MakerLimit = None,
    air_needed: o.AirNeeded = None,
    manual_page: ManualPage = "",
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    zero: o.Zero = None,
    test: o.Test = None,
    columns: o.Columns = None,
    resolution: o.Resolution = None,
    hold: o.HoldText = None,
    quote_at: o.QuoteAt = "35 kPa",
    gauge: Gauge = None,
    blocked: Blocked = None,
    includes: Includes = None,
    connection_proven: Proven = False,
    blanks_checked: Checked = False,
    corrects: Corrects = None,
    no_report: NoReport = False,
    folder: Folder = Path("jobs"),
    quiet: o.Quiet = False,
) -> None:
    """Put recordings into a job: kept byte for byte, analysed, judged, drawn."""
    from leakdown.jobs.form import BROKEN, SEAL_KEY
    from leakdown.jobs.store import writing
    from leakdown.reading import Told

    told = Told(unit, direction, absolute, barometer, altitude,
                circuit, volume, volume_uncertainty, temperature, resolution, zero, test, columns)  # fmt: skip
    settings = settings_from(quote_at, hold, maker_limit or limit, air_needed=air_needed)
    options = told.for_reading(settings.shop)
    said = {"gauge": gauge, "blocked": _names(blocked), "includes": _names(includes)}
    inputs = _inputs(options, settings, limit, maker_limit,
                     manual_page, connection_proven, blanks_checked)  # fmt: skip
    if corrects is not None and len(files) > 1:
        raise UsageError("--corrects takes one file at a time", remedy="Run job add once for each file.")
    with writing(folder, reference) as at:
        if at.job.document.get(SEAL_KEY) == BROKEN:
            say(f"{at.folder}: job.json is not as leakdown wrote it; it is read and added to, and job check says so")
        before = len(at.job.tests)
        status = _add_all(at, files, _Given(options, told, said, inputs, settings.shop), stage, corrects, quiet)
        if len(at.job.tests) > before:
            _finish(at, not no_report, quiet)
    raise typer.Exit(status)


def _inputs(
    options: ReadingOptions,
    settings: Settings,
    limit: str | None,
    maker_limit: str | None,
    manual_page: str,
    connection_proven: bool,
    blanks_checked: bool,
) -> TestInputs:
    """What the record keeps of it; the conditions are each recording's own. Raises UsageError."""
    from leakdown.jobs.record import TestInputs
    from leakdown.recording import Conditions

    if manual_page and not maker_limit:
        raise UsageError("--manual-page without --maker-limit", remedy="Give the maker's figure with its page.")
    if maker_limit and limit:
        raise UsageError("--limit and --maker-limit together", remedy="Give one; the maker's comes first.")
    text, whose = maker_limit or limit or "", "maker" if maker_limit else "given" if limit else ""
    o = options
    read = (o.unit, o.direction, o.absolute, o.barometer_pa, o.zero_pa, o.test, o.columns)
    air = (settings.air_needed_m3_s, "" if settings.air_needed_m3_s is None else "given")
    return TestInputs(Conditions(), *read, settings.quote_pa, settings.hold_s, text, whose, manual_page, *air,
                      connection_proven, blanks_checked)  # fmt: skip


def _names(text: str | None) -> tuple[str, ...] | None:
    return None if text is None else tuple(name.strip() for name in text.split(",") if name.strip())


def _add_all(
    at: Writing, files: list[Path], given: _Given, stage_text: str | None, corrects: int | None, quiet: bool
) -> int:
    """Exit status: that of the worst file. A bad one does not keep the others out; alone, it is raised."""
    from leakdown.jobs.adding import stage_named

    stage = stage_named(stage_text, at.job)
    if stage_text is None and stage == "after" and not quiet:
        say("Counted as after the repair that stands in the record (--stage before says otherwise).")
    status = 0
    for path in files:
        try:
            _add_one(at, path, given, stage, corrects, quiet)
        except OutputError:
            raise
        except LeakdownError as error:
            if len(files) == 1:
                raise
            say(f"leakdown: {error}")
            status = max(status, error.exit_status)
    return status


def _add_one(at: Writing, path: Path, given: _Given, stage: Stage, corrects: int | None, quiet: bool) -> None:
    from leakdown.jobs.adding import add_test
    from leakdown.jobs.store import received_bytes
    from leakdown.sheets.file import read_bytes
    from leakdown.words.signs import own_texts
    from leakdown.words.terminal import summary

    data = received_bytes(path)
    recording = read_bytes(data, str(path), given.options)
    recording = given.told.over(recording)
    conditions = recording.conditions.overridden(**given.conditions)
    recording = replace(recording, conditions=conditions, source=path.name)
    done = add_test(at, data, recording, given.inputs, stage, corrects, given.shop)
    out(summary(done.analysis, width(), style_for(sys.stdout)), own_texts(recording))
    if done.test.change:
        out(f"  {done.test.change.sentence}")
    if not quiet:
        for remark in (*recording.remarks, *done.remarks):
            say(f"{path}: {remark}")
        say(f"{path}: kept as recordings/{done.test.recording.file}, test {done.test.number}")


def _finish(at: Writing, draw: bool, quiet: bool) -> None:
    """Page and chart, and where the job stands now."""
    from leakdown.jobs.customer_paragraph import headline, texts_of_people, word
    from leakdown.words.wrap import wrapped

    if draw:
        attached(at.folder, at.job, quiet)
    text = f"Job {at.job.reference}: {word(at.job)}. {headline(at.job)}"
    out("\n".join(wrapped(text, width())), texts_of_people(at.job))
