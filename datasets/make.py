"""Makes the demo recordings of this folder. Everything in them is invented.

Run `python datasets/make.py` after a change of the scenario. The decays come from an independent
integration of the energy balance (scipy.integrate), not from the solver that leakdown fits with.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

from leakdown.physics.flow import flow_function

HERE = Path(__file__).parent
AMBIENT_PA = 97_400.0
WALL_K = 291.15
VOLUME_M3 = 236e-6
GAMMA, GAS = 1.4, 287.05287
NOISE_PA, RATE_HZ = 25.0, 10.0


@dataclass(frozen=True)
class Leak:
    """Viscous coefficient (m3/(s Pa)) and C_d A (m2) of a leak."""

    viscous: float
    orifice: float


def decay(
    time_s: np.ndarray, start_pa: float, start_k: float, leak: Leak, volume_m3: float, tau_s: float
) -> np.ndarray:
    """Absolute pressure by the energy balance, heat exchange hA fixed by tau at ambient density."""
    mass = AMBIENT_PA * volume_m3 / (GAS * WALL_K)
    cv = GAS / (GAMMA - 1.0)
    h_area = mass * cv / tau_s

    def rates(_: float, state: np.ndarray) -> list[float]:
        m, t = state
        p = m * GAS * t / volume_m3
        inward = p < AMBIENT_PA
        high, low, t_up = (AMBIENT_PA, p, WALL_K) if inward else (p, AMBIENT_PA, t)
        viscous = leak.viscous * (high**2 - low**2) / (GAS * t_up)
        hole = leak.orifice * high * float(flow_function(low / high)) / np.sqrt(GAS * t_up)
        md = viscous + hole
        heat = h_area * (WALL_K - t)
        if inward:
            return [md, (md * (cv + GAS) * WALL_K - md * cv * t + heat) / (m * cv)]
        return [-md, (-md * GAS * t + heat) / (m * cv)]

    first = [start_pa * volume_m3 / (GAS * start_k), start_k]
    out = solve_ivp(rates, (0, time_s[-1] + 1e-9), first, t_eval=time_s, rtol=1e-9, atol=1e-14, method="LSODA")
    return out.y[0] * GAS * out.y[1] / volume_m3


def whole_test(
    seed: int, target_pa: float, leak: Leak, volume_m3: float, hold_s: float, zero_pa: float
) -> tuple[np.ndarray, np.ndarray]:
    """Zero, pump strokes, hold, vent and zero again: time (s) and gauge pressure (Pa) as logged."""
    rng = np.random.default_rng(seed)
    step = 1.0 / RATE_HZ
    zero = np.zeros(int(4 * RATE_HZ))
    strokes = np.repeat(np.linspace(0.0, target_pa, 9)[1:], int(0.8 * RATE_HZ))
    warm_k = WALL_K + np.sign(target_pa) * 2.5
    time_s = np.arange(0.0, hold_s, step)
    hold = decay(time_s, AMBIENT_PA + target_pa, warm_k, leak, volume_m3, 1.6) - AMBIENT_PA
    vent = hold[-1] * np.exp(-np.arange(1, int(1.5 * RATE_HZ)) * step / 0.25)
    rest = np.zeros(int(5 * RATE_HZ))
    pressure = np.concatenate([zero, strokes, hold, vent, rest]) + zero_pa
    pressure = np.round((pressure + rng.normal(0, NOISE_PA, pressure.size)) / 10.0) * 10.0
    return np.arange(pressure.size) * step, pressure


def log_file(name: str, keys: dict[str, str], time_s: np.ndarray, pressure_pa: np.ndarray) -> None:
    """Write a recording in the project's own form."""
    common = {"barometer": "97.4 kPa", "temperature": "18 degC", "gauge": "bench gauge 1"}
    lines = [f"# {key}: {value}" for key, value in (keys | common).items()]
    lines += ["time_s,pressure_kpa", *(f"{t:.1f},{p / 1e3:.2f}" for t, p in zip(time_s, pressure_pa, strict=True))]
    (HERE / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def crankcase(name: str, seed: int, direction: str, leak: Leak, note: str) -> None:
    """One crankcase log of the story."""
    target = 46e3 if direction == "pressure" else -46e3
    keys = {
        "circuit": "crankcase",
        "direction": direction,
        "volume": "236 cm3",
        "volume_uncertainty": "8 %",
        "includes": "seals, boot, gaskets, rig",
        "note": note,
    }
    log_file(name, keys, *whole_test(seed, target, leak, VOLUME_M3, 75.0, 60.0))


def main() -> None:
    """Write every file of the scenario."""
    joint = Leak(1.5e-12, 0.0)
    lifted = Leak(6.0e-12, 0.0)
    tight = Leak(1.2e-14, 0.0)
    log_file(
        "1_rig_capped.csv",
        {"circuit": "rig", "direction": "pressure", "volume": "21 cm3", "note": "blanking cap on the hose"},
        *whole_test(11, 50e3, Leak(0.0, 0.0), 21e-6, 60.0, 60.0),
    )
    crankcase("2_crankcase_pressure.csv", 12, "pressure", joint, "as it came in, cold, dry")
    crankcase("3_crankcase_vacuum.csv", 13, "vacuum", lifted, "as it came in, same blanks, crank not moved")
    crankcase("5_after_repair_pressure.csv", 15, "pressure", tight, "new seal, flywheel side")
    crankcase("6_after_repair_vacuum.csv", 16, "vacuum", tight, "new seal, flywheel side")
    sheet()
    vent()


def vent() -> None:
    """The tank drawn to a little vacuum: its vent is blocked, and lets in next to nothing."""
    keys = {
        "circuit": "tank",
        "direction": "vacuum",
        "volume": "430 cm3",
        "volume_uncertainty": "10 %",
        "note": "drained, pickup plugged, cap on",
    }
    blocked = whole_test(17, -8e3, Leak(2.0e-13, 0.0), 430e-6, 40.0, 60.0)
    log_file("7_tank_vent_vacuum.csv", keys, *blocked)


def sheet() -> None:
    """The vacuum test again by hand: needle gauge in inHg read to half a mark every 10 s."""
    time_s = np.arange(0.0, 91.0, 10.0)
    pressure = decay(time_s, AMBIENT_PA - 44e3, WALL_K, Leak(6.0e-12, 0.0), VOLUME_M3, 1.6) - AMBIENT_PA
    marks = np.round(-pressure / 3386.388640341 / 0.5) * 0.5
    rows = [f"{int(t) // 60}:{int(t) % 60:02d};{m:.1f};".replace(".", ",") for t, m in zip(time_s, marks, strict=True)]
    rows[4] = rows[4] + "phone rang"
    head = [
        "Crankcase, second go with the needle gauge;;",
        "Barometer: 97,4 kPa;;",
        "Volume: 236 cm3;;",
        "time (m:ss);vacuum inHg;remarks",
    ]
    (HERE / "4_needle_sheet_vacuum.csv").write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
