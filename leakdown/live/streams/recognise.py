"""`auto`: lines in, samples out. Learns which number is the pressure, says so, then keeps to it.

The first lines are held back (a few lines, two seconds at most) until one shape explains them; they are
then read with it, so none is lost. Later lines that do not fit the shape are no readings, whatever
number they may hold. Pure: arrival times come from the caller.
"""

from __future__ import annotations

from collections import Counter

from leakdown.live.lines.candidates import Candidate, Evidence
from leakdown.live.lines.line import Line
from leakdown.live.lines.look import LineLooker, Look
from leakdown.live.lines.table import choose_column, comma_is_decimal, is_burst, row_by_heading, with_units
from leakdown.live.streams.lock import (
    NO_UNIT,
    Lock,
    Read,
    Skeletons,
    account_of_heading,
    account_of_place,
    base_of,
    decimals_of,
    read_place,
    read_row,
)
from leakdown.live.streams.settle import Sample

HOLD_S = 2.0
HOLD_LINES = 12
BANNER_LINES = 60
STEADY = 3
VERY_STEADY = 20
MISFITS = 8

Held = tuple[Line, float, Look]


class AutoReader:
    """Feed lines, take samples. `account` says in one sentence what was taken for the pressure."""

    def __init__(self) -> None:
        self.account = ""
        self.remarks: list[str] = []
        self._lock: Lock | None = None
        self._held: list[Held] = []
        self._looker = LineLooker()
        self._skeletons = Skeletons()
        self._decimals = -1
        self._steady = 0
        self._taken = 0
        self._misfits: list[Candidate] = []
        self._other_unit: tuple[str, int] = ("", 0)

    @property
    def locked(self) -> bool:
        """True once the shape is known."""
        return self._lock is not None

    @property
    def holds(self) -> bool:
        """True while lines wait for a shape that explains them."""
        return bool(self._held)

    @property
    def unit_name(self) -> str:
        """The unit that the gauge itself names, or ""."""
        return self._lock.unit.name if self._lock and self._lock.unit else ""

    def feed(self, line: Line, arrival_s: float) -> list[Sample]:
        """The samples that this line makes certain: none while learning, several when it ends."""
        if self._lock is not None:
            return [self._read(line, arrival_s)]
        self._held.append((line, arrival_s, self._looker.look(line)))
        return self._try(arrival_s)

    def tick(self, now_s: float) -> list[Sample]:
        """Time has passed with no line; what is held may have to be decided."""
        return self._try(now_s) if self._held and self._lock is None else []

    def finish(self) -> list[Sample]:
        """The stream is over: decide on what there is."""
        if not self._held or self._lock is not None:
            return []
        return self._decide(final=True) or self._give_up(keep=0)

    # -- learning

    def _try(self, now_s: float) -> list[Sample]:
        telling = [h for h in self._held if h[2].found or h[2].row or h[2].head]
        if not telling:
            return self._give_up(keep=0) if len(self._held) >= BANNER_LINES else []
        overdue = now_s - telling[0][1] >= HOLD_S or len(telling) >= HOLD_LINES
        samples = self._decide(final=overdue)
        if not samples and len(self._held) >= BANNER_LINES:
            return self._give_up(keep=HOLD_LINES)
        return samples

    def _give_up(self, keep: int) -> list[Sample]:
        """Lines that explained nothing are passed on as no readings."""
        cut = len(self._held) - keep
        old, self._held = self._held[:cut], self._held[cut:]
        return [Sample(at, line.text, why=look.why or "not understood yet") for line, at, look in old]

    def _decide(self, final: bool) -> list[Sample]:
        lock = choose(self._held, final)
        if lock is None:
            return (
                self._give_up(keep=0) if final and not any(h[2].row for h in self._held[-HOLD_LINES:]) else []
            )
        self._lock, held, self._held = lock, self._held, []
        self.account = lock.account
        self.remarks.append(lock.account)
        return [self._sample(line, at, self._interpret(line, look)) for line, at, look in held]

    # -- reading

    def _read(self, line: Line, arrival_s: float) -> Sample:
        if not line.damaged and not self._looker.inside_object:
            quick = self._skeletons.read(line.text)
            if quick is not None:
                if quick.value is not None and quick.number:
                    self._count(quick.number)
                return Sample(
                    arrival_s,
                    line.text,
                    quick.value,
                    quick.unit,
                    quick.why,
                    quick.device_s,
                    quick.temperature_degc,
                )
        assert self._lock is not None
        look = self._looker.look(line) if self._lock.kind == "place" else self._look_at_row(line)
        read = self._interpret(line, look)
        unsettled = self._other_unit[0] or read.value is None and look.strong and self._taken < STEADY
        if look.stateless and self._lock.kind == "place" and not unsettled:
            self._skeletons.learn(line.text, read)
        return self._sample(line, arrival_s, read)

    def _look_at_row(self, line: Line) -> Look:
        """Rows are read by their lock; a heading seen again is known without a search."""
        return Look(why="line noise") if line.damaged else Look()

    def _interpret(self, line: Line, look: Look) -> Read:
        assert self._lock is not None
        if line.damaged or look.waits:
            return Read(None, look.why)
        if self._lock.kind != "place":
            return self._not_truncated(read_row(self._lock, line.text))
        read = read_place(self._lock, list(look.found), look.why)
        if read.value is None:
            self._misfit(look)
            if not self._changed_unit(look):
                return read
            read = read_place(self._lock, list(look.found), look.why)
        self._misfits.clear()
        self._other_unit = ("", 0)
        return self._not_truncated(read)

    def _not_truncated(self, read: Read) -> Read:
        """A number that lost its tail shows fewer figures than all before it."""
        if read.value is None or not read.number:
            self._taken += read.value is not None
            return read
        decimals = decimals_of(read.number)
        lost = self._decimals >= 2 and decimals == 0 and self._steady >= STEADY
        shorter = 0 <= decimals < self._decimals and self._steady >= VERY_STEADY
        if lost or shorter:
            self._steady = 0
            return Read(None, "torn: the number lost figures")
        self._count(read.number)
        return read

    def _count(self, number: str) -> None:
        self._taken += 1
        decimals = decimals_of(number)
        self._steady = self._steady + 1 if decimals == self._decimals else 1
        self._decimals = decimals

    def _changed_unit(self, look: Look) -> bool:
        """The same place in another unit, twice in a row: the unit was switched at the gauge."""
        assert self._lock is not None
        same = next((f for f in look.found if base_of(f.key) == base_of(self._lock.key) and f.unit), None)
        if same is None:
            return False
        count = self._other_unit[1] + 1 if self._other_unit[0] == same.key else 1
        self._other_unit = (same.key, count)
        if count >= 2:
            account = account_of_place(same)
            self._lock = Lock("place", account, same.key, same.unit)
            self._skeletons = Skeletons()
            self._other_unit = ("", 0)
            self._announce(f"the gauge changed its unit: {account}")
        return count >= 2

    def _misfit(self, look: Look) -> None:
        """A lock made on a banner is given up aloud, and only before it has proved itself."""
        if look.best is None or not look.strong or self._taken >= STEADY:
            return
        self._misfits.append(look.best)
        common, count = Counter(f.key for f in self._misfits).most_common(1)[0]
        if count >= MISFITS:
            one = next(f for f in self._misfits if f.key == common)
            self._lock = Lock("place", account_of_place(one), common, one.unit)
            self._skeletons = Skeletons()
            self._misfits.clear()
            self._announce(f"the first lines were something else; from here on {self._lock.account}")

    def _announce(self, text: str) -> None:
        self.account = self._lock.account if self._lock else ""
        self.remarks.append(text)

    def _sample(self, line: Line, arrival_s: float, read: Read) -> Sample:
        return Sample(
            arrival_s, line.text, read.value, read.unit, read.why, read.device_s, read.temperature_degc
        )


def choose(held: list[Held], final: bool) -> Lock | None:
    """The shape that explains the held lines, or None while that is open. `final`: no more time."""
    return _by_heading(held) or _by_place(held, final) or _by_rows(held, final)


def _by_heading(held: list[Held]) -> Lock | None:
    for i, (_, _, look) in enumerate(held):
        head = look.head
        if head is None:
            continue
        for line, _, _ in held[i + 1 :]:
            head = with_units(head, line.text) or head
            if row_by_heading(head, line.text)[0] is not None:
                return Lock("heading", account_of_heading(head), unit=head.unit, head=head)
    return None


def _by_place(held: list[Held], final: bool) -> Lock | None:
    every = [one for _, _, look in held for one in look.found]
    if not every:
        return None
    counts = Counter(one.key for one in every)
    leading = max(every, key=lambda f: (f.evidence, counts[f.key]))
    seen = counts[leading.key]
    if leading.evidence >= Evidence.AMBIENT:
        enough = seen >= 2 or final
    elif leading.evidence == Evidence.LONE:
        rows = sum(1 for _, _, look in held if look.row)
        enough = seen >= 3 and seen >= rows or final
    else:
        enough = seen >= 3 or final and seen >= 2
    return Lock("place", account_of_place(leading), leading.key, leading.unit) if enough else None


def _by_rows(held: list[Held], final: bool) -> Lock | None:
    rows = [(line.text, list(look.row)) for line, _, look in held if look.row]
    if not rows or not (final or len(rows) >= 3):
        return None
    width = Counter(len(values) for _, values in rows).most_common(1)[0][0]
    texts = [text for text, values in rows if len(values) == width]
    values = [v for _, v in rows if len(v) == width]
    if width == 2 and comma_is_decimal(texts):
        return Lock("comma", f"took the only number on the line, decimal comma, for the pressure, {NO_UNIT}")
    if all(is_burst(v) for v in values) and any(any(v) for v in values):
        account = f"took the middle one of {width} repeats on a line for the pressure, {NO_UNIT}"
        return Lock("repeats", account, width=width)
    column, reason = choose_column(values) if len(values) >= 2 else (None, "")
    if column is None:
        return None
    account = f"took number {column + 1} of {width} on a line for the pressure ({reason}), {NO_UNIT}"
    return Lock("column", account, width=width, column=column)
