"""`leakdown log`: a live test from a gauge, every reading on disk as it arrives."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import print_json, say, typed
from leakdown.cli.lasting import lasting_streams
from leakdown.cli.live_screen import record
from leakdown.cli.results import Wanted, analysed, settings_from, show, status_of
from leakdown.errors import InputError, UsageError
from leakdown.file_names import stamped
from leakdown.live.bench.running import LiveTest, Recorded
from leakdown.live.capture.logger import LogPlan
from leakdown.live.profiles.files import profile_named
from leakdown.live.profiles.profile import Profile
from leakdown.live.texts import told
from leakdown.quantities import PRESSURE_PA, PressureUnit, parse_time, pressure_unit
from leakdown.reading import Told
from leakdown.recording import Conditions
from leakdown.settings import ShopSettings
from leakdown.sheets.native_write import condition_pairs

_GAUGE, _TEST = "The gauge", "The test"


Port = Annotated[
    str | None, typer.Argument(help="Device (/dev/ttyUSB0, COM3) or URL (socket://host:port).", show_default=False)
]
Out = Annotated[
    Path | None,
    o.option("--out", "The recording to write (never overwritten).", show_default="test-DATE-TIME.csv", metavar="FILE"),
]
Gauge = Annotated[str | None, o.option("--gauge", "Profile name or file; `leakdown gauges` lists them.", _GAUGE)]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("log", epilog='Example: leakdown log /dev/ttyUSB0 --out vacuum.csv --duration "90 s"')(log)


@lasting_streams()
def log(
    port: Port = None,
    out: Out = None,
    gauge: Gauge = None,
    baud: Annotated[int | None, o.option("--baud", "Speed of the port.", _GAUGE, min=50, metavar="N")] = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    duration: Annotated[str | None, o.option("--duration", 'When to end, such as "90 s"; else Ctrl-C or q.')] = None,
    until_decided: Annotated[bool, o.option("--until-decided", "End as soon as the verdict is certain.")] = False,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    limit: o.LimitText = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    temperature: o.Temperature = None,
    includes: Annotated[str | None, o.option("--includes", "Sections in this test, with commas.", _TEST)] = None,
    blocked: Annotated[str | None, o.option("--blocked", "What is blanked off, with commas.", _TEST)] = None,
    note: Annotated[str | None, o.option("--note", "A note for the record.", _TEST)] = None,
    wait: Annotated[str, o.option("--wait", "How long to wait for a gauge that was unplugged.", _GAUGE)] = "10 s",
    no_prompt: Annotated[bool, o.option("--no-prompt", "Take no keys, lead nobody (for scripts).")] = False,
    as_json: o.Json = False,
    verdict_status: Annotated[bool, o.option("--verdict-status", "Exit 10 on fail, 11 on undecided.")] = False,
    quiet: o.Quiet = False,
) -> None:
    """Record a live test from a gauge; nothing that it sends is lost."""
    given = Told(unit, direction, absolute, barometer, altitude, circuit, volume, volume_uncertainty, temperature)
    settings = settings_from(limit=limit)
    port, gauge = _gauge(port, gauge, settings.shop)
    started = datetime.now().astimezone().isoformat(timespec="seconds")
    said = Conditions(gauge=gauge, note=note, includes=_names(includes), blocked=_names(blocked), started=started)
    known = unit_told(unit)
    conditions = given.conditions(replace(said, unit=known.name) if known else said)
    ends_s = parse_time(duration, "--duration") if duration else None
    shown = settings.shop.unit if settings.shop else None
    test = LiveTest(conditions, settings, ends_s, until_decided, show_unit=shown)
    profile = _profile(gauge, baud)
    conversion = profile.conversion(known, absolute or None, conditions.barometer_pa)
    path = out or Path(stamped("test", datetime.now()))
    plan = LogPlan(port, path, profile, conversion, tuple(condition_pairs(conditions)), parse_time(wait, "--wait"))
    recorded = record(plan, test, prompt=not no_prompt, quiet=quiet or as_json)
    if not quiet:
        say(f"{plan.out}: {recorded.text()}")
    wanted = Wanted(Told(), test.settings, json=as_json, quiet=quiet)
    status = _close(plan.out, recorded, wanted, limit)
    raise typer.Exit(status if verdict_status else 0)


def _gauge(port: str | None, gauge: str | None, shop: ShopSettings | None) -> tuple[str, str]:
    """Port and gauge as typed, else as the shop has set them. Raises UsageError without a port."""
    port = port or (shop.port if shop else None)
    if not port:
        raise UsageError(**told("no port"))
    return port, gauge or (shop.gauge if shop else None) or "auto"


def _names(text: str | None) -> tuple[str, ...]:
    return tuple(name.strip() for name in (text or "").split(",") if name.strip())


def unit_told(text: str | None) -> PressureUnit | None:
    """The gauge's unit as typed. Raises UsageError with the known ones."""
    shown = pressure_unit(text) if text else None
    if text and shown is None:
        raise UsageError(f"--unit: unknown unit {text!r}", remedy=f"Known units: {', '.join(PRESSURE_PA)}.")
    return shown


def _profile(gauge: str, baud: int | None) -> Profile:
    profile = profile_named(gauge)
    return replace(profile, framing=replace(profile.framing, baud=baud)) if baud else profile


def _close(path: Path, recorded: Recorded, wanted: Wanted, limit: str | None) -> int:
    """Analyse what was recorded and show it; the exit status of its verdict."""
    try:
        result = analysed(path, wanted)
    except (InputError, UsageError) as error:
        # The recording is kept and says nothing yet: not an error of the log.
        if not wanted.quiet:
            say(f"No result: {error.what}." + (f"\n  {error.remedy}" if error.remedy else ""))
        if wanted.json:
            line = {"file": str(path), "readings": recorded.readings, "unreadable": recorded.unreadable}
            print_json(line | {"seconds": round(recorded.seconds, 3)})
        return 11
    show(result, path, wanted)
    if not wanted.quiet:
        limited = f" --limit {typed(limit)}" if limit else ""
        say(f"Next: leakdown analyse {typed(str(path))}{limited} --report page.html")
    return status_of([result])
