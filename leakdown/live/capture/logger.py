"""A live capture: reader thread -> worker thread (parse, convert, write) -> events for whoever looks on.

The reader never waits for the worker, the worker never waits for the onlooker: a slow screen or a slow
decision rule delays only itself. Everything read is on disk before its event is seen.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue

from leakdown.errors import GaugeError, LeakdownError
from leakdown.live.capture.port import Feed, GaugePort, Message, Opener
from leakdown.live.capture.recording_file import Keys, RecordingFile, Syncer
from leakdown.live.capture.session import Remark, Row, Session
from leakdown.live.profiles.profile import AUTO, Conversion, Profile
from leakdown.live.texts import text as told_text
from leakdown.live.texts import told
from leakdown.tuned import tuned

_T = tuned("live.capture")
_TURN_S, _TELL_S = 0.05, _T.clock_tell_s


@dataclass(frozen=True)
class Ended:
    """The last event. `error` is None at the planned end."""

    error: LeakdownError | None


Event = Row | Remark | Ended


@dataclass(frozen=True)
class LogPlan:
    """What to record. `conversion`: None takes the profile's own.

    `wait_s`: how long a lost gauge is waited for; `silence_s`: the same for a mute one."""

    address: str
    out: Path
    profile: Profile = AUTO
    conversion: Conversion | None = None
    keys: Keys = ()
    wait_s: float = _T.silence_s
    silence_s: float = _T.silence_s


class LiveLog:
    """Use as a context manager: opening raises UsageError or GaugeError before any file is made.

        with LiveLog(plan) as log:
            for event in log.events(): ...

    `mark` and `stop` may be called from any thread.
    """

    def __init__(self, plan: LogPlan, opener: Opener = GaugePort) -> None:
        self.plan = plan
        self._events: SimpleQueue[Event] = SimpleQueue()
        self._marks: SimpleQueue[tuple[float, str]] = SimpleQueue()
        self._stop = threading.Event()
        conversion = plan.conversion or plan.profile.conversion(None, None, None)
        if plan.out.exists():
            RecordingFile(plan.out, ())  # raises: never overwritten
        self._feed = Feed(plan.address, plan.profile, plan.wait_s, opener)
        try:
            self._file = RecordingFile(plan.out, plan.keys)
        except LeakdownError:
            self._feed.stop()
            raise
        self.start_s = time.monotonic()
        self.session = Session(plan.profile, conversion, self.start_s)
        self._heard_s = self.start_s
        self._waiting_for_gauge = False
        self._gone: LeakdownError | None = None
        self._worker = threading.Thread(target=self._work, name="recording", daemon=True)

    def __enter__(self) -> LiveLog:
        self._syncer = Syncer(self._file)
        self._worker.start()
        self._feed.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop, wait until all is on disk."""
        self._stop.set()
        self._worker.join(timeout=10.0)

    def events(self, every_s: float | None = None) -> Iterator[Event | None]:
        """Events in order until `Ended`; with `every_s`, None whenever that long passed without one."""
        while True:
            try:
                event = self._events.get(timeout=every_s)
            except Empty:
                yield None
                continue
            yield event
            if isinstance(event, Ended):
                return

    def mark(self, text: str) -> None:
        """Write down that something was done at this moment."""
        self._marks.put((time.monotonic(), " ".join(text.split())))

    def stop(self) -> None:
        """Ask for the planned end; `Ended(None)` follows."""
        self._stop.set()

    # -- worker thread

    def _work(self) -> None:
        error: LeakdownError | None = None
        try:
            while not self._stop.is_set() and error is None:
                error = self._turn()
        except LeakdownError as caught:
            error = caught
        error = self._finish(error)
        self._events.put(Ended(error))

    def _turn(self) -> LeakdownError | None:
        """Handle what has come since the last turn. Returns the error that ends the recording."""
        messages = self._waiting()
        found = [one for message in messages for one in self._handle(message)]
        if not messages:
            found = self.session.tick(time.monotonic())
        self._put(found, bool(messages))
        return self._gone or self.session.stopped or self._syncer.error or self._mute()

    def _waiting(self) -> list[Message]:
        try:
            return [self._feed.messages.get(timeout=_TURN_S), *self._drained()]
        except Empty:
            return []

    def _drained(self) -> Iterator[Message]:
        while not self._feed.messages.empty():
            yield self._feed.messages.get()

    def _handle(self, message: Message) -> list[Row | Remark]:
        if message.kind == "asked":
            return self.session.asked(message.at_s)
        if message.kind in ("bytes", "back"):
            self._heard_s = message.at_s
        if message.kind == "bytes":
            return self.session.feed(message.data, message.at_s)
        self._waiting_for_gauge = message.kind == "lost"
        after, wait = f"{message.at_s - self.start_s:.1f} s", f"{self.plan.wait_s:g} s"
        if message.kind == "back":
            return [Remark(f"gauge is back after {after}", "back")]
        if message.kind == "lost":
            return [Remark(f"gauge lost after {after}: {message.text}; waiting {wait} for it", "lost")]
        self._gone = self._error(f"{message.text}, and did not come back within {wait}; ")
        return []

    def _error(self, what: str) -> GaugeError:
        return GaugeError(f"{what}what was read is in {self.plan.out}", where=self.plan.address)

    def _mute(self) -> LeakdownError | None:
        silent_s = time.monotonic() - self._heard_s
        if silent_s < self.plan.silence_s or self._waiting_for_gauge:
            return None
        if self._heard_s == self.start_s:
            return GaugeError(**told("mute", silent_s=silent_s), where=self.plan.address)
        return self._error(f"the gauge fell silent {silent_s:.0f} s ago; ")

    def _put(self, found: list[Row | Remark], heard: bool) -> None:
        """Write first, then show. A mark goes with its own time, before the readings of this turn."""
        found = [*self._mark_rows(), *found]
        rows = [one for one in found if isinstance(one, Row)]
        if rows or heard:
            self._say_unit()
            self._file.write(rows, self.session.pending())
        for one in found:
            self._events.put(one)

    def _say_unit(self) -> None:
        """The unit that the gauge itself shows, for whoever reads its recording; the file keeps kPa."""
        if self.session.unit_name not in ("", "Pa", "kPa"):
            self._file.also_say("shown_in", self.session.unit_name)

    def _mark_rows(self) -> list[Row]:
        """Marks wait until no earlier reading is held back any more: rows are in order of time."""
        rows: list[Row] = []
        while not self.session.holds and not self._marks.empty():
            at_s, text = self._marks.get()
            rows.append(self.session.mark_row(at_s, text))
        return rows

    def _finish(self, error: LeakdownError | None) -> LeakdownError | None:
        self._feed.stop()
        try:
            rest = [one for message in self._drained() for one in self._handle(message)]
            self._put(rest + self.session.finish(), True)
            error = error or self.session.stopped
        except LeakdownError as caught:
            error = error or caught
        self._syncer.stop()
        try:
            self._file.close()
            settled = self.session.settled()
            if settled is not None:
                self._file.put_right(settled)
                said = [settled.said] if settled.said and not settled.told else []
                said += [told_text("times put right", moved_s=settled.moved_s)] if settled.moved_s > _TELL_S else []
                for one in said:
                    self._events.put(Remark(one))
        except LeakdownError as caught:
            error = error or caught
        return error
