"""What an analysis found. Frozen data only: printing, plotting and saving live in `report`.

Pressures are gauge and signed unless a name says otherwise; rates, losses and shares are positive
magnitudes in both directions. Every interval is 95 %.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import Direction
from leakdown.recording import ByValue, Recording
from leakdown.tuned import texts
from leakdown.uncertainty import Interval

Array = NDArray[np.float64]
VerdictWord = Literal["pass", "fail", "undecided"]
PhaseName = Literal["zero", "fill", "stabilise", "hold", "vent", "other"]


class Shown:
    """A result that shows itself by what the library has registered for it: words and pages lie above it."""

    _shown: ClassVar[tuple[Callable[[Any], str] | None, Callable[[Any], str] | None]] = (None, None)

    @classmethod
    def show_with(cls, text: Callable[[Any], str], html: Callable[[Any], str] | None = None) -> None:
        """Register how results of this class are shown in a few lines, and in a notebook."""
        cls._shown = (text, html)

    def __repr__(self) -> str:
        text = self._shown[0]
        return object.__repr__(self) if text is None else text(self)

    def _repr_html_(self) -> str | None:
        html = self._shown[1]
        return None if html is None else html(self)


@dataclass(frozen=True)
class Flag:
    """Something the reader must know: a short stable `code` and a sentence that says what to do."""

    code: str
    text: str

    @classmethod
    def of(cls, room: str, key: str, **figures: object) -> Flag:
        """The flag that a room's `flags.toml` has under `key`: its code, and which text of it after a slash."""
        return cls(key.partition("/")[0], texts(room)[key].format(**figures))


@dataclass(frozen=True)
class Phase:
    """One part of a test, on the recording's own clock."""

    name: PhaseName
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Step:
    """A sudden change of the reading inside the hold, signed gauge Pa."""

    time_s: float
    change_pa: float


@dataclass(frozen=True)
class Zero:
    """What the gauge reads open to air. `source`: "measured" from zero readings, "given" as somebody noted
    it, or "assumed". drift_pa: after the test less before it, where both are known.
    """

    offset_pa: float
    u_pa: float
    source: Literal["measured", "given", "assumed"]
    drift_pa: float | None = None

    @property
    def known_pa(self) -> float:
        """The offset to take off the readings: 0 where nobody read or noted it."""
        return 0.0 if self.source == "assumed" else self.offset_pa


@dataclass(frozen=True)
class Hold:
    """The part of a recording that was analysed.

    start_s..end_s is the settled hold; closed_s is when the valve was shut, so closed_s..start_s is the
    stabilisation, which the estimate uses too. start_pa, end_pa: gauge, signed, zero-corrected.
    """

    closed_s: float
    start_s: float
    end_s: float
    readings: int
    start_pa: float
    end_pa: float
    phases: tuple[Phase, ...]
    zero: Zero
    steps: tuple[Step, ...] = ()
    given: bool = False


@dataclass(frozen=True)
class Quantity:
    """An input that went into the numbers, and whether it was given or assumed."""

    value: float | None
    source: Literal["given", "settings", "measured", "inferred", "assumed", "none"]


@dataclass(frozen=True)
class Used:
    """Inputs of an analysis in SI units. `volume_u_m3` is a 95 % half-width."""

    barometer_pa: Quantity
    temperature_k: Quantity
    volume_m3: Quantity
    volume_u_m3: Quantity
    discharge_coefficient: Quantity
    resolution_pa: Quantity
    noise_pa: float


@dataclass(frozen=True)
class LeakEstimate:
    """The size of the leak at the quoted gauge pressure.

    rate_pa_s: loss of pressure per second at the quoted pressure once settled; needs no volume.
    throughput_pa_m3_s: rate times volume at the gas temperature, volume doubt included; None without one.
    detected False: `value` is None, `low` 0 and `high` the upper limit.
    hole_m: equivalent sharp-edged hole. viscous_share: 1 = weep-like, 0 = hole-like, at that pressure.
    detection_rate_pa_s: the smallest leak this test as run would have seen 95 times in 100.
    opening_pa: where a reseating leak closes (gauge, signed), else None. growth_per_min: change of the
    leak's size per minute, else None.
    """

    at_pa: float
    detected: bool
    rate_pa_s: Interval
    detection_rate_pa_s: float
    throughput_pa_m3_s: Interval | None
    detection_pa_m3_s: float | None
    hole_m: Interval | None
    viscous_share: Interval
    opening_pa: float | None = None
    growth_per_min: float | None = None

    def __post_init__(self) -> None:
        """A share is one: a fit that strays past an end by its numbers' last digits says the end."""
        s = self.viscous_share
        value = None if s.value is None else min(max(s.value, 0.0), 1.0)
        low, high = (min(max(end, 0.0), 1.0) for end in (s.low, s.high))
        object.__setattr__(self, "viscous_share", Interval(value, low, high))


@dataclass(frozen=True, eq=False)
class Curve(ByValue):
    """The fitted decay as the gauge would read it (zero offset included), with a 95 % band; (m,) arrays."""

    time_s: Array
    pressure_pa: Array
    low_pa: Array
    high_pa: Array


@dataclass(frozen=True)
class Limit:
    """A limit as the user or common practice states it.

    kind "drop": at most `drop_pa` lost in `time_s` from `start_pa` (None: the test's own start).
    kind "rate": at most `rate_pa_m3_s` (20 degC) at the quoted pressure.
    kind "inflow": at least `rate_pa_m3_s` must get in. kind "words": only `text` says it.
    """

    text: str
    kind: Literal["drop", "rate", "inflow", "words"]
    source: Literal["given", "file", "job", "settings", "practice"]
    drop_pa: float = 0.0
    time_s: float = 0.0
    start_pa: float | None = None
    rate_pa_m3_s: float = 0.0


@dataclass(frozen=True)
class Verdict:
    """pass, fail or undecided against `limit`.

    measured: the drop (Pa) or rate (Pa m3/s) compared, with its interval. basis: "reading" when the hold
    covers the limit's time, "model" when it had to be extrapolated. reason: a plain sentence, and by a
    lax default what the strict practice gives; remedy: what would decide it (undecided only). from_s, from_pa:
    from when (the recording's clock) and from which magnitude the loss was counted on the fitted curve, carried
    back where it began lower; None where no moment of the hold stands for it.
    """

    word: VerdictWord
    limit: Limit
    measured: Interval | None
    basis: Literal["reading", "model", "none"]
    reason: str
    remedy: str = ""
    from_s: float | None = None
    from_pa: float | None = None


@dataclass(frozen=True)
class MarkEffect:
    """Change of the leak at a mark: after over before, with its interval."""

    time_s: float
    text: str
    after_over_before: Interval


@dataclass(frozen=True)
class KnownLeak:
    """A test of a leak of known size through the whole chain, in one direction.

    kind: "flow" as certified, "hole" or "capillary" by dimensions. text, source: its size and where that comes
    from, as given. measured_on: ISO date. stated_pa_m3_s, measured_pa_m3_s: throughput at `at_pa` (gauge,
    signed), 20 degC. rate_pa_s: the measured loss, free of the volume's doubt.
    """

    direction: Direction
    at_pa: float
    kind: str
    text: str
    source: str
    measured_on: str
    stated_pa_m3_s: Interval
    measured_pa_m3_s: Interval
    rate_pa_s: Interval
    volume_m3: float | None
    file: str = ""


@dataclass(frozen=True)
class RigSeen:
    """The rig of a test: its known leak in this direction, else in the other, or None where none was tested.

    age_days: from that test to this one. both_ways: how its two directions agree; 1 is right.
    """

    name: str
    known: KnownLeak | None
    age_days: int | None
    both_ways: Interval | None


@dataclass(frozen=True)
class Figure:
    """One figure of a finding, in the unit of its `key` and `unit`. high may be infinite."""

    key: str
    label: str
    unit: str
    interval: Interval


@dataclass(frozen=True)
class Finding:
    """Something that a test says besides the size of a leak, or in its place.

    name: stable, for programs. title, sentence: for people. instead: a leak's size would mislead here,
    because the part under test is meant to pass air, or no hold was possible. answers: belongs beside the
    verdict.
    """

    name: str
    title: str
    sentence: str
    figures: tuple[Figure, ...] = ()
    instead: bool = False
    answers: bool = False


@dataclass(frozen=True, eq=False, repr=False)
class Analysis(ByValue, Shown):
    """Everything found in one recording. `leak` is None when no trustworthy fit exists; flags say why.

    time_constant_s, half_life_s: of a plain exponential. half_gone_s: from shutting the valve until half of the
    pressure is gone, on the fitted curve or as its leak goes on; None where the leak closes before that.
    residual_count, residual_u_pa: how many readings each residual is the average of, and its standard error.
    """

    recording: Recording
    circuit: str
    direction: Direction
    hold: Hold
    used: Used
    time_constant_s: float | None
    half_life_s: float | None
    leak: LeakEstimate | None
    curve: Curve | None
    residual_time_s: Array
    residual_pa: Array
    verdict: Verdict | None
    flags: tuple[Flag, ...]
    marks: tuple[MarkEffect, ...] = field(default=())
    plausible: tuple[tuple[float, float], ...] = field(default=())
    findings: tuple[Finding, ...] = field(default=())
    rig: RigSeen | None = None
    half_gone_s: float | None = None
    residual_count: Array | None = None
    residual_u_pa: Array | None = None

    @property
    def averaged(self) -> tuple[int, int] | None:
        """The fewest and the most readings that a residual is the average of; None where each is a reading."""
        count = self.residual_count
        if count is None or not count.size or count.max() <= 1.0:
            return None
        return int(count.min()), int(count.max())
