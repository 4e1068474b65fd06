"""The port of a gauge: open, read what is there, write, close, come back. The only importer of pyserial.

Knows bytes and nothing of formats. Every failure is a GaugeError with its own message: missing port, no
permission, another program on it, not a serial device, lost.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import select
import threading
from dataclasses import dataclass
from typing import Any

import serial
from serial.tools import list_ports

from leakdown.errors import GaugeError, UsageError
from leakdown.live.profiles.profile import Framing
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

LIST_TIMEOUT_S = tuned("live.capture").list_timeout_s
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
        raise UsageError(
            f"cannot open {address!r}", remedy="Write host and port: socket://192.168.1.20:5000."
        )
    try:
        return serial.serial_for_url(address, **settings)
    except ValueError as error:
        raise UsageError(
            f"cannot open {address!r}: {error}",
            remedy="Give a device (/dev/ttyUSB0, COM3) or a URL such as socket://host:port.",
        ) from error
    except _FAILURES as error:
        raise explain(error, address) from error


_NO_PERMISSION = "no permission to use this port"
# A pattern for the number and words of an error on opening, what went wrong, and what to do.
_CAUSES = (
    (
        "ENOENT|FileNotFoundError",
        "no such port",
        "Is the gauge plugged in? `leakdown gauges` lists the ports. If it vanished right after plugging "
        "in, the brltty service may have taken it: remove that package.",
    ),
    (
        "EACCES|EPERM|PermissionError",
        _NO_PERMISSION,
        "Add yourself to the dialout group (sudo usermod -a -G dialout $USER), log out and in again.",
    ),
    (
        "EBUSY|EAGAIN|EWOULDBLOCK|exclusively lock",
        "another program is using this port",
        "Close the other logger, serial monitor or slicer and try again.",
    ),
    (
        "ENOTTY|EISDIR|ENXIO|Inappropriate ioctl",
        "this is not a serial device",
        "To analyse a file of readings use `leakdown analyse FILE`.",
    ),
    ("ECONNREFUSED|refused", "nothing answers at this address", "Start the gauge's server first."),
    (r"\[Errno -|getaddrinfo", "no such host", "Check the name, or give its IP address."),
    ("EHOSTUNREACH|ENETUNREACH|timed out", "no answer from this address", "Is it on, on this network?"),
)


def explain(error: BaseException, address: str) -> GaugeError:
    """What went wrong on opening, and what to do."""
    number = getattr(error, "errno", None) or (error.args[0] if error.args else None)
    name = errno.errorcode.get(number, "") if isinstance(number, int) else ""
    text = str(error)
    for pattern, what, remedy in _CAUSES:
        if re.search(pattern, f"{name} {text}"):
            if what == _NO_PERMISSION and (os.name == "nt" or "ClearCommError" in text):
                remedy = "Another program may hold it: close it, or unplug the gauge and plug it in again."
            return GaugeError(what, where=address, remedy=remedy)
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
        raise GaugeError(
            "the system does not list its serial ports", remedy="Name the port yourself: leakdown log PORT."
        )
    return sorted(found, key=lambda p: p.device)
