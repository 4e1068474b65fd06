"""The port of a gauge, and the thread that takes bytes off it as they come. The only importer of pyserial.

Knows bytes and nothing of formats. Every failure is a GaugeError with its own message: missing port, no
permission, another program on it, not a serial device, lost. The thread stamps, polls, and waits for a lost
gauge; it does nothing else, so nothing downstream (parsing, disk, screen) can make it lose a byte.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import select
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from queue import SimpleQueue
from typing import Any, Literal

import serial
from serial.tools import list_ports

from leakdown.errors import GaugeError, UsageError
from leakdown.live.profiles.modbus_frames import request
from leakdown.live.profiles.profile import Framing, Profile
from leakdown.live.texts import PORT_CAUSES, told
from leakdown.tuned import tuned

try:
    from termios import error as _TermiosError
except ImportError:  # no termios on Windows

    class _TermiosError(Exception):  # type: ignore[no-redef]
        """Never raised there."""


POLL_S = 0.05
"""A read gives up after this long, so that the reader can stop, poll or notice silence."""

GATHER_S = 0.02
"""URLs do not say how much is waiting: take what comes within this time."""

_T = tuned("live.capture")
LIST_TIMEOUT_S: float = _T.list_timeout_s
_REST_S, _LONG_REST_S, _LONG_FROM_BYTES = _T.rest_s, _T.long_rest_s, _T.long_rest_from_bytes
_SOCKET = re.compile(r"socket://(?:[^/:@\s]+|\[[0-9A-Fa-f:.]+\]):\d{1,5}(?:[/?].*)?")
_FAILURES = (OSError, _TermiosError)


@dataclass(frozen=True)
class PortInfo:
    """A serial port of this computer."""

    device: str
    about: str
    serial_number: str = ""


class GaugePort:
    """An open port. Not thread-safe: one thread reads, writes and closes."""

    def __init__(self, address: str, framing: Framing) -> None:
        """Opens `address` (device or any URL pyserial knows) and drops what was waiting in its buffer."""
        self.address = address
        self._is_url = "://" in address
        self._is_socket = address.startswith("socket://") and os.name == "posix"
        self._serial = _open(address, framing)
        try:
            self._serial.reset_input_buffer()
        except _FAILURES as error:
            self.close()
            raise explain(error, address) from error

    def read(self) -> bytes:
        """What has arrived, b"" after `POLL_S` of nothing. Raises GaugeError when the port is lost."""
        try:
            if self._is_socket:
                return self._read_socket()
            return bytes(self._serial.read(4096 if self._is_url else max(1, self._serial.in_waiting)))
        except (*_FAILURES, TypeError, ValueError) as error:  # the latter two: closed meanwhile
            raise _lost(self.address, error) from error

    def _read_socket(self) -> bytes:
        """Past pyserial, whose own read drops what came just before the other end closed."""
        number = self._serial.fileno()
        if not select.select([number], [], [], POLL_S)[0]:
            return b""
        data = os.read(number, 65_536)
        if not data:
            raise ConnectionResetError("closed by the other end")
        return data

    def write(self, command: bytes) -> None:
        """Send a request. Raises GaugeError when the port is lost."""
        try:
            self._serial.write(command)
        except _FAILURES as error:
            raise _lost(self.address, error) from error

    def close(self) -> None:
        """Close, whatever state the port is in."""
        with contextlib.suppress(*_FAILURES):
            self._serial.close()


def _open(address: str, framing: Framing) -> Any:
    is_url = "://" in address
    settings: dict[str, Any] = {
        "baudrate": framing.baud,
        "bytesize": framing.bits,
        "parity": framing.parity,
        "stopbits": int(framing.stop) if framing.stop in (1, 2) else framing.stop,
        "timeout": GATHER_S if is_url else POLL_S,
        "write_timeout": 1.0,
    }
    if not is_url:
        settings["exclusive"] = True
    elif address.startswith("socket://") and not _SOCKET.fullmatch(address):
        raise UsageError(**told("no host and port", address=address))
    try:
        return serial.serial_for_url(address, **settings)
    except ValueError as error:
        raise UsageError(**told("no device", address=address, error=error)) from error
    except _FAILURES as error:
        raise explain(error, address) from error


def explain(error: BaseException, address: str) -> GaugeError:
    """What went wrong on opening, and what to do."""
    number = getattr(error, "errno", None) or (error.args[0] if error.args else None)
    name = errno.errorcode.get(number, "") if isinstance(number, int) else ""
    text = str(error)
    for cause in PORT_CAUSES:
        if re.search(cause["pattern"], f"{name} {text}"):
            held = "when_held" in cause and (os.name == "nt" or "ClearCommError" in text)
            return GaugeError(cause["what"], where=address, remedy=cause["when_held" if held else "remedy"])
    first = text.splitlines()[0][:160] if text else "unknown reason"
    return GaugeError(f"cannot open this port: {first}", where=address)


def _lost(address: str, error: BaseException) -> GaugeError:
    text = str(error)
    if "multiple access" in text and os.path.exists(address):
        return GaugeError("the gauge was unplugged, or a second program reads this port", where=address)
    return GaugeError("the gauge was unplugged or its port closed", where=address)


def ports() -> list[PortInfo]:
    """The serial ports present. Raises GaugeError when the system does not answer (some radio links hang)."""
    found: list[PortInfo] = []
    done = threading.Event()

    def look() -> None:
        for port in list_ports.comports():
            about = port.description if port.description not in (None, "n/a") else ""
            found.append(PortInfo(port.device, about, port.serial_number or ""))
        done.set()

    threading.Thread(target=look, daemon=True).start()
    if not done.wait(LIST_TIMEOUT_S):
        raise GaugeError(**told("ports not listed"))
    return sorted(found, key=lambda p: p.device)


@dataclass(frozen=True)
class Message:
    """What came off the port at a moment of the monotonic clock.

    "bytes": `data` arrived. "asked": a request went out. "lost": the gauge went away, for the reason in
    `text`, and is waited for. "back": it came back. "gone": it did not, and this is the last message.
    """

    kind: Literal["bytes", "asked", "lost", "back", "gone"]
    at_s: float
    data: bytes = b""
    text: str = ""


Opener = Callable[[str, Framing], GaugePort]


class Feed:
    """Opens the port at once (errors surface in the caller), then reads in its own thread until `stop`."""

    def __init__(self, address: str, profile: Profile, wait_s: float, opener: Opener = GaugePort) -> None:
        self.messages: SimpleQueue[Message] = SimpleQueue()
        self._address, self._profile, self._wait_s, self._opener = address, profile, wait_s, opener
        self._stop = threading.Event()
        self._request = request(profile.register) if profile.register else profile.command
        self._next_poll_s = 0.0
        self._port = opener(address, profile.framing)
        self._thread = threading.Thread(target=self._run, name="gauge reader", daemon=True)

    def start(self) -> None:
        """Begin reading."""
        self._thread.start()

    def stop(self) -> None:
        """End reading and close the port."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=3.0)
        else:
            self._port.close()

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                try:
                    self._read_once()
                except GaugeError as error:
                    if not self._come_back(error):
                        return
        finally:
            self._port.close()

    def _read_once(self) -> None:
        if self._request and time.monotonic() >= self._next_poll_s:
            self._port.write(self._request)
            now = time.monotonic()
            self._next_poll_s = now + self._profile.interval_s
            self.messages.put(Message("asked", now))
        data = self._port.read()
        if data:
            self.messages.put(Message("bytes", time.monotonic(), data))
            self._stop.wait(_REST_S if len(data) < _LONG_FROM_BYTES else _LONG_REST_S)

    def _come_back(self, error: GaugeError) -> bool:
        """Try to open again, slower and slower, for `wait_s`. False when it is over."""
        self._port.close()
        lost_s = time.monotonic()
        self.messages.put(Message("lost", lost_s, text=error.what))
        pause_s = _T.first_reopen_s
        while not self._stop.is_set():
            rest_s = self._wait_s - (time.monotonic() - lost_s)
            if rest_s <= 0:
                self.messages.put(Message("gone", time.monotonic(), text=error.what))
                return False
            self._stop.wait(min(pause_s, rest_s))
            pause_s = min(2.0 * pause_s, _T.last_reopen_s)
            try:
                self._port = self._opener(self._address, self._profile.framing)
            except GaugeError:
                continue
            self.messages.put(Message("back", time.monotonic()))
            return True
        return False
