"""How often no change at all is called better, and how often a change is seen; run by hand:

    python -m tests.runs.false_words [CASES]
    python -m tests.runs.false_words power [CASES]

The mechanic looks after every run, up to as many after the change as before it, and stops at a word. The truths
(lognormal, Weibull with two shapes, a mixture of quick and slow deaths) are none that the program knows of.

1000 cases each of seven scenes, five laws and 2 to 6 runs a side: better in 0 to 3.5 %, worse in 0 to 3.8 %, never with
2 a side. How often a change is seen: `power`, whose table stands in leakdown/what_the_numbers_rest_on.md.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np

from leakdown.runs.compare import word_of
from leakdown.runs.looks import FEWEST_AFTER, bound
from leakdown.runs.run import Run

Draw = Callable[[np.random.Generator], float]

LAWS: dict[str, Draw] = {
    "lognormal, 0.15": lambda rng: 60.0 * math.exp(0.15 * rng.standard_normal()),
    "lognormal, 0.5": lambda rng: 60.0 * math.exp(0.5 * rng.standard_normal()),
    "Weibull, shape 1": lambda rng: 60.0 * rng.weibull(1.0),
    "Weibull, shape 4": lambda rng: 60.0 * rng.weibull(4.0),
    "mixture": lambda rng: (30.0 if rng.random() < 0.6 else 200.0) * math.exp(0.2 * rng.standard_normal()),
}


def a_trial(
    rng: np.random.Generator, law: Draw, a_side: int, ratio: float = 1.0, trend: float = 1.0,
    day_sd: float = 0.0, stops_s: tuple[float, float] = (math.inf, math.inf),
) -> str:  # fmt: skip
    """The word that the looks after each run come to. ratio: after over before; stops_s: when the mechanic
    stops a run by hand, before and after; trend: each run over the one before; day_sd: of ln t, day to day.
    """
    days = np.exp(day_sd * rng.standard_normal(2))
    runs: list[Run] = []
    for k in range(2 * a_side):
        late = k >= a_side
        lasts = law(rng) * trend**k * (ratio * days[1] if late else days[0])
        stop = stops_s[late]
        ended = "stopped" if lasts > stop else "died"
        runs.append(Run(min(lasts, stop), ended, day=f"2026-03-0{1 + late}" if day_sd else "", period=int(late)))
        if late and (word := word_of(tuple(runs[:a_side]), tuple(runs[a_side:]))[0]) != "cannot-say":
            return word
    return "cannot-say"


SCENES: dict[str, dict[str, object]] = {
    "no change": {},
    "10 % longer each run": {"trend": 1.1},
    "10 % shorter each run": {"trend": 1 / 1.1},
    "another day, 0.4": {"day_sd": 0.4},
    "stopped at 60 s, then 300 s": {"stops_s": (60.0, 300.0)},
    "stopped at 300 s, then 60 s": {"stops_s": (300.0, 60.0)},
    "trend and other stops": {"trend": 1.1, "stops_s": (60.0, 300.0)},
}


def share(word: str, cases: int, law: Draw, a_side: int, seed: int = 1, **scene: object) -> float:
    """Share of trials that end in `word`."""
    rng = np.random.default_rng(seed)
    return sum(a_trial(rng, law, a_side, **scene) == word for _ in range(cases)) / cases  # type: ignore[arg-type]


def decides(before: int, after: int) -> bool:
    """Whether any outcome could give a word by then."""
    return any(bound(before, n) > 0.0 for n in range(FEWEST_AFTER, after + 1))


def power(before: int, after: int, ratio: float, cases: int) -> float:
    """Share of trials called better where runs last `ratio` times as long (lognormal 0.3; stopped at 5 min)."""
    rng = np.random.default_rng([before, after, int(10 * ratio)])
    found = 0
    for _ in range(cases):
        lasts = 40.0 * np.exp(0.3 * rng.standard_normal(before + after))
        lasts[before:] *= ratio
        runs = [
            Run(min(float(t), 300.0), "stopped" if t > 300.0 else "died", period=int(k >= before))
            for k, t in enumerate(lasts)
        ]
        words = (word_of(tuple(runs[:before]), tuple(runs[before : before + n]))[0] for n in range(1, after + 1))
        found += next((w for w in words if w != "cannot-say"), "") == "better"
    return found / cases


def power_table(cases: int) -> None:
    """Rows: runs before; columns: runs after; per cent called better at three and at five times as long."""
    print("| before \\ after | " + " | ".join(map(str, range(2, 7))) + " |\n|" + "---|" * 6)
    for before in range(2, 7):
        cells = [
            " and ".join(f"{100 * power(before, after, ratio, cases):.0f}" for ratio in (3.0, 5.0))
            if decides(before, after)
            else "never"
            for after in range(2, 7)
        ]
        print(f"| {before} | " + " | ".join(cells) + " |", flush=True)


def main(cases: int) -> None:
    """Both tables."""
    print(f"Called better (worse) with no change, per cent of {cases} cases, for 2, 3, 4, 5, 6 runs a side")
    for name, scene in SCENES.items():
        for law, draw in LAWS.items():
            shares = [[100 * share(w, cases, draw, n, **scene) for n in range(2, 7)] for w in ("better", "worse")]
            print(f"{name:<30}{law:<20}" + "  ".join(f"{b:4.1f} ({w:4.1f})" for b, w in zip(*shares, strict=True)))
    print("Seen as better, per cent, when runs last longer by a factor (lognormal 0.3; stopped at 5 min)")

    def draw(rng: np.random.Generator) -> float:
        return 40.0 * math.exp(0.3 * rng.standard_normal())

    for ratio in (1.5, 2.0, 3.0, 5.0, 8.0):
        found = [100 * share("better", cases, draw, n, ratio=ratio, stops_s=(300.0, 300.0)) for n in range(2, 7)]
        print(f"{ratio:>4}  " + "  ".join(f"{f:5.1f}" for f in found))


if __name__ == "__main__":
    table = power_table if "power" in sys.argv else main
    table(next((int(word) for word in sys.argv[1:] if word.isdigit()), 1000))
