"""The table of README: `python -m tests.study [--each 200] [--json FILE] [REGIME...]`.

Every regime is drawn, analysed as the command line would with everything about the test told, and compared with
its truth; beside it three things that people would use instead, on the same readings (`instead`). Errors of a
share are binomial standard errors.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import time
import zlib
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from leakdown.errors import LeakdownError
from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from tests.study.circuit import CannotFill
from tests.study.instead import METHODS, hold_of
from tests.study.regimes import LIMIT, REGIMES, Drawn

ODD = {"levels-off", "step", "leak-shrinks", "leak-grows", "opened-by-pressure", "shut-by-pressure", "no-fit"}


def drawn(name: str, seed: int) -> Drawn:
    """The test number `seed` of a regime; what no pump could fill is drawn again."""
    for again in range(50):
        try:
            return REGIMES[name](np.random.default_rng([zlib.crc32(name.encode()), seed, again]), seed)
        except CannotFill:
            continue
    raise CannotFill(name)


def looked_at(job: tuple[str, int]) -> dict:
    """What was true of one test, what the analysis says, and what the others say."""
    test = drawn(*job)
    begin = time.perf_counter()
    row = {"seed": job[1], "rate": test.rate_pa_s, "over": test.over, "word": "refused", "sized": False, "odd": []}
    try:
        result = analyse(test.recording, Settings(limit=parse_limit(LIMIT)))
    except LeakdownError as error:
        return row | {"error": str(error)}
    row["ms"] = 1e3 * (time.perf_counter() - begin)
    row["word"] = result.verdict.word if result.verdict else "none"
    row["odd"] = sorted({flag.code for flag in result.flags} & ODD)
    if result.leak is not None:
        rate = result.leak.rate_pa_s
        row |= {"sized": True, "value": rate.value, "low": rate.low, "high": rate.high}
        row["detection"] = result.leak.detection_rate_pa_s
    if test.rate_pa_s:
        row["instead"] = {name: method(*hold_of(test.recording)) for name, method in METHODS.items()}
    return row


def share(part: int, of: int) -> str:
    """ "96 +/- 1" in 100; none and all are known to half of three in `of` (rule of three)."""
    p = part / of
    return f"{100 * p:.0f} +/- {100 * max(math.sqrt(p * (1 - p) / of), 1.5 / of):.0f}"


def told(name: str, rows: list[dict]) -> str:
    """One line of the table."""
    n = len(rows)
    words = Counter(row["word"] for row in rows)
    sized = [row for row in rows if row["sized"]]
    parts = [f"{name:18s} n {n}"]
    if any(row["rate"] for row in rows):
        seen = [row for row in sized if row["value"] is not None]
        errors = [abs(row["value"] / row["rate"] - 1.0) for row in seen]
        held = sum(row["low"] <= row["rate"] <= row["high"] for row in sized)
        width = float(np.median([(row["high"] - row["low"]) / row["rate"] for row in sized]))
        parts.append(f"seen {share(len(seen), n)}")
        parts.append(
            f"error {100 * np.median(errors or [0.0]):.2f} %, held {share(held, len(sized))}, width {100 * width:.0f} %"
        )
    elif rows[0]["rate"] == 0.0:
        given = sum(row["value"] is not None for row in sized)
        above = [0.06 * float(np.median([row[key] for row in sized])) for key in ("high", "detection")]
        parts.append(f"given a leak {given}, upper limit {above[0]:.2f}, would be seen {above[1]:.2f} kPa/min")
    parts.append(f"odd {share(sum(bool(row['odd']) for row in rows), n)}")
    parts.append(", ".join(f"{word} {count}" for word, count in sorted(words.items())))
    parts.append(f"{np.median([row.get('ms', 0.0) for row in rows]):.0f} ms")
    for method in METHODS:
        others = [row["instead"][method] + (row["rate"],) for row in rows if "instead" in row]
        if others:
            error = float(np.median([abs(value / rate - 1.0) for value, _, _, rate in others]))
            held = sum(low <= rate <= high for _, low, high, rate in others)
            parts.append(f"[{method}: error {100 * error:.1f} %, held {share(held, len(others))}]")
    return "  ".join(parts)


def main() -> None:
    """Print the table, a line a regime."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("regimes", nargs="*", metavar="REGIME", help=", ".join(REGIMES))
    parser.add_argument("--each", type=int, default=100, help="tests of each regime")
    parser.add_argument("--json", type=Path, help="every test, for a closer look")
    asked = parser.parse_args()
    found = {}
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for name in asked.regimes or REGIMES:
            found[name] = list(pool.map(looked_at, [(name, seed) for seed in range(asked.each)], chunksize=4))
            print(told(name, found[name]), flush=True)
    if asked.json:
        asked.json.write_text(json.dumps(found))


if __name__ == "__main__":
    main()
