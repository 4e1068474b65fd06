"""A virtual gauge: a simulated test on a pseudo-terminal or a TCP port, faults and wordings included."""

from __future__ import annotations

import contextlib
import json
import os
import random
import select
import socket
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count, cycle

from leakdown.errors import UsageError
from leakdown.live.lines.line import checksum
from leakdown.live.texts import told
from leakdown.live.virtual.vessel import Scenario, Vessel


@dataclass(frozen=True)
class Measured:
    """What a gauge knows when it writes a line; `pressure_pa` is None where it has no reading."""

    number: int
    time_ms: int
    pressure_pa: float | None
    temperature_degc: float


def own(m: Measured) -> str:
    """The project's own line format (firmware_notes/README.md)."""
    body = f"p_pa={_shown_as(m, '{:.1f}')} t_ms={m.time_ms} temp_c={m.temperature_degc:.1f} n={m.number}"
    return f"{body}*{checksum(body):02X}"


def as_json(m: Measured) -> str:
    """One JSON object a line."""
    pressure = None if m.pressure_pa is None else round(m.pressure_pa / 1e3, 3)
    return json.dumps({"t_ms": m.time_ms, "pressure_kpa": pressure, "temp_c": round(m.temperature_degc, 1)})


def inches(m: Measured) -> str:
    """Vacuum in inches of mercury, shown without a sign below ambient."""
    if m.pressure_pa is None:
        return "over range"
    inhg = m.pressure_pa / 3386.389
    return f"VAC {-inhg:.2f} inHg" if inhg < 0 else f"PRESS {inhg:.2f} inHg"


def _shown_as(m: Measured, form: str, unit_pa: float = 1.0, none: str = "OL") -> str:
    return none if m.pressure_pa is None else form.format(m.pressure_pa / unit_pa)


STYLES: dict[str, Callable[[Measured], str]] = {
    "own": own,
    "labelled": lambda m: f"Pressure: {_shown_as(m, '{:.3f} kPa', 1e3)} | Temp: {m.temperature_degc:.1f} C",
    "json": as_json,
    "table": lambda m: f"{m.time_ms},{_shown_as(m, '{:.3f}', 1e3, '----')}",
    "bare": lambda m: _shown_as(m, "{:.3f}", 1e3),
    "comma": lambda m: _shown_as(m, "{:.5f} bar", 1e5, "----").replace(".", ","),
    "inches": inches,
}
"""A line in each wording: the project's own, a sentence, an object, a row, a number in kPa, -0,40123 bar, a dial's."""
HEADINGS = {"table": "time_ms,pressure_kpa", "own": "# leakdown virtual gauge", "labelled": "virtual gauge ready"}


NAP_S = 0.02


@dataclass(frozen=True)
class Faults:
    """What goes wrong, in seconds of the test (None: it does not). `torn`, `no_reading`: shares of lines."""

    unplug_s: float | None = None
    freeze_s: float | None = None
    reboot_s: float | None = None
    torn: float = 0.0
    no_reading: float = 0.0


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

    def __post_init__(self) -> None:
        if self.style not in STYLES:
            raise UsageError(f"unknown line style {self.style!r}", remedy=f"Known: {', '.join(STYLES)}.")
        if not 0 < self.rate_hz <= 5000:
            raise UsageError(f"{self.rate_hz:g} readings a second is outside 0..5000")


def messages(scenario: Scenario, kind: GaugeKind, endless: bool = False) -> Iterator[tuple[float, bytes]]:
    """(second of the test, bytes) of every line until the test is over, or (`endless`) on and on, vented.

    Pure but for its random numbers.
    """
    vessel, dice = Vessel(scenario), random.Random(kind.seed)
    started_s, number, frozen = 0.0, 0, None
    heading = HEADINGS.get(kind.style)
    if heading:
        yield 0.0, heading.encode() + b"\r\n"
    for step in count() if endless else range(int(scenario.length_s * kind.rate_hz) + 1):
        now_s = step / kind.rate_hz
        if kind.faults.reboot_s is not None and started_s < kind.faults.reboot_s <= now_s:
            started_s, number = now_s, 0
            yield now_s, (heading or "reset").encode() + b"\r\n"
        shown = _shown(vessel.gauge_pa(now_s), kind, dice)
        if kind.faults.freeze_s is not None and now_s >= kind.faults.freeze_s:
            frozen = shown if frozen is None else frozen
            shown = frozen
        lost = dice.random() < kind.faults.no_reading or abs(shown) > kind.range_pa
        moment = Measured(number, round((now_s - started_s) * 1e3), None if lost else shown, scenario.room_k - 273.15)
        number += 1
        line = STYLES[kind.style](moment).encode() + b"\r\n"
        if dice.random() < kind.faults.torn:
            line = line[: dice.randrange(1, len(line) - 2)]
        yield now_s, line


def _shown(true_pa: float, kind: GaugeKind, dice: random.Random) -> float:
    noisy = true_pa + kind.zero_offset_pa + dice.gauss(0.0, kind.noise_pa)
    return round(noisy / kind.resolution_pa) * kind.resolution_pa if kind.resolution_pa > 0 else noisy


class Wire(ABC):
    """One end of a connection, the gauge's."""

    address: str

    def wait(self, stop: threading.Event) -> bool:
        """True once somebody listens."""
        while not stop.is_set():
            if self.listening():
                time.sleep(0.1)  # the opener still empties its buffer
                return True
            stop.wait(NAP_S)
        return False

    @abstractmethod
    def listening(self) -> bool:
        """True while somebody has the other end open."""

    @abstractmethod
    def send(self, data: bytes) -> None:
        """Bytes that nobody takes are lost, as on a real line."""

    @abstractmethod
    def close(self) -> None:
        """Unplug."""


class PtyWire(Wire):
    """A pseudo-terminal; not on Windows."""

    def __init__(self) -> None:
        try:
            import pty
            import tty
        except ImportError as error:
            raise UsageError("this system has no pseudo-terminals", remedy="Use --tcp.") from error
        self._master, slave = pty.openpty()
        tty.setraw(slave)
        self.address = os.ttyname(slave)
        os.close(slave)
        os.set_blocking(self._master, False)
        self._poll = select.poll()
        self._poll.register(self._master, select.POLLIN)

    def listening(self) -> bool:
        """True while somebody has the port open."""
        return not any(event & select.POLLHUP for _, event in self._poll.poll(0))

    def send(self, data: bytes) -> None:
        """Bytes that nobody takes are lost, as on a real line."""
        with contextlib.suppress(BlockingIOError):
            if self.listening():
                os.write(self._master, data)

    def close(self) -> None:
        """Unplug."""
        os.close(self._master)


class TcpWire(Wire):
    """A TCP port on this computer; one listener at a time."""

    def __init__(self, port: int = 0) -> None:
        try:
            self._server = socket.create_server(("127.0.0.1", port))
        except OSError as error:
            raise UsageError(**told("cannot listen", port=port, error=error.strerror)) from error
        self._server.settimeout(NAP_S)
        self.address = f"socket://127.0.0.1:{self._server.getsockname()[1]}"
        self._client: socket.socket | None = None

    def listening(self) -> bool:
        """True while somebody is connected; a new listener is let in."""
        if self._client is None:
            with contextlib.suppress(TimeoutError):
                self._client = self._server.accept()[0]
                self._client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # each line at once
        return self._client is not None

    def send(self, data: bytes) -> None:
        """Bytes with no listener are lost."""
        if not self.listening():
            return
        assert self._client is not None
        try:
            self._client.sendall(data)
        except OSError:
            self._client.close()
            self._client = None

    def close(self) -> None:
        """Unplug."""
        if self._client is not None:
            self._client.close()
        self._server.close()


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
            self._wire.close()

    def _play(self, scenario: Scenario, begin_s: float) -> None:
        unplug_s = self._kind.faults.unplug_s
        for at_s, data in messages(scenario, self._kind, self._endless):
            rest_s = begin_s + at_s / self._speed - time.monotonic()
            stopped = self._stop.wait(rest_s) if rest_s > 0 else self._stop.is_set()
            over = at_s > scenario.length_s or len(self._scenarios) > 1
            left_alone = over and not self._wire.listening()
            if stopped or left_alone or unplug_s is not None and at_s >= unplug_s:
                return
            self._wire.send(data)
            self.sent += 1
