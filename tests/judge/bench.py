"""A bench of its own to test against: an orifice by ISO 9300's ideal nozzle flow, a hand pump, a gauge.

Nothing here is imported from the package but the `Recording` that it fills.
"""

import numpy as np

from leakdown.recording import Conditions, Recording

AIR = 101_325.0
GAMMA, GAS, KELVIN, C_D = 1.4, 287.05, 293.15, 0.61


def orifice_pa_m3_s(diameter_m, high_pa, low_pa):
    """Isentropic flow through a sharp-edged hole, absolute pressures, as pV throughput (ISO 9300 theory)."""
    r = max(low_pa / high_pa, (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1)))
    speed = np.sqrt(2 * GAMMA / (GAMMA - 1) / (GAS * KELVIN) * (r ** (2 / GAMMA) - r ** ((GAMMA + 1) / GAMMA)))
    return C_D * np.pi / 4 * diameter_m**2 * high_pa * speed * GAS * KELVIN


def told(circuit, volume_m3, direction="pressure", **more):
    given = {"volume_u_m3": None if volume_m3 is None else 0.05 * volume_m3, "barometer_pa": AIR} | more
    return Conditions(circuit=circuit, direction=direction, volume_m3=volume_m3, **given)


def held(holes_m, volume_m3, start_pa, seconds=90.0, every=0.5, noise=20.0, seed=0, circuit="crankcase", **more):
    """A hold of one vessel with these holes, stepped at 10 ms."""
    p, out, h = AIR + start_pa, [], 0.01
    for k in range(round(seconds / h) + 1):
        if k % round(every / h) == 0:
            out.append((k * h, p - AIR))
        q = sum(orifice_pa_m3_s(d, max(p, AIR), min(p, AIR)) for d in holes_m) if abs(p - AIR) > 1 else 0.0
        p -= np.sign(p - AIR) * q * h / volume_m3
    t, gauge = np.array(out).T
    gauge = gauge + np.random.default_rng(seed).normal(0.0, noise, t.size)
    direction = "vacuum" if start_pa < 0 else "pressure"
    return Recording(t, gauge, conditions=told(circuit, volume_m3, direction, **more))


def pumped(hole_m, volume_m3, strokes, pace, stroke_m3=15e-6, after=10.0, vacuum=False, noise=30.0, seed=0):
    """Hand strokes of a third of a second's push each, then nothing; 10 readings a second."""
    p, out, h = AIR, [], 0.005
    for k in range(round((2.0 + strokes / pace + after) / h)):
        if k % 20 == 0:
            out.append((k * h, p - AIR))
        beat = (k * h - 2.0) * pace
        if 0 <= beat < strokes and beat % 1 < 0.33:
            moved = stroke_m3 * (p if vacuum else AIR) / (0.33 / pace)
            p += (-moved if vacuum else moved) * h / volume_m3
        q = orifice_pa_m3_s(hole_m, max(p, AIR), min(p, AIR)) if hole_m and abs(p - AIR) > 1 else 0.0
        p -= np.sign(p - AIR) * q * h / volume_m3
    t, gauge = np.array(out).T
    gauge = gauge + np.random.default_rng(seed).normal(0.0, noise, t.size)
    return Recording(
        t, np.round(gauge / 10) * 10, conditions=told("crankcase", volume_m3, "vacuum" if vacuum else "pressure")
    )
