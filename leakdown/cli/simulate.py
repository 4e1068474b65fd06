"""`leakdown simulate`: a virtual gauge on a port, for trying things out and for tests."""

from __future__ import annotations

import signal
import threading
from dataclasses import replace
from typing import Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.live.virtual.faults import faults_named, listed
from leakdown.live.virtual.gauge import Faults, GaugeKind, VirtualGauge
from leakdown.live.virtual.styles import STYLES
from leakdown.live.virtual.vessel import Scenario
from leakdown.live.virtual.wires import PtyWire, TcpWire
from leakdown.quantities import ATMOSPHERE_PA, parse_length, parse_pressure, parse_time, parse_volume
from leakdown.said import ambient_pa

_TEST, _GAUGE, _FAULTS = "The test", "The gauge", "What goes wrong"


def _share(name: str, does: str, panel: str) -> Any:
    return o.option(name, does, panel, min=0, max=1)


_TARGET = 'Gauge pressure to fill to; negative for vacuum; several, "-50 kPa, 45 kPa": one at each opening of the port.'
_WEEP = "Part of the leak that is weep-like (0 hole-like, 1 weep-like)."


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("simulate", epilog='Example: leakdown simulate --target "-40 kPa" --hole "0.3 mm"')(simulate)


def simulate(
    volume: Annotated[str, o.option("--volume", "Volume under test.", _TEST)] = "250 cm3",
    hole: Annotated[
        str, o.option("--hole", "Diameter of the leak's equivalent hole; 0 mm is tight.", _TEST)
    ] = "0.1 mm",
    viscous_share: Annotated[float, _share("--viscous-share", _WEEP, _TEST)] = 0.5,
    target: Annotated[str, o.option("--target", _TARGET, _TEST)] = "40 kPa",
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    zero: Annotated[str, o.option("--zero", "Time open to air first.", _TEST)] = "3 s",
    fill: Annotated[str, o.option("--fill", "Time to fill.", _TEST)] = "5 s",
    top_up: Annotated[str, o.option("--top-up", "So long after the fill it is topped up; 0 s: not.", _TEST)] = "15 s",
    hold: Annotated[str, o.option("--hold", "Time to hold, topping up in it.", _TEST)] = "102 s",
    vent: Annotated[str, o.option("--vent", "Time after venting.", _TEST)] = "5 s",
    relaxation: Annotated[str, o.option("--relaxation", "Thermal time constant of the gas.", _TEST)] = "1 s",
    style: Annotated[str, o.option("--style", f"{', '.join(STYLES)}.", _GAUGE)] = "own",
    rate: Annotated[float, o.option("--rate", "Readings a second.", _GAUGE, metavar="NUMBER")] = 10.0,
    noise: Annotated[str, o.option("--noise", "Standard deviation of a reading.", _GAUGE)] = "20 Pa",
    resolution: Annotated[str, o.option("--resolution", "Smallest step.", _GAUGE)] = "10 Pa",
    seed: Annotated[
        int | None, o.option("--seed", "The same number gives the same noise.", _GAUGE, metavar="N")
    ] = None,
    tcp: Annotated[
        int | None, o.option("--tcp", "Serve on this TCP port (0: any free one).", _GAUGE, min=0, metavar="N")
    ] = None,
    fault: Annotated[list[str] | None, o.option("--fault", f"Repeatable. {listed()}.", _FAULTS)] = None,
    unplug_at: Annotated[
        str | None, o.option("--unplug-at", "Pull the plug at this time of the test.", _FAULTS)
    ] = None,
    freeze_at: Annotated[str | None, o.option("--freeze-at", "The reading freezes.", _FAULTS)] = None,
    reboot_at: Annotated[str | None, o.option("--reboot-at", "The gauge restarts.", _FAULTS)] = None,
    torn: Annotated[float, _share("--torn", "Share of torn lines.", _FAULTS)] = 0.0,
    no_reading: Annotated[float, _share("--no-reading", "Share of OL lines.", _FAULTS)] = 0.0,
) -> None:
    """Play a test as a virtual gauge; the first line is the port to give to `leakdown log`."""
    lengths = {"relaxation": relaxation, "zero": zero, "top_up": top_up, "fill": fill, "hold": hold, "vent": vent}
    scenario = Scenario(
        volume_m3=parse_volume(volume),
        hole_m=parse_length(hole, "--hole"),
        viscous_share=viscous_share,
        ambient_pa=ambient_pa(barometer, altitude) or ATMOSPHERE_PA,
        **{f"{name}_s": parse_time(text, f"--{name}") for name, text in lengths.items()},
    )
    targets = [parse_pressure(text.strip(), "--target").value_pa for text in target.split(",")]
    scenarios = [replace(scenario, target_pa=target_pa) for target_pa in targets]
    moments = {"--unplug-at": unplug_at, "--freeze-at": freeze_at, "--reboot-at": reboot_at}
    unplug_s, freeze_s, reboot_s = (parse_time(text, name) if text else None for name, text in moments.items())
    faults = Faults(unplug_s, freeze_s, reboot_s, torn, no_reading)
    sizes = {"--noise": noise, "--resolution": resolution}
    noise_pa, step_pa = (abs(parse_pressure(text, name).value_pa) for name, text in sizes.items())
    played = faults_named(fault or [])
    kind = GaugeKind(style, rate, noise_pa, step_pa, seed=seed, faults=faults, played=played)
    wire = PtyWire(any(one.away for one in played)) if tcp is None else TcpWire(tcp)
    _serve(VirtualGauge(scenarios, kind, wire, endless=True))


def _serve(gauge: VirtualGauge) -> None:
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
