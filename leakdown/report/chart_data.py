"""What a chart shows, as data. Two files draw it (`figures` for the page, `picture` for paper)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Role = Literal["readings", "fit", "band"]
Tone = Literal["pressure", "vacuum", "pressure-earlier", "vacuum-earlier", "neutral"]


@dataclass(frozen=True)
class Series:
    """One set of points in chart units. `y_low`, `y_high` are used by the role "band" only.

    `end_label` is written at the last point, so that a reader needs no legend, or at the height
    `end_label_y` where it would lie on another one. `dense`: many small dots.
    """

    role: Role
    tone: Tone
    label: str
    x: Array
    y: Array
    y_low: Array | None = None
    y_high: Array | None = None
    end_label: str = ""
    dense: bool = False
    end_label_y: float | None = None

    @property
    def label_y(self) -> float:
        """The height of the end label."""
        return float(self.y[-1]) if self.end_label_y is None else self.end_label_y


@dataclass(frozen=True)
class Span:
    """A part of the test, shaded; `label` is empty where it would not fit. `strong`: the hold itself."""

    name: str
    start: float
    end: float
    label: str
    strong: bool


@dataclass(frozen=True)
class Note:
    """Something done at a moment. `number` is drawn, `text` (as written) stands in the key."""

    x: float
    number: int
    text: str


@dataclass(frozen=True)
class LimitLine:
    """From where the limit starts to count, to the level the pressure must still have at the end.

    label_away: write the label on the side away from zero, because the decay runs on the other. label_y:
    the height at which it stands clear of the line itself.
    """

    x: tuple[float, float]
    y: tuple[float, float]
    label: str
    label_y: float
    label_away: bool = False


@dataclass(frozen=True)
class Chart:
    """A chart with both axes in the user's own units. `x_range`, `y_range` hold everything drawn.

    subtitle: one line per test. height_ratio: height of the plot over its width.
    """

    title: str
    subtitle: tuple[str, ...]
    x_title: str
    y_title: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    series: tuple[Series, ...]
    spans: tuple[Span, ...] = ()
    notes: tuple[Note, ...] = ()
    limits: tuple[LimitLine, ...] = ()
    zero_label: str = ""
    height_ratio: float = 0.46
