"""The recording on disk: appended to as readings arrive, whole lines only, never overwriting.

Each batch is one `write` to the system: a killed program loses nothing that was written. Readings that are
held back (what is the pressure? a spike?) stand at the end of the file meanwhile as they look by then.
`Syncer` pushes it to the disk itself about once a second, so that a power cut loses about a second.
"""

from __future__ import annotations

import contextlib
import errno
import os
import threading
from array import array
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from leakdown.disk import write_whole
from leakdown.errors import OutputError, UsageError
from leakdown.live.capture.clock import STEP_S, Settled
from leakdown.live.capture.session import Row
from leakdown.live.texts import told
from leakdown.tuned import tuned

_SYNC_S: float = tuned("live.capture").sync_s
_COLUMNS = "time_s,pressure_kpa,{}mark,raw\n"
_QUOTED = frozenset('",\r\n')
Keys = tuple[tuple[str, str], ...]


class RecordingFile:
    """Header first, then rows. Used by one thread; `sync` may be called by another."""

    def __init__(self, path: Path, keys: Keys) -> None:
        """Creates `path`. Raises UsageError when it exists, OutputError when it cannot be made."""
        self.path = path
        self._columns_written = False
        self._said = {key for key, _ in keys}
        self._with_temperature = False
        self._moments = array("l")  # of the rows written, in their order
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        try:
            self._fd = os.open(path, flags, 0o644)
        except FileExistsError as error:
            raise UsageError(**told("file exists"), where=str(path)) from error
        except OSError as error:
            raise OutputError(**told("no place", why=error.strerror), where=str(path)) from error
        self._size = 0
        self._tail = b""
        head = "".join(f"# {key}: {' '.join(value.split())}\n" for key, value in keys)
        self._append(head.encode("utf-8", "replace"))

    def also_say(self, key: str, value: str) -> None:
        """One more leading line, while no row is there yet for good; later it is too late, and left out."""
        if not self._columns_written and key not in self._said:
            self._said.add(key)
            self._append(f"# {key}: {value}\n".encode(), self._tail)

    def write(self, rows: Iterable[Row], pending: Iterable[Row] = ()) -> None:
        """Append rows, then `pending` ones that the next call replaces. Raises OutputError.

        What was written before stays whole."""
        rows = list(rows)
        final = self._table(rows, final=True)
        self._moments.extend(row.moment for row in rows)
        tail = self._table(list(pending), final=False)
        if final or tail != self._tail:
            self._append(final, tail)

    def _table(self, rows: list[Row], final: bool) -> bytes:
        """Rows as text, under their column names when these are still to come."""
        if not rows:
            return b""
        head, warm = "", self._with_temperature
        if not self._columns_written:
            warm = any(row.temperature_degc is not None for row in rows)
            head = _COLUMNS.format("temperature_degc," if warm else "")
        if final:
            self._columns_written, self._with_temperature = True, warm
        return (head + "".join([_line(row, warm) for row in rows])).encode("utf-8", "replace")

    def sync(self) -> None:
        """Push everything to the disk."""
        try:
            os.fsync(self._fd)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):
                raise _no_room(error, self.path) from error

    def close(self) -> None:
        """Finish: an empty recording still gets its column names."""
        if not self._columns_written:
            self._append(_COLUMNS.format("").encode())
        self.sync()
        os.close(self._fd)

    def put_right(self, settled: Settled) -> None:
        """Once closed: rewrite in one step with the times as they turned out, the gauge's own in a column.

        Raises OutputError; what was written while the test ran then stands."""
        lines = self.path.read_bytes().splitlines(keepends=True)
        first = len(lines) - len(self._moments)
        names = lines[first - 1].replace(b"time_s,", b"time_s,gauge_clock_s,", 1)
        moments = np.array(self._moments)
        order = np.argsort(settled.time_s[moments], kind="stable")
        rows, last_s = [], -1.0
        for i in order.tolist():
            moment = moments[i]
            last_s = max(float(settled.time_s[moment]), last_s + STEP_S)
            clock_s = settled.clock_s[moment]
            clock = "" if np.isnan(clock_s) else f"{clock_s:.4f}".rstrip("0").rstrip(".")
            rows.append(f"{last_s:.4f},{clock},".encode() + lines[first + i].partition(b",")[2])
        said = [f"# gauge_clock: {settled.said}\n".encode()] if settled.said else []
        write_whole(self.path, b"".join([*lines[: first - 1], *said, names, *rows]), told("times stand")["remedy"])

    def _append(self, final: bytes, tail: bytes = b"") -> None:
        """Put `final` and `tail` in place of the present tail, whole lines that stay left untouched."""
        data = final + tail
        same = _lines_alike(self._tail, data)
        try:
            if same < len(self._tail):
                os.ftruncate(self._fd, self._size + same)
            data = data[same:]
            while data:
                data = data[os.write(self._fd, data) :]
        except OSError as error:
            self._cut_back()
            raise _no_room(error, self.path) from error
        self._size += len(final)
        self._tail = tail

    def _cut_back(self) -> None:
        """Remove half a line that a full disk left behind."""
        self._tail = b""
        with contextlib.suppress(OSError):
            os.ftruncate(self._fd, self._size)


def _lines_alike(old: bytes, new: bytes) -> int:
    """Length of the whole lines that both begin with."""
    length = 0
    for a, b in zip(old.splitlines(True), new.splitlines(True), strict=False):
        if a != b:
            break
        length += len(a)
    return length


def _line(row: Row, warm: bool) -> str:
    pressure = "" if row.pressure_pa is None else f"{row.pressure_pa * 1e-3:.6f}".rstrip("0").rstrip(".")
    pressure = "0" if pressure == "-0" else pressure
    warmth = "" if not warm else "," if row.temperature_degc is None else f"{row.temperature_degc:g},"
    return f"{row.time_s:.4f},{pressure},{warmth}{_cell(row.mark)},{_cell(row.raw)}\n"


def _no_room(error: OSError, path: Path) -> OutputError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return OutputError(**told("disk full"), where=str(path))
    return OutputError(**told("disk fails", why=error.strerror), where=str(path))


def _cell(text: str) -> str:
    if not text or _QUOTED.isdisjoint(text):
        return text
    return '"' + text.replace("\r", " ").replace("\n", " ").replace('"', '""') + '"'


class Syncer:
    """Calls `sync` about once a second in its own thread: a slow disk never holds up the readings."""

    def __init__(self, file: RecordingFile) -> None:
        self.error: OutputError | None = None
        self._file = file
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="disk sync", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the thread."""
        self._stop.set()
        self._thread.join(timeout=5.0)

    def _run(self) -> None:
        while not self._stop.wait(_SYNC_S):
            try:
                self._file.sync()
            except OutputError as error:
                self.error = error
                return
