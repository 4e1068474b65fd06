"""`leakdown job add`: recordings into a job, each analysed on its way in."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say, style_for, width
from leakdown.cli.job_options import Folder, Reference, attached
from leakdown.cli.results import settings_from
from leakdown.errors import LeakdownError, OutputError, UsageError

if TYPE_CHECKING:
    from leakdown.jobs.record import Stage, TestInputs
    from leakdown.jobs.store import Writing
    from leakdown.recording import Recording


def _record(name: str, text: str, metavar: str | None = None) -> Any:
    return typer.Option(name, help=text, metavar=metavar, rich_help_panel="For the record")


StageText = Annotated[str | None, _record("--stage", "before or after the repair.")]
MakerLimit = Annotated[str | None, _record("--maker-limit", "The maker's figure, as --limit takes it.")]
ManualPage = Annotated[str, _record("--manual-page", "Where the service manual has it.")]
Gauge = Annotated[str | None, _record("--gauge", "Which gauge, by name or number.")]
Blocked = Annotated[str | None, _record("--blocked", 'What was blanked off: "boot, exhaust".')]
Includes = Annotated[str | None, _record("--includes", 'Sections in this test: "seals, boot".')]
Proven = Annotated[
    bool, _record("--connection-proven", "A blank was cracked open at the end and the reading fell.")
]
Checked = Annotated[bool, _record("--blanks-checked", "Blanks and plugs were checked.")]
Corrects = Annotated[int | None, _record("--corrects", "Takes the place of test N, which stays.", "N")]
NoReport = Annotated[bool, _record("--no-report", "Leave page and chart as they are.")]


def register(group: typer.Typer) -> None:
    """Add the command."""
    group.command(
        "add", epilog="Example: leakdown job add 2026-017 pressure.csv vacuum.csv --blanks-checked"
    )(add)


@dataclass(frozen=True)
class _Typed:
    """All that was typed about the tests."""

    reading: o.ReadingText
    test: o.TestText
    quote_at: str
    hold: str | None
    limit: str | None
    maker_limit: str | None
    manual_page: str
    gauge: str | None
    blocked: str | None
    includes: str | None
    connection_proven: bool
    blanks_checked: bool


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
    manual_page: ManualPage = "",
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
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
    from leakdown.jobs.store import writing

    reading = o.ReadingText(unit, direction, absolute, barometer, altitude)
    test = o.TestText(circuit, volume, volume_uncertainty, temperature, resolution)
    typed = _Typed(reading, test, quote_at, hold, limit, maker_limit, manual_page,
                   gauge, blocked, includes, connection_proven, blanks_checked)  # fmt: skip
    if manual_page and not maker_limit:
        raise UsageError(
            "--manual-page without --maker-limit", remedy="Give the maker's figure with its page."
        )
    if maker_limit and limit:
        raise UsageError("--limit and --maker-limit together", remedy="Give one; the maker's comes first.")
    if corrects is not None and len(files) > 1:
        raise UsageError("--corrects takes one file at a time", remedy="Run job add once for each file.")
    with writing(folder, reference) as at:
        done = _add_all(at, files, typed, stage, corrects, quiet)
        if done.added:
            _finish(at, not no_report, quiet)
    raise typer.Exit(done.status)


@dataclass(frozen=True)
class _Outcome:
    """How many went in, and the exit status of the worst."""

    added: int
    status: int


def _add_all(
    at: Writing, files: list[Path], typed: _Typed, stage_text: str | None, corrects: int | None, quiet: bool
) -> _Outcome:
    """A bad file does not keep the others out; alone, its error is the command's."""
    from leakdown.jobs.adding import stage_named

    stage = stage_named(stage_text, at.job)
    if stage_text is None and stage == "after" and not quiet:
        say("Counted as after the repair that stands in the record (--stage before says otherwise).")
    added, status = 0, 0
    for path in files:
        try:
            _add_one(at, path, typed, stage, corrects, quiet)
            added += 1
        except OutputError:
            raise
        except LeakdownError as error:
            if len(files) == 1:
                raise
            say(f"leakdown: {error}")
            status = max(status, error.exit_status)
    return _Outcome(added, status)


def _add_one(at: Writing, path: Path, typed: _Typed, stage: Stage, corrects: int | None, quiet: bool) -> None:
    from leakdown.jobs.adding import add_test
    from leakdown.jobs.store import received_bytes
    from leakdown.words.terminal import summary

    data = received_bytes(path)
    recording, inputs = _understood(data, path, typed)
    done = add_test(at, data, recording, inputs, stage, corrects)
    print(summary(done.analysis, width(), style_for(sys.stdout)))
    if done.test.change:
        print(f"  {done.test.change.sentence}")
    if not quiet:
        for remark in (*recording.remarks, *done.remarks):
            say(f"{path}: {remark}")
        say(f"{path}: kept as recordings/{done.test.recording.file}, test {done.test.number}")


def _finish(at: Writing, draw: bool, quiet: bool) -> None:
    """Page and chart, and where the job stands now."""
    from leakdown.jobs.customer_paragraph import headline, word
    from leakdown.words.wrap import wrapped

    if draw:
        attached(at.folder, at.job, quiet)
    print("\n".join(wrapped(f"Job {at.job.reference}: {word(at.job)}. {headline(at.job)}", width())))


def _understood(data: bytes, path: Path, typed: _Typed) -> tuple[Recording, TestInputs]:
    """The recording with its conditions, and what was given to read and judge it."""
    from leakdown.jobs.record import TestInputs
    from leakdown.sheets.file import read_bytes

    options = o.reading_options(typed.reading)
    recording = o.with_conditions(read_bytes(data, str(path), options), options, typed.test)
    conditions = recording.conditions.overridden(
        gauge=typed.gauge, blocked=_names(typed.blocked), includes=_names(typed.includes)
    )
    limit = typed.maker_limit or typed.limit or ""
    settings = settings_from(typed.quote_at, typed.hold, limit)
    given = TestInputs(
        conditions=conditions,
        unit=options.unit,
        direction=options.direction,
        absolute=options.absolute,
        barometer_pa=options.barometer_pa,
        quote_pa=settings.quote_pa,
        hold_s=settings.hold_s,
        limit=limit,
        limit_from="maker" if typed.maker_limit else "given" if limit else "",
        manual_page=typed.manual_page,
        connection_proven=typed.connection_proven,
        blanks_checked=typed.blanks_checked,
    )
    return replace(recording, conditions=conditions, source=path.name), given


def _names(text: str | None) -> tuple[str, ...] | None:
    return None if text is None else tuple(name.strip() for name in text.split(",") if name.strip())
