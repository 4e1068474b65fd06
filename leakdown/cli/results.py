"""One recording analysed and shown: what `analyse`, `log` and others do alike."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from leakdown.circuits import circuit_named
from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, say, style_for, width
from leakdown.disk import write_output
from leakdown.errors import UsageError
from leakdown.quantities import ATMOSPHERE_PA, parse_flow, parse_pressures, parse_volume

if TYPE_CHECKING:
    from leakdown.analysis import Analysis
    from leakdown.judge.settings import Settings
    from leakdown.reading import Told
    from leakdown.settings import ShopSettings


@dataclass(frozen=True)
class Wanted:
    """How to read, what the test was, what to fix, and how to show the result."""

    told: Told
    settings: Settings
    json: bool = False
    quiet: bool = False


def settings_from(
    quote_at: str = "35 kPa",
    hold: str | None = None,
    limit: str | None = None,
    circuit: str | None = None,
    displacement: str | None = None,
    rig: str | None = None,
    rigs: Path | None = None,
    air_needed: str | None = None,
    vent_kind: str | None = None,
    gauge_range: str | None = None,
    opens: str | None = None,
) -> Settings:
    """The settings as typed, with what the shop has set. Raises UsageError."""
    from leakdown.judge.rig_store import folder_of, load, path_of
    from leakdown.judge.settings import Settings
    from leakdown.said import hold_span, positive_pressure_pa

    shop = shop_settings()
    folder = folder_of(rigs or shop.rigs)
    itself = circuit is not None and circuit_named(circuit) == "rig"
    if rig is not None and itself:
        path_of(rig, folder)  # a name that cannot be kept is said before the work
    return Settings(
        quote_pa=positive_pressure_pa(quote_at, "--quote-at"),
        hold_s=hold_span(hold),
        limit=limit or None,
        rig=load(rig, folder) if rig is not None and not itself else None,
        swept_m3=_above_zero(parse_volume, displacement, "--displacement", "50 cm3"),
        air_needed_m3_s=_air_m3_s(air_needed),
        vent_kind=vent_kind or "unknown",  # type: ignore[arg-type]
        opens_pa=parse_pressures(opens, "--opens") if opens else None,
        gauge_range_pa=positive_pressure_pa(gauge_range, "--gauge-range") if gauge_range else None,
        shop=shop,
    )


def _above_zero(parse: Callable[[str, str], float], text: str | None, option: str, example: str) -> float | None:
    if text is None:
        return None
    value = parse(text, option)
    if not value > 0.0:
        raise UsageError(f"{option} {text!r} is not above zero", remedy=f'Give it as "{example}".')
    return value


def _air_m3_s(text: str | None) -> float | None:
    flow = _above_zero(parse_flow, text, "--air-needed", "12 cm3/min")
    return None if flow is None else flow / ATMOSPHERE_PA


def shop_settings() -> ShopSettings:
    """What the shop has set; what of it does not count is said once. Raises InputError."""
    from leakdown.judge.limits import parse_limit
    from leakdown.settings import read_settings

    shop = read_settings(checks={"limit": parse_limit})
    for warning in shop.warnings:
        say(f"leakdown: {warning}")
    return shop


def analysed(path: Path, wanted: Wanted) -> Analysis:
    """Read and analyse one file. Raises InputError, UsageError."""
    from leakdown.judge.analyse import analyse
    from leakdown.reading import told_recording

    return analyse(told_recording(path, wanted.told), wanted.settings)


def show(result: Analysis, path: Path, wanted: Wanted, first: bool = True) -> None:
    """Print one result: a JSON line, or the report for the screen with the reader's remarks aside."""
    if wanted.json:
        from leakdown.words.objects import analysis_object

        print_json(analysis_object(result) | {"file": str(path)})
        return
    from leakdown.words.signs import own_texts
    from leakdown.words.terminal import summary, terminal_report

    text = (summary if wanted.quiet else terminal_report)(result, width(), style_for(sys.stdout))
    out(("" if first else "\n") + text, own_texts(result.recording))
    if not wanted.quiet:
        shown = {doubt.text for doubt in result.recording.doubts if doubt.bars_pass}
        for remark in (text for text in result.recording.remarks if text not in shown):
            say(f"{path}: {remark}")


def status_of(results: list[Analysis]) -> int:
    """Exit status for --verdict-status: 10 when any test failed, 11 when any is undecided, else 0."""
    words = [result.verdict.word if result.verdict else "undecided" for result in results]
    return 10 if "fail" in words else 11 if "undecided" in words else 0


def sum_of(results: list[Analysis], files: int) -> str:
    """What a batch came to: "38 read: 21 pass, 17 fail; 2 could not be read"."""
    words = [result.verdict.word if result.verdict else "without a limit" for result in results]
    kinds = [
        f"{words.count(word)} {word}" for word in ("pass", "fail", "undecided", "without a limit") if word in words
    ]
    unread = files - len(results)
    told = f"{len(results)} read" + (f": {', '.join(kinds)}" if kinds else "")
    return told + (f"; {unread} could not be read" if unread else "")


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
    """Write a UTF-8 file, or say why not; what UTF-8 has no letter for becomes "?". Raises OutputError."""
    write_output(path, text.encode("utf-8", "replace"))
