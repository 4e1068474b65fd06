"""The reader thread: takes bytes off a port as they come and stamps them; polls, and waits for a lost gauge.

It does nothing else, so nothing downstream (parsing, disk, screen) can make it lose a byte.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from queue import SimpleQueue
from typing import Literal

from leakdown.errors import GaugeError
from leakdown.live.capture.port import GaugePort
from leakdown.live.profiles.modbus_frames import request
from leakdown.live.profiles.profile import Framing, Profile
from leakdown.tuned import tuned

_T = tuned("live.capture")
_REST_S, _LONG_REST_S, _LONG_FROM_BYTES = _T.rest_s, _T.long_rest_s, _T.long_rest_from_bytes


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
