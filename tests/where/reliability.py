"""The study behind the reliability test: many virtual engines, five ways of looking at each."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np

from leakdown.judge.analyse import fitted
from leakdown.judge.judged import FittedTest
from leakdown.where.answers import EngineFacts
from leakdown.where.evidence import Evidence, decay_shapes, direction_result
from leakdown.where.knowledge import knowledge
from leakdown.where.locate import locate_fitted
from leakdown.where.located import Ratio
from leakdown.where.odds import place_odds
from tests.where.engines import drawn, main_place, run

MODES = ("pressure only", "vacuum only", "both", "both + section", "exponentials")
WHOLE, BLOCKED = ("boot", "case"), ("case",)


@dataclass(frozen=True)
class Told:
    """Of one way: share of engines whose first group (place) is right, mean probability given to the first
    group and to the true group, and (claimed, true, count) in bins of the first group's probability."""

    group_right: float
    place_right: float
    mean_top: float
    top_right: float
    truth_given: float
    bins: tuple[tuple[float, float, int], ...]


def study(count: int, seed: int = 1) -> dict[str, Told]:
    """Run it on `count` engines, three quarters of them piston-port and said so, the others reed."""
    known = knowledge()
    group_of = {p.place: p.group for p in known.places}
    found: dict[str, list[tuple[str, str, dict[str, float], dict[str, float]]]] = {mode: [] for mode in MODES}
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        intake = "piston-port" if rng.random() < 0.75 else "reed"
        engine = drawn(rng, known, intake)
        truth = main_place(engine)
        tests = {
            (sign, s): fitted(run(engine, rng, sign, sections=s)) for sign in (1.0, -1.0) for s in (WHOLE, BLOCKED)
        }
        for mode in MODES:
            places = _odds(mode, tests, intake)
            groups: dict[str, float] = {}
            for place, probability in places.items():
                groups[group_of[place]] = groups.get(group_of[place], 0.0) + probability
            found[mode].append((truth, group_of[truth], places, groups))
    return {mode: _told(rows) for mode, rows in found.items()}


def _odds(mode: str, tests: dict[tuple[float, tuple[str, ...]], FittedTest], intake: str) -> dict[str, float]:
    pressure, vacuum = tests[1.0, WHOLE], tests[-1.0, WHOLE]
    if mode == "exponentials":
        return _by_exponentials(pressure, vacuum, intake)
    chosen = {
        "pressure only": [pressure],
        "vacuum only": [vacuum],
        "both": [pressure, vacuum],
        "both + section": [_named(h, s) for (_, s), h in tests.items()],
    }[mode]
    return {p.place: p.probability for p in locate_fitted(chosen, EngineFacts(intake=intake)).places}


def _named(one: FittedTest, sections: tuple[str, ...]) -> FittedTest:
    recording = one.analysis.recording
    conditions = replace(recording.conditions, includes=sections)
    return replace(one, analysis=replace(one.analysis, recording=replace(recording, conditions=conditions)))


def _by_exponentials(pressure: FittedTest, vacuum: FittedTest, intake: str) -> dict[str, float]:
    """The same odds from time constants alone, believed to 5 % as a fitted exponential would have it."""
    taus = pressure.analysis.time_constant_s, vacuum.analysis.time_constant_s
    ratio = None if None in taus else taus[0] / taus[1]  # type: ignore[operator]
    evidence = Evidence(
        "crankcase", None if ratio is None else Ratio(ratio, ratio / 1.05, ratio * 1.05),
        direction_result([pressure]), direction_result([vacuum]), decay_shapes([pressure, vacuum]),
        (), (), (), (), intake, "unknown",
    )  # fmt: skip
    return place_odds(evidence, knowledge())


def _told(rows: list[tuple[str, str, dict[str, float], dict[str, float]]]) -> Told:
    top = [max(groups.items(), key=lambda item: item[1]) for _, _, _, groups in rows]
    right = np.array([name == group for (name, _), (_, group, _, _) in zip(top, rows, strict=True)])
    claimed = np.array([probability for _, probability in top])
    place = [max(places, key=lambda p: places[p]) == truth for truth, _, places, _ in rows]
    bins = []
    for low, high in ((0.0, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01)):
        inside = (claimed >= low) & (claimed < high)
        if inside.any():
            bins.append((float(claimed[inside].mean()), float(right[inside].mean()), int(inside.sum())))
    return Told(
        float(right.mean()), float(np.mean(place)), float(claimed.mean()), float(right.mean()),
        float(np.mean([groups.get(group, 0.0) for _, group, _, groups in rows])), tuple(bins),
    )  # fmt: skip


def table(rows: dict[str, Told]) -> str:
    """Markdown, for the README."""
    lines = ["| tests | first group right | first place right | probability of first group | of true group |",
             "|---|---|---|---|---|"]  # fmt: skip
    lines += [
        f"| {mode} | {100 * t.group_right:.0f} % | {100 * t.place_right:.0f} % | {100 * t.mean_top:.0f} % "
        f"| {100 * t.truth_given:.0f} % |" for mode, t in rows.items()
    ]  # fmt: skip
    lines += ["", "Claimed against true, by the first group's probability (engines):"]
    lines += [
        f"- {mode}: " + ", ".join(f"{100 * c:.0f} % -> {100 * r:.0f} % ({n})" for c, r, n in t.bins)
        for mode, t in rows.items()
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    print(table(study(int(sys.argv[1]))))
