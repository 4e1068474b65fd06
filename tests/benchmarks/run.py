"""Ratios taken in one run, with the date and the machine: `python -m tests.benchmarks.run [NAME...]`.

Prints README's table of speed; never fails, never a timed test. Every ratio is against something outside the project,
or the same work done otherwise, in the same run: both are done in turn, and the median of the rounds' ratios is said,
for a machine may change its pace within a minute. `line_costs` tells what a line costs.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np

from leakdown.batch import in_order
from leakdown.fit.model import RATE, SHARE, START, HoldModel
from leakdown.fit.priors import priors_for, waited_warmth
from leakdown.hold.readings import prepare
from leakdown.judge.analyse import analyse
from leakdown.sheets.file import read
from tests.benchmarks import job_list, log_cost
from tests.fit import truth
from tests.fit.helpers import analysed_case, recording

Row = tuple[str, str]
REPEATS = 9
ROOT = Path(__file__).parents[2]
PROGRAM = [sys.executable, "-m", "leakdown"]


def in_turn(*actions: Callable[[], object], rounds: int = REPEATS) -> list[tuple[float, float]]:
    """(median seconds, median ratio to the first of the same round) of each action, one warm-up round first."""
    times: list[list[float]] = []
    for _ in range(rounds + 1):
        times.append([])
        for action in actions:
            start = time.perf_counter()
            action()
            times[-1].append(time.perf_counter() - start)
    columns = list(zip(*times[1:], strict=True))
    ratios = [[mine / first for mine, first in zip(column, columns[0], strict=True)] for column in columns]
    return [(statistics.median(s), statistics.median(r)) for s, r in zip(columns, ratios, strict=True)]


def _run(command: list[str], cwd: Path | None = None) -> None:
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=cwd)


def plain() -> list[Row]:
    """The whole analysis with intervals against lmfit's exponential with conf_interval, log by log."""
    ratios = [_against_exponential(truth.dense(np.random.default_rng([201, seed]))) for seed in range(12)]
    said = f"{statistics.median(ratios):.2f} ({min(ratios):.2f} to {max(ratios):.2f})"
    return [("a plain log analysed, over lmfit's exponential with `conf_interval` on the same readings", said)]


def _against_exponential(case: truth.Case) -> float:
    import lmfit

    size = np.abs(case.pressure_pa)
    model = lmfit.Model(lambda t, p0, tau: p0 * np.exp(-t / tau))

    def exponential() -> None:
        fit = model.fit(size, t=case.time_s, p0=size[0], tau=100.0)
        lmfit.conf_interval(fit, fit)

    return in_turn(exponential, lambda: analysed_case(case), rounds=5)[1][1]


def odd() -> list[Row]:
    """Holds that are no plain leak against plain ones of as many readings."""
    t = np.arange(0.0, 60.0, 0.1)
    noise = np.random.default_rng(5).normal(0.0, 30.0, t.size)

    leak = 40e3 * np.exp(-t / 150.0)
    shapes = {
        "closes at a pressure": 12e3 + 28e3 * np.exp(-t / 40.0),
        "grows": 40e3 * np.exp(-t / 150.0 - (t / 60.0) ** 2),
        "a slipped plug": leak - 1500.0 * (t > 30.0),
        "soft hose": 38e3 * np.exp(-t / 400.0) + 2e3 * np.exp(-t / 25.0),
    }
    actions = [partial(analyse, recording(t, pressure + noise)) for pressure in (leak, *shapes.values())]
    ratios = [ratio for _, ratio in in_turn(*actions)[1:]]
    said = ", ".join(f"{name} {ratio:.1f}" for name, ratio in zip(shapes, ratios, strict=True))
    return [("an odd hold analysed, over a plain one", said)]


def start_up() -> list[Row]:
    """`leakdown --help` against a bare Typer program, and one sheet against the imports a fit would need."""
    with tempfile.TemporaryDirectory() as folder:
        bare = Path(folder, "bare.py")
        bare.write_text(
            "import typer\napp = typer.Typer()\n@app.command()\ndef one(name: str = 'x') -> None:\n"
            "    'One.'\n@app.command()\ndef two() -> None:\n    'Two.'\napp()\n"
        )
        sheet = Path(folder, "sheet.csv")
        sheet.write_text("time (s),psi\n" + "".join(f"{10 * k},{round(4 * 7 * 0.97**k) / 4}\n" for k in range(12)))
        _, (help_s, over_bare) = in_turn(
            lambda: _run([sys.executable, str(bare), "--help"]), lambda: _run([*PROGRAM, "--help"])
        )
        _, (sheet_s, over_imports) = in_turn(
            lambda: _run([sys.executable, "-c", "import numpy, scipy.optimize"]),
            lambda: _run([*PROGRAM, "analyse", str(sheet), "--json"]),
        )
    return [
        ("`leakdown --help`, over a bare Typer program's", f"{over_bare:.2f} ({1e3 * help_s:.0f} ms)"),
        (
            "one sheet by `leakdown analyse`, over `import numpy, scipy.optimize`",
            f"{over_imports:.2f} ({1e3 * sheet_s:.0f} ms)",
        ),
    ]


def million() -> list[Row]:
    """A log of 1,000,000 readings through the command line, against numpy's own reading of the file."""
    t = np.arange(1_000_000) * 0.001
    k, a = truth.geometry(35e3 / 400, 0.5, 101_325.0, 1.0)
    coarse = np.linspace(0, t[-1], 4000)
    clean = np.interp(t, coarse, truth.isothermal(coarse, 141_325.0, 101_325.0, k, a)) - 101_325.0
    pressure = (clean + np.random.default_rng(0).normal(0, 30, t.size)) / 1e3
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder, "log.csv")
        with log.open("w") as stream:
            stream.write("# volume: 250 cm3\ntime_s,pressure_kpa\n")
            np.savetxt(stream, np.column_stack([t, pressure]), fmt="%.3f,%.4f")
        _, (seconds, over_loading) = in_turn(
            lambda: np.loadtxt(log, delimiter=",", skiprows=2),
            lambda: _run([*PROGRAM, "analyse", str(log), "--json"]),
            rounds=3,
        )
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    said = f"{over_loading:.1f} ({seconds:.1f} s, {peak:.0f} MB at most)"
    return [("a million readings by `leakdown analyse`, over `numpy.loadtxt` of the file", said)]


def bound() -> list[Row]:
    """Spread of the estimate over many noises against the Cramer-Rao bound of the same decay model."""
    t = np.arange(0, 60, 0.1)
    rate = 35e3 / 150
    k, a = truth.geometry(rate, 0.5, 101_325.0, 1.0)
    clean = truth.isothermal(t, 141_325.0, 101_325.0, k, a) - 101_325.0
    estimates = []
    for seed in range(100):
        noisy = clean + np.random.default_rng([301, seed]).normal(0, 30, t.size)
        leak = analyse(recording(t, noisy)).leak
        if leak is not None and leak.rate_pa_s.value is not None:
            estimates.append(leak.rate_pa_s.value)
    readings = prepare(t, noisy, 1.0, False)
    priors = priors_for(0.0, 150.0, waited_warmth(40e3, 101_325.0, 0.0, 1.0), 250e-6)
    model = HoldModel(readings, 101_325.0, False, 35e3, priors)
    x = model.start(0.5)
    x[[RATE, SHARE, START]] = rate, 0.5, 141_325.0
    jacobian = model.predict(x)[1][:, [RATE, SHARE, START]] / readings.sigma_pa[:, None]
    least = float(np.sqrt(np.linalg.inv(jacobian.T @ jacobian)[0, 0]))
    spread = float(np.std(estimates))
    what = "spread of the estimate over 100 noises, over the Cramer-Rao bound with all but rate, law and start known"
    return [(what, f"{spread / least:.1f} ({100 * spread / rate:.2f} % of the rate)")]


def batch() -> list[Row]:
    """Two hundred logs on all cores against one."""
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder, f"{k:02d}.csv") for k in range(200)]
        for seed, path in enumerate(paths):
            case = truth.dense(np.random.default_rng([202, seed]))
            head = "# volume: 250 cm3\ntime_s,pressure_kpa\n"
            np.savetxt(
                path, np.column_stack([case.time_s, case.pressure_pa / 1e3]), "%.2f,%.4f", header=head, comments=""
            )
        every, one = in_turn(
            *(partial(lambda workers: list(in_order(_analysed, paths, workers)), workers) for workers in (None, 1)),
            rounds=3,
        )
    return [(f"two hundred logs on one core, over all {os.cpu_count()}", f"{one[1]:.2f} ({every[0]:.1f} s)")]


def _analysed(path: Path) -> float:
    return float(analyse(read(path)).hold.end_s)


def whole_commands() -> list[Row]:
    """`plan` and `demo` against one sheet analysed."""
    sheet = ROOT / "datasets" / "4_needle_sheet_vacuum.csv"
    asked = ["plan", "--volume", "250 cm3", "--limit", "7 kPa in 60 s", "--resolution", "0.25 psi"]
    with tempfile.TemporaryDirectory() as folder:
        _, plan, demo = in_turn(
            lambda: _run([*PROGRAM, "analyse", str(sheet)]),
            lambda: _run([*PROGRAM, *asked]),
            lambda: _run([*PROGRAM, "demo", tempfile.mkdtemp(dir=folder)]),
            rounds=3,
        )
    return [
        (f"`leakdown {name}`, over one sheet analysed", f"{ratio:.1f} ({seconds:.1f} s)")
        for name, (seconds, ratio) in (("plan", plan), ("demo", demo))
    ]


def list_jobs() -> list[Row]:
    """`job list` of 10,000 folders that no index knows, against reading their records as JSON."""
    root = Path(tempfile.mkdtemp(prefix="leakdown-list-"))
    try:
        job_list.make(root, 10_000)
        begun = time.perf_counter()
        for path in root.glob("*/job.json"):
            json.loads(path.read_bytes())
        reading = time.perf_counter() - begun
        cold, warm = job_list.seconds(root), job_list.seconds(root)
    finally:
        shutil.rmtree(root)
    said = f"{cold / reading:.1f} ({cold:.1f} s; again {warm:.2f} s)"
    return [("`job list` of 10,000 folders for the first time, over `json.loads` of them all", said)]


PARTS: dict[str, Callable[[], list[Row]]] = {
    "plain": plain, "odd": odd, "start-up": start_up, "million": million, "batch": batch, "commands": whole_commands,
    "list": list_jobs, "log": log_cost.main, "bound": bound,
}  # fmt: skip


def machine() -> str:
    """Date, processor, cores, versions."""
    info = Path("/proc/cpuinfo")
    names = [line.partition(":")[2].strip() for line in (info.read_text().splitlines() if info.exists() else ())
             if line.startswith("model name")]  # fmt: skip
    cpu = names[0] if names else platform.processor()
    return f"{date.today()}, {cpu}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy {np.__version__}"


def main(names: list[str]) -> None:
    """Print the table."""
    print(f"{machine()}\n\n| what, over what | ratio |\n|---|---|")
    for name in names or PARTS:
        for what, figure in PARTS[name]():
            print(f"| {what} | {figure} |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
