"""`leakdown log`: a live test from a gauge, every reading on disk as it arrives."""

from __future__ import annotations

import json
import signal
import threading
import time
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.cli.present import Wanted, analysed, show, status_of
from leakdown.errors import GaugeError, UsageError

_GAUGE = "The gauge"
_TURN_S = 0.1

Port = Annotated[
    str, typer.Argument(help="Device (/dev/ttyUSB0, COM3) or URL (socket://host:port).", show_default=False)
]
Out = Annotated[
    Path | None,
    typer.Option(
        "--out", help="The recording to write (never overwritten).", show_default="test-DATE-TIME.csv"
    ),
]
Gauge = Annotated[
    str,
    typer.Option(
        "--gauge", help="Profile name or file; `leakdown gauges` lists them.", rich_help_panel=_GAUGE
    ),
]
Baud = Annotated[
    int | None, typer.Option("--baud", help="Speed of the port.", rich_help_panel=_GAUGE, min=50)
]
Duration = Annotated[
    str | None, typer.Option("--duration", help='When to end, such as "90 s"; else Ctrl-C or q.')
]
UntilDecided = Annotated[bool, typer.Option("--until-decided", help="End as soon as the verdict is certain.")]
NoPrompt = Annotated[bool, typer.Option("--no-prompt", help="Take no keys (for scripts).")]
Wait = Annotated[
    str,
    typer.Option("--wait", help="How long to wait for a gauge that was unplugged.", rich_help_panel=_GAUGE),
]
Includes = Annotated[
    str | None,
    typer.Option("--includes", help="Sections in this test, with commas.", rich_help_panel="The test"),
]
Blocked = Annotated[
    str | None,
    typer.Option("--blocked", help="What is blanked off, with commas.", rich_help_panel="The test"),
]
Note = Annotated[
    str | None, typer.Option("--note", help="A note for the record.", rich_help_panel="The test")
]
VerdictStatus = Annotated[bool, typer.Option("--verdict-status", help="Exit 10 on fail, 11 on undecided.")]


@dataclass(frozen=True)
class _Run:
    plan: Any
    conditions: Any
    duration_s: float | None
    until_decided: bool
    settings: Any
    keys: bool
    quiet: bool


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("log", epilog='Example: leakdown log /dev/ttyUSB0 --out vacuum.csv --duration "90 s"')(log)


def log(
    port: Port,
    out: Out = None,
    gauge: Gauge = "auto",
    baud: Baud = None,
    unit: o.Unit = None,
    absolute: o.Absolute = False,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    duration: Duration = None,
    until_decided: UntilDecided = False,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    limit: o.LimitText = None,
    circuit: o.Circuit = None,
    direction: o.Direction = None,
    temperature: o.Temperature = None,
    includes: Includes = None,
    blocked: Blocked = None,
    note: Note = None,
    wait: Wait = "10 s",
    no_prompt: NoPrompt = False,
    as_json: o.Json = False,
    verdict_status: VerdictStatus = False,
    quiet: o.Quiet = False,
) -> None:
    """Record a live test from a gauge; nothing that it sends is lost."""
    test = o.TestText(circuit, volume, volume_uncertainty, temperature, None)
    conditions = _conditions(test, direction, barometer, altitude, unit, gauge, (includes, blocked, note))
    judged = bool(limit or until_decided or verdict_status)
    run = _Run(
        _plan(port, out, gauge, baud, unit, absolute, wait, conditions),
        conditions,
        _seconds(duration, "--duration"),
        until_decided,
        _settings(limit) if judged else None,
        not no_prompt,
        quiet or as_json,
    )
    readings, unreadable, seconds = _record(run)
    if not quiet:
        say(
            f"{run.plan.out}: {readings} readings in {seconds:.1f} s"
            + (f", {unreadable} lines without a reading" if unreadable else "")
        )
    raise typer.Exit(_close(run, (readings, unreadable, seconds), judged, as_json, verdict_status))


def _seconds(text: str | None, what: str) -> float | None:
    from leakdown.quantities import parse_time

    return parse_time(text, what) if text else None


def _settings(limit: str | None) -> Any:
    from leakdown.estimate.analysis import Settings
    from leakdown.estimate.limits import parse_limit

    return Settings(limit=parse_limit(limit) if limit else None)


def _conditions(
    test: o.TestText,
    direction: str | None,
    barometer: str | None,
    altitude: str | None,
    unit: str | None,
    gauge: str,
    texts: tuple[str | None, ...],
) -> Any:
    from leakdown.quantities import parse_temperature, parse_uncertainty, parse_volume, pressure_unit
    from leakdown.recording import Conditions, circuit_named

    volume = parse_volume(test.volume, "--volume") if test.volume else None
    if test.volume_uncertainty and volume is None:
        raise UsageError("--volume-uncertainty without a volume", remedy='Give --volume, such as "250 cm3".')
    doubt = (
        parse_uncertainty(test.volume_uncertainty, volume, "--volume-uncertainty")
        if test.volume_uncertainty and volume
        else None
    )
    shown = pressure_unit(unit) if unit else None
    includes, blocked, note = texts
    return Conditions(
        circuit=circuit_named(test.circuit) if test.circuit else None,
        direction=o.direction_named(direction),
        volume_m3=volume,
        volume_u_m3=doubt,
        barometer_pa=o.ambient_pa(barometer, altitude),
        temperature_k=parse_temperature(test.temperature, "--temperature") if test.temperature else None,
        gauge=gauge,
        includes=_names(includes),
        blocked=_names(blocked),
        note=note,
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        unit=shown.name if shown else "kPa",
    )


def _names(text: str | None) -> tuple[str, ...]:
    return tuple(name.strip() for name in (text or "").split(",") if name.strip())


def _plan(
    port: str,
    out: Path | None,
    gauge: str,
    baud: int | None,
    unit: str | None,
    absolute: bool,
    wait: str,
    conditions: Any,
) -> Any:
    from leakdown.gauges.capture.logger import LogPlan
    from leakdown.gauges.profiles.find import profile_named
    from leakdown.quantities import PRESSURE_PA, pressure_unit
    from leakdown.readers.own_write import condition_pairs

    profile = profile_named(gauge)
    if baud:
        profile = replace(profile, framing=replace(profile.framing, baud=baud))
    shown = pressure_unit(unit) if unit else None
    if unit and shown is None:
        raise UsageError(f"--unit: unknown unit {unit!r}", remedy=f"Known units: {', '.join(PRESSURE_PA)}.")
    conversion = profile.conversion(shown, True if absolute else None, conditions.barometer_pa)
    if conversion.absolute and conversion.barometer_pa is None:
        raise UsageError(
            "an absolute gauge needs the ambient pressure",
            remedy='Give --barometer "101.3 kPa" or --altitude.',
        )
    path = out or Path(datetime.now().strftime("test-%Y%m%d-%H%M%S.csv"))
    return LogPlan(
        port, path, profile, conversion, tuple(condition_pairs(conditions)), _seconds(wait, "--wait") or 0.0
    )


def _record(run: _Run) -> tuple[int, int, float]:
    """Run to the planned end. Returns readings, other lines, seconds. Raises what ended it early."""
    from leakdown.cli.keys import Keys
    from leakdown.cli.live_screen import Screen
    from leakdown.gauges.capture.logger import LiveLog
    from leakdown.gauges.live.view import LiveState

    with LiveLog(run.plan) as live, Keys(run.keys and not run.quiet) as keys:
        _stop_on_signals(live)
        if not run.quiet:
            say(f"Recording {run.plan.address} to {run.plan.out}.")
            say("Low pressure only; eye protection; keep out of line with plugs and plates.")
        screen = Screen(LiveState(run.conditions.unit), run.quiet, keys.active)
        error = _Watcher(run, live, keys, screen).run()
        screen.done()
        seconds = time.monotonic() - live.start_s
    if error is not None:
        raise error
    if live.session.readings == 0:
        raise GaugeError(
            f"no reading in {seconds:.0f} s; {live.session.unreadable} lines were no readings",
            where=run.plan.address,
            remedy=f"Look at them in {run.plan.out}; a profile (--gauge) can name the place.",
        )
    return live.session.readings, live.session.unreadable, seconds


def _stop_on_signals(live: Any) -> None:
    """Ctrl-C and a polite kill are planned ends."""
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), lambda *_: live.stop())


class _Watcher:
    """Looks at the events of a log: screen, keys, end."""

    def __init__(self, run: _Run, live: Any, keys: Any, screen: Any) -> None:
        from leakdown.gauges.live.phase import PhaseWatch

        self._run, self._live, self._keys, self._screen = run, live, keys, screen
        self._phases = PhaseWatch()
        self._closed_s: float | None = None
        self._decider = self._new_decider()

    def _new_decider(self) -> Any:
        if not self._run.until_decided:
            return None
        from leakdown.gauges.live.decide import Decider

        return Decider(self._run.conditions, self._run.settings)

    def run(self) -> Any:
        """Until the log ends; the error that ended it, or None."""
        from leakdown.gauges.capture.logger import Ended

        for event in self._live.events(_TURN_S):
            if isinstance(event, Ended):
                return event.error
            if event is not None:
                self._take(event)
            self._take_keys()
            self._screen.refresh()
            if (
                self._run.duration_s is not None
                and time.monotonic() - self._live.start_s >= self._run.duration_s
            ):
                self._live.stop()
        return None

    def _take(self, event: Any) -> None:
        from leakdown.gauges.capture.session import Remark

        self._screen.feed(event)
        if isinstance(event, Remark):
            self._screen.note(event.text)
        elif event.pressure_pa is not None and self._decider is not None:
            self._decider.feed(event)
            self._decide(event)

    def _decide(self, row: Any) -> None:
        """Look now and then from the moment the valve was closed until it is opened again."""
        phase = self._phases.feed(row.time_s, row.pressure_pa).phase
        if phase in ("fill", "vent"):
            self._closed_s = None
        elif phase == "stabilise" and self._closed_s is None:
            self._closed_s = row.time_s
        if self._closed_s is None or not self._decider.due(row.time_s - self._closed_s):
            return
        word, _ = self._decider.look(row.time_s - self._closed_s)
        if word:
            self._screen.note(f"decided: {word}")
            self._live.stop()

    def _take_keys(self) -> None:
        from leakdown.gauges.live.marks import mark_for

        for key in self._keys.pressed():
            if self._screen.typing:
                self._type(key)
            elif key in ("q", "\x04"):
                self._live.stop()
            elif mark_for(key):
                self._mark(mark_for(key) or "")
            elif key.isprintable() and key.strip():
                self._screen.typing = key

    def _type(self, key: str) -> None:
        if key in ("\r", "\n"):
            self._mark(self._screen.typing)
            self._screen.typing = ""
        elif key in ("\x7f", "\b"):
            self._screen.typing = self._screen.typing[:-1]
        elif key.isprintable():
            self._screen.typing += key

    def _mark(self, text: str) -> None:
        self._live.mark(text)
        self._screen.note(f"marked: {text}")


def _close(
    run: _Run, counts: tuple[int, int, float], judged: bool, as_json: bool, verdict_status: bool
) -> int:
    """Analyse when a verdict is wanted; the exit status."""
    if not judged:
        if as_json:
            readings, unreadable, seconds = counts
            print(
                json.dumps(
                    {
                        "file": str(run.plan.out),
                        "readings": readings,
                        "unreadable": unreadable,
                        "seconds": round(seconds, 3),
                    }
                )
            )
        return 0
    wanted = Wanted(o.ReadingText(), o.TestText(), run.settings, as_json, run.quiet)
    result = analysed(run.plan.out, wanted)
    show(result, run.plan.out, wanted)
    return status_of([result]) if verdict_status else 0
