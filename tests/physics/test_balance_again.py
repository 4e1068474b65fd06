"""The balance piece by piece, written a second time: the equations by hand, slopes by differences, algebra by numpy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from leakdown.physics.balance import Balance, NotSolved, _affine_scan, _inverse2, _times
from leakdown.physics.leak import (
    PARAMETERS,
    Leak,
    flow_per_geometry,
    orifice_flow,
    pressing,
    settled_pressure,
    throughput_per_volume,
)
from tests.physics.conftest import nozzle

ROOM_PA = 98_000.0
STEP = dict(viscous=1e-12, orifice=1e-7, start=1.0, warmth=1e-5, relaxation=1e-5, back=0.1, drift=1e-9, growth=1e-7)
STEP |= dict(pressed=1e-9, convection=1e-5)


def leaks(seed: int, count: int) -> list[tuple[np.random.Generator, bool, Leak]]:
    """Random leaks with everything about them odd."""
    made = []
    for k in range(count):
        rng, inward = np.random.default_rng([seed, k]), bool(k % 2)
        back = ROOM_PA + (-1.0 if inward else 1.0) * rng.choice([0.0, 6e3])
        start = ROOM_PA + (-1.0 if inward else 1.0) * rng.uniform(20e3, 60e3)
        leak = Leak(
            *(rng.uniform(0.0, 6e-8), rng.uniform(0.0, 0.02), start, rng.uniform(-0.04, 0.04)),
            *(rng.uniform(0.1, 2.0), back, rng.uniform(-1e-5, 1e-5), rng.uniform(-5e-3, 5e-3)),
            *(rng.uniform(-2e-5, 2e-5), rng.uniform(0.0, 0.9)),
        )
        made.append((rng, inward, leak))
    return made


def gap(gauge: float, inward: bool) -> float:
    """What pressure does to a gap, by the docstring's two forms."""
    return 0.5 * (gauge + gauge**2 / 35e3) if inward else gauge * ROOM_PA / (ROOM_PA + gauge)


def settled(p: float, leak: Leak, inward: bool) -> float:
    """F of the docstring, by the Mach number of the tests' own nozzle."""
    high, low = (leak.back, p) if inward else (p, leak.back)
    laws = leak.viscous * (high**2 - low**2) + leak.orifice * high * nozzle(low / high)
    return laws * math.exp(leak.pressed * gap(abs(p - ROOM_PA), inward))


def test_settled_flow_of_any_leak() -> None:
    for rng, inward, leak in leaks(1, 40):
        p = leak.back + (leak.start - leak.back) * rng.uniform(0.1, 1.0, 5)
        found = throughput_per_volume(p, leak, inward, ROOM_PA)
        assert found == pytest.approx([settled(float(at), leak, inward) for at in p], rel=2e-5)
        own = throughput_per_volume(p, leak, inward)  # counted from its own back pressure
        g = np.abs(p - leak.back)
        bent = 0.5 * (g + g**2 / 35e3) if inward else g * leak.back / (leak.back + g)
        plain = throughput_per_volume(p, replace(leak, pressed=0.0), inward)
        assert own == pytest.approx(plain * np.exp(leak.pressed * bent))
        weep, hole = flow_per_geometry(leak.start, ROOM_PA, inward)
        high, low = (ROOM_PA, leak.start) if inward else (leak.start, ROOM_PA)
        assert weep == pytest.approx(high**2 - low**2) and hole == pytest.approx(high * nozzle(low / high), rel=1e-5)


def test_what_pressure_does_to_a_gap() -> None:
    for inward in (False, True):
        g = np.array([0.0, 10e3, 35e3, 50e3])
        bent, slope = pressing(g, inward, ROOM_PA)
        assert bent == pytest.approx([gap(float(at), inward) for at in g])
        assert slope == pytest.approx((pressing(g + 1.0, inward, ROOM_PA)[0] - bent), rel=1e-4)


def test_a_hole_near_no_pressure() -> None:
    """high psi(low/high) times the root of gap/sqrt(gap^2 + 10^2): laminar below 10 Pa; odd; slopes by differences."""
    rng = np.random.default_rng(2)
    for _ in range(60):
        high, size = rng.uniform(60e3, 200e3), 10.0 ** rng.uniform(-1.0, 4.8)
        size = min(size, 0.9 * high)
        flow, by_high, by_low = orifice_flow(high, high - size)
        wanted = high * nozzle(1.0 - size / high) * math.sqrt(size / math.hypot(size, 10.0))
        assert flow == pytest.approx(wanted, rel=1e-6)
        step = 1e-4 * size
        ends = [orifice_flow(high + s, high - size)[0] for s in (step, -step)]
        choked = 1.0 - size / high
        if abs(choked - 0.5283) > 1e-3:
            assert by_high == pytest.approx((ends[0] - ends[1]) / (2.0 * step), rel=1e-4)
            ends = [orifice_flow(high, high - size + s)[0] for s in (step, -step)]
            assert by_low == pytest.approx((ends[0] - ends[1]) / (2.0 * step), rel=1e-4, abs=1e-6)
        assert orifice_flow(high, high + size)[0] == pytest.approx(-flow)
    assert orifice_flow(1e5, 1e5)[0] == 0.0 and np.isfinite(orifice_flow(1e5, 1e5)).all()


def test_settled_decays_by_scipy() -> None:
    """dp/dt = -F(p), from anywhere above where it closes."""
    t = np.linspace(0.0, 50.0, 12)
    for _, inward, leak in leaks(3, 16):
        leak = replace(leak, viscous=leak.viscous + 5e-9)
        way = 1.0 if inward else -1.0
        known = solve_ivp(
            lambda _, p, leak=leak, way=way, into=inward: [way * max(settled(float(p[0]), leak, into), 0.0)],
            *((0.0, 50.0), [leak.start]),
            t_eval=t,
            rtol=1e-8,
            max_step=2.0,
        ).y[0]
        found = settled_pressure(t, leak, inward, leak.start, ROOM_PA)
        drop = abs(leak.start - leak.back)
        far = np.abs(known - leak.back) > 0.02 * drop  # its last steps are coarse
        assert found[far] == pytest.approx(known[far], abs=2e-4 * drop) and far.sum() > 4
        assert found == pytest.approx(known, abs=5e-3 * drop)


# ---------------------------------------------------------------- the mesh and what lies on it


def test_the_mesh_and_its_middles() -> None:
    """48 intervals, the last e^5 times as long as the first, over the hold; a thousandth of a second at least."""
    for t, span in ((np.array([0.0, 7.0, 40.0]), 40.0), (np.zeros(1), 1e-3)):
        balance = Balance(t, ROOM_PA, False)
        u = np.arange(49) / 48.0
        assert balance.mesh_s == pytest.approx(span * (np.exp(5.0 * u) - 1.0) / (math.exp(5.0) - 1.0))
        middles = 0.5 * (balance.mesh_s[1:] + balance.mesh_s[:-1])
        assert balance._all_s == pytest.approx(np.append(balance.mesh_s, middles))


def test_readings_between_the_mesh_s_points() -> None:
    """A cubic goes through Hermite's weights unchanged, at both ends and on the mesh's own points too."""
    mesh = Balance(np.array([0.0, 40.0]), ROOM_PA, False).mesh_s
    t = np.sort(np.append(np.random.default_rng(4).uniform(0.0, 40.0, 30), [0.0, mesh[7], 40.0]))
    balance = Balance(t, ROOM_PA, False)
    cubic = np.polynomial.Polynomial([3.0, -0.7, 0.06, -0.002])
    weights = balance._places_of_readings()
    assert weights @ np.append(cubic(mesh), cubic.deriv()(mesh)) == pytest.approx(cubic(t), abs=1e-9)
    state = np.stack([cubic(mesh), cubic(mesh) * 2.0])
    rate = np.stack([cubic.deriv()(mesh), cubic.deriv()(mesh) * 2.0])
    with_middles = balance._with_middles(state, rate)
    assert with_middles[0] == pytest.approx(cubic(balance._all_s)) and with_middles.shape == (2, 97)


def test_small_matrices_at_many_times() -> None:
    rng = np.random.default_rng(5)
    a, b = rng.normal(size=(2, 2, 9)), rng.normal(size=(2, 5, 9))
    for k in range(9):
        assert _times(a, b)[:, :, k] == pytest.approx(a[:, :, k] @ b[:, :, k])
        assert _inverse2(a)[:, :, k] == pytest.approx(np.linalg.inv(a[:, :, k]))
    for count in (1, 2, 3, 48, 53):
        maps = 0.8 * rng.normal(size=(2, 13, count))
        x, wanted = np.zeros((2, 11)), []
        for k in range(count):
            x = maps[:, :2, k] @ x + maps[:, 2:, k]
            wanted.append(x)
        found = _affine_scan(maps.copy())
        assert found == pytest.approx(np.stack(wanted, axis=2))


# ---------------------------------------------------------------- the equations


def rates_by_hand(t: float, n: float, p: float, leak: Leak, inward: bool) -> list[float]:
    """dn/dt and dp/dt of the module's own docstring."""
    theta = p / n
    high, low = (leak.back, p) if inward else (p, leak.back)
    warm = 1.0 if inward else theta
    laws = leak.viscous * (high**2 - low**2) / warm + leak.orifice * high * nozzle(low / high) / math.sqrt(warm)
    flow = laws * (1.0 + leak.growth * t) * math.exp(leak.pressed * gap(abs(p - ROOM_PA), inward))
    warmer = 1.0 + leak.drift * t - theta
    free = ((warmer**2 + 1e-8) / (10.0 / 293.15) ** 2) ** 0.125  # the fourth root of the difference over 10 K
    heat = ROOM_PA * leak.relaxation * warmer * (1.0 - leak.convection + leak.convection * free)
    return [flow, 1.4 * flow + heat] if inward else [-flow, -1.4 * theta * flow + heat]


def states(rng: np.random.Generator, balance: Balance, leak: Leak) -> np.ndarray:
    """Any states on the mesh and its middles, between the start and where the leak closes."""
    n = leak.back + (leak.start - leak.back) * rng.uniform(0.2, 1.0, balance._all_s.size)
    return np.stack([n / (1.0 + rng.uniform(-0.03, 0.03, n.size)), n])


def test_rates_and_their_slopes() -> None:
    """By the docstring's equations at every point; slopes by states and parameters from central differences."""
    for rng, inward, leak in leaks(6, 10):
        balance = Balance(np.array([0.0, 25.0]), ROOM_PA, inward)
        y = states(rng, balance, leak)
        f, slopes = balance._rates(y, leak)
        wanted = [rates_by_hand(*at, leak, inward) for at in zip(balance._all_s.tolist(), *y.tolist(), strict=True)]
        scale = np.abs(f).max()
        assert pytest.approx(np.array(wanted), rel=3e-5, abs=1e-5 * scale) == f.T
        for k in range(2):
            step = np.zeros((2, 1))
            step[k] = 0.5
            change = balance._rates(y + step, leak)[0] - balance._rates(y - step, leak)[0]
            assert slopes[:, k] == pytest.approx(change, rel=1e-3, abs=1e-4 * np.abs(change).max())
        for k, name in enumerate(PARAMETERS):
            ends = [replace(leak, **{name: getattr(leak, name) + sign * STEP[name]}) for sign in (1.0, -1.0)]
            change = (balance._rates(y, ends[0])[0] - balance._rates(y, ends[1])[0]) / (2.0 * STEP[name])
            assert slopes[:, 2 + k] == pytest.approx(change, rel=1e-3, abs=1e-4 * np.abs(change).max() + 1e-9), name


def test_one_newton_step_of_the_whole_mesh() -> None:
    """Each interval's affine map against Hermite-Simpson's condition and its slopes, by central differences."""
    for rng, inward, leak in leaks(7, 4):
        balance = Balance(np.array([0.0, 25.0]), ROOM_PA, inward)
        m, h = balance.mesh_s.size, np.diff(balance.mesh_s)

        def condition(states: np.ndarray, leak: Leak, balance: Balance = balance, m: int = m, h: np.ndarray = h):
            y = np.concatenate((states, states[:, 1:]), axis=1)
            f = balance._rates(y, leak)[0]
            middle = 0.5 * (states[:, :-1] + states[:, 1:]) + h / 8.0 * (f[:, : m - 1] - f[:, 1:m])
            f = balance._rates(np.concatenate((states, middle), axis=1), leak)[0]
            gap = states[:, :-1] - states[:, 1:] + h / 6.0 * (f[:, : m - 1] + 4.0 * f[:, m:] + f[:, 1:m])
            return gap, middle

        at = states(rng, balance, leak)[:, :m]
        gap_now, middle = condition(at, leak)
        y = np.concatenate((at, middle), axis=1)
        maps, off = balance._maps(y, *balance._rates(y, leak))
        assert off == pytest.approx(0.0, abs=1e-9)

        def by_state(side: int, k: int, at: np.ndarray = at, leak: Leak = leak, condition=condition) -> np.ndarray:
            slope = np.zeros((2, at.shape[1] - 1))
            for parity in (0, 1):  # every other point moves, so that each interval has one end that does
                move = np.zeros_like(at)
                move[k, parity::2] = 0.2
                change = (condition(at + move, leak)[0] - condition(at - move, leak)[0]) / 0.4
                mine = np.arange(at.shape[1] - 1) % 2 == (parity if side == 0 else 1 - parity)
                slope[:, mine] = change[:, mine]
            return slope

        near, far = (np.stack([by_state(side, k) for k in range(2)], axis=1) for side in (0, 1))
        sources = [gap_now]
        for name in PARAMETERS:
            ends = [replace(leak, **{name: getattr(leak, name) + sign * STEP[name]}) for sign in (1.0, -1.0)]
            sources.append((condition(at, ends[0])[0] - condition(at, ends[1])[0]) / (2.0 * STEP[name]))
        wanted = np.concatenate((near, np.stack(sources, axis=1)), axis=1)
        for k in range(m - 1):
            known = -np.linalg.solve(far[:, :, k], wanted[:, :, k])
            size = np.abs(known).max(axis=0) + 1e-9
            assert np.all(np.abs(maps[:, :, k] - known) < 2e-3 * size)
        # middles that are off: by how much at most, and what that adds to the condition
        away = y.copy()
        away[:, m:] += rng.uniform(-40.0, 40.0, (2, m - 1))
        f, slopes = balance._rates(away, leak)
        moved, off = balance._maps(away, f, slopes)
        assert off == pytest.approx(np.abs(away - y)[:, m:].max())
        near_again = np.abs(moved - maps).max(axis=2)
        assert np.all(near_again[:, 2] < 0.05 * np.abs(maps[:, 2]).max() + 1.0)


def test_the_first_guess_is_the_settled_decay_and_the_dying_warmth() -> None:
    for _, inward, leak in leaks(8, 6):
        balance = Balance(np.array([0.0, 25.0]), ROOM_PA, inward)
        n, p = balance._first_guess(leak)
        start = leak.start / (1.0 + leak.warmth)
        assert n == pytest.approx(settled_pressure(balance._all_s, leak, inward, start, ROOM_PA))
        assert p / n == pytest.approx(1.0 + leak.warmth * np.exp(-leak.relaxation * balance._all_s))


def test_a_solution_meets_every_condition() -> None:
    """From the first guess or any other near by; its rates are those of the equations; its start is exact."""
    for rng, inward, leak in leaks(9, 8):
        balance = Balance(np.linspace(0.0, 25.0, 9), ROOM_PA, inward)
        path = balance.solve(leak)
        other = balance.solve(leak, (path.state * rng.uniform(0.98, 1.02), path.rate))
        assert other.state == pytest.approx(path.state, abs=1.0)
        assert path.state[0] == pytest.approx([leak.start / (1.0 + leak.warmth), leak.start], rel=1e-12)
        f, _ = balance._rates(balance._with_middles(path.state.T, path.rate.T), leak)
        assert pytest.approx(f[:, :49], rel=1e-2, abs=0.2) == path.rate.T
        change = rng.normal(0.0, 1.0, 10) * [STEP[name] for name in PARAMETERS]
        state, rate = path.moved(change)
        assert state == pytest.approx(path.state + np.einsum("mkj,j->mk", path.state_by, change))
        assert rate == pytest.approx(path.rate + np.einsum("mkj,j->mk", path.rate_by, change))
    with pytest.raises(NotSolved):
        balance.solve(replace(leak, viscous=math.nan))
