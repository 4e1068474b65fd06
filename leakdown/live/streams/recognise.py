"""`auto`: lines in, samples out. Learns which number is the pressure, says so, then keeps to it.

The first lines are held back (a few lines, two seconds at most) until one shape explains them; they are
then read with it, so none is lost. Later lines that do not fit the shape are no readings, whatever
number they may hold. Pure: arrival times come from the caller.
"""

from __future__ import annotations

from collections import Counter

from leakdown.live.lines.candidates import Candidate
from leakdown.live.lines.line import Line, Sample
from leakdown.live.lines.look import LineLooker, Look
from leakdown.live.streams.layout import Layouts, decimals_of
from leakdown.live.streams.lock import Held, Lock, choose, lock_on, read_place, read_row
from leakdown.tuned import tuned

_T = tuned("live.streams")
HOLD_S: float = _T.learn_s
_LEARN_LINES, _BANNER_LINES, _STEADY = _T.learn_lines, _T.banner_lines, _T.steady


class AutoReader:
    """Feed lines, take samples. `account` says in one sentence what was taken for the pressure."""

    def __init__(self) -> None:
        self.account = ""
        self.remarks: list[str] = []
        self._lock: Lock | None = None
        self._held: list[Held] = []
        self._looker = LineLooker()
        self._layouts = Layouts(self._ask)
        self._decimals = -1
        self._steady = 0  # readings running with that many decimals
        self._closing_zero = False
        self._tails: set[str] = set()  # different numbers seen
        self._taken = 0
        self._misfits: list[Candidate] = []
        self._other_units: list[str] = []

    @property
    def holds(self) -> bool:
        """True while lines wait for a shape that explains them."""
        return bool(self._held)

    @property
    def unit_name(self) -> str:
        """The unit that the gauge itself names, or ""."""
        return self._lock.unit.name if self._lock and self._lock.unit else ""

    @property
    def clock_named(self) -> bool:
        """False where a column only looks like a clock: neither its name nor its unit is written."""
        return self._lock is None or self._lock.kind != "column"

    def feed(self, line: Line, arrival_s: float) -> list[Sample]:
        """The samples that this line makes certain: none while learning, several when it ends."""
        if self._lock is not None:
            return [self._read(self._lock, line, arrival_s)]
        self._held.append((line, arrival_s, self._looker.look(line)))
        return self._try(arrival_s)

    def tick(self, now_s: float) -> list[Sample]:
        """Time has passed with no line; what is held may have to be decided."""
        return self._try(now_s) if self._held else []

    def finish(self) -> list[Sample]:
        """The stream is over: decide on what there is."""
        return (self._decide(final=True) or self._give_up(keep=0)) if self._held else []

    # -- learning

    def _try(self, now_s: float) -> list[Sample]:
        telling = [h for h in self._held if h[2].found or h[2].row or h[2].head]
        too_many = len(self._held) >= _BANNER_LINES
        if not telling:
            return self._give_up(keep=0) if too_many else []
        overdue = now_s - telling[0][1] >= HOLD_S or len(telling) >= _LEARN_LINES
        samples = self._decide(final=overdue)
        return self._give_up(keep=_LEARN_LINES) if too_many and not samples else samples

    def _give_up(self, keep: int) -> list[Sample]:
        """Lines that explained nothing are passed on as no readings."""
        cut = len(self._held) - keep
        old, self._held = self._held[:cut], self._held[cut:]
        return [Sample(at, line.text, why=look.why or "not understood yet") for line, at, look in old]

    def _decide(self, final: bool) -> list[Sample]:
        lock = choose(self._held, final)
        if lock is None:
            rows = any(h[2].row for h in self._held[-_LEARN_LINES:])
            return self._give_up(keep=0) if final and not rows else []
        held, self._held = self._held, []
        self._lock_on(lock, lock.account)
        return [self._interpret(line, at, look) for line, at, look in held]

    def _lock_on(self, lock: Lock, remark: str) -> None:
        self._lock, self.account = lock, lock.account
        self._layouts = Layouts(self._ask)
        self._misfits, self._other_units = [], []
        self.remarks.append(remark)

    # -- reading

    def _read(self, lock: Lock, line: Line, arrival_s: float) -> Sample:
        if not line.damaged and not self._looker.inside_object:
            quick = self._layouts.read(line.text, arrival_s)
            if quick is not None:
                return self._not_truncated(quick).at(arrival_s, line.text)
        if lock.kind != "place":  # rows are read by their lock: a heading seen again needs no search
            look = Look(why="line noise" if line.damaged else "", stateless=not line.damaged)
        else:
            look = self._looker.look(line)
        sample = self._interpret(line, arrival_s, look)
        unsettled = self._other_units or sample.value is None and look.strong and self._taken < _STEADY
        if look.stateless and not unsettled and lock.kind != "repeats":
            self._layouts.learn(line.text)
        return sample

    def _ask(self, text: str) -> Sample:
        """What the lock says of a text that stands by itself. Changes nothing."""
        assert self._lock is not None
        if self._lock.kind != "place":
            return read_row(self._lock, text).at(0.0, text)
        look = LineLooker().look(Line(text))
        return read_place(self._lock, look).at(0.0, text)

    def _interpret(self, line: Line, arrival_s: float, look: Look) -> Sample:
        return self._said(line, look).at(arrival_s, line.text)

    def _said(self, line: Line, look: Look) -> Sample:
        assert self._lock is not None
        if line.damaged or look.waits:
            return Sample(why=look.why)
        if self._lock.kind != "place":
            return self._not_truncated(read_row(self._lock, line.text))
        sample = read_place(self._lock, look)
        if sample.value is None:
            self._misfit(look)
            if not self._changed_unit(self._lock, look):
                return sample
            sample = read_place(self._lock, look)
        self._misfits, self._other_units = [], []
        return self._not_truncated(sample)

    def _not_truncated(self, sample: Sample) -> Sample:
        """A number that lost its tail shows fewer figures than all before it, and the gauge writes closing zeros."""
        if sample.value is None or not sample.number:
            self._taken += sample.value is not None
            return sample
        decimals = decimals_of(sample.number)
        shorter = 0 <= decimals < self._decimals
        lost = shorter and self._decimals >= 2 and decimals == 0 and self._steady >= _STEADY
        drops_zeros = len(self._tails) >= _T.very_steady and not self._closing_zero
        if not drops_zeros and (lost or shorter and self._steady >= _T.very_steady):
            self._steady = 0
            return Sample(why="torn: the number lost figures")
        self._taken += 1
        self._steady = self._steady + 1 if decimals == self._decimals else 1
        self._decimals = decimals
        self._closing_zero = self._closing_zero or decimals > 0 and sample.number.endswith("0")
        if not self._closing_zero and len(self._tails) < _T.very_steady:
            self._tails.add(sample.number)
        return sample

    def _changed_unit(self, lock: Lock, look: Look) -> bool:
        """The same place in another unit, twice in a row: the unit was switched at the gauge."""
        place = lock.key.rpartition("|")[0]
        same = next((f for f in look.found if f.key.rpartition("|")[0] == place and f.sample.unit), None)
        if same is None:
            return False
        again = same.key in self._other_units
        self._other_units = [same.key]
        if again:
            other = lock_on(same)
            self._lock_on(other, f"the gauge changed its unit: {other.account}")
        return again

    def _misfit(self, look: Look) -> None:
        """A lock made on a banner is given up aloud, and only before it has proved itself."""
        if look.best is None or not look.strong or self._taken >= _STEADY:
            return
        self._misfits.append(look.best)
        common, count = Counter(f.key for f in self._misfits).most_common(1)[0]
        if count >= _T.misfits:
            other = lock_on(next(f for f in self._misfits if f.key == common))
            self._lock_on(other, f"the first lines were something else; from here on {other.account}")
