"""Do the tests bite? Small faults are put into the code, one at a time; the tests that run that line have to notice.

    python -m tests.mutants [ROOM...] [--each N] [--seed S]

A table of which test runs which line is made first (with `coverage`, one context a test), from the tests of that room
alone, none longer than a few seconds. Each mutant then is a fork of a process that has the libraries imported; it loads
the package with one expression changed, runs the tests of the line, shortest first, and is killed by the first that
fails. The same tests without a change have to pass (tried for every tenth).
Mutants that change nothing a user could see stand in `mutants.toml` with the reason, by what they change and where.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib.machinery
import json
import os
import random
import signal
import sys
import tempfile
import time
import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = {
    "physics": ["tests/physics", "tests/published"],
    "fit": ["tests/fit", "tests/physics", "tests/published"],
    "judge": ["tests/judge", "tests/hold"],
    "where": ["tests/where"],
    "live/lines": ["tests/live"],
    "live/streams": ["tests/live"],
    "runs": ["tests/runs", "tests/jobs/test_engine_runs.py"],
    "jobs": ["tests/jobs"],
}
LONGEST_TEST_S, MOST_TESTS, LONGEST_S = 4.0, 60, 90.0
_SWAPPED: dict[type, type] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.LtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
_EDGE: dict[type, type] = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_NAMES = {"min": "max", "max": "min", "any": "all", "all": "any", "maximum": "minimum", "minimum": "maximum",
          "floor": "ceil", "ceil": "floor", "searchsorted": "digitize"}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change. at: number of the node in `ast.walk` of the file; line: where; change: before -> after."""

    file: str
    function: str
    at: int
    kind: str
    line: int
    change: str

    @property
    def key(self) -> tuple[str, str, str]:
        """What it is known by from one version to the next."""
        return self.file, self.function, self.change


# ---------------------------------------------------------------- what may be changed


def mutants_of(file: str) -> list[Mutant]:
    """Every change of a file that is tried."""
    tree = ast.parse((ROOT / file).read_text("utf-8"))
    owners = _owners(tree)
    skipped = {id(n) for node in ast.walk(tree) for part in _words(node) for n in ast.walk(part)}
    found = []
    for at, node in enumerate(ast.walk(tree)):
        if id(node) in skipped:
            continue
        for kind in _kinds(node):
            before = ast.unparse(node)
            after = ast.unparse(_changed(ast.parse(before).body[0], kind))
            if after != before:
                change = f"{_short(before)} -> {_short(after)}"
                found.append(Mutant(file, owners.get(id(node), ""), at, kind, node.lineno, change))
    return found


def _short(text: str) -> str:
    return " ".join(text.split())[:110]


def _owners(tree: ast.Module) -> dict[int, str]:
    """Each node's function or class."""
    found: dict[int, str] = {}

    def visit(node: ast.AST, name: str) -> None:
        for child in ast.iter_child_nodes(node):
            named = isinstance(child, ast.FunctionDef | ast.ClassDef)
            inner = f"{name}.{child.name}".lstrip(".") if named else name  # type: ignore[attr-defined]
            found[id(child)] = inner
            visit(child, inner)

    visit(tree, "")
    return found


def _words(node: ast.AST) -> Iterator[ast.AST]:
    """Parts that are no behaviour: annotations, decorators, imports, texts of errors and formats."""
    if isinstance(node, ast.arg | ast.AnnAssign) and node.annotation is not None:
        yield node.annotation
    if isinstance(node, ast.FunctionDef):
        yield from [*node.decorator_list, *([node.returns] if node.returns else [])]
    if isinstance(node, ast.ClassDef):
        yield from node.decorator_list
    if isinstance(node, ast.JoinedStr | ast.Assert):
        yield node
    if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
        yield node


def _kinds(node: ast.AST) -> Iterator[str]:
    """The changes of one node; at most one of a sort."""
    if isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in _SWAPPED:
        if not isinstance(getattr(node, "left", None), ast.Constant | ast.List | ast.Tuple):
            yield "operator"
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        yield from ("comparison",) if type(node.ops[0]) in _SWAPPED else ()
        yield from ("edge",) if type(node.ops[0]) in _EDGE and isinstance(node.comparators[0], ast.Constant) else ()
    elif isinstance(node, ast.Call):
        yield from ("name",) if getattr(node.func, "id", getattr(node.func, "attr", "")) in _NAMES else ()
        yield from ("order",) if len(node.args) >= 2 and all(isinstance(a, ast.Name) for a in node.args[:2]) else ()
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float, bool):
        yield "number"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        yield "sign"
    else:
        yield from ("branch",) if isinstance(node, ast.IfExp) else ("gone",) if isinstance(node, ast.AugAssign) else ()


def _changed(node: Any, kind: str) -> Any:
    """The node with the change, in place where that goes."""
    inner = node.value if isinstance(node, ast.Expr) else node
    if kind == "operator":
        inner.op = _SWAPPED[type(inner.op)]()
    elif kind in ("comparison", "edge"):
        inner.ops = [(_EDGE if kind == "edge" else _SWAPPED)[type(inner.ops[0])]()]
    elif kind == "sign":
        inner = inner.operand
    elif kind == "number":
        value = inner.value
        inner.value = (not value) if isinstance(value, bool) else value + 1 if isinstance(value, int) else _other(value)
    elif kind == "name":
        if isinstance(inner.func, ast.Name):
            inner.func.id = _NAMES[inner.func.id]
        else:
            inner.func.attr = _NAMES[inner.func.attr]
    elif kind == "order":
        inner.args[0], inner.args[1] = inner.args[1], inner.args[0]
    elif kind == "branch":
        inner.body, inner.orelse = inner.orelse, inner.body
    elif kind == "gone":
        inner = ast.Pass()
    return inner


def _other(value: float) -> float:
    return 1.0 if value == 0.0 else 1.5 * value


class _Put(ast.NodeTransformer):
    def __init__(self, target: ast.AST, kind: str) -> None:
        self.target, self.kind = target, kind

    def visit(self, node: ast.AST) -> Any:
        if node is self.target:
            return ast.copy_location(_changed(node, self.kind), node)
        return self.generic_visit(node)


def compiled(mutant: Mutant) -> Any:
    """The file's code with the change in it."""
    tree = ast.parse((ROOT / mutant.file).read_text("utf-8"))
    target = next(node for at, node in enumerate(ast.walk(tree)) if at == mutant.at)
    tree = ast.fix_missing_locations(_Put(target, mutant.kind).visit(tree))
    return compile(tree, str(ROOT / mutant.file), "exec")


# ---------------------------------------------------------------- which test runs which line


class _Contexts:
    """One coverage context a test, and how long each took."""

    def __init__(self, cov: Any) -> None:
        self.cov, self.took_s = cov, dict[str, float]()

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.cov.switch_context(item.nodeid)
        begun = time.perf_counter()
        yield
        self.took_s[item.nodeid] = time.perf_counter() - begun
        self.cov.switch_context("")


@dataclass(frozen=True)
class Runs:
    """lines: file -> line -> tests that run it; took_s: of each test."""

    lines: dict[str, dict[int, list[str]]]
    took_s: dict[str, float]

    def of(self, mutant: Mutant) -> list[str]:
        """The tests of its line, shortest first; where it runs at import those of its file, by name or by its lines."""
        lines = self.lines.get(mutant.file, {})
        tests = set(lines.get(mutant.line, ()))
        if not tests:
            named = f"/test_{Path(mutant.file).stem}.py::"
            tests = {test for each in lines.values() for test in each} | {t for t in self.took_s if named in t}
        quick = sorted((t for t in tests if self.took_s.get(t, 99.0) <= LONGEST_TEST_S), key=self.took_s.__getitem__)
        return quick[:MOST_TESTS]


def runs_of(room: str) -> Runs:
    """Run the room's tests once in a child, watched."""
    told = Path(tempfile.mkdtemp()) / "runs.json"

    def watched() -> None:
        import coverage

        cov = coverage.Coverage(data_file=None, source=[str(ROOT / "leakdown")])
        plugin = _Contexts(cov)
        cov.start()
        _tests([*ROOMS[room], "-m", "not browser"], [plugin])
        cov.stop()
        data, lines = cov.get_data(), dict[str, dict[int, list[str]]]()
        for path in data.measured_files():
            name = Path(path).relative_to(ROOT).as_posix()
            lines[name] = {k: [c for c in v if c] for k, v in data.contexts_by_lineno(path).items()}
        told.write_text(json.dumps({"lines": lines, "took_s": plugin.took_s}))

    _forked(watched, 1800.0)
    found = json.loads(told.read_text())
    lines = {file: {int(k): v for k, v in each.items()} for file, each in found["lines"].items()}
    return Runs(lines, found["took_s"])


def _tests(words: list[str], plugins: list[Any]) -> int:
    quiet = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "-W", "ignore"]
    with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere), contextlib.redirect_stderr(nowhere):
        return int(pytest.main([*quiet, *words], plugins=plugins))


def _forked(action: Callable[[], None], limit_s: float) -> int:
    """Exit status of a child that does it: 0; 1 for an exception or a non-zero exit, 2 where it took too long."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.setpgid(0, 0)
            action()
            status = 0
        except SystemExit as end:
            status = int(end.code or 0)
        finally:
            os._exit(status)
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return min(os.waitstatus_to_exitcode(status) & 0xFF, 1)
        time.sleep(0.01)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return 2


def killed(mutant: Mutant, tests: list[str]) -> bool:
    """Whether a test notices; one that never ends is noticed too."""
    return not _passes(tests, mutant.file, compiled(mutant))


def _passes(tests: list[str], file: str = "", code: Any = None) -> bool:
    """Whether the tests pass with this code in a file's place."""

    def run() -> None:
        plain = importlib.machinery.SourceFileLoader.get_code

        def get_code(self: Any, name: str) -> Any:
            return code if file and self.path == str(ROOT / file) else plain(self, name)

        importlib.machinery.SourceFileLoader.get_code = get_code  # type: ignore[method-assign]
        raise SystemExit(_tests(["-x", *tests], []))

    return _forked(run, LONGEST_S) == 0


# ---------------------------------------------------------------- the command


def _reasons() -> dict[tuple[str, str, str], str]:
    rows = tomllib.loads((ROOT / "tests" / "mutants.toml").read_text("utf-8")).get("same", [])
    return {(row["file"], row["function"], row["change"]): row["why"] for row in rows}


def _libraries() -> None:
    """Imported once, so that a mutant costs its tests alone."""
    import hypothesis
    import numpy
    import pandas
    import scipy.integrate
    import scipy.optimize
    import scipy.stats
    import typer

    assert hypothesis and numpy and pandas and scipy and typer


def main() -> None:
    """Print killed and survived for each room."""
    parser = argparse.ArgumentParser()
    parser.add_argument("rooms", nargs="*", default=list(ROOMS))
    parser.add_argument("--each", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    os.environ["CI"] = "1"  # the same cases every time
    sys.path.insert(0, str(ROOT))
    os.chdir(ROOT)
    _libraries()
    reasons = _reasons()
    for room in asked.rooms:
        files = sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / "leakdown" / room).glob("*.py"))
        every = [m for file in files for m in mutants_of(file)]
        chosen = random.Random(asked.seed).sample(every, min(asked.each, len(every)))
        runs, count = runs_of(room), defaultdict[str, int](int)
        for number, mutant in enumerate(chosen):
            tests = runs.of(mutant)
            assert number % 10 or not tests or _passes(tests), f"these fail as they stand: {tests}"
            if mutant.key in reasons:
                word = "same"
            elif tests and killed(mutant, tests):
                word = "killed"
            else:
                word = "ALIVE"
                print(f"{word}  {mutant.file}:{mutant.line} {mutant.function}: {mutant.change}  ({len(tests)} tests)")
            count[word] += 1
            sys.stdout.flush()
        tried = count["killed"] + count["ALIVE"]
        print(
            f"{room}: {count['killed']} of {tried} killed ({100 * count['killed'] / max(tried, 1):.0f} %), "
            f"{count['same']} the same by reason, of {len(every)} possible",
            flush=True,
        )


if __name__ == "__main__":
    main()
