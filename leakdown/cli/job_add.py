"""`leakdown job add`: recordings into a job, each analysed on its way in."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, say, style_for, width
from leakdown.cli.job_options import Folder, Reference, attached
from leakdown.cli.results import settings_from
from leakdown.errors import InputError, LeakdownError, OutputError, UsageError

if TYPE_CHECKING:
    from leakdown.jobs.record import Stage, TestInputs
    from leakdown.jobs.store import Writing
    from leakdown.recording import Recording

_RECORD = "For the record"

StageText = Annotated[
    str | None, typer.Option("--stage", help="before or after the repair.", rich_help_panel=_RECORD)
]
MakerLimit = Annotated[
    str | None,
    typer.Option("--maker-limit", help="The maker's figure, as --limit takes it.", rich_help_panel=_RECORD),
]
ManualPage = Annotated[
    str, typer.Option("--manual-page", help="Where the service manual has it.", rich_help_panel=_RECORD)
]
Gauge = Annotated[
    str | None, typer.Option("--gauge", help="Which gauge, by name or number.", rich_help_panel=_RECORD)
]
Blocked = Annotated[
    str | None,
    typer.Option("--blocked", help='What was blanked off: "boot, exhaust".', rich_help_panel=_RECORD),
]
Includes = Annotated[
    str | None,
    typer.Option("--includes", help='Sections in this test: "seals, boot".', rich_help_panel=_RECORD),
]
Proven = Annotated[
    bool,
    typer.Option(
        "--connection-proven",
        help="A blank was cracked open at the end and the reading fell.",
        rich_help_panel=_RECORD,
    ),
]
Checked = Annotated[
    bool, typer.Option("--blanks-checked", help="Blanks and plugs were checked.", rich_help_panel=_RECORD)
]
Corrects = Annotated[
    int | None,
    typer.Option(
        "--corrects", metavar="N", help="Takes the place of test N, which stays.", rich_help_panel=_RECORD
    ),
]
NoReport = Annotated[
    bool, typer.Option("--no-report", help="Leave page and chart as they are.", rich_help_panel=_RECORD)
]


def register(group: typer.Typer) -> None:
    """Add the command."""
    group.command(
        "add", epilog="Example: leakdown job add 2026-017 pressure.csv vacuum.csv --blanks-checked"
    )(add)


@dataclass(frozen=True)
class _Judged:
    """What is fixed for the estimate and the verdict, as typed."""

    quote_at: str
    hold: str | None
    limit: str | None
    maker_limit: str | None
    manual_page: str


@dataclass(frozen=True)
class _Typed:
    """All that was typed about the tests."""

    reading: o.ReadingText
    test: o.TestText
    judged: _Judged
    gauge: str | None
    blocked: str | None
    includes: str | None
    connection_proven: bool
    blanks_checked: bool


@dataclass(frozen=True)
class _Errand:
    """Which files go into which job, and how."""

    folder: Path
    reference: str
    files: list[Path]
    stage: str | None
    corrects: int | None
    draw: bool
    quiet: bool


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
    reading = o.ReadingText(unit, direction, absolute, barometer, altitude)
    test = o.TestText(circuit, volume, volume_uncertainty, temperature, resolution)
    judged = _Judged(quote_at, hold, limit, maker_limit, manual_page)
    typed = _Typed(reading, test, judged, gauge, blocked, includes, connection_proven, blanks_checked)
    _checked(typed, files, corrects)
    errand = _Errand(folder, reference, files, stage, corrects, not no_report, quiet)
    raise typer.Exit(_add_all(errand, typed))


def _checked(typed: _Typed, files: list[Path], corrects: int | None) -> None:
    judged = typed.judged
    if judged.manual_page and not judged.maker_limit:
        raise UsageError(
            "--manual-page without --maker-limit", remedy="Give the maker's figure with its page."
        )
    if judged.maker_limit and judged.limit:
        raise UsageError("--limit and --maker-limit together", remedy="Give one; the maker's comes first.")
    if corrects is not None and len(files) > 1:
        raise UsageError("--corrects takes one file at a time", remedy="Run job add once for each file.")


def _add_all(errand: _Errand, typed: _Typed) -> int:
    """Exit status: that of the worst file. A bad file does not keep the others out."""
    from leakdown.jobs.store import writing

    trouble, added = 0, 0
    with writing(errand.folder, errand.reference) as at:
        stage = _stage(errand, at)
        for path in errand.files:
            try:
                _add_one(at, path, typed, stage, errand)
                added += 1
            except OutputError:
                raise
            except LeakdownError as error:
                if len(errand.files) == 1:
                    raise
                say(f"leakdown: {error}")
                trouble = max(trouble, error.exit_status)
        if added:
            _finish(at, errand)
    return trouble


def _stage(errand: _Errand, at: Writing) -> Stage:
    from leakdown.jobs.adding import stage_named

    stage = stage_named(errand.stage, at.job)
    if errand.stage is None and stage == "after" and not errand.quiet:
        say("Counted as after the repair that stands in the record (--stage before says otherwise).")
    return stage


def _finish(at: Writing, errand: _Errand) -> None:
    """Page and chart, and where the job stands now."""
    from leakdown.jobs.customer_paragraph import headline, word
    from leakdown.words.wrap import wrapped

    if errand.draw:
        attached(at.folder, at.job, errand.quiet)
    print("\n".join(wrapped(f"Job {at.job.reference}: {word(at.job)}. {headline(at.job)}", width())))


def _add_one(at: Writing, path: Path, typed: _Typed, stage: Stage, errand: _Errand) -> None:
    from leakdown.jobs.adding import add_test
    from leakdown.words.signs import own_texts
    from leakdown.words.terminal import summary

    data = _bytes(path)
    recording, said = _understood(data, path, typed)
    done = add_test(at, data, recording, said, stage, errand.corrects)
    out(summary(done.analysis, width(), style_for(sys.stdout)), own_texts(recording))
    if done.test.changed:
        out(f"  {done.test.changed.sentence}")
    if not errand.quiet:
        for remark in (*recording.remarks, *done.remarks):
            say(f"{path}: {remark}")
        say(f"{path}: kept as recordings/{done.test.kept.file}, test {done.test.number}")


def _bytes(path: Path) -> bytes:
    from leakdown.jobs.store import LARGEST_RECORDING

    try:
        if path.stat().st_size > LARGEST_RECORDING:
            raise InputError(f"larger than {LARGEST_RECORDING // 1_000_000} MB", where=str(path))
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"cannot be opened: {reason}", where=str(path), remedy="Check the name.") from None


def _understood(data: bytes, path: Path, typed: _Typed) -> tuple[Recording, TestInputs]:
    """The recording with its conditions, and what is kept to read it so again."""
    from leakdown.jobs.record import TestInputs
    from leakdown.sheets.file import read_bytes

    options = o.reading_options(typed.reading)
    recording = o.with_conditions(read_bytes(data, str(path), options), options, typed.test)
    more: dict[str, Any] = {
        "gauge": typed.gauge,
        "blocked": _names(typed.blocked),
        "includes": _names(typed.includes),
    }
    recording = replace(recording, conditions=recording.conditions.overridden(**more), source=path.name)
    judged = typed.judged
    limit = judged.maker_limit or judged.limit or recording.conditions.other("limit")
    settings = settings_from(judged.quote_at, judged.hold, limit)
    return recording, TestInputs(
        recording.conditions,
        options.unit,
        options.direction,
        options.absolute,
        options.barometer_pa,
        settings.quote_pa,
        settings.hold_s,
        limit or "",
        "maker" if judged.maker_limit else "given" if limit else "",
        judged.manual_page,
        typed.connection_proven,
        typed.blanks_checked,
    )


def _names(text: str | None) -> tuple[str, ...] | None:
    return None if text is None else tuple(name.strip() for name in text.split(",") if name.strip())
