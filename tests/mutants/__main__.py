"""Do the tests bite? `python -m tests.mutants [ROOM...] [--each 60] [--seed 1] [--json FILE] [--again FILE]`.

A sample of small faults (`changes`) of each room is put into the source, one at a time and in memory only, and the
tests that reach the changed function (`reach`; those in a browser apart) are run until one fails. What no test notices
is printed with its place and kept in the JSON file, so that `--again` tries those alone; `equivalent.toml` names the
faults that change nothing a test could see, each with the reason. Each fault has a process of its own, forked from one
that has imported the heavy packages and nothing of the project.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import multiprocessing
import os
import random
import resource
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

import hypothesis  # noqa: F401  (heavy packages: imported here once for all children)
import matplotlib  # noqa: F401
import numpy  # noqa: F401
import pandas  # noqa: F401
import plotly.graph_objects  # noqa: F401
import pytest
import scipy.optimize
import scipy.stats  # noqa: F401

from tests.mutants.changes import Change, changed_tree, changes_of
from tests.mutants.reach import OPTIONS, ROOT, reach

ROOMS = ("physics", "fit", "judge", "where", "live/lines", "live/streams", "jobs")
EQUIVALENT = Path(__file__).with_name("equivalent.toml")
BUDGET_S = 40.0  # traced, of the tests that reach a place: one of each function first, the quickest of them
LOG = ROOT / ".mutants" / "last.log"  # of the newest child
_MEMORY_BYTES = 6 << 30


def child(run: Any, *args: Any, timeout_s: float = 3600.0) -> Any:
    """What `run(*args)` returns in a process of its own, its output in LOG; None when it took too long or died."""
    context = multiprocessing.get_context("fork")
    ours, theirs = context.Pipe(duplex=False)

    def work() -> None:
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        log = os.open(LOG, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(log, 1)
        os.dup2(log, 2)
        resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
        theirs.send(run(*args))
        theirs.close()
        os._exit(0)

    process = context.Process(target=work)
    process.start()
    theirs.close()
    try:
        return ours.recv() if ours.poll(timeout_s) else None
    except EOFError:
        return None
    finally:
        process.kill()
        process.join()


class _Changed(SourceFileLoader):
    def __init__(self, name: str, path: Path, change: Change) -> None:
        super().__init__(name, str(path))
        self._tree, self._path = changed_tree(path, change), str(path)

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._tree, self._path, "exec")


class _Finder:
    """Gives the changed module in place of the one on disk."""

    def __init__(self, change: Change) -> None:
        self.change, self.path = change, ROOT / "leakdown" / change.module
        self.name = ".".join(("leakdown", *Path(change.module).with_suffix("").parts))

    def find_spec(self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None) -> Any:
        if name != self.name:
            return None
        return importlib.util.spec_from_loader(name, _Changed(name, self.path, self.change))


class _Chosen:
    """Only these tests, in this order, with the fault in the source."""

    def __init__(self, nodes: list[str], finder: _Finder | None) -> None:
        self.order, self.finder = {node: place for place, node in enumerate(nodes)}, finder

    def pytest_sessionstart(self) -> None:
        if self.finder is not None:  # before pytest's own, which takes a module called `next_test` for a file of tests
            sys.meta_path.insert(0, self.finder)

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((i for i in items if i.nodeid in self.order), key=lambda i: self.order[i.nodeid])


def tried(change: Change | None, nodes: list[str]) -> int:
    """The exit status of the tests with that fault in the source, or as it is (in a child)."""
    finder = None if change is None else _Finder(change)
    if finder is not None:
        sys.meta_path.insert(0, finder)  # for what a conftest imports
    files = sorted({node.split("::")[0] for node in nodes})
    with tempfile.TemporaryDirectory() as temporary:
        options = ["-x", *OPTIONS, "--basetemp", temporary + "/t"]
        return int(pytest.main([*options, *files], plugins=[_Chosen(nodes, finder)]))


def nearest(change: Change, reached: dict[str, tuple[float, set[str]]]) -> tuple[list[str], float]:
    """The tests that reach the changed place, and their seconds: of its own room first, one case of each, the quickest.

    So a test of a thousand cases leaves room for the others, and what is slow leaves room for its cases.
    """
    at = f"{change.module}:{change.function}"
    hits = [node for node, (_, names) in reached.items() if at in names]
    if not change.function or not hits:  # outside any function: every test of a file that reaches the module
        here = change.module + ":"
        files = {n.split("::")[0] for n, (_, names) in reached.items() if any(f.startswith(here) for f in names)}
        hits = [node for node in reached if node.split("::")[0] in files]
    home = f"tests/{change.module.split('/')[0]}/"
    hits.sort(key=lambda node: reached[node][0])
    cases = Counter[str]()
    rank = {}
    for node in hits:
        rank[node] = cases[node.partition("[")[0]]
        cases[node.partition("[")[0]] += 1
    hits.sort(key=lambda node: (not node.startswith(home), rank[node] > 0))  # still the quickest of those alike
    chosen, seconds = [], 0.0
    for node in hits:
        if seconds + reached[node][0] <= BUDGET_S:
            chosen.append(node)
            seconds += reached[node][0]
    return chosen, seconds


def fate(change: Change, reached: dict[str, tuple[float, set[str]]]) -> tuple[str, int]:
    """killed, survived or unreached, and by how many tests at most."""
    nodes, seconds = nearest(change, reached)
    if not nodes:
        return "unreached", 0
    status = child(tried, change, nodes, timeout_s=30.0 + 4.0 * seconds)
    return ("survived" if status == 0 else "killed"), len(nodes)


def equivalent() -> dict[tuple[str, str, str], str]:
    """{place, before, after: why nothing could be seen of it}."""
    rows = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8"))["change"]
    return {(row["place"], row["before"], row["after"]): row["why"] for row in rows}


def sample(room: str, each: int, seed: int) -> list[Change]:
    """`each` faults of a room, by chance, the same for the same seed and source."""
    paths = sorted((ROOT / "leakdown" / room).rglob("*.py"))
    every = [c for path in paths for c in changes_of(path.relative_to(ROOT / "leakdown").as_posix(), path)]
    return random.Random(f"{seed} {room}").sample(every, min(each, len(every)))


def left_of(room: str, results: list[dict[str, Any]]) -> list[Change]:
    """The faults of a room that no test noticed in an earlier run, where their source still stands."""
    keys = {(r["place"], r["before"], r["after"]) for found in results if found["room"] == room for r in found["left"]}
    files = sorted({place.split(":")[0] for place, _, _ in keys})
    return [c for file in files for c in changes_of(file, ROOT / "leakdown" / file) if c.key in keys]


def told(room: str, drawn: list[Change], jobs: int, reached: dict[str, tuple[float, set[str]]]) -> dict[str, Any]:
    """Run these faults of a room, print what survived, and count."""
    known, started = equivalent(), time.monotonic()
    rest = [change for change in drawn if change.key not in known]
    rows, count = [], Counter[str]()
    with ThreadPoolExecutor(jobs) as pool:
        fates = pool.map(lambda change: fate(change, reached), rest)
        for change, (word, tests) in zip(rest, fates, strict=True):
            count[word] += 1
            if word == "killed":
                continue
            print(f"  {word} {change.module}:{change.line} {change.function} [{change.kind}, {tests} tests]")
            print(f"      - {change.before}\n      + {change.after}", flush=True)
            place, before, after = change.key
            rows.append({"place": place, "line": change.line, "before": before, "after": after})
    killed, alike = count["killed"], len(drawn) - len(rest)
    share, seconds = 100.0 * killed / max(len(rest), 1), time.monotonic() - started
    print(f"{room}: {killed} of {len(rest)} killed ({share:.0f} %), {alike} known alike, {seconds:.0f} s", flush=True)
    return {"room": room, "killed": killed, "run": len(rest), "equivalent": alike, "left": rows}


def main() -> int:
    """Parse, trace what is new, run the rooms."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__.splitlines()[0])
    parser.add_argument("rooms", nargs="*", default=list(ROOMS), metavar="ROOM")
    parser.add_argument("--each", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--again", type=Path)
    given = parser.parse_args()
    before = None if given.again is None else json.loads(given.again.read_text(encoding="utf-8"))
    os.environ["CI"] = "1"  # the same fuzzing every time
    os.chdir(ROOT)
    LOG.parent.mkdir(exist_ok=True)
    reached = reach(child, given.rooms)
    if child(tried, None, list(reached)) != 0:
        print(f"The tests fail as they are: see {LOG}.")
        return 1
    results = []
    for room in given.rooms:
        drawn = sample(room, given.each, given.seed) if before is None else left_of(room, before)
        results.append(told(room, drawn, given.jobs, reached))
        if given.json:
            given.json.write_text(json.dumps(results, indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
