"""`leakdown test`: a whole bench test, led from the circuit to the job's page. Each step is kept before the next."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.ask import LeftOff, asked, need_terminal, one_of, yes_or_no
from leakdown.cli.console import out, say, style_for, typed, width
from leakdown.cli.job_options import Folder, attached
from leakdown.cli.results import settings_from
from leakdown.file_names import stamped

if TYPE_CHECKING:
    from leakdown.circuits import Direction
    from leakdown.jobs.led_test import LedStep
    from leakdown.jobs.record import Job
    from leakdown.judge.settings import Settings
    from leakdown.live.bench.running import Recorded
    from leakdown.quantities import PressureUnit
    from leakdown.recording import Conditions

_GAUGE, _TEST = "The gauge", "The test"
Reference = Annotated[str | None, typer.Argument(metavar="[REF]", help="The job's reference.", show_default=False)]
Port = Annotated[str | None, o.option("--port", "Device or URL of the gauge.", _GAUGE)]
GaugeName = Annotated[str | None, o.option("--gauge", "Profile name or file.", _GAUGE)]
Engine = Annotated[str | None, o.option("--engine", "Maker and model, of a new job.", _TEST)]


@dataclass(frozen=True)
class _Bench:
    """What holds for all steps of one test."""

    folder: Path
    reference: str
    conditions: Conditions
    settings: Settings
    port: str
    gauge: str
    unit: PressureUnit | None = None


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("test", epilog="Example: leakdown test 2026-017 --port /dev/ttyUSB0")(test)


def test(
    reference: Reference = None,
    circuit: o.Circuit = None,
    engine: Engine = None,
    volume: o.Volume = None,
    volume_uncertainty: o.VolumeUncertainty = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    temperature: o.Temperature = None,
    limit: o.LimitText = None,
    unit: o.Unit = None,
    port: Port = None,
    gauge: GaugeName = None,
    folder: Folder = Path("jobs"),
) -> None:
    """Lead through a whole bench test, to the verdicts, the place and the job's page."""
    from leakdown.cli.log import unit_told
    from leakdown.reading import Told
    from leakdown.recording import Conditions

    need_terminal("leakdown test", "In a script use leakdown log for each direction, then leakdown job add.")
    told = Told(unit, None, False, barometer, altitude, circuit, volume, volume_uncertainty, temperature)
    settings, known = settings_from(limit=limit), unit_told(unit)
    said, ref, bench = told.conditions(Conditions()), reference or "", None
    try:
        ref = ref or asked("Job reference", str, *[_free_reference(folder)] * 2)
        job = _job(folder, ref, engine)
        bench = _bench(folder, job, said, settings, port, gauge)
        _led(replace(bench, unit=known))
    except LeftOff:
        say(f"Left. What was done is kept; {_taken_up('' if reference else ref, bench, said)} takes it up again.")


def _taken_up(asked_for: str, bench: _Bench | None, given: Conditions) -> str:
    """The command that goes on: what was typed, with what was answered and stands in no record or setting yet.

    asked_for: the reference, where it was asked for.
    """
    from leakdown.jobs.store import folder_of, load
    from leakdown.words.numbers import cm3_words

    words = ["leakdown", *sys.argv[1:], *([asked_for] if asked_for else [])]
    if bench is not None:
        shop, known = bench.settings.shop, bench.conditions
        fresh = not load(folder_of(bench.folder, bench.reference)).counted
        volume_m3 = known.volume_m3 if fresh and given.volume_m3 is None else None
        words += ["--circuit", str(known.circuit)] if fresh and given.circuit is None else []
        words += ["--volume", cm3_words(volume_m3, 6)] if volume_m3 else []
        words += ["--port", bench.port] if bench.port not in (*words, shop.port if shop else None) else []
    return " ".join(typed(word) for word in words)


def _free_reference(folder: Path) -> str:
    """Today's date with the first number that is free."""
    day, number = date.today().isoformat(), 1
    while (folder / f"{day}-{number}").exists():
        number += 1
    return f"{day}-{number}"


def _job(folder: Path, reference: str, engine: str | None) -> Job:
    """The job, opened where there is none yet."""
    from leakdown.jobs.adding import checked_engine
    from leakdown.jobs.record import Engine as Head
    from leakdown.jobs.store import create, load

    if (folder / reference).is_dir():
        return load(folder / reference)
    named = engine if engine is not None else asked("Engine, maker and model (Enter: not known)", str, "")
    say("")
    return create(folder, reference, checked_engine(Head(named)))


def _bench(folder: Path, job: Job, said: Conditions, settings: Settings, port: str | None, gauge: str | None) -> _Bench:
    """What nobody said, from the job, else the settings, else asked."""
    from leakdown.circuits import CIRCUITS, circuit_named
    from leakdown.jobs.led_test import circuit_of
    from leakdown.quantities import parse_volume

    shop = settings.shop
    name = said.circuit or circuit_of(job) or one_of("Circuit", CIRCUITS, circuit_named, CIRCUITS[0])
    tests = [t for t in job.counted if t.circuit == name]
    known = said.volume_m3 or (tests[-1].inputs.conditions.volume_m3 if tests else None)
    if known is None and (shop is None or shop.volume_m3(name) is None):
        known = asked('Volume with hoses, such as "250 cm3" (Enter: not known)', parse_volume, 0.0) or None
    address = port or (shop.port if shop else None) or _asked_port()
    profile = gauge or (shop.gauge if shop else None) or "auto"
    conditions = replace(said, circuit=name, volume_m3=known)
    return _Bench(folder, job.reference, conditions, settings, address, profile)


def _asked_port() -> str:
    from leakdown.errors import GaugeError
    from leakdown.live.capture.port import ports

    try:
        present = [port.device for port in ports()]
    except GaugeError:
        present = []
    if not present:
        return asked("Port of the gauge (none found; a device or URL)", str)
    return one_of("Port of the gauge", present, str, present[0])


def _led(bench: _Bench) -> None:
    """Every step that is not done, in order; then where the job stands."""
    from leakdown.jobs.led_test import next_step, plan_of
    from leakdown.jobs.store import folder_of, load

    shop, looked = bench.settings.shop, set[str]()
    rig = shop.rig if shop and shop.rig else ""
    unit = (shop.unit if shop else None) or (bench.unit.name if bench.unit else bench.conditions.show_unit)
    while True:
        job = load(folder_of(bench.folder, bench.reference))
        plan = plan_of(job, bench.conditions.circuit or "crankcase", unit, rig)
        plan = tuple(replace(step, done="looked at") if step.id in looked else step for step in plan)
        step = next_step(plan)
        if step is None:
            break
        _say_step(step, plan.index(step) + 1, len(plan))
        if step.does == "record":
            _recorded(bench, step)
        else:
            _looked(bench, step)
            looked.add(step.id)
    _finish(bench)


def _say_step(step: LedStep, number: int, count: int) -> None:
    style = style_for(sys.stderr)
    say("")
    for line in _wrapped(f"Step {number} of {count}. {step.title}.", ""):
        say(style(line, "strong"))
    for text in (f"Why: {step.why}", *step.mind):
        for line in _wrapped(text, "  "):
            say(line)


def _wrapped(text: str, indent: str) -> list[str]:
    from leakdown.words.wrap import wrapped

    return wrapped(text, width(), indent, "  ")


def _looked(bench: _Bench, step: LedStep) -> None:
    """A step that the mechanic answers. What the rig said is kept, for the place."""
    from leakdown.jobs.adding import add_note, note_of
    from leakdown.jobs.led_test import RIG_TIGHT
    from leakdown.jobs.store import writing

    while not (fine := yes_or_no(step.ask, True)) and step.id == "seal":
        say("  Take your time; q leaves, and the test can be taken up again.")
    if step.id != "rig":
        return
    ids = (RIG_TIGHT,)
    note = note_of("Rig alone: " + ("stands." if fine else "does not stand."), seen=ids if fine else (),
                   not_seen=() if fine else ids)  # fmt: skip
    with writing(bench.folder, bench.reference) as at:
        add_note(at, note)
    if not fine and not yes_or_no("A leaking rig spoils every test after it. Go on all the same?", False):
        raise LeftOff


def _recorded(bench: _Bench, step: LedStep) -> None:
    """One direction, logged and kept in the job; again where nothing could be read from it."""
    from leakdown.errors import LeakdownError

    if not yes_or_no("Start?", True):
        raise LeftOff
    path = bench.folder / stamped(f"{bench.reference}-{step.id}", datetime.now())
    try:
        recorded = _log(bench, step, path)
        _keep(bench, step, path, recorded)
    except LeakdownError as error:
        say(f"{error}\n  What was read is in {path}." if path.exists() else str(error))
        if not yes_or_no("Once more?", True):
            raise LeftOff from error


def _log(bench: _Bench, step: LedStep, path: Path) -> Recorded:
    """The recording, on the screen of `leakdown log`. The readings' own sign says the direction."""
    from leakdown.cli.live_screen import record
    from leakdown.live.bench.running import LiveTest
    from leakdown.live.capture.logger import LogPlan
    from leakdown.live.profiles.files import profile_named
    from leakdown.sheets.native_write import condition_pairs

    started = datetime.now().astimezone().isoformat(timespec="seconds")
    conditions = replace(bench.conditions, gauge=bench.gauge, started=started)
    profile, shop = profile_named(bench.gauge), bench.settings.shop
    plan = LogPlan(bench.port, path, profile, profile.conversion(bench.unit, None, conditions.barometer_pa),
                   tuple(condition_pairs(conditions)))  # fmt: skip
    settings = replace(bench.settings, job_limit=step.limit or None)
    test = LiveTest(replace(conditions, direction=step.direction), settings, until_zero=True,
                    show_unit=shop.unit if shop else None)  # fmt: skip
    return record(plan, test, prompt=True, quiet=False)


def _keep(bench: _Bench, step: LedStep, path: Path, recorded: Recorded) -> None:
    """Into the job, judged as `analyse` judges it; the working copy goes once the job has its own."""
    from leakdown.jobs.adding import add_test, stage_named
    from leakdown.jobs.record import TestInputs
    from leakdown.jobs.store import received_bytes, writing
    from leakdown.sheets.file import read_bytes
    from leakdown.sheets.options import ReadingOptions
    from leakdown.words.signs import own_texts
    from leakdown.words.terminal import summary

    data = received_bytes(path)
    recording = read_bytes(data, str(path), ReadingOptions())
    turned = None if recording.direction == step.direction else _turned(step)
    if turned is not None:
        recording = read_bytes(data, str(path), ReadingOptions(direction=turned))
    proven = recorded.proven or yes_or_no("Did the reading fall when a blank was cracked open?", False)
    limit = str(bench.settings.limit or "")
    whose = "given" if limit else ""
    inputs = TestInputs(recording.conditions, direction=turned, limit=limit, limit_from=whose, connection_proven=proven)
    recording = replace(recording, source=path.name)
    with writing(bench.folder, bench.reference) as at:
        done = add_test(at, data, recording, inputs, stage_named(None, at.job), None, bench.settings.shop)
    out(summary(done.analysis, width(), style_for(sys.stdout)), own_texts(recording))
    for text in (*recording.remarks, *done.remarks):
        say(f"  {text}")
    path.unlink(missing_ok=True)


def _turned(step: LedStep) -> Direction | None:
    """The direction of a gauge that shows no sign, as told. Raises UsageError where it was the other one after all."""
    from leakdown.errors import UsageError

    other = "below" if step.direction == "pressure" else "above"
    if not yes_or_no(f"The readings went {other} zero. Does this gauge show {step.direction} so?", False):
        raise UsageError(f"this was no {step.direction} test", remedy="Turn the pump round and record it again.")
    return step.direction


def _finish(bench: _Bench) -> None:
    """Verdicts, place, next step and page."""
    from leakdown.jobs.customer_paragraph import headline, texts_of_people, word
    from leakdown.jobs.job_verdict import last_finding
    from leakdown.jobs.store import folder_of, load
    from leakdown.words.wrap import capital

    folder = folder_of(bench.folder, bench.reference)
    job = load(folder)
    place = last_finding(job)
    lines = [f"Job {job.reference}: {word(job)}. {headline(job)}"]
    if place is not None:
        lines.append(f"Place: {place.headline}")
        lines += [f"Next: {place.next_do} {capital(place.next_why)}"] if place.next_do else []
    out("\n" + "\n".join(part for line in lines for part in _wrapped(line, "")), texts_of_people(job))
    attached(folder, job, quiet=False)
