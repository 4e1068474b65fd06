"""The joint problem of several holds, piece by piece, written a second time: by hand and by finite differences."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2 as chi_squared

from leakdown.fit import ratio as ratio_room
from leakdown.fit.interval import CHI2_95, Profile
from leakdown.fit.model import CREEP, DRIFT, KNOWN, LOG_TAU, NAMES, RATE, RUBBER, SHARE, START, ZERO
from leakdown.fit.ratio import BASE_RATE, BASE_SHARE, LOG_RATIO, Joint, JointHold, compared, fixed_flow
from leakdown.uncertainty import Interval
from tests.fit import truth
from tests.fit.test_model_again import holds

OWN = [k for k in range(len(NAMES)) if k not in (RATE, SHARE)]
FADING = np.linspace(0.2, 0.7, len(NAMES) - CREEP)


def parts(seed: int, *kinds: dict[str, Any]) -> list[JointHold]:
    """Holds with fits of their own."""
    made = []
    for (rng, model), kind in zip(holds(seed, len(kinds)), kinds, strict=True):
        lower, upper = model.bounds()
        x = model.start(rng.uniform(0.2, 0.8))
        x[RATE], x[RUBBER:] = 10.0 ** rng.uniform(1.0, 2.5), rng.normal(0.0, 20.0, len(NAMES) - RUBBER)
        lower[ZERO], upper[ZERO], lower[DRIFT] = -rng.uniform(300.0, 900.0), rng.uniform(300.0, 900.0), -9e-5
        found = SimpleNamespace(
            model=model, lower=lower, upper=upper, fit=SimpleNamespace(parameters=x, chi2=5.0), dof=9.0, misfit=1.0
        )
        made.append(JointHold(found, kind.pop("second", False), **kind))  # type: ignore[arg-type]
    return made


def of_three(seed: int = 1, fading: np.ndarray | None = FADING) -> tuple[list[JointHold], Joint]:
    """A first hold, one of the same set that shares the walls, one of the other that continues the first's creep."""
    tied = (DRIFT, ZERO, LOG_TAU)
    of = parts(seed, dict(tied=(ZERO,)), dict(tied=(DRIFT,)), dict(second=True, scale=1.3, tied=tied, fading=fading))
    return of, Joint(of)


def places() -> list[dict[int, tuple[int, float]]]:
    """{parameter: (global place, factor)} of each part of `of_three`, counted by hand."""
    first = {k: (3 + n, 1.0) for n, k in enumerate(OWN)}
    at, second = 3 + len(OWN), {}
    for k in OWN:
        second[k] = first[k] if k == DRIFT else (at, 1.0)
        at += k != DRIFT
    third = {}
    for k in OWN:
        third[k] = first[k] if k in (DRIFT, ZERO, LOG_TAU) else (at, 1.0)
        if k >= CREEP:
            third[k] = (first[k][0], float(FADING[k - CREEP]))
        at += k < CREEP and k not in (DRIFT, ZERO, LOG_TAU)
    return [first, second, third]


def test_every_hold_s_own_numbers() -> None:
    """Global values dealt out; the rate by the flow at its own quoted point, the ratio and the scale."""
    of, joint = of_three()
    assert joint.size == 3 + len(OWN) + len(OWN) - 1 + len(OWN) - 3 - (len(NAMES) - CREEP)
    z = np.random.default_rng(1).uniform(0.1, 0.9, joint.size)
    z[LOG_RATIO], z[BASE_RATE] = 0.7, 130.0
    for index, where in enumerate(places()):
        x, slopes = joint.local(z, index)
        for k, (at, factor) in where.items():
            assert x[k] == pytest.approx(factor * z[at]) and slopes[k, at] == factor
            assert np.count_nonzero(slopes[k]) == 1
        flows = []
        for law in ((1.0, 0.0), (0.0, 1.0)):
            at_quote = [
                abs(truth.throughput(m.ambient_pa + m.sign * m.quote_pa, m.ambient_pa, *law))
                for m in (of[0].found.model, of[index].found.model)
            ]
            flows.append(at_quote[1] / at_quote[0])
        weep, hole = z[BASE_SHARE] * flows[0], (1.0 - z[BASE_SHARE]) * flows[1]
        size = 1.3 * math.exp(0.7) if index == 2 else 1.0
        assert x[RATE] == pytest.approx(size * 130.0 * (weep + hole), rel=1e-6)
        assert x[SHARE] == pytest.approx(weep / (weep + hole), rel=1e-6)
        for k in (LOG_RATIO, BASE_RATE, BASE_SHARE):
            step = np.zeros(joint.size)
            step[k] = 1e-5
            slope = (joint.local(z + step, index)[0] - joint.local(z - step, index)[0]) / 2e-5
            assert slopes[[RATE, SHARE], k] == pytest.approx(slope[[RATE, SHARE]], rel=1e-5, abs=1e-7)
    assert fixed_flow(of[0].found.model, of[2].found.model, 2.0) == pytest.approx(
        (2.0 * flows[0], 2.0 * flows[1]), rel=1e-6
    )


def test_rows_of_all_holds() -> None:
    """Each part's own rows, without the priors that the first has already: of the law, and of what is shared."""
    of, joint = of_three()
    z = joint.start()
    wanted, slopes = [], []
    for index, where in enumerate(places()):
        x, outer = joint.local(z, index)
        r, jac = of[index].found.model(x)
        n = r.size - KNOWN.size
        shared = [k for k, (at, _) in where.items() if index and at < 3 + len(OWN)] + [SHARE] * bool(index)
        kept = [*range(n), *(n + row for row, k in enumerate(KNOWN) if k not in shared)]
        wanted.append(r[kept])
        slopes.append(jac[kept] @ outer)
    rows, jacobian = joint(z)
    assert rows == pytest.approx(np.concatenate(wanted), rel=1e-9, abs=1e-6)
    assert jacobian == pytest.approx(np.concatenate(slopes), rel=1e-6, abs=1e-3)


def test_creep_of_its_own_unless_it_fades() -> None:
    _, joint = of_three(fading=None)
    assert joint.size == 3 + 3 * len(OWN) - 1 - 3
    for factor, columns in zip(joint._factors, joint._columns, strict=True):
        assert np.all(factor == 1.0) and len(set(columns[CREEP:])) == len(NAMES) - CREEP


def test_where_the_joint_fit_begins_and_ends() -> None:
    """The holds' own values, the first's where they are shared; bounds of both; the ratio by the rates."""
    of, joint = of_three(2)
    z = joint.start()
    lower, upper = joint.bounds()
    assert (lower[LOG_RATIO], upper[LOG_RATIO]) == pytest.approx((-math.log(1e4), math.log(1e4)))
    assert (lower[BASE_RATE], lower[BASE_SHARE], upper[BASE_SHARE]) == (0.0, 0.0, 1.0)
    assert upper[BASE_RATE] == of[0].found.upper[RATE]
    holders: dict[int, list[tuple[int, int]]] = {}
    for index, where in enumerate(places()):
        for k, (at, factor) in where.items():
            if factor == 1.0:
                holders.setdefault(at, []).append((index, k))
    for at, own in holders.items():
        index, k = own[0]
        assert z[at] == of[index].found.fit.parameters[k]
        assert lower[at] == max(of[i].found.lower[k] for i, k in own)
        assert upper[at] == min(of[i].found.upper[k] for i, k in own)
    first = of[0].found.fit.parameters
    assert (z[BASE_RATE], z[BASE_SHARE]) == (first[RATE], first[SHARE])
    z[LOG_RATIO] = 0.0
    fixed = joint.local(z, 2)[0][RATE]
    own = of[2].found.fit.parameters[RATE]
    assert joint.start()[LOG_RATIO] == pytest.approx(math.log(own / fixed))
    z[LOG_RATIO] = 5.0
    assert joint.with_ratio(z)[LOG_RATIO] == pytest.approx(math.log(own / fixed)) and z[LOG_RATIO] == 5.0
    for rate, share, wanted in ((0.0, 0.0, (0.01, 0.02)), (50.0, 1.0, (50.0, 0.98))):
        first[RATE], first[SHARE] = rate, share
        z = joint.start()
        assert (z[BASE_RATE], z[BASE_SHARE]) == wanted
    of[2].found.fit.parameters[RATE] = 1e9  # far more than any ratio that is looked for
    assert joint.start()[LOG_RATIO] == pytest.approx(0.9 * math.log(1e4))
    of[2].found.fit.parameters[RATE] = 0.0  # as if 0.001 Pa/s
    assert joint.start()[LOG_RATIO] == pytest.approx(-0.9 * math.log(1e4))
    first[RATE] = 0.5
    z = joint.start()
    z[LOG_RATIO] = 0.0
    assert joint.start()[LOG_RATIO] == pytest.approx(math.log(1e-3 / joint.local(z, 2)[0][RATE]), abs=1e-6)


def test_two_of_the_second_set_have_the_mean_of_their_ratios() -> None:
    of = parts(3, {}, dict(second=True), dict(second=True))
    joint = Joint(of)
    z = joint.start()
    found, z[LOG_RATIO] = z[LOG_RATIO], 0.0
    logs = [math.log(of[k].found.fit.parameters[RATE] / joint.local(z, k)[0][RATE]) for k in (1, 2)]
    assert found == pytest.approx(np.mean(logs)) and logs[0] != pytest.approx(logs[1])


# ---------------------------------------------------------------- the fit and what is made of it


def fit_of(chi2: float, converged: bool = True, log_ratio: float = 0.0) -> Any:
    z = np.zeros(4)
    z[LOG_RATIO] = log_ratio
    return SimpleNamespace(chi2=chi2, converged=converged, parameters=z)


@pytest.mark.parametrize(
    ("fits", "asked", "best"),
    [
        ([(9.0, True)], [0.3], 0),
        ([(10.0, True)], [0.3], 0),  # as good as it should be
        ([(90.0, True), (9.0, True)], [0.3, 0.9], 1),
        ([(90.0, True), (80.0, True), (9.0, True)], [0.3, 0.9, 0.5], 2),
        ([(90.0, True), (70.0, True), (80.0, True), (75.0, True)], [0.3, 0.9, 0.5, 0.1], 1),
        ([(9.0, False), (80.0, True)], [0.3, 0.9], 1),
        ([(9.0, False), (8.0, False), (80.0, True)], [0.3, 0.9, 0.5], 2),
    ],
)
def test_other_flow_laws_are_tried_until_it_is_good(monkeypatch: pytest.MonkeyPatch, fits: Any, asked: Any, best: int):
    """Enough is 10; what converged comes before what is low."""
    made, starts = [fit_of(*one) for one in fits], []

    def solve(joint: Any, start: np.ndarray, *rest: Any) -> Any:
        assert rest == ("low", "high", 1e-5)
        starts.append(float(start[BASE_SHARE]))
        return made[len(starts) - 1]

    begin = np.zeros(4)
    begin[BASE_SHARE] = 0.3
    joint: Any = SimpleNamespace(bounds=lambda: ("low", "high"), start=lambda: begin, with_ratio=lambda z: z.copy())
    monkeypatch.setattr(ratio_room, "least_squares", solve)
    assert ratio_room._best(joint, 10.0) is made[best] and starts == asked and begin[BASE_SHARE] == 0.3


def test_the_interval_of_the_ratio(monkeypatch: pytest.MonkeyPatch) -> None:
    """exp of the profile's ends about exp of the fit; begun again at a better place, three times at most."""
    of = [SimpleNamespace(found=SimpleNamespace(dof=dof, misfit=m)) for dof, m in ((4.0, 1.0), (5.0, 2.0))]
    state: dict[str, Any] = {"fit": fit_of(5.0, log_ratio=0.5), "again": fit_of(4.0, log_ratio=0.4)}
    profiles: list[Profile] = []
    rises: list[float] = []

    def profiled(joint: Any, fit: Any, index: int, lower: Any, upper: Any, rise: float) -> Profile:
        assert (index, lower, upper) == (LOG_RATIO, "low", "high")
        rises.append(rise)
        return profiles[len(rises) - 1]

    def end(low: float, high: float, complete: bool = True, better: Any = None) -> Profile:
        return Profile(low, high, np.zeros(1), np.zeros(1), complete, better)

    monkeypatch.setattr(ratio_room, "Joint", lambda parts: SimpleNamespace(bounds=lambda: ("low", "high")))
    monkeypatch.setattr(ratio_room, "_best", lambda joint, enough: state["fit"])
    monkeypatch.setattr(ratio_room, "profile", profiled)
    monkeypatch.setattr(ratio_room, "least_squares", lambda joint, start, low, high, tolerance: state["again"])

    def together(*ends: Profile) -> Any:
        profiles[:] = ends
        rises.clear()
        return ratio_room._together(of, 10.0)  # type: ignore[arg-type]

    fit, interval = together(end(0.2, 0.9))
    assert fit is state["fit"] and (interval.value, interval.low, interval.high) == pytest.approx(
        tuple(np.exp([0.5, 0.2, 0.9]))
    )
    assert rises == [pytest.approx(2.262157**2, rel=1e-5)]  # Student's, 9 degrees of freedom (tables): misfit 2
    _, interval = together(end(0.6, 0.9))  # an end beyond the best is the best
    assert (interval.low, interval.value) == (interval.value, pytest.approx(math.exp(0.5)))
    _, interval = together(end(0.2, 0.4))
    assert interval.high == interval.value
    better = np.ones(1)
    fit, interval = together(end(0.2, 0.9, better=better), end(0.1, 0.8))
    assert fit is state["again"] and interval.high == pytest.approx(math.exp(0.8)) and len(rises) == 2
    assert together(end(0.2, 0.9, better=better), end(0.2, 0.9, better=better), end(0.1, 0.8))[1] is not None
    together(*[end(0.2, 0.9, better=better)] * 4)
    assert len(rises) == 3
    assert together(end(0.2, 0.9, complete=False)) is None
    state["again"] = fit_of(4.0, converged=False)
    assert together(end(0.2, 0.9, better=better), end(0.1, 0.8)) is None
    state["fit"] = fit_of(5.0, converged=False)
    assert together(end(0.2, 0.9)) is None and not rises
    for part in of:
        part.found.misfit = 1.0
    state["fit"] = fit_of(5.0)
    together(end(0.2, 0.9))
    assert rises == [CHI2_95]


def test_one_law_or_two(monkeypatch: pytest.MonkeyPatch) -> None:
    """By 99 % of chi-squared (scipy), and 9 for each of two more constraints of every further hold."""
    of: Any = [SimpleNamespace(found=SimpleNamespace(fit=SimpleNamespace(chi2=c))) for c in (0.0, 0.0, 1.0, 2.0)]
    same, other = Interval(2.0, 1.0, 3.0), Interval(2.5, 1.0, 4.0)
    law = 6.635
    assert chi_squared.ppf(0.99, 1) == pytest.approx(law, abs=1e-3)
    joint: dict[str, Any] = {}
    asked: list[float] = []
    monkeypatch.setattr(ratio_room, "_together", lambda parts, enough: asked.append(enough) or joint["found"])
    monkeypatch.setattr(ratio_room, "_by_equal_flow", lambda parts: joint["apart"])
    for count, apart, allowed in ((2, 0.0, law), (4, 3.0, law + 36.0)):
        for more, is_same in ((0.0, True), (1e-6, False), (-3.0, True)):
            joint |= {"found": (fit_of(apart + allowed + more), same), "apart": other}
            found = compared(of[:count])
            assert found is not None and asked[-1] == apart + allowed
            assert (found.same_law, found.ratio) == ((True, same) if is_same else (False, other))
            assert found.worse == pytest.approx(allowed + more)
    joint |= {"found": None}
    found = compared(of[:2])
    assert found is not None and found.worse == math.inf and not found.same_law
    joint |= {"apart": None}
    assert compared(of[:2]) is None


def test_rates_of_holds_are_of_their_own_start(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two repeats a side of one weep: equal flow is the mean of the logs, with doubt as they scatter."""
    of = parts(5, {}, dict(second=True), {}, dict(second=True))
    logs = {id(part): (math.log(part.found.fit.parameters[RATE]), 0.01) for part in of}
    monkeypatch.setattr(ratio_room, "_log_rate", lambda part: logs[id(part)])
    found = ratio_room._by_equal_flow(of)
    laws = []
    for part in of:
        flows = np.log(fixed_flow(of[0].found.model, part.found.model))
        mean = np.log(np.mean(np.exp(flows)))  # a leak half of either at the first's quoted point
        doubt = math.hypot(0.01, 0.5 * abs(flows[1] - flows[0]) / 1.959963985)
        laws.append((logs[id(part)][0] - mean, doubt))
    means = []
    for side in (laws[::2], laws[1::2]):
        x, u = np.array(side).T
        centre = float(np.average(x, weights=u**-2.0))
        means.append((centre, max(np.sum(u**-2.0) ** -0.5, abs(x[0] - x[1]) / 2.0)))  # sd/sqrt(2) of two is half apart
    assert found is not None and math.log(found.value) == pytest.approx(means[1][0] - means[0][0], rel=1e-6)
    half = 1.959963985 * math.hypot(means[0][1], means[1][1])
    assert math.log(found.high / found.value) == pytest.approx(half) == math.log(found.value / found.low)
    assert START not in KNOWN
