"""How right `locate` is on engines of an independent workshop: `python -m tests.workshop [--each 160] [--seed 0]`.

Prints the table of README: the first group right and claimed by what was tested, the reliability of the claims, what
following the advice costs beside a fixed order, and what is said of pairs that do not belong together.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from tests.workshop.advice import SOAP, Fits, Followed, by_advice, by_fixed_order, located
from tests.workshop.bench import Bench
from tests.workshop.engines import drawn
from tests.workshop.scores import Given, bins, told
from tests.workshop.strange import STRANGE, Told
from tests.workshop.strange import told as told_of

TESTED = {
    "pressure alone": [(False, True, False)],
    "both directions": [(False, True, False), (True, True, False)],
    "both, boot blocked": [(False, True, True), (True, True, True), (False, False, False), (True, False, False)],
}
TESTED["both, boot blocked, rig, blanks and soap"] = TESTED["both, boot blocked"]
"""(inward, boot in the circuit, sections named) of the tests of each row; findings where the name says so."""


@dataclass(frozen=True)
class Seen:
    """One engine: what was given to its groups by each way of testing, and how the two orders of tests went."""

    given: dict[str, Given]
    advice: Followed
    fixed: Followed


def seen(seed: int) -> Seen:
    """Test one engine in every way."""
    fits = Fits(drawn(seed))
    given = {}
    for name, tests in TESTED.items():
        bench = Bench(fits.engine)
        for looked in (["rig-tight"], ["reseat-changes"], SOAP) if "soap" in name else ():
            bench.look(looked)
        found = located(fits, bench, [fits(*which) for which in tests])
        given[name] = Given(fits.engine.group, {g.group: g.probability for g in found.groups})
    return Seen(given, by_advice(fits), by_fixed_order(fits))


def costs(rows: Sequence[Seen]) -> str:
    """What the advice costs beside the fixed order, and how often rig and engine are taken for each other.

    A rig that leaks besides the engine is no rig called wrongly: it has to be mended first.
    """
    lines = ["| tests in the order | right | minutes | leak called rig | rig called engine |", "|---|---|---|---|---|"]
    for name, went in (("of the advice", [r.advice for r in rows]), ("always the same", [r.fixed for r in rows])):
        right, minutes = (float(np.mean([getattr(w, key) for w in went])) for key in ("right", "minutes"))
        called = float(np.mean([w.group == "test-rig" and not w.engine.rig_leaks for w in went]))
        missed = float(np.mean([w.group != "test-rig" and w.engine.group == "test-rig" for w in went]))
        lines.append(f"| {name} | {100 * right:.0f} % | {minutes:.0f} | {100 * called:.0f} % | {100 * missed:.0f} % |")
    return "\n".join(lines)


def strangers(kind: str, rows: Sequence[Told]) -> str:
    """One line on one kind of pair."""
    named, sure = (sum(getattr(r, key) for r in rows) for key in ("named", "sure_wrong"))
    return f"| {kind} | {named} of {len(rows)} | {sure} |"


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=160)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    seeds = range(asked.seed, asked.seed + asked.each)
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        rows = list(pool.map(seen, seeds))
        print("| tests | first group right | claimed | Brier |\n|---|---|---|---|")
        for name in TESTED:
            print(told(name, [r.given[name] for r in rows]))
        print("\nClaimed -> right (engines), by the first group's probability:")
        for name in TESTED:
            found = bins([r.given[name] for r in rows])
            print(f"- {name}: " + ", ".join(f"{100 * c:.0f} -> {100 * r:.0f} % ({n})" for c, r, n in found))
        print(f"\n{costs(rows)}\n\n| pair | named or asked about | 80 % sure of a wrong group |\n|---|---|---|")
        for kind in STRANGE:
            print(strangers(kind, list(pool.map(partial(told_of, kind), seeds))))


if __name__ == "__main__":
    main()
