"""`leakdown simulate`: a virtual gauge on a port, for trying things out and for tests."""

from __future__ import annotations

import signal
import threading
from dataclasses import dataclass
from typing import Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.errors import UsageError

_TEST, _GAUGE, _FAULTS = "The test", "The gauge", "What goes wrong"


def _text(name: str, text: str, panel: str) -> Any:
    return typer.Option(name, help=text, rich_help_panel=panel)


Volume = Annotated[str, _text("--volume", "Volume under test.", _TEST)]
Hole = Annotated[str, _text("--hole", "Diameter of the leak's equivalent hole; 0 mm is tight.", _TEST)]
Viscous = Annotated[
    float,
    typer.Option(
        "--viscous-share",
        min=0,
        max=1,
        rich_help_panel=_TEST,
        help="Part of the leak that is weep-like (0 hole-like, 1 weep-like).",
    ),
]
Target = Annotated[str, _text("--target", "Gauge pressure to fill to; negative for vacuum.", _TEST)]
Zero = Annotated[str, _text("--zero", "Time open to air first.", _TEST)]
Fill = Annotated[str, _text("--fill", "Time to fill.", _TEST)]
Hold = Annotated[str, _text("--hold", "Time to hold.", _TEST)]
Vent = Annotated[str, _text("--vent", "Time after venting.", _TEST)]
Relaxation = Annotated[str, _text("--relaxation", "Thermal time constant of the gas.", _TEST)]
Style = Annotated[str, _text("--style", "own, labelled, json, table, bare, comma or inches.", _GAUGE)]
Rate = Annotated[float, _text("--rate", "Readings a second.", _GAUGE)]
Noise = Annotated[str, _text("--noise", "Standard deviation of a reading.", _GAUGE)]
Resolution = Annotated[str, _text("--resolution", "Smallest step.", _GAUGE)]
Seed = Annotated[int | None, _text("--seed", "The same number gives the same noise.", _GAUGE)]
Tcp = Annotated[
    int | None,
    typer.Option("--tcp", help="Serve on this TCP port (0: any free one).", rich_help_panel=_GAUGE, min=0),
]
Unplug = Annotated[str | None, _text("--unplug-at", "Pull the plug at this time of the test.", _FAULTS)]
Freeze = Annotated[str | None, _text("--freeze-at", "The reading freezes.", _FAULTS)]
Reboot = Annotated[str | None, _text("--reboot-at", "The gauge restarts.", _FAULTS)]
Torn = Annotated[
    float, typer.Option("--torn", help="Share of torn lines.", min=0, max=1, rich_help_panel=_FAULTS)
]
NoReading = Annotated[
    float, typer.Option("--no-reading", help="Share of OL lines.", min=0, max=1, rich_help_panel=_FAULTS)
]


@dataclass(frozen=True)
class _TestTimes:
    zero: str
    fill: str
    hold: str
    vent: str
    relaxation: str


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("simulate", epilog='Example: leakdown simulate --target "-40 kPa" --hole "0.3 mm"')(simulate)


def simulate(
    volume: Volume = "250 cm3",
    hole: Hole = "0.1 mm",
    viscous_share: Viscous = 0.5,
    target: Target = "40 kPa",
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    zero: Zero = "3 s",
    fill: Fill = "5 s",
    hold: Hold = "60 s",
    vent: Vent = "5 s",
    relaxation: Relaxation = "1 s",
    style: Style = "own",
    rate: Rate = 10.0,
    noise: Noise = "20 Pa",
    resolution: Resolution = "10 Pa",
    seed: Seed = None,
    tcp: Tcp = None,
    unplug_at: Unplug = None,
    freeze_at: Freeze = None,
    reboot_at: Reboot = None,
    torn: Torn = 0.0,
    no_reading: NoReading = 0.0,
) -> None:
    """Play a test as a virtual gauge; the first line is the port to give to `leakdown log`."""
    from leakdown.live.virtual.gauge import Faults, GaugeKind, PtyWire, TcpWire, VirtualGauge
    from leakdown.reading import ambient_pa

    times = _TestTimes(zero, fill, hold, vent, relaxation)
    scenario = _scenario(volume, hole, viscous_share, target, ambient_pa(barometer, altitude), times)
    unplug_s, freeze_s = _time(unplug_at, "--unplug-at"), _time(freeze_at, "--freeze-at")
    faults = Faults(unplug_s, freeze_s, _time(reboot_at, "--reboot-at"), torn, no_reading)
    noise_pa, step_pa = _size_pa(noise, "--noise"), _size_pa(resolution, "--resolution")
    kind = GaugeKind(style, rate, noise_pa, step_pa, seed=seed, faults=faults)
    wire = PtyWire() if tcp is None else TcpWire(tcp)
    _serve(VirtualGauge(scenario, kind, wire, endless=True))


def _serve(gauge: Any) -> None:
    """Name the port, play, end at Ctrl-C, a polite kill or the end of the test with nobody listening."""
    print(gauge.address, flush=True)
    say("The test starts when the port is opened; Ctrl-C ends it.")
    stop = threading.Event()
    for name in (signal.SIGINT, signal.SIGTERM):
        signal.signal(name, lambda *_: stop.set())
    gauge.start()
    while not stop.wait(0.1) and not gauge.join(0):
        pass
    gauge.stop()
    say(f"{gauge.sent} lines sent")


def _time(text: str | None, what: str) -> float | None:
    from leakdown.quantities import parse_time

    return parse_time(text, what) if text else None


def _size_pa(text: str, what: str) -> float:
    from leakdown.quantities import parse_pressure

    return abs(parse_pressure(text, what).value_pa)


def _scenario(
    volume: str, hole: str, viscous_share: float, target: str, ambient_pa: float | None, times: _TestTimes
) -> Any:
    from leakdown.live.virtual.vessel import Scenario
    from leakdown.quantities import ATMOSPHERE_PA, parse_length, parse_pressure, parse_time, parse_volume

    ambient_pa = ambient_pa or ATMOSPHERE_PA
    target_pa = parse_pressure(target, "--target").value_pa
    if target_pa <= -0.95 * ambient_pa or target_pa == 0:
        raise UsageError(
            f"--target {target!r} cannot be reached", remedy='Give a gauge pressure, such as "-40 kPa".'
        )
    hole_m = parse_length(hole, "--hole")
    if hole_m < 0:
        raise UsageError(f"--hole: {hole!r} is negative", remedy='Give a diameter such as "0.2 mm".')
    return Scenario(
        parse_volume(volume),
        hole_m,
        viscous_share,
        target_pa,
        ambient_pa,
        relaxation_s=max(parse_time(times.relaxation, "--relaxation"), 0.02),
        zero_s=parse_time(times.zero, "--zero"),
        fill_s=parse_time(times.fill, "--fill"),
        hold_s=parse_time(times.hold, "--hold"),
        vent_s=parse_time(times.vent, "--vent"),
    )
