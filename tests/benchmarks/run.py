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

from leakdown.fit.model import RATE, SHARE, START, HoldModel
from leakdown.fit.priors import priors_for, waited_warmth
from leakdown.hold.readings import prepare
from leakdown.judge.analyse import analyse
from tests.fit import truth
from tests.fit.helpers import analysed_case, recording

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
        sheet.write_text("time (s),psi\n" + "".join(f"{10 * k},{round(4 * 7 * 0.97**k) / 4}\n" for k in range(12)))
        command = [sys.executable, "-m", "leakdown"]
        help_s = median_s(lambda: _run([*command, "--help"]))
        bare_s = median_s(lambda: _run([sys.executable, str(bare), "--help"]))
        sheet_s = median_s(lambda: _run([*command, "analyse", str(sheet), "--json"]))
        import_s = median_s(lambda: _run([sys.executable, "-c", "import numpy, scipy.optimize"]))
    print(f"leakdown --help / bare Typer --help: {help_s / bare_s:.2f} ({1e3 * help_s:.0f} and {1e3 * bare_s:.0f} ms)")
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
    """Spread of the estimate over many noises against the Cramer-Rao bound of the same decay model.

    Two bounds: with everything but rate, flow law and start pressure known, which no real test can reach,
    and with the gas, zero, creep and drift unknown within their priors, which is what the interval states.
    """
    t = np.arange(0, 60, 0.1)
    rate = 35e3 / 150
    k, a = truth.geometry(rate, 0.5, 101_325.0, 1.0)
    clean = truth.isothermal(t, 141_325.0, 101_325.0, k, a) - 101_325.0
    estimates, stated = [], []
    for seed in range(100):
        noisy = clean + np.random.default_rng([301, seed]).normal(0, 30, t.size)
        leak = analyse(recording(t, noisy)).leak
        if leak is not None and leak.rate_pa_s.value is not None:
            estimates.append(leak.rate_pa_s.value)
            stated.append((leak.rate_pa_s.high - leak.rate_pa_s.low) / (2 * 1.96))
    readings = prepare(t, noisy, 1.0, False)
    model = HoldModel(
        readings, 101_325.0, False, 35e3, priors_for(0.0, 150.0, waited_warmth(40e3, 101_325.0, 0.0, 1.0), 250e-6)
    )
    x = model.start(0.5)
    x[[RATE, SHARE, START]] = rate, 0.5, 141_325.0
    jacobian = model.predict(x)[1][:, [RATE, SHARE, START]] / readings.sigma_pa[:, None]
    bound = float(np.sqrt(np.linalg.inv(jacobian.T @ jacobian)[0, 0]))
    spread = float(np.std(estimates))
    print(
        f"spread of the estimate {100 * spread / rate:.2f} % of the rate: {spread / bound:.1f} of the "
        f"Cramer-Rao bound "
        f"with all else known, {spread / float(np.median(stated)):.2f} of the standard error it states"
    )


def main() -> None:
    """Print every figure."""
    analysis_against_exponential()
    start_up()
    million_readings()
    against_the_bound()


if __name__ == "__main__":
    main()
