"""What a story (no leak, one place, two places) predicts for every test, and how likely it makes them together.

A story's leak has one unknown size, the geometric mean of what it passes under pressure and under vacuum; what else
is unknown of it (how it changes with direction, its flow law, the section it sits in, what leaks besides) is a cloud
of equally likely cases. Every test is predicted from the same case, so that the ratio of the directions, shares of
sections, tight tests and repeats all follow from one comparison; the unknowns are integrated over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from leakdown.analysis import Array
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, normal_cdf
from leakdown.where.knowledge import KnownPlace, Mixture
from leakdown.where.measured import Measured
from leakdown.where.tests import plain_name

_T = tuned("where")
CASES = 160
_Z_90 = 1.6448536269514722  # 95 % point of the normal distribution (tables)
_STEP = 0.08  # of the logarithm of the size: no wider than repeats of one test scatter
SIZES = np.exp(np.arange(math.log(0.3), math.log(9e3), _STEP))
"""(m,) sizes of a leak, Pa/s, at which a story is looked at."""


@dataclass(frozen=True)
class Story:
    """What one story predicts. per_size, besides: (tests, cases), loss = size x per_size + besides.

    shape: (cases,) likelihood of what the decays look like. surprise: see `Measured.fits`. usual: (m,) prior of the
    sizes, sums to 1. log_ratio, first: (cases,) logarithm of vacuum over pressure, and whether the first place's leak
    is the larger one.
    """

    per_size: Array
    besides: Array
    shape: Array
    usual: Array
    log_ratio: Array
    first: Array
    surprise: float

    def fits(self, tests: Sequence[Measured]) -> list[Array]:
        """(cases, m) likelihood of each test."""
        return [
            t.fits(a[:, None] * SIZES + b[:, None], self.surprise)
            for t, a, b in zip(tests, self.per_size, self.besides, strict=True)
        ]

    def likelihood(self, fits: Sequence[Array], without: float = 0.0) -> Array:
        """(cases,) of these tests together, the size integrated over; mean over cases is the marginal likelihood.

        without: taken off each test's, `surprise` for the likelihood of every test being what it looks.
        """
        product = np.ones((self.log_ratio.size, SIZES.size))
        for one in fits:
            product = product * (one - without)
        return np.asarray((product @ self.usual) * self.shape)


@dataclass(frozen=True)
class Bench:
    """The tests, and what is known of the engine that bears on every story.

    nameless: those of `sections` whose names mention no place. other_laws: half-width (95 %, one-sided, logarithm) of
    what a fixed hole may pass more inward than the two laws of the fit say.
    """

    tests: tuple[Measured, ...]
    sections: tuple[str, ...]
    nameless: tuple[str, ...]
    intake: str
    lips: str
    codes: frozenset[str]
    other_laws: float

    def of_place(self, place: KnownPlace, law_doubt: float) -> Story:
        """One leak, at this place."""
        leak = self._leak(place, 0, law_doubt)
        return self._story([leak], np.ones(CASES))

    def of_two(self, one: KnownPlace, other: KnownPlace, law_doubt: float) -> Story:
        """Two leaks at once, in any proportion."""
        leaks = [self._leak(one, 1, law_doubt), self._leak(other, 2, law_doubt)]
        return self._story(leaks, _scattered(np.linspace(0.05, 0.95, CASES), 11))

    def without_leak(self, cause: str = "") -> Story:
        """Nothing but the little that a sound engine loses; `cause`: cooling, warming or vapour besides."""
        ratio = _scattered(_T.residual_ratio_log_sd * _normal(), 21)
        engine = np.array([not t.of_rig for t in self.tests], dtype=float)[:, None]
        per_size = self._seen(ratio, np.full(CASES, 0.5), None) * engine
        besides = np.zeros_like(per_size)
        if cause in ("cooling", "warming"):
            low, high = _T.drift_k_per_min
            drift = _scattered(np.exp(np.linspace(math.log(low), math.log(high), CASES)), 22)
            besides = _by_test([t.warming * drift * (1.0 if cause == "warming" else -1.0) for t in self.tests])
        if cause == "vapour":
            low, high = _T.vapour_pa_per_s
            given = _scattered(np.exp(np.linspace(math.log(low), math.log(high), CASES)), 23)
            besides = _by_test([given * t.inward for t in self.tests])
        shape = np.full(CASES, self._of_giving_back(_T.gives_back_vapour if cause == "vapour" else _T.gives_back))
        usual = _lognormal(_T.residual_pa_per_s, _T.residual_log_sd)
        surprise = _T.surprise_sound  # a test that fails is no slip of a sound engine
        return Story(per_size, besides, shape, usual, ratio, np.ones(CASES), surprise)

    def _leak(self, place: KnownPlace, stream: int, law_doubt: float) -> tuple[KnownPlace, Array, Array, Array]:
        """The place, log ratios, viscous shares, and (tests, cases) what each test sees of a leak of size one."""
        ratio = log_ratio_cases(place.expected(self.lips, self.intake))
        ratio = np.roll(ratio, 37 * stream) + _scattered(law_doubt * _normal(), 3 + stream)
        other_laws = _scattered(np.abs(_normal()), 5 + stream) * self.other_laws / Z_95
        hole = _scattered(np.linspace(0.0, 1.0, CASES, endpoint=False), 7 + stream) < place.hole
        viscous = np.where(hole, 0.15, 0.85)
        return place, ratio, viscous, self._seen(ratio, viscous, place, other_laws)

    def _seen(self, ratio: Array, viscous: Array, place: KnownPlace | None, other_laws: Array | None = None) -> Array:
        homes = self.homes(place) if place is not None else ()
        home = _scattered(np.arange(CASES, dtype=float) % max(len(homes), 1), 31)
        rows = []
        for t in self.tests:
            more = 0.0 if other_laws is None else other_laws
            by_direction = np.exp(_inward(ratio) + more) if t.inward else np.exp(_outward(ratio))
            row = by_direction * (viscous * t.weep + (1.0 - viscous) * t.hole)
            if homes:
                row = row * np.array([float(section in t.inside) for section in homes])[home.astype(int)]
            rows.append(row)
        return _by_test(rows)

    def homes(self, place: KnownPlace) -> tuple[str, ...]:
        """The sections that may hold a place: those that name it, else those that name none; () when none are told."""
        own = tuple(s for s in self.sections if names(place, s))
        return own or self.nameless

    def _story(self, leaks: list[tuple[KnownPlace, Array, Array, Array]], first: Array) -> Story:
        parts = [first, 1.0 - first][: len(leaks)]
        per_size = sum(part * seen for part, (_, _, _, seen) in zip(parts, leaks, strict=True))
        hole = sum(part * (viscous < 0.5) for part, (_, _, viscous, _) in zip(parts, leaks, strict=True))
        shape = np.ones(CASES)
        for t in self.tests:
            if not t.tight:
                shape = shape * (hole * t.hole_like + (1.0 - hole) * (1.0 - t.hole_like)) ** _T.shape_power
        odd = max((p.odd.get(code, 1.0) for p, *_ in leaks for code in self.codes), default=1.0)
        shape = shape * odd * self._of_giving_back(_T.gives_back)
        out = sum(part * np.exp(_outward(ratio)) for part, (_, ratio, *_) in zip(parts, leaks, strict=True))
        into = sum(part * np.exp(_inward(ratio)) for part, (_, ratio, *_) in zip(parts, leaks, strict=True))
        residual = _scattered(-_T.beside_pa_per_s * np.log(1.0 - (np.arange(CASES) + 0.5) / CASES), 41)
        besides = _by_test([residual * 0.5 * (t.weep + t.hole) * (not t.of_rig) for t in self.tests])
        return Story(
            np.asarray(per_size), besides, np.asarray(shape), _lognormal(_T.leak_pa_per_s, _T.leak_log_sd),
            np.log(into / out), np.asarray(first >= 0.5, dtype=float), _T.surprise,
        )  # fmt: skip

    def _of_giving_back(self, chance: float) -> float:
        """Likelihood of what the tests under vacuum gave back at first, where pressure's did not."""
        inward = [t.gave_back for t in self.tests if t.inward]
        if any(t.gave_back for t in self.tests if not t.inward):
            return 1.0
        return math.prod(chance if gave else 1.0 - chance for gave in inward)


def _by_test(rows: Sequence[Array]) -> Array:
    """(tests, cases) of one row a test; there may be none."""
    return np.asarray(rows, dtype=float).reshape(len(rows), CASES)


def names(place: KnownPlace, section: str) -> bool:
    """Whether a section's name mentions a place."""
    return any(word in plain_name(section) for word in place.sections)


def section_of(place: KnownPlace, sections: Sequence[str]) -> str | None:
    """The section whose name mentions this place, or None."""
    return next((section for section in sections if names(place, section)), None)


@lru_cache(maxsize=256)
def log_ratio_cases(mixture: Mixture) -> Array:
    """(CASES,) log ratios that stand for a mixture of (share, 5 %, 50 %, 95 %), in scattered order."""
    parts = []
    counts = [max(1, round(share * CASES)) for share, *_ in mixture]
    counts[0] += CASES - sum(counts)
    for count, (_, low, mid, high) in zip(counts, mixture, strict=True):
        z = _quantiles(count)
        side = np.where(z < 0, math.log(mid / low), math.log(high / mid)) / _Z_90
        parts.append(_some_shut(math.log(mid) + z * side))
    return _scattered(np.concatenate(parts), 13)


def _some_shut(ratio: Array) -> Array:
    """Of the log ratios that are far from 1 every second one is as good as shut in its weaker direction."""
    far = np.flatnonzero(np.abs(ratio) > math.log(_T.shut_beyond))[::2]
    shut = ratio.copy()
    shut[far] = np.copysign(math.log(_T.shut_ratio), ratio[far])
    return shut


def _inward(ratio: Array) -> Array:
    """Logarithm of what a leak of size 1 passes inward; how far it is shut in one direction leaves the other alone."""
    near = _not_shut(ratio)
    return np.asarray(0.5 * near + np.minimum(ratio - near, 0.0))


def _outward(ratio: Array) -> Array:
    near = _not_shut(ratio)
    return np.asarray(-0.5 * near - np.maximum(ratio - near, 0.0))


def _not_shut(ratio: Array) -> Array:
    return np.clip(ratio, -math.log(_T.shut_beyond), math.log(_T.shut_beyond))


@lru_cache(maxsize=64)
def _quantiles(count: int) -> Array:
    """(count,) of the standard normal distribution."""
    grid = np.linspace(-4.0, 4.0, 1601)
    below = np.array([normal_cdf(float(z)) for z in grid])
    return np.asarray(np.interp((np.arange(count) + 0.5) / count, below, grid))


@lru_cache(maxsize=1)
def _normal() -> Array:
    return _quantiles(CASES)


def _scattered(values: Array, stream: int) -> Array:
    """The same values in an order of their own, so that no two unknowns go together."""
    return np.asarray(np.random.default_rng(stream).permutation(values))


def _lognormal(median: float, log_sd: float) -> Array:
    density = np.exp(-0.5 * np.square(np.log(SIZES / median) / log_sd))
    return np.asarray(density / density.sum())
