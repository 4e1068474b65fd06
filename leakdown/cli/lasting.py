"""Standard streams that may go away while a recording runs: a closed pipe or terminal ends nothing."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Iterator
from typing import Any

_FAILED = (OSError, ValueError)  # EPIPE, EIO; "I/O operation on closed file"


class _Nothing(io.TextIOBase):
    """A stream that was never there: takes all, gives nothing."""

    def write(self, text: str) -> int:
        """Nobody reads it."""
        return len(text)

    def read(self, size: int | None = -1) -> str:
        """Nobody writes it."""
        return ""

    def readline(self, size: int = -1) -> str:  # type: ignore[override]
        """Nobody writes it."""
        return ""


class _Lasting:
    """A text stream that swallows what nobody reads any more, and answers for everything else as the real one."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def _tried(self, action: str, nothing: Any, *args: Any) -> Any:
        try:
            return getattr(self._stream, action)(*args)
        except _FAILED:
            self._stream = _given_up(self._stream)
            return nothing

    def write(self, text: str) -> int:
        """As of any text stream; `text` is lost once nobody reads."""
        return int(self._tried("write", len(text), text))

    def flush(self) -> None:
        """As of any text stream."""
        self._tried("flush", None)

    def read(self, size: int = -1) -> str:
        """As of any text stream; "" once nobody writes."""
        return str(self._tried("read", "", size))

    def readline(self, size: int = -1) -> str:
        """As of any text stream; "" once nobody writes."""
        return str(self._tried("readline", "", size))

    def isatty(self) -> bool:
        """Whether it is a terminal, still there."""
        return bool(self._tried("isatty", False))


def _given_up(stream: Any) -> Any:
    """The same stream on the null device, so that what its buffer holds can go somewhere too."""
    with contextlib.suppress(*_FAILED):
        null = os.open(os.devnull, os.O_RDWR)
        os.dup2(null, stream.fileno())
        os.close(null)
        return stream
    return _Nothing()


@contextlib.contextmanager
def lasting_streams() -> Iterator[None]:
    """While it lasts, standard input, output and error may break or be missing without an error."""
    before = sys.stdin, sys.stdout, sys.stderr
    lasting = [_Lasting(_Nothing() if one is None else one) for one in before]
    sys.stdin, sys.stdout, sys.stderr = lasting
    try:
        yield
    finally:
        for one in lasting[1:]:
            one.flush()
        sys.stdin, sys.stdout, sys.stderr = before
