"""One energy balance for stabilisation, slow leaks and fast ones: gauge pressure against time.

The gas in a rigid volume exchanges heat with walls at T_w and air with the room at p_b:

    outflow   m c_v dT/dt = -md R T + hA (T_w - T)
    inflow    m c_v dT/dt = |md| (c_p T_w - c_v T) + hA (T_w - T)

Written with p and n = m R T_w / V (the pressure the gas would have at wall temperature), theta = p/n:

    dn/dt = -F            dp/dt = -gamma theta F + (p_ref/tau) (theta_w - theta)      (theta -> 1 for inflow)

F is the leak's throughput per volume at T_w (Pa/s): viscous k (p^2 - p_b^2)/theta plus orifice
a p psi(p_b/p)/sqrt(theta), upstream gas at its own temperature, times exp(pressed g) for a gap that the gauge
pressure opens or shuts (`pressing`). tau is the thermal time constant m c_v/(hA) with the gas at p_ref and
10 K from its walls; of its hA the share `convection` goes with the fourth root of that difference (laminar
free convection), the rest is constant (conduction). theta_w = 1 + drift * t lets the walls warm or cool.
tau -> 0 is the isothermal law, tau -> infinity the adiabatic one.

Solved on a fixed mesh by the 4th-order Lobatto IIIA rule (Hermite-Simpson) with one Newton iteration
over the whole mesh: every parameter's sensitivity then costs one more right-hand side of the same
banded system, which is what makes a fit with intervals cheap.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from leakdown.physics.air import GAMMA
from leakdown.physics.leak import PARAMETERS, Array, Leak, orifice_flow, pressing, settled_pressure
from leakdown.tuned import tuned

_VISCOUS, _ORIFICE, _START, _WARMTH, _RELAXATION, _BACK, _DRIFT, _GROWTH, _PRESSED, _CONVECTION = range(10)
_STATES, _PARAMETERS = 2, len(PARAMETERS)
_T = tuned("physics")
_NEWTON_STOP_PA: float = _T.newton_stop_pa
_MAX_NEWTON = 25
_EYE = np.eye(2)[:, :, None]
_CONVECTED_AT = 10.0 / 293.15  # relative temperature difference at which tau is stated
_STILL = 1e-4  # below this one (0.03 K) free convection is rounded off
_CONVECTION_POWER = 0.25


@dataclass(frozen=True)
class Path:
    """A solved decay on the mesh: states (m, 2) = n, p in Pa abs; their rates; sensitivities (m, 2, 10)."""

    state: Array
    rate: Array
    state_by: Array
    rate_by: Array

    def moved(self, change: Array) -> tuple[Array, Array]:
        """States and rates where the parameters (10,) are changed so far, by the sensitivities."""
        return self.state + self.state_by @ change, self.rate + self.rate_by @ change


class NotSolved(ArithmeticError):
    """The balance has no solution for these parameters (the fit steps back; users never see this)."""


class Balance:
    """The balance on one time mesh: `solve(leak, guess)` -> Path, `at_readings(path)` -> p and sensitivities.

    Inside, states lie first and times last: (2, m) of the mesh, or (2, 2 m - 1) with the middles behind it.
    time_s: (n,) reading times from the start of the hold (>= 0). ambient_pa: abs, the reference of tau.
    inward: True when air flows in (vacuum test).
    """

    def __init__(self, time_s: Array, ambient_pa: float, inward: bool) -> None:
        self.time_s = np.asarray(time_s, dtype=float)
        self.ambient_pa = ambient_pa
        self.inward = inward
        span = max(float(self.time_s[-1]), 1e-3)
        u = np.linspace(0.0, 1.0, _T.mesh_intervals + 1)
        self.mesh_s = span * np.expm1(_T.mesh_grading * u) / np.expm1(_T.mesh_grading)
        self._step = np.diff(self.mesh_s)
        self._sixth = self._step / 6.0
        self._all_s = np.concatenate((self.mesh_s, 0.5 * (self.mesh_s[:-1] + self.mesh_s[1:])))
        self._hermite = self._places_of_readings()

    def _places_of_readings(self) -> Array:
        """(n, 2 m) cubic Hermite weights of the mesh's values, then of its rates, in each reading."""
        index = np.clip(np.searchsorted(self.mesh_s, self.time_s, side="right") - 1, 0, self._step.size - 1)
        h = self._step[index]
        s = (self.time_s - self.mesh_s[index]) / h
        row, m = np.arange(s.size), self.mesh_s.size
        weights = np.zeros((s.size, 2 * m))
        weights[row, index] = (1 + 2 * s) * (1 - s) ** 2
        weights[row, index + 1] = s * s * (3 - 2 * s)
        weights[row, m + index] = s * (1 - s) ** 2 * h
        weights[row, m + index + 1] = s * s * (s - 1) * h
        return weights

    def solve(self, leak: Leak, guess: tuple[Array, Array] | None = None) -> Path:
        """Solve the balance by Newton's method, from states and rates near by. Raises NotSolved."""
        with np.errstate(all="ignore"):
            if guess is not None:
                return self._solve(leak, self._with_middles(guess[0].T, guess[1].T))
            try:
                return self._solve(leak, self._first_guess(leak))
            except NotSolved:
                return self._continued(leak)

    def _solve(self, leak: Leak, y: Array) -> Path:
        y[:, 0] = leak.start / (1.0 + leak.warmth), leak.start
        before = np.inf
        for _ in range(_MAX_NEWTON):
            path, change = self._newton(y, leak)
            if not np.isfinite(change):
                raise NotSolved
            if change < _NEWTON_STOP_PA:
                return path
            # full steps swing to and fro about the root-like end of an orifice's flow: halve those
            share = 0.5 if change > 0.5 * before else 1.0
            before = change
            # never step through zero pressure
            y = np.maximum(y + share * (self._with_middles(path.state.T, path.rate.T) - y), 0.02 * y)
        raise NotSolved

    def _with_middles(self, state: Array, rate: Array) -> Array:
        """(2, 2 m - 1) states of the mesh and, by Hermite's cubic, of its middles."""
        middle = 0.5 * (state[:, :-1] + state[:, 1:]) + 0.75 * self._sixth * (rate[:, :-1] - rate[:, 1:])
        return np.concatenate((state, middle), axis=1)

    def _continued(self, leak: Leak) -> Path:
        """Reach a strong blow-down from its isothermal cousin, the heat exchange slowed down by and by."""
        path = None
        for quicker in (256.0, 64.0, 16.0, 4.0, 2.0, 1.0):
            near = replace(leak, relaxation=leak.relaxation * quicker)
            guess = self._first_guess(near) if path is None else self._with_middles(path.state.T, path.rate.T)
            path = self._solve(near, guess)
        assert path is not None
        return path

    def at_readings(self, path: Path) -> tuple[Array, Array]:
        """Absolute pressure (n,) at the reading times and its sensitivities (n, 10)."""
        value = self._hermite @ np.concatenate((path.state[:, 1], path.rate[:, 1]))
        return value, self._hermite @ np.concatenate((path.state_by[:, 1], path.rate_by[:, 1]))

    def _first_guess(self, leak: Leak) -> Array:
        """The settled decay plus the dying start temperature."""
        n = settled_pressure(self._all_s, leak, self.inward, leak.start / (1.0 + leak.warmth), self.ambient_pa)
        theta = 1.0 + leak.warmth * np.exp(-leak.relaxation * self._all_s)
        return np.stack([n, n * theta])

    def _rates(self, y: Array, leak: Leak) -> tuple[Array, Array]:
        """f (2, k) and its slopes (2, 12, k): by the two states, then by the ten parameters."""
        t, (n, p) = self._all_s, y
        theta = p / n
        flow = self._flow(n, p, leak)
        pressed, by_gauge = pressing(np.abs(p - self.ambient_pa), self.inward, self.ambient_pa)
        opened = np.exp(leak.pressed * pressed)
        scale = (1.0 + leak.growth * t) * opened
        total = scale * flow.total
        heat, by_warmer, by_convection = self._heat(1.0 + leak.drift * t - theta, leak)
        slopes_of_flow = self._slopes_of_flow(scale, flow)
        slopes_of_flow[1] += leak.pressed * by_gauge * np.sign(p - self.ambient_pa) * total
        slopes_of_flow[_STATES + _PRESSED] = pressed * total
        slopes_of_flow[_STATES + _GROWTH] = t * opened * flow.total
        # what a unit of F does to n and to p
        to_n, to_p = (1.0, GAMMA) if self.inward else (-1.0, -GAMMA * theta)
        f, slopes = np.empty_like(y), np.empty((_STATES, *slopes_of_flow.shape))
        np.multiply(total, to_n, out=f[0])
        np.multiply(total, to_p, out=f[1])
        f[1] += heat
        np.multiply(slopes_of_flow, to_n, out=slopes[0])
        np.multiply(slopes_of_flow, to_p, out=slopes[1])
        by_theta = by_warmer if self.inward else by_warmer + GAMMA * total
        slopes[1, 0] += by_theta * theta / n
        slopes[1, 1] -= by_theta / n
        slopes[1, _STATES + _RELAXATION] = heat / leak.relaxation
        slopes[1, _STATES + _DRIFT] = by_warmer * t
        slopes[1, _STATES + _CONVECTION] = by_convection
        return f, slopes

    def _heat(self, warmer: Array, leak: Leak) -> tuple[Array, Array, Array]:
        """Pa/s that the walls, `warmer` (relative) than the gas, give it; its slopes by that and by the share."""
        full, share = self.ambient_pa * leak.relaxation, leak.convection
        apart = (np.square(warmer) + _STILL**2) / _CONVECTED_AT**2
        free = apart ** (0.5 * _CONVECTION_POWER)
        bend = _CONVECTION_POWER * np.square(warmer) / (np.square(warmer) + _STILL**2)
        by_warmer = full * ((1.0 - share) + share * free * (1.0 + bend))
        return full * warmer * ((1.0 - share) + share * free), by_warmer, full * warmer * (free - 1.0)

    @staticmethod
    def _slopes_of_flow(scale: Array, flow: _Flow) -> Array:
        """(12, k) slopes of F in the order of `_rates`, of a leak of that scale."""
        slopes = np.zeros((_STATES + _PARAMETERS, scale.size))
        np.multiply(scale, flow.by_n, out=slopes[0])
        np.multiply(scale, flow.by_p, out=slopes[1])
        np.multiply(scale, flow.per_viscous, out=slopes[_STATES + _VISCOUS])
        np.multiply(scale, flow.per_orifice, out=slopes[_STATES + _ORIFICE])
        np.multiply(scale, flow.by_back, out=slopes[_STATES + _BACK])
        return slopes

    def _flow(self, n: Array, p: Array, leak: Leak) -> _Flow:
        k, a, back = leak.viscous, leak.orifice, leak.back
        if self.inward:
            hole, by_high, by_low = orifice_flow(back, p)
            per_viscous = back**2 - p * p
            total = k * per_viscous + a * hole
            by_p = a * by_low - (2.0 * k) * p
            return _Flow(per_viscous, hole, total, 0.0, by_p, a * by_high + 2.0 * k * back)
        hole, by_high, by_low = orifice_flow(p, back)
        root = np.sqrt(n / p)
        per_viscous, per_orifice = n * (p - back**2 / p), root * hole
        weep, jet = k * per_viscous, a * per_orifice
        return _Flow(
            per_viscous,
            per_orifice,
            weep + jet,
            (weep + 0.5 * jet) / n,
            k * n * (1.0 + (back / p) ** 2) + a * root * by_high - 0.5 * jet / p,
            a * root * by_low - (2.0 * k * back) * n / p,
        )

    def _newton(self, y: Array, leak: Leak) -> tuple[Path, float]:
        """One Newton step of all Hermite-Simpson conditions at once, sensitivities included.

        Each interval is an affine map y[i+1] = carry y[i] + source, whose columns are the Newton
        correction and the ten sensitivities; the largest correction (Pa) is returned beside the path.
        """
        m = self.mesh_s.size
        f, slopes = self._rates(y, leak)
        maps, off = self._maps(y, f, slopes)
        first = np.zeros((_STATES, 1 + _PARAMETERS, 1))
        first[0, 1 + _START], first[1, 1 + _START] = 1.0 / (1.0 + leak.warmth), 1.0
        first[0, 1 + _WARMTH] = -leak.start / (1.0 + leak.warmth) ** 2
        maps[:, 2:, :1] += _times(maps[:, :2, :1], first)
        moved = np.concatenate((first, _affine_scan(maps)), axis=2)
        change = moved[:, 0]
        along = _times(slopes[:, :2, :m], moved)
        along[:, 0] += f[:, :m]
        along[:, 1:] += slopes[:, 2:, :m]
        path = Path(
            (y[:, :m] + change).T, along[:, 0].T, moved[:, 1:].transpose(2, 0, 1), along[:, 1:].transpose(2, 0, 1)
        )
        return path, max(float(np.abs(change).max()), off)

    def _maps(self, y: Array, f: Array, slopes: Array) -> tuple[Array, float]:
        """(2, 13, m - 1) the affine map of each interval: carry (2, 2) and source (2, 11); how far the middles are off.

        y, f, slopes: states, their rates and the slopes of these, of the mesh and of its middles.
        """
        m, sixth = self.mesh_s.size, self._sixth
        near, far, mid = slopes[..., : m - 1], slopes[..., 1:m], slopes[..., m:]
        off = self._with_middles(y[:, :m], f[:, :m])[:, m:] - y[:, m:]
        gap = y[:, : m - 1] - y[:, 1:m] + sixth * (f[:, : m - 1] + 4.0 * f[:, m:] + f[:, 1:m])
        by_mid = mid[:, :2]
        gap += 4.0 * sixth * _times(by_mid, off[:, None])[:, 0]
        across = 3.0 * sixth * by_mid
        maps = np.empty((_STATES, _STATES + 1 + _PARAMETERS, m - 1))
        twice = 2.0 * by_mid
        maps[:, :2] = _EYE + sixth * (near[:, :2] + twice + _times(across, near[:, :2]))
        maps[:, 2] = gap
        maps[:, 3:] = sixth * (near[:, 2:] + far[:, 2:] + 4.0 * mid[:, 2:] + _times(across, near[:, 2:] - far[:, 2:]))
        back = _EYE - sixth * (far[:, :2] + twice - _times(across, far[:, :2]))
        return _times(_inverse2(back), maps), float(np.abs(off).max())


@dataclass(frozen=True)
class _Flow:
    """F, its parts per unit of geometry, and its slopes."""

    per_viscous: Array
    per_orifice: Array
    total: Array
    by_n: Array | float
    by_p: Array
    by_back: Array


def _times(a: Array, b: Array) -> Array:
    """(2, 2, k) times (2, c, k): a product of matrices at each of k times."""
    product: Array = a[:, 0, None] * b[0]
    product += a[:, 1, None] * b[1]
    return product


def _inverse2(a: Array) -> Array:
    out = np.empty_like(a)
    det = a[0, 0] * a[1, 1] - a[0, 1] * a[1, 0]
    out[0, 0], out[1, 1] = a[1, 1] / det, a[0, 0] / det
    out[0, 1], out[1, 0] = -a[0, 1] / det, -a[1, 0] / det
    return out


def _affine_scan(maps: Array) -> Array:
    """x[i+1] = carry[i] x[i] + source[i] from x[0] = 0, for all i by doubling (log2 m passes)."""
    stride = 1
    while stride < maps.shape[2]:
        further = _times(maps[:, :2, stride:], maps[:, :, :-stride])
        further[:, 2:] += maps[:, 2:, stride:]
        maps[:, :, stride:] = further
        stride *= 2
    return maps[:, 2:]
