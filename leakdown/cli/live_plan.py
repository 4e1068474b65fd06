"""From the options of `leakdown log` as typed to what will be recorded and how it will be judged."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from leakdown.errors import UsageError
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.live.capture.logger import LogPlan
from leakdown.live.profiles.files import profile_named
from leakdown.live.profiles.profile import Conversion, Profile
from leakdown.quantities import PRESSURE_PA, PressureUnit, parse_time, pressure_unit
from leakdown.reading import Told
from leakdown.recording import Conditions
from leakdown.sheets.native_write import condition_pairs


@dataclass(frozen=True)
class GaugeText:
    """Where the readings come from and go to, as typed."""

    port: str
    out: Path | None
    gauge: str
    baud: int | None
    wait: str


@dataclass(frozen=True)
class LogText:
    """All options as typed. texts: includes, blocked, note. ending: duration, limit, until decided."""

    gauge: GaugeText
    told: Told
    texts: tuple[str | None, str | None, str | None]
    ending: tuple[str | None, str | None, bool]
    prompt: bool = True
    quiet: bool = False


@dataclass(frozen=True)
class Run:
    """A log about to be recorded. `limit`: the limit as typed, for the command that repeats the analysis."""

    plan: LogPlan
    conditions: Conditions
    settings: Settings
    limit: str | None
    duration_s: float | None
    until_decided: bool
    prompt: bool
    quiet: bool


def run_from(text: LogText) -> Run:
    """Everything checked before the port is opened. Raises UsageError."""
    duration, limit, until_decided = text.ending
    conditions = _conditions(text)
    return Run(
        _plan(text, conditions),
        conditions,
        Settings(limit=parse_limit(limit) if limit else None),
        limit,
        parse_time(duration, "--duration") if duration else None,
        until_decided,
        text.prompt,
        text.quiet,
    )


def _conditions(text: LogText) -> Conditions:
    shown = _unit(text.told.unit)
    includes, blocked, note = text.texts
    own = Conditions(
        gauge=text.gauge.gauge,
        includes=_names(includes),
        blocked=_names(blocked),
        note=note,
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        unit=shown.name if shown else "kPa",
    )
    return text.told.conditions(own)


def _names(text: str | None) -> tuple[str, ...]:
    return tuple(name.strip() for name in (text or "").split(",") if name.strip())


def _unit(text: str | None) -> PressureUnit | None:
    shown = pressure_unit(text) if text else None
    if text and shown is None:
        raise UsageError(f"--unit: unknown unit {text!r}", remedy=f"Known units: {', '.join(PRESSURE_PA)}.")
    return shown


def _plan(text: LogText, conditions: Conditions) -> LogPlan:
    profile = _profile(text.gauge)
    path = text.gauge.out or Path(datetime.now().strftime("test-%Y%m%d-%H%M%S.csv"))
    wait_s = parse_time(text.gauge.wait, "--wait")
    conversion = _conversion(profile, text.told, conditions)
    return LogPlan(text.gauge.port, path, profile, conversion, tuple(condition_pairs(conditions)), wait_s)


def _profile(text: GaugeText) -> Profile:
    profile = profile_named(text.gauge)
    return replace(profile, framing=replace(profile.framing, baud=text.baud)) if text.baud else profile


def _conversion(profile: Profile, told: Told, conditions: Conditions) -> Conversion:
    absolute = True if told.absolute else None
    conversion = profile.conversion(_unit(told.unit), absolute, conditions.barometer_pa)
    if conversion.absolute and conversion.barometer_pa is None:
        raise UsageError(
            "an absolute gauge needs the ambient pressure",
            remedy='Give --barometer "101.3 kPa" or --altitude.',
        )
    return conversion
