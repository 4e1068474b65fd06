"""Random sheets with a pressure and a vacuum test in them, and random logs of absolute and gauge readings."""

from __future__ import annotations

import random
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

UNITS_KPA = {"psi": 6.894757293168361, "kPa": 1.0, "mbar": 0.1, "inHg": 3.386388640341}


@dataclass(frozen=True)
class Pair:
    """A text with two tests: kPa, signed, of each."""

    text: str
    pressure_kpa: list[float]
    vacuum_kpa: list[float]


def pair(seed: int) -> Pair:
    """One random sheet with both tests."""
    r = random.Random(seed)
    mark = r.choice([",", ";", "\t", "|"])
    count = r.randint(3, 7)
    unit, other = r.choice(["psi", "kPa", "mbar"]), r.choice(["inHg", "kPa", "mbar"])
    up, down = ([_value(r, u, i) for i in range(count)] for u in (unit, other))
    sign = r.choice([1, -1])
    shown = [sign * value for value in down]
    seconds = [20 * i for i in range(count)]
    over, under = r.choice(["Pressure", "Druck", "p"]), r.choice(["Vacuum", "Vakuum", "Unterdruck", "Vac"])
    heads = (f"{over} ({unit})", f"{under} ({other})")
    layout = r.choice(["side", "rows", "blocks", "titles"])
    if layout == "side":
        lines = [mark.join(["time (s)", *heads])]
        lines += [f"{t}{mark}{a}{mark}{b}" for t, a, b in zip(seconds, up, shown, strict=True)]
    elif layout == "rows":
        lines = [mark.join(["time (s)", *heads])]
        lines += [f"{t}{mark}{a}{mark}" for t, a in zip(seconds, up, strict=True)]
        lines += [f"{t}{mark}{mark}{b}" for t, b in zip(seconds, shown, strict=True)]
    else:
        lines = _blocks(r, mark, heads, seconds, (up, shown), titled=layout == "titles")
    if r.random() < 0.3:
        lines.insert(0, "Volume: 250 cc")
    return Pair(
        "\n".join(lines) + "\n",
        [value * UNITS_KPA[unit] for value in up],
        [-value * UNITS_KPA[other] for value in down],
    )


def _value(r: random.Random, unit: str, index: int) -> float:
    size = (42.0 * 0.96**index + r.uniform(-0.1, 0.1)) / UNITS_KPA[unit]
    return round(size, 0 if unit == "mbar" else 2)


def _blocks(
    r: random.Random,
    mark: str,
    heads: tuple[str, str],
    seconds: list[int],
    values: tuple[list[float], list[float]],
    titled: bool,
) -> list[str]:
    lines = []
    for head, column, title in zip(heads, values, ("Pressure test", "Vacuum test"), strict=True):
        lines += [title] if titled else []
        lines += [f"time (s){mark}{head}"]
        lines += [f"{t}{mark}{value}" for t, value in zip(seconds, column, strict=True)]
        lines += [""] if r.random() < 0.5 else []
    return lines


def log(seed: int, air_kpa: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Times in s and readings in kPa of open, fill, hold and perhaps vent, about `air_kpa` (0: a gauge)."""
    r = np.random.default_rng(seed)
    rate = float(r.choice([1.0, 5.0, 10.0]))
    target = float(r.choice([-1, 1]) * r.uniform(25, 50))
    spans = [r.uniform(3, 8), r.uniform(1, 8), r.uniform(20, 90), r.uniform(3, 6) * (r.random() < 0.7)]
    opened, filled, held, vented = (int(span * rate) for span in spans)
    tau = float(r.choice([20.0, 100.0, 1e3, 1e6]))
    hold = target * np.exp(-np.arange(held) / rate / tau)
    parts = [np.zeros(opened), np.linspace(0, target, max(filled, 2)), hold, np.zeros(vented)]
    kpa = air_kpa + np.concatenate(parts)
    return np.arange(kpa.size) / rate, kpa + r.normal(0, float(r.choice([0.01, 0.05, 0.1])), kpa.size)
