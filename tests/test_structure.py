"""The shape of the source itself: layers, hidden imports, homes of other packages, sizes, quick start."""

from __future__ import annotations

import ast
import statistics
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "leakdown"

# The rooms in the way of the data: each may import those above it in this list, never one below.
ROOMS = (
    "errors",
    "tuned",
    "file_names",
    "disk",
    "shop_files",
    "knowledge",
    "circuits",
    "quantities",
    "vocabulary",
    "uncertainty",
    "runs",
    "recording",
    "analysis",
    "words.numbers",  # figures in words: everything above may need them
    "physics",
    "said",
    "settings",
    "knowledge",
    "sheets",
    "reading",
    "live",
    "hold",
    "fit",
    "judge",
    "live.bench",  # a live test may stop once the verdict is certain
    "prepare",
    "rows",
    "batch",
    "where",
    "words",
    "report",
    "jobs",
    "library",
    "cli",
    "__main__",
)
# Neighbours in that list that nevertheless keep apart: the first knows nothing of the second.
APART = (("live", "sheets"), ("jobs", "live"), ("report", "live"), ("hold", "live"), ("fit", "live"), ("judge", "live"))
# Where each package from outside may be imported, by path under leakdown/. numpy is at home everywhere.
HOMES: dict[str, tuple[str, ...]] = {
    "plotly": ("report/figures.py", "library.py"),  # there for its types alone
    "matplotlib": ("report/picture.py", "report/plotted.py", "report/runs_picture.py"),
    "jinja2": ("report/page.py",),
    "markupsafe": (
        "report/page.py",
        "jobs/page.py",
        "jobs/customer_page.py",
        "jobs/overview.py",
        "jobs/tests_on_page.py",
    ),
    "typer": ("cli/",),
    "click": ("cli/",),
    "rich": ("cli/",),
    "serial": ("live/capture/port.py",),
    "pandas": ("recording.py", "rows.py", "sheets/"),
    "python_calamine": ("sheets/",),
    "platformdirs": ("shop_files.py",),
    "snowballstemmer": ("where/phrases.py",),
    "tomlkit": ("settings/change.py",),
    "msgspec": ("jobs/form.py",),
    "PIL": ("jobs/photos.py",),
    "scipy": ("hold/", "fit/", "judge/", "uncertainty.py"),
}
MOST_FILES, MOST_LINES = 285, 41_000
MOST_FILE_LINES, P90_FUNCTION_LINES, P99_FUNCTION_LINES, MOST_FUNCTION_LINES = 350, 20, 45, 60


@dataclass(frozen=True)
class Import:
    """One imported module, where it stands, and whether it hides inside a function."""

    importer: str
    imported: str
    line: int
    hidden: bool

    @property
    def place(self) -> str:
        return f"{self.importer}:{self.line} imports {self.imported}"


@cache
def modules() -> dict[str, tuple[Path, ast.Module]]:
    """Dotted name -> path and syntax tree of every module of the package."""
    found = {}
    for path in sorted(SOURCE.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = (path, ast.parse(path.read_text(encoding="utf-8")))
    return found


def _imports_of(name: str, node: ast.AST, hidden: bool = False) -> Iterator[Import]:
    for child in ast.iter_child_nodes(node):
        inside = hidden or isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        if isinstance(child, ast.Import):
            yield from (Import(name, alias.name, child.lineno, hidden) for alias in child.names)
        elif isinstance(child, ast.ImportFrom):
            assert child.level == 0, f"{name}:{child.lineno}: relative imports hide the layer"
            for alias in child.names:
                whole = f"{child.module}.{alias.name}"
                target = whole if whole in modules() else str(child.module)
                yield Import(name, target, child.lineno, hidden)
        yield from _imports_of(name, child, inside)


@cache
def imports() -> tuple[Import, ...]:
    return tuple(found for name, (_, tree) in modules().items() for found in _imports_of(name, tree))


def internal() -> list[Import]:
    return [found for found in imports() if found.imported.split(".")[0] == "leakdown"]


def room(module: str) -> str:
    """The most particular room that a module belongs to: `live.bench` before `live`."""
    parts = module.split(".")[1:] or ["__init__"]
    pair = ".".join(parts[:2])
    return pair if pair in ROOMS else parts[0]


def test_every_module_has_its_room():
    assert {room(name) for name in modules()} <= {*ROOMS, "__init__"}


def test_imports_point_one_way():
    wrong = []
    for found in internal():
        if found.importer == "leakdown":
            continue
        above, below = room(found.importer), room(found.imported)
        if above == below or below == "__init__":  # the bare package holds the version
            continue
        nested = below.startswith(above + ".") or above.startswith(below + ".")
        if (not nested and ROOMS.index(below) > ROOMS.index(above)) or (above, below) in APART:
            wrong.append(found.place)
    assert not wrong, "\n".join(wrong)


def test_no_module_reaches_itself():
    graph: dict[str, set[str]] = {name: set() for name in modules()}
    for found in internal():
        if found.importer != "leakdown":  # the bare package loads the library when a name of it is asked for
            graph[found.importer].add(found.imported)
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail[trail.index(name) :], name))
        if name not in done:
            for other in graph[name]:
                visit(other, (*trail, name))
            done.add(name)

    for name in graph:
        visit(name, ())


def test_no_hidden_imports_outside_the_command_line_and_the_library():
    """Commands and the library load lazily for a quick start; anywhere else that hides a dependency."""
    lazy = ("cli", "library", "__init__")
    wrong = [found.place for found in internal() if found.hidden and room(found.importer) not in lazy]
    assert not wrong, "\n".join(wrong)


def test_every_import_names_a_module_that_exists():
    wrong = [found.place for found in internal() if found.imported not in modules()]
    assert not wrong, "\n".join(wrong)


def test_outside_packages_stay_in_their_homes():
    wrong = []
    for found in imports():
        package = found.imported.split(".")[0]
        if package in sys.stdlib_module_names or package in ("leakdown", "numpy"):
            continue
        path = modules()[found.importer][0].relative_to(SOURCE).as_posix()
        if not any(path.startswith(home) for home in HOMES.get(package, ())):
            wrong.append(f"{path}:{found.line} imports {package}")
    assert not wrong, "\n".join(wrong)


def functions() -> Iterator[tuple[str, int]]:
    """(where, lines without the docstring) of every function."""
    for name, (_, tree) in modules().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                lines = (node.end_lineno or node.lineno) - node.lineno + 1
                first = node.body[0]
                if ast.get_docstring(node) is not None:
                    lines -= (first.end_lineno or first.lineno) - first.lineno + 1
                yield f"{name}.{node.name}", lines


def test_files_stay_short():
    lines = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path, _ in modules().values()
    }
    long = {path: count for path, count in lines.items() if count > MOST_FILE_LINES}
    assert not long, long


def test_functions_stay_short():
    sizes = list(functions())
    long = [f"{where}: {lines}" for where, lines in sizes if lines > MOST_FUNCTION_LINES]
    parts = statistics.quantiles((lines for _, lines in sizes), n=100)
    print(f"{len(sizes)} functions, p90 {parts[89]:.0f}, p99 {parts[98]:.0f} lines")
    assert not long, long
    assert parts[89] <= P90_FUNCTION_LINES
    assert parts[98] <= P99_FUNCTION_LINES


def test_commands_hold_no_rule():
    """Commands parse, call the library's rooms, and hand results to the words: they never fit or weigh."""
    rooms = {"physics", "fit", "hold"}
    wrong = [f.place for f in internal() if room(f.importer) == "cli" and room(f.imported) in rooms]
    assert not wrong, "\n".join(wrong)
    numbers = [
        f.place for f in imports() if room(f.importer) == "cli" and f.imported.split(".")[0] in ("numpy", "scipy")
    ]
    assert not numbers, "\n".join(numbers)


def test_the_package_keeps_its_size():
    """What the house is meant to hold; a larger one is a decision, not an accident."""
    lines = [len(path.read_text(encoding="utf-8").splitlines()) for path, _ in modules().values()]
    print(f"{len(lines)} files, {sum(lines)} lines")
    assert len(lines) <= MOST_FILES and sum(lines) <= MOST_LINES


@pytest.mark.parametrize("code", ["import leakdown", "import leakdown.cli.app"])
def test_it_starts_without_the_heavy_packages(code):
    heavy = {"pandas", "scipy", "plotly", "matplotlib", "python_calamine", "jinja2", "msgspec", "pymodbus"}
    heavy |= {"numpy"} if code == "import leakdown" else set()
    code += "; import sys; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, cwd=ROOT, check=True)
    loaded = set(run.stdout.split())
    assert "leakdown" in loaded and not loaded & heavy
