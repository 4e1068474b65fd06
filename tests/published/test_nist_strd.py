"""The fitting engine against NIST's certified nonlinear regressions (StRD): parameters and their errors.

Source of every figure: the files in `nist_strd/`, read from the text itself (see the note there). An
engine may fail on a hard start; it may never call a wrong answer converged.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from leakdown.fit.least_squares import Fit, Function, least_squares

FOLDER = Path(__file__).parent / "nist_strd"
Array = NDArray[np.float64]


def saturation(x, b):
    return b[0] * (1.0 - np.exp(-b[1] * x))


MODELS: dict[str, Callable[[Array, Array], Array]] = {
    "Misra1a": saturation,
    "Misra1b": lambda x, b: b[0] * (1.0 - (1.0 + b[1] * x / 2.0) ** -2),
    "Misra1c": lambda x, b: b[0] * (1.0 - (1.0 + 2.0 * b[1] * x) ** -0.5),
    "Misra1d": lambda x, b: b[0] * b[1] * x / (1.0 + b[1] * x),
    "Chwirut1": lambda x, b: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "Chwirut2": lambda x, b: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "DanWood": lambda x, b: b[0] * x ** b[1],
    "BoxBOD": saturation,
    "MGH17": lambda x, b: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    "Lanczos3": lambda x, b: sum(b[k] * np.exp(-b[k + 1] * x) for k in (0, 2, 4)),
    "Thurber": lambda x, b: np.polyval(b[3::-1], x) / np.polyval([b[6], b[5], b[4], 1.0], x),
    "MGH09": lambda x, b: b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]),
    "Bennett5": lambda x, b: b[0] * (b[1] + x) ** (-1.0 / b[2]),
}
GENERATED = {"Lanczos3"}
"""Noise-free to five digits: residuals of 1e-5 limit how well differences can be formed."""


@dataclass(frozen=True)
class Certified:
    """One file: `starts` (2, p), certified parameters (p,) and standard deviations, rss, dof, data."""

    starts: Array
    parameters: Array
    deviations: Array
    rss: float
    dof: int
    x: Array
    y: Array


def read(name: str) -> Certified:
    lines = (FOLDER / f"{name}.dat").read_text().splitlines()
    table = np.array([re.findall(r"\S+", s.split("=")[1]) for s in lines if re.match(r"\s*b\d\s*=", s)], float)
    rss = next(float(s.split()[-1]) for s in lines if s.startswith("Residual Sum of Squares"))
    dof = next(int(s.split()[-1]) for s in lines if s.startswith("Degrees of Freedom"))
    first = max(k for k, s in enumerate(lines) if s.startswith("Data:")) + 1
    data = np.array([s.split() for s in lines[first:] if s.strip()], float)
    return Certified(table[:, :2].T, table[:, 2], table[:, 3], rss, dof, data[:, 1], data[:, 0])


def with_numeric_jacobian(residuals: Callable[[Array], Array]) -> Function:
    """A `Function` from residuals alone: Jacobian by central differences (relative step 6e-6)."""

    def function(x: Array) -> tuple[Array, Array]:
        with np.errstate(all="ignore"):
            r = np.asarray(residuals(x), dtype=float)
            columns = []
            for k in range(x.size):
                h = 6e-6 * max(abs(x[k]), 1e-6)
                up, down = x.copy(), x.copy()
                up[k] += h
                down[k] -= h
                columns.append((residuals(up) - residuals(down)) / (up[k] - down[k]))
        jac = np.stack(columns, axis=1)
        if not (np.isfinite(r).all() and np.isfinite(jac).all()):
            raise ArithmeticError
        return r, jac

    return function


def fitted(name: str, start: int, tolerance: float = 1e-13, most: int = 2000) -> tuple[Fit, Certified]:
    known = read(name)
    model = MODELS[name]
    wide = np.full(known.parameters.size, np.inf)
    function = with_numeric_jacobian(lambda b: model(known.x, b) - known.y)
    return least_squares(function, known.starts[start - 1], -wide, wide, tolerance, most), known


@pytest.mark.parametrize("start", [1, 2])
@pytest.mark.parametrize("name", MODELS)
def test_certified_values_are_reached_or_the_failure_is_said(name, start):
    fit, known = fitted(name, start)
    if not fit.converged:
        assert fit.reason != "converged"
        assert (name, start) == ("MGH17", 1), f"{name} from start {start}: {fit.reason}"
        return
    deviations = np.sqrt(np.diag(fit.covariance) * fit.chi2 / known.dof)
    np.testing.assert_allclose(fit.parameters, known.parameters, rtol=1e-6)
    np.testing.assert_allclose(deviations, known.deviations, rtol=1e-4)
    assert fit.chi2 == pytest.approx(known.rss, rel=1e-9)


@pytest.mark.parametrize("start", [1, 2])
@pytest.mark.parametrize("name", MODELS)
def test_the_usual_tolerance_is_far_inside_the_errors_of_the_parameters(name, start):
    fit, known = fitted(name, start, 1e-9, 200)
    off = np.abs(fit.parameters - known.parameters) / known.deviations
    assert not fit.converged or off.max() < 1e-3


def test_the_start_that_beats_the_engine_is_failed_aloud():
    """MGH17 from start 1, where a widely used fitting call returns its own starting values in silence."""
    fit, known = fitted("MGH17", 1)
    assert not fit.converged
    assert "tell some parameters apart" in fit.reason
    assert abs(fit.chi2 / known.rss - 1.0) > 1.0


def test_files_are_as_published():
    """A spot check of the reading itself: rows, degrees of freedom and a value from the printed page."""
    boxbod = read("BoxBOD")
    assert (boxbod.x.size, boxbod.dof) == (6, 4)
    assert boxbod.rss == pytest.approx(1168.0088766)
    for name in MODELS:
        known = read(name)
        assert known.x.size == known.dof + known.parameters.size
        residual = MODELS[name](known.x, known.parameters) - known.y
        assert float(residual @ residual) == pytest.approx(known.rss, rel=1e-8 if name not in GENERATED else 1e-3)
