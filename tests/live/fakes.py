"""Three stand-ins for a gauge: a bare pseudo-terminal, a scripted conversation, and pyserial's loop://."""

from __future__ import annotations

import contextlib
import os
import threading
import time
import tty
from types import TracebackType


class Pty:
    """A pseudo-terminal: `name` for the logger, `send` as the gauge, `unplug`."""

    def __init__(self) -> None:
        self.master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.name = os.ttyname(self._slave)

    def send(self, data: bytes) -> None:
        with contextlib.suppress(OSError):  # the test may be over and the port gone
            while data:
                data = data[os.write(self.master, data) :]

    def receive(self, wanted: int, seconds: float = 3.0) -> bytes:
        os.set_blocking(self.master, False)
        got, end = b"", time.monotonic() + seconds
        while len(got) < wanted and time.monotonic() < end:
            try:
                got += os.read(self.master, wanted - len(got))  # a slow machine may have been asked twice
            except BlockingIOError:
                time.sleep(0.005)
        return got

    def unplug(self) -> None:
        for descriptor in (self._slave, self.master):
            if descriptor >= 0:
                os.close(descriptor)
        self.master = self._slave = -1

    def __enter__(self) -> Pty:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.unplug()


class Conversation:
    """Plays the gauge's side: expects each request and gives its answer. `done` is true when all was used."""

    def __init__(self, port: Pty, exchanges: list[tuple[bytes, bytes]]) -> None:
        self.surprise = b""
        self._port, self._left = port, list(exchanges)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    @property
    def done(self) -> bool:
        return not self._left

    def _run(self) -> None:
        while self._left:
            request, answer = self._left[0]
            got = self._port.receive(len(request))
            if got != request:
                self.surprise = got
                return
            self._left.pop(0)
            self._port.send(answer)

    def join(self) -> None:
        self._thread.join(5.0)
