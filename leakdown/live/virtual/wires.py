"""The wires of a virtual gauge: a pseudo-terminal, where the system has them, or a TCP port."""

from __future__ import annotations

import contextlib
import os
import select
import socket
import tempfile
import threading
import time
from abc import ABC, abstractmethod
from pathlib import Path

from leakdown.errors import UsageError
from leakdown.live.texts import told

NAP_S = 0.02


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

    @abstractmethod
    def plug_in(self) -> None:
        """Again, after `close`, at the same address."""

    def clean(self) -> None:
        """It is over for good: leave nothing behind."""
        return None


class PtyWire(Wire):
    """A pseudo-terminal; not on Windows. `comes_back`: known by a link, for a new one bears another name."""

    def __init__(self, comes_back: bool = False) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="gauge-") if comes_back else None
        self.plug_in()

    def plug_in(self) -> None:
        """A new pseudo-terminal under the old address."""
        try:
            import pty
            import tty
        except ImportError as error:
            raise UsageError("this system has no pseudo-terminals", remedy="Use --tcp.") from error
        self._master, slave = pty.openpty()
        tty.setraw(slave)
        self.address = os.ttyname(slave)
        if self._folder is not None:
            link = Path(self._folder.name, "port")
            link.unlink(missing_ok=True)
            link.symlink_to(self.address)
            self.address = str(link)
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

    def clean(self) -> None:
        """Take the link away."""
        if self._folder is not None:
            self._folder.cleanup()


class TcpWire(Wire):
    """A TCP port on this computer; one listener at a time."""

    def __init__(self, port: int = 0) -> None:
        self._port = port
        self.plug_in()

    def plug_in(self) -> None:
        """Listen; again on the same port."""
        try:
            self._server = socket.create_server(("127.0.0.1", self._port))
        except OSError as error:
            raise UsageError(**told("cannot listen", port=self._port, error=error.strerror)) from error
        self._port = self._server.getsockname()[1]
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
