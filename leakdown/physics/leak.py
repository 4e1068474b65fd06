"""A leak in a rigid vessel as numbers, and how fast the pressure moves once the gas is at its walls' temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.physics.air import GAMMA
from leakdown.physics.flow import CRITICAL_RATIO
from leakdown.tuned import tuned

Array = NDArray[np.float64]
PARAMETERS = (
    *("viscous", "orifice", "start", "warmth", "relaxation"),
    *("back", "drift", "growth", "pressed", "convection"),
)
"""Order of the sensitivities: k_v/V 1/(Pa s), a = C_d A sqrt(R T_w)/V 1/s, p0 Pa abs, theta0 - 1,
1/tau 1/s, p_b Pa abs, wall drift 1/s, growth of the leak 1/s, what pressure does to its gap 1/Pa, share of
free convection in the heat exchange."""

_T = tuned("physics")
_LAMINAR_BELOW_PA: float = _T.laminar_below_pa
_PRESSED_AT_PA = 35e3


@dataclass(frozen=True)
class Leak:
    """Everything that shapes a decay, in the units of `PARAMETERS`."""

    viscous: float
    orifice: float
    start: float
    warmth: float = 0.0
    relaxation: float = 1.0
    back: float = 101_325.0
    drift: float = 0.0
    growth: float = 0.0
    pressed: float = 0.0
    convection: float = 0.0

    def array(self) -> Array:
        """The values in the order of `PARAMETERS`."""
        return np.array([getattr(self, name) for name in PARAMETERS])


def pressing(gauge_pa: Array, inward: bool, ambient_pa: float) -> tuple[Array, Array]:
    """What a gap's size follows, Pa, and its slope: the gauge pressure's magnitude, bent.

    Outward g p_ref/(p_ref + g), which ends as the flow chokes; inward the mean of g and of its square over
    35 kPa. So flow laws that are no sum of viscous and orifice flow follow too: a long turbulent path
    (q ~ sqrt(p1^2 - p2^2)) and a sharp hole whose C_d grows stay within 1 % of such a gap up to 50 kPa.
    """
    if inward:
        return 0.5 * gauge_pa * (1.0 + gauge_pa / _PRESSED_AT_PA), 0.5 + gauge_pa / _PRESSED_AT_PA
    share = ambient_pa / (ambient_pa + gauge_pa)
    return gauge_pa * share, share * share


def throughput_per_volume(pressure_pa: Array, leak: Leak, inward: bool, ambient_pa: float | None = None) -> Array:
    """Settled F(p) in Pa/s (theta = 1, no growth): how fast the pressure moves once the gas is at T_w.

    ambient_pa: abs, from which a gap that pressure changes counts it; None: the leak's back pressure.
    """
    p = np.asarray(pressure_pa, dtype=float)
    high, low = (leak.back, p) if inward else (p, leak.back)
    orifice, _, _ = orifice_flow(np.full_like(p, 1.0) * high, np.full_like(p, 1.0) * low)
    ambient = leak.back if ambient_pa is None else ambient_pa
    opened = np.exp(leak.pressed * pressing(np.abs(p - ambient), inward, ambient)[0])
    return opened * (leak.viscous * (np.square(high) - np.square(low)) + leak.orifice * orifice)


def flow_per_geometry(pressure_pa: float, ambient_pa: float, inward: bool) -> tuple[float, float]:
    """Settled loss (Pa/s) at one absolute pressure per unit of viscous and of orifice geometry."""
    at = np.array([pressure_pa])
    weep = throughput_per_volume(at, Leak(1.0, 0.0, ambient_pa, back=ambient_pa), inward)
    hole = throughput_per_volume(at, Leak(0.0, 1.0, ambient_pa, back=ambient_pa), inward)
    return weep.item(), hole.item()


def settled_pressure(
    time_s: Array, leak: Leak, inward: bool, start_pa: float, ambient_pa: float | None = None
) -> Array:
    """Isothermal decay p(t) in Pa abs from `start_pa` (abs), by quadrature of dt = dp/F(p).

    Holds once the gas is at wall temperature and for a leak that does not change; 0.02 % of the drop.
    """
    fraction = np.linspace(0.0, 1.0, 240) ** 2
    p = leak.back + (start_pa - leak.back) * (1.0 - fraction)
    flow = np.abs(throughput_per_volume(p, leak, inward, ambient_pa)) + 1e-9
    t = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(p)) * 2.0 / (flow[1:] + flow[:-1]))))
    return np.interp(time_s, t, p)


def orifice_flow(high: Array | float, low: Array | float) -> tuple[Array, Array, Array]:
    """high * psi(low/high), odd in high - low and laminar near zero; with both partial derivatives."""
    gap = np.asarray(high - low)
    size = np.maximum(np.abs(gap), 1e-6)
    open_ratio = 1.0 - size / high
    ratio = np.maximum(open_ratio, CRITICAL_RATIO)
    u = ratio ** (1.0 / GAMMA)
    psi = np.sqrt((2.0 * GAMMA / (GAMMA - 1.0)) * u * (u - ratio))
    slope = u * (2.0 * u / ratio - (GAMMA + 1.0)) / ((GAMMA - 1.0) * psi)
    slope *= open_ratio > CRITICAL_RATIO
    small = size * size + _LAMINAR_BELOW_PA**2
    reg = np.sqrt(size / np.sqrt(small))
    flow = high * psi * reg
    by_size = flow * (0.5 * _LAMINAR_BELOW_PA**2) / (size * small) - slope * reg  # at constant high
    by_high = reg * (psi + slope * size / high)
    sign = np.sign(gap)
    return flow * sign, by_high * sign + by_size, -by_size
