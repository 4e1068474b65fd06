"""The reader thread: takes bytes off a port as they come and stamps them; polls, and waits for a lost gauge.

It does nothing else, so nothing downstream (parsing, disk, screen) can make it lose a byte.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from queue import SimpleQueue

from leakdown.errors import GaugeError
from leakdown.live.capture.port import GaugePort
from leakdown.live.profiles.modbus_frames import request
from leakdown.live.profiles.profile import Framing, Profile

REST_S = 0.005
LONG_REST_S = 0.008
LONG_FROM_BYTES = 128
"""Pause after each read: bytes gather, and a fast gauge costs little of a core. Far below what a port's
buffer of 4 kB holds (at 100 kB/s, 8 ms are 0.8 kB)."""

BACK_OFF_S = (0.1, 0.2, 0.4, 0.8, 1.0)


@dataclass(frozen=True)
class Chunk:
    """Bytes and when they arrived (monotonic clock)."""

    data: bytes
    at_s: float


@dataclass(frozen=True)
class Asked:
    """A request was sent."""

    at_s: float


@dataclass(frozen=True)
class Lost:
    """The gauge went away; it is waited for."""

    error: GaugeError
    at_s: float


@dataclass(frozen=True)
class Back:
    """It came back."""

    at_s: float


@dataclass(frozen=True)
class Gone:
    """It did not come back in time: the last message."""

    error: GaugeError
    at_s: float


Message = Chunk | Asked | Lost | Back | Gone
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

    def close_unstarted(self) -> None:
        """Give the port back when nothing will be read after all."""
        self._port.close()

    def stop(self) -> None:
        """End reading and close the port."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=3.0)

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
            self.messages.put(Asked(now))
        data = self._port.read()
        if data:
            self.messages.put(Chunk(data, time.monotonic()))
            self._stop.wait(REST_S if len(data) < LONG_FROM_BYTES else LONG_REST_S)

    def _come_back(self, error: GaugeError) -> bool:
        """Try to open again, slower and slower, for `wait_s`. False when it is over."""
        self._port.close()
        lost_s = time.monotonic()
        self.messages.put(Lost(error, lost_s))
        attempt = 0
        while not self._stop.is_set():
            rest_s = self._wait_s - (time.monotonic() - lost_s)
            if rest_s <= 0:
                self.messages.put(Gone(error, time.monotonic()))
                return False
            self._stop.wait(min(BACK_OFF_S[min(attempt, len(BACK_OFF_S) - 1)], rest_s))
            attempt += 1
            try:
                self._port = self._opener(self._address, self._profile.framing)
            except GaugeError:
                continue
            self.messages.put(Back(time.monotonic()))
            return True
        return False
