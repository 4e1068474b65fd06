"""A virtual gauge: a simulated test on a wire, faults and wordings included."""

from __future__ import annotations

import contextlib
import random
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count, cycle

from leakdown.errors import UsageError
from leakdown.live.virtual.faults import Fault, sent_s
from leakdown.live.virtual.styles import HEADINGS, STYLES, Measured
from leakdown.live.virtual.vessel import Scenario, Vessel
from leakdown.live.virtual.wires import Wire


@dataclass(frozen=True)
class Faults:
    """What goes wrong, in seconds of the test (None: it does not). `torn`, `no_reading`: shares of lines.

    away_s: unplugged from and until."""

    unplug_s: float | None = None
    freeze_s: float | None = None
    reboot_s: float | None = None
    torn: float = 0.0
    no_reading: float = 0.0
    away_s: tuple[float, float] | None = None


@dataclass(frozen=True)
class GaugeKind:
    """How the gauge measures and talks."""

    style: str = "own"
    rate_hz: float = 10.0
    noise_pa: float = 20.0
    resolution_pa: float = 10.0
    zero_offset_pa: float = 0.0
    range_pa: float = 100_000.0
    seed: int | None = None
    faults: Faults = Faults()
    played: tuple[Fault, ...] = ()

    def __post_init__(self) -> None:
        if self.style not in STYLES:
            raise UsageError(f"unknown line style {self.style!r}", remedy=f"Known: {', '.join(STYLES)}.")
        if not 0 < self.rate_hz <= 5000:
            raise UsageError(f"{self.rate_hz:g} readings a second is outside 0..5000")


def with_faults(scenario: Scenario, kind: GaugeKind) -> tuple[Scenario, GaugeKind]:
    """What is played once the faults of `kind.played` have had their say, in their order."""
    faults, style = kind.faults, kind.style
    for fault in kind.played:
        scenario, style = fault.scenario(scenario), fault.style or style
        begin_s = scenario.zero_s + scenario.fill_s
        if fault.freezes is not None:
            faults = replace(faults, freeze_s=begin_s + fault.freezes * scenario.hold_s)
        if fault.away is not None:
            away = tuple(begin_s + share * scenario.hold_s for share in fault.away)
            faults = replace(faults, away_s=(away[0], away[1]))
    return scenario, replace(kind, faults=faults, style=style)


def messages(scenario: Scenario, kind: GaugeKind, endless: bool = False) -> Iterator[tuple[float, bytes]]:
    """(second of the test, bytes) of every line until the test is over, or (`endless`) on and on, vented.

    Pure but for its random numbers.
    """
    scenario, kind = with_faults(scenario, kind)
    heading = HEADINGS.get(kind.style)
    if heading:
        yield 0.0, heading.encode() + b"\r\n"
    dice = random.Random(kind.seed)
    for now_s, m, torn in _measured(scenario, kind, endless):
        at_s = sent_s(kind.played, now_s)
        if m.number == 0 and now_s > 0.0:
            yield at_s, (heading or "reset").encode() + b"\r\n"
        for text in (line for fault in kind.played for line in fault.beside(m.number)):
            yield at_s, text.encode() + b"\r\n"
        line = STYLES[kind.style](m).encode() + b"\r\n"
        yield at_s, line[: dice.randrange(1, len(line) - 2)] if torn else line


def _measured(scenario: Scenario, kind: GaugeKind, endless: bool) -> Iterator[tuple[float, Measured, bool]]:
    """(second of the test, what the gauge then thinks it knows, whether its line is torn)."""
    vessel, dice = Vessel(scenario), random.Random(kind.seed)
    started_s, number, frozen, faults = 0.0, 0, None, kind.faults
    for step in count() if endless else range(int(scenario.length_s * kind.rate_hz) + 1):
        now_s = step / kind.rate_hz
        if faults.reboot_s is not None and started_s < faults.reboot_s <= now_s:
            started_s, number = now_s, 0
        shown = _shown(vessel.gauge_pa(now_s), kind, dice)
        if faults.freeze_s is not None and now_s >= faults.freeze_s:
            frozen = shown if frozen is None else frozen
            shown = frozen
        lost = dice.random() < faults.no_reading or abs(shown) > kind.range_pa
        m = Measured(number, round((now_s - started_s) * 1e3), None if lost else shown, scenario.room_k - 273.15)
        for fault in kind.played:
            m = fault.measured(m, now_s, scenario)
        number += 1
        yield now_s, m, dice.random() < faults.torn


def _shown(true_pa: float, kind: GaugeKind, dice: random.Random) -> float:
    noisy = true_pa + kind.zero_offset_pa + dice.gauss(0.0, kind.noise_pa)
    return round(noisy / kind.resolution_pa) * kind.resolution_pa if kind.resolution_pa > 0 else noisy


class VirtualGauge:
    """Plays a scenario on a wire in its own thread, in real time (`speed` times as fast in tests)."""

    def __init__(
        self,
        scenario: Scenario | Sequence[Scenario], kind: GaugeKind, wire: Wire, speed: float = 1.0,
        endless: bool = False,
    ) -> None:  # fmt: skip
        """`endless`: after the test, go on vented for as long as somebody listens, as a real gauge would.

        Several scenarios: the next one, round and round, each time somebody opens the port.
        """
        self.address = wire.address
        self.sent = 0
        self._scenarios = (scenario,) if isinstance(scenario, Scenario) else tuple(scenario)
        self._kind, self._wire, self._speed = kind, wire, speed
        self._endless = endless
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="virtual gauge", daemon=True)

    def start(self) -> None:
        """Wait for a listener, then play."""
        self._thread.start()

    def join(self, timeout_s: float | None = None) -> bool:
        """Wait for the end of the test; True when it is over."""
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def stop(self) -> None:
        """Unplug now."""
        self._stop.set()
        self.join(5.0)

    def _run(self) -> None:
        try:
            for scenario in cycle(self._scenarios) if len(self._scenarios) > 1 else self._scenarios:
                if self._stop.is_set() or not self._wire.wait(self._stop):
                    return
                self._play(scenario, time.monotonic())
        finally:
            with contextlib.suppress(OSError):  # it may be unplugged just now
                self._wire.close()
            self._wire.clean()

    def _play(self, planned: Scenario, begin_s: float) -> None:
        scenario, kind = with_faults(planned, self._kind)
        faults, plugged = kind.faults, True
        for at_s, data in messages(planned, self._kind, self._endless):
            rest_s = begin_s + at_s / self._speed - time.monotonic()
            stopped = self._stop.wait(rest_s) if rest_s > 0 else self._stop.is_set()
            away = faults.away_s is not None and faults.away_s[0] <= at_s < faults.away_s[1]
            if away == plugged:
                plugged = not away
                self._wire.close() if away else self._wire.plug_in()
            over = at_s > scenario.length_s or len(self._scenarios) > 1
            left_alone = plugged and over and not self._wire.listening()
            if stopped or left_alone or faults.unplug_s is not None and at_s >= faults.unplug_s:
                return
            if plugged:
                self._wire.send(data)
            self.sent += 1
