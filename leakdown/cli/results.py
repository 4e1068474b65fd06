"""One recording analysed and shown: what `analyse`, `log` and others do alike."""

from __future__ import annotations

import datetime
import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from leakdown.cli import options as o
from leakdown.cli.console import out, say, style_for, width
from leakdown.errors import OutputError, UsageError
from leakdown.quantities import parse_volume
from leakdown.recording import circuit_named

if TYPE_CHECKING:
    from leakdown.analysis import Analysis
    from leakdown.judge.analyse import Also
    from leakdown.judge.rig import Rig
    from leakdown.judge.tightness import Settings
    from leakdown.recording import Recording


def also_from(displacement: str | None, rig: str | None, rigs: Path | None, circuit: str | None) -> Also:
    """As typed. Raises UsageError, RecordError for a rig that is not kept."""
    from leakdown.judge.analyse import Also
    from leakdown.judge.rig_store import folder_of, load, path_of

    swept = parse_volume(displacement, "--displacement") if displacement else None
    if swept is not None and not swept > 0.0:
        raise UsageError(f"--displacement {displacement!r} is not above zero", remedy='Give it as "50 cm3".')
    if rig is None:
        return Also(swept)
    itself = circuit is not None and circuit_named(circuit) == "rig"
    if itself:
        path_of(rig, folder_of(rigs))  # a name that cannot be kept is said before the work
        return Also(swept)
    return Also(swept, rig=load(rig, folder_of(rigs)))


def keep_rig(name: str, rigs: Path | None, result: Analysis, silent: bool) -> Rig:
    """Keep what the capped rig leaked, by name. Raises UsageError when the test has no leak rate."""
    from leakdown.judge.rig import rig_leak, with_leak
    from leakdown.judge.rig_store import folder_of, load_or_new, save

    folder = folder_of(rigs)
    c = result.recording.conditions
    leak = rig_leak(result, c.started or datetime.date.today().isoformat())
    rig = with_leak(load_or_new(name, folder), leak, c.volume_m3, c.volume_u_m3)
    tell(f"Rig {name} kept: {save(rig, folder)}", silent)
    return rig


@dataclass(frozen=True)
class Wanted:
    """How to read, what the test was, what to fix, what else is known, and how to show the result."""

    reading: o.ReadingText
    test: o.TestText
    settings: Settings
    also: Also | None = None
    json: bool = False
    quiet: bool = False


def settings_from(quote_at: str, hold: str | None, limit: str | None) -> Settings:
    """The settings as typed. Raises UsageError."""
    from leakdown.judge.limits import parse_limit
    from leakdown.judge.tightness import Settings

    return Settings(
        quote_pa=o.positive_pressure_pa(quote_at, "--quote-at"),
        hold_s=o.hold_span(hold),
        limit=parse_limit(limit) if limit else None,
    )


def analysed(path: Path, wanted: Wanted) -> Analysis:
    """Read and analyse one file. Raises InputError, UsageError."""
    from leakdown.judge.analyse import examine

    recording = o.read_file(path, wanted.reading, wanted.test)
    return examine(recording, with_own_limit(wanted.settings, recording), wanted.also)


def with_own_limit(settings: Settings, recording: Recording) -> Settings:
    """The settings with the file's own limit where none was typed; its text says so. Raises UsageError."""
    from leakdown.judge.limits import parse_limit

    own = recording.conditions.other("limit")
    if settings.limit or not own:
        return settings
    try:
        found = parse_limit(own)
    except UsageError as error:
        raise UsageError(f"{recording.source}: {error.what}", remedy="Give --limit.") from error
    return replace(settings, limit=replace(found, text=f"{own} (the file's own)"))


def show(result: Analysis, path: Path, wanted: Wanted, first: bool = True) -> None:
    """Print one result: a JSON line, or the report for the screen with the reader's remarks aside."""
    if wanted.json:
        from leakdown.words.objects import analysis_object

        line = analysis_object(result) | {"file": str(path)}
        print(json.dumps(line, allow_nan=False, ensure_ascii=False), flush=True)
        return
    from leakdown.words.signs import own_texts
    from leakdown.words.terminal import summary, terminal_report

    if wanted.quiet:
        text = summary(result, width(), style_for(sys.stdout))
    else:
        text = terminal_report(result, width(), style_for(sys.stdout))
    out(("" if first else "\n") + text, own_texts(result.recording))
    if not wanted.quiet:
        for remark in result.recording.remarks:
            say(f"{path}: {remark}")


def status_of(results: list[Analysis]) -> int:
    """Exit status for --verdict-status: 10 when any test failed, 11 when any is undecided, else 0."""
    words = [result.verdict.word if result.verdict else "undecided" for result in results]
    return 10 if "fail" in words else 11 if "undecided" in words else 0


def check_outputs(inputs: list[Path], report: Path | None, chart: Path | None) -> None:
    """Refuse to write over readings, and pictures of an unknown kind, before any work. Raises UsageError."""
    for path in (report, chart):
        o.refuse_overwriting(path, inputs)
    if chart and chart.suffix.lower() not in (".png", ".pdf", ".svg"):
        raise UsageError(f"--chart {chart}: unknown kind of picture", remedy="Name it .png, .pdf or .svg.")


def tell(text: str, silent: bool) -> None:
    """Say what was written, unless nobody wants to hear."""
    if not silent:
        say(text)


def write_text(path: Path, text: str) -> None:
    """Write a UTF-8 file, or say why not. Raises OutputError."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(
            f"cannot write: {error.strerror or error}",
            where=str(path),
            remedy="Choose another folder or free some space.",
        ) from error
