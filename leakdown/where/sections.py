"""Which section of a circuit the air goes through, from tests with different things blocked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Array, Flag
from leakdown.circuits import Direction
from leakdown.fit.interval import CHI2_95
from leakdown.judge.judged import FittedTest
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, Interval
from leakdown.where.located import SectionShare, warning
from leakdown.where.tests import Contents

_T = tuned("where")


def nonnegative(a: Array, b: Array) -> tuple[Array, float]:
    """x >= 0 that minimises |a x - b|^2, and that minimum; a (n, m), b (n,).

    Active-set method of Lawson & Hanson, Solving Least Squares Problems (1974), chapter 23. Own, because
    importing scipy.optimize takes 0.3 s where all solves of one engine take 0.03 s, and because its nnls is
    sound on degenerate problems (sections that cannot be told apart) only from release 1.16 on: of 20 000
    random ones, half of them degenerate, 1.12 and 1.14 gave up on some 500 and 1.15 misreported 24 minima.
    """
    m = a.shape[1]
    x, active = np.zeros(m), np.zeros(m, dtype=bool)
    tolerance = 1e-10 * max(float(np.abs(a.T @ b).max(initial=0.0)), 1e-30)
    for _ in range(3 * m + 10):
        gradient = a.T @ (b - a @ x)
        gradient[active] = -np.inf
        if active.all() or gradient.max() <= tolerance:
            break
        active[int(np.argmax(gradient))] = True
        x = _inside(a, b, x, active)
    rest = a @ x - b
    return x, float(rest @ rest)


def _inside(a: Array, b: Array, x: Array, active: NDArray[np.bool_]) -> Array:
    """Solve over the active columns, dropping those that would turn negative on the way."""
    while True:
        s = np.zeros_like(x)
        s[active] = np.linalg.lstsq(a[:, active], b, rcond=None)[0]
        bad = active & (s <= 0)
        if not bad.any():
            return s
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.where(bad, x / (x - s), np.inf)
        x = x + min(float(np.nanmin(step)), 1.0) * (s - x)
        active &= ~(bad & (x <= 1e-12 * max(float(np.abs(x).max()), 1e-30)))
        x[~active] = 0.0


def section_shares(tests: Sequence[FittedTest], inside: Contents) -> tuple[tuple[SectionShare, ...], tuple[Flag, ...]]:
    """Every section's share of the whole circuit's leak at the quoted pressure, per direction."""
    solved: dict[Direction, list[_Share]] = {}
    directions: tuple[tuple[bool, Direction], ...] = ((False, "pressure"), (True, "vacuum"))
    for inward, direction in directions:
        chosen = [(h, s) for h, s in zip(tests, inside.tests, strict=True) if h.inward == inward]
        usable = [(h, s) for h, s in chosen if h.analysis.leak is not None]
        if len({s for _, s in usable}) < 2 or not any(h.detected for h, _ in usable):
            continue
        solved[direction] = _solve(usable, inside.sections)
    if not solved:
        return (), ()
    return tuple(_named(k, inside.sections, solved) for k in range(len(inside.sections))), _flags(tests)


@dataclass(frozen=True)
class _Share:
    """Share of one section; `among` are the sections it cannot be told from (itself alone when it can)."""

    own: Interval
    among: tuple[int, ...]
    together: Interval


def _named(k: int, names: tuple[str, ...], solved: dict[Direction, list[_Share]]) -> SectionShare:
    among = sorted({i for shares in solved.values() for i in shares[k].among} - {k})
    return SectionShare(
        section=names[k],
        shares=tuple((d, shares[k].own) for d, shares in solved.items()),
        separable=not among,
        with_=tuple(names[i] for i in among),
        together=tuple((d, shares[k].together) for d, shares in solved.items()) if among else (),
    )


def _solve(tests: list[tuple[FittedTest, frozenset[str]]], names: tuple[str, ...]) -> list[_Share]:
    """The share of each of these sections in tests that contained some of them."""
    size, covariance = _sizes([h for h, _ in tests], [s for _, s in tests])
    contained = np.array([[name in s for name in names] for _, s in tests], dtype=float)
    white = np.linalg.inv(np.linalg.cholesky(covariance))
    a, b = white @ contained, white @ size
    groups = _groups(contained)
    of = [next(g for g in groups if i in g) for i in range(a.shape[1])]
    if not all(np.allclose(a[:, list(g)], a[:, [g[0]]]) for g in groups):
        return [_tangled(a, b, i, group) for i, group in enumerate(of)]
    merged = np.stack([a[:, list(g)].mean(axis=1) for g in groups], axis=1)
    whole = {group: _share(merged, b, k) for k, group in enumerate(groups)}
    return [_Share(_own(whole[group], group, 0.0), group, whole[group]) for group in of]


def _sizes(tests: list[FittedTest], contained: list[frozenset[str]]) -> tuple[Array, Array]:
    """Leak size of each test (any unit) and its covariance; one volume has one error."""
    rates = [h.rate_pa_s for h in tests]
    sd = np.array([r.high / Z_95 if r.value is None else (r.high - r.low) / (2.0 * Z_95) for r in rates])
    volume, doubt = _volumes(tests, contained)
    size = np.array([r.value or 0.0 for r in rates]) * volume
    spread = np.maximum(sd * volume, 1e-6 * float(size.max()))
    same = [[s == t and h.volume_m3 == g.volume_m3 for g, t in zip(tests, contained, strict=True)]
            for h, s in zip(tests, contained, strict=True)]  # fmt: skip
    return size, np.diag(spread**2) + np.outer(size * doubt, size * doubt) * np.array(same)


def _volumes(tests: list[FittedTest], contained: list[frozenset[str]]) -> tuple[Array, Array]:
    """Each test's volume (m3, or relative when none is known) and the relative sd of its error."""
    given = [h.volume_m3 for h in tests]
    stated = [v for v in given if v]
    most = max(len(s) for s in contained)
    reference = max(stated) if stated else 1.0
    volume, doubt = np.empty(len(tests)), np.empty(len(tests))
    for k, (h, v) in enumerate(zip(tests, given, strict=True)):
        if v:
            volume[k], doubt[k] = v, (h.analysis.used.volume_u_m3.value or 0.0) / v / Z_95
        else:
            full = len(contained[k]) == most
            volume[k] = reference * (1.0 if full else _T.blanked_volume)
            doubt[k] = 0.0 if full and not stated else _T.unknown_volume_log_sd
    return volume, doubt


def _own(share: Interval, group: tuple[int, ...], low: float) -> Interval:
    """One section's own share: bounds only where it cannot be told from others."""
    return share if len(group) == 1 else Interval(None, low, share.high)


def _groups(contained: Array) -> list[tuple[int, ...]]:
    """Sections that these tests cannot tell apart: joined by a direction that no test sees."""
    m = contained.shape[1]
    _, singular, rows = np.linalg.svd(contained, full_matrices=True)
    rank = int(np.sum(singular > 1e-9))
    unseen = rows[rank:]
    reach = (np.abs(unseen.T @ unseen) > 1e-9) | np.eye(m, dtype=bool)
    for _ in range(m):
        reach = (reach.astype(int) @ reach.astype(int)) > 0
    return list(dict.fromkeys(tuple(int(i) for i in np.flatnonzero(row)) for row in reach))


def _tangled(a: Array, b: Array, i: int, group: tuple[int, ...]) -> _Share:
    """A section of a set of tests whose sums overlap without fixing every section: bounds only."""
    share = _share(a, b, i)
    together = share if len(group) == 1 else _share(a, b, *group)
    return _Share(_own(share, group, share.low), group, together)


def _share(a: Array, b: Array, *columns: int) -> Interval:
    """Share of some columns in the sum of all, with its profile interval."""
    x, best = nonnegative(a, b)
    total = float(x.sum())
    value = float(x[list(columns)].sum()) / total if total > 0 else 0.0
    inside = np.zeros(a.shape[1], dtype=bool)
    inside[list(columns)] = True
    ends = [_end(a, b, inside, value, side, best + CHI2_95) for side in (0.0, 1.0)]
    return Interval(value, min(ends[0], value), max(ends[1], value))


def _end(a: Array, b: Array, inside: NDArray[np.bool_], value: float, side: float, limit: float) -> float:
    """Where the profile of the share crosses `limit`, between the best value and `side` (bisection)."""
    if _chi2_at(a, b, inside, side) <= limit:
        return side
    near, far = value, side
    for _ in range(30):
        middle = 0.5 * (near + far)
        if _chi2_at(a, b, inside, middle) <= limit:
            near = middle
        else:
            far = middle
    return 0.5 * (near + far)


def _chi2_at(a: Array, b: Array, inside: NDArray[np.bool_], share: float) -> float:
    """Least chi2 with the columns' share of the sum held: a heavy row makes the two sums agree."""
    if not inside.any() or inside.all():
        return nonnegative(a, b)[1] if (share == 1.0) == bool(inside.all()) else math.inf
    if share in (0.0, 1.0):
        return nonnegative(a[:, inside if share == 1.0 else ~inside], b)[1]
    row = np.where(inside, 1.0 - share, -share) * 1e4 * float(np.linalg.norm(a))
    return nonnegative(np.vstack((a, row)), np.append(b, 0.0))[1]


def _flags(tests: Sequence[FittedTest]) -> tuple[Flag, ...]:
    if any(h.volume_m3 is None for h in tests):
        return (warning("section-volume-missing"),)
    if any(h.analysis.used.volume_u_m3.value is None for h in tests):
        return (warning("volume-uncertainty-unknown"),)
    return ()
