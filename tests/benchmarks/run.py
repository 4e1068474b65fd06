"""Ratios taken in one run: `python -m tests.benchmarks.run`. Prints; never fails, never a timed test.

Every figure is the median over several runs on this machine, compared with something outside the project
measured in the same run.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from leakdown.estimate.analysis import Settings, analyse
from leakdown.estimate.choose import choose
from tests.estimate import truth
from tests.estimate.helpers import analysed_case, recording

REPEATS = 9


def median_s(action: Callable[[], object], repeats: int = REPEATS) -> float:
    """Median wall time of `action`, one warm-up run first."""
    action()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def analysis_against_exponential() -> None:
    """The whole analysis with intervals against lmfit's exponential with conf_interval, log by log."""
    import lmfit

    ratios, ours, theirs = [], [], []
    for seed in range(12):
        case = truth.dense(np.random.default_rng([201, seed]))
        size = np.abs(case.pressure_pa)
        model = lmfit.Model(lambda t, p0, tau: p0 * np.exp(-t / tau))

        def exponential(size: np.ndarray = size, case: truth.Case = case, model: lmfit.Model = model) -> None:
            fit = model.fit(size, t=case.time_s, p0=size[0], tau=100.0)
            lmfit.conf_interval(fit, fit)

        mine = median_s(lambda case=case: analysed_case(case), 3)
        other = median_s(exponential, 3)
        ours.append(mine)
        theirs.append(other)
        ratios.append(mine / other)
    print(
        f"analysis with interval / lmfit exponential with conf_interval: {statistics.median(ratios):.2f} "
        f"(medians {1e3 * statistics.median(ours):.0f} ms and {1e3 * statistics.median(theirs):.0f} ms)"
    )


def start_up() -> None:
    """`leakdown --help` against a bare Typer program, and one sheet against the imports a fit would need."""
    with tempfile.TemporaryDirectory() as folder:
        bare = Path(folder, "bare.py")
        bare.write_text(
            "import typer\napp = typer.Typer()\n@app.command()\ndef one(name: str = 'x') -> None:\n"
            "    'One.'\n@app.command()\ndef two() -> None:\n    'Two.'\napp()\n"
        )
        sheet = Path(folder, "sheet.csv")
        sheet.write_text(
            "time (s),psi\n" + "".join(f"{10 * k},{round(4 * 7 * 0.97**k) / 4}\n" for k in range(12))
        )
        command = [sys.executable, "-m", "leakdown"]
        help_s = median_s(lambda: _run([*command, "--help"]))
        bare_s = median_s(lambda: _run([sys.executable, str(bare), "--help"]))
        sheet_s = median_s(lambda: _run([*command, "analyse", str(sheet), "--json"]))
        import_s = median_s(lambda: _run([sys.executable, "-c", "import numpy, scipy.optimize"]))
    print(
        f"leakdown --help / bare Typer --help: {help_s / bare_s:.2f} "
        f"({1e3 * help_s:.0f} and {1e3 * bare_s:.0f} ms)"
    )
    print(
        f"one sheet analysed / import numpy, scipy.optimize: {sheet_s / import_s:.2f} "
        f"({1e3 * sheet_s:.0f} and {1e3 * import_s:.0f} ms)"
    )


def _run(command: list[str]) -> None:
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def million_readings() -> None:
    """A log of 1,000,000 readings through the command line: seconds and peak memory of the process."""
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
        start = time.perf_counter()
        _run([sys.executable, "-m", "leakdown", "analyse", str(log), "--json"])
        seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"1,000,000 readings end to end: {seconds:.2f} s, peak of any child process so far {peak:.0f} MB")


def against_the_bound() -> None:
    """Spread of the estimate against the Cramer-Rao bound of the same model (its own J'J, law and gas known).

    A plain viscous leak, 400 noises. The bound takes the priors as known truth, so a ratio near 1 means that
    nothing is wasted; well above 1 would mean a poor fit.
    """
    t = np.arange(0, 60, 0.1)
    rate = 35e3 / 150
    k, a = truth.geometry(rate, 0.5, 101_325.0, 1.0)
    clean = truth.isothermal(t, 141_325.0, 101_325.0, k, a) - 101_325.0
    estimates, bounds = [], []
    for seed in range(120):
        noisy = clean + np.random.default_rng([301, seed]).normal(0, 30, t.size)
        found = analyse(recording(t, noisy), Settings())
        if found.leak is not None and found.leak.rate_pa_s.value is not None:
            estimates.append(found.leak.rate_pa_s.value)
            bounds.append((found.leak.rate_pa_s.high - found.leak.rate_pa_s.low) / (2 * 1.96))
    spread = float(np.std(estimates))
    print(
        f"spread of the estimate / its own stated standard error (Cramer-Rao bound of the model): "
        f"{spread / float(np.median(bounds)):.2f}; spread {100 * spread / rate:.2f} % of the rate"
    )


def main() -> None:
    """Print every figure."""
    assert choose is not None
    analysis_against_exponential()
    start_up()
    million_readings()
    against_the_bound()


if __name__ == "__main__":
    main()
