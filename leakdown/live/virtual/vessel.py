"""The vessel behind a virtual gauge: one volume, one leak, filled, held and vented, with the gas's own heat.

The energy balance of leakdown.physics.balance with a pump and a vent added, stepped forward in time:

    m c_v dT/dt = sum over inflows of md (c_p T_a - c_v T) - sum over outflows of md R T + hA (T_w - T)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from leakdown.errors import UsageError
from leakdown.live.texts import told
from leakdown.physics.air import CP_J_KG_K, CV_J_KG_K, GAS_CONSTANT_J_KG_K
from leakdown.physics.flow import DISCHARGE_COEFFICIENT, orifice_throughput, viscous_throughput

Phase = Literal["zero", "fill", "hold", "vent", "done"]
STEP_S = 0.005
_VENT_AREA_M2 = 3e-6
_REFERENCE_PA = 35_000.0


@dataclass(frozen=True)
class Scenario:
    """A test to play. Pressures in Pa, `target_pa` gauge and signed; a negative one is a vacuum test.

    hole_m: diameter of the leak's equivalent hole (C_d 0.61) at 35 kPa in the test's direction.
    viscous_share: the part of its flow at 35 kPa that goes through a long narrow path.
    relaxation_s: thermal time constant of the gas at ambient pressure, counted as 20 ms at least.
    top_up_s: so long after the fill it is topped up to the target; 0: not at all.
    growth_per_s: how much the leak grows in a second from the filling on, of its size at the start.
    """

    volume_m3: float = 250e-6
    hole_m: float = 0.1e-3
    viscous_share: float = 0.5
    target_pa: float = 40_000.0
    ambient_pa: float = 101_325.0
    room_k: float = 293.15
    relaxation_s: float = 1.0
    zero_s: float = 3.0
    fill_s: float = 5.0
    hold_s: float = 60.0
    vent_s: float = 5.0
    top_up_s: float = 0.0
    growth_per_s: float = 0.0

    def __post_init__(self) -> None:
        """Raises UsageError for a target or a hole that cannot be."""
        if self.target_pa <= -0.95 * self.ambient_pa or self.target_pa == 0:
            raise UsageError(**told("out of reach", target_kpa=self.target_pa / 1e3))
        if self.hole_m < 0:
            raise UsageError(**told("negative hole"))

    @property
    def length_s(self) -> float:
        """Planned length of the whole test."""
        return self.zero_s + self.fill_s + self.hold_s + self.vent_s


@dataclass(frozen=True)
class LeakSize:
    """k_v in m3/(s Pa) and C_d A in m2."""

    viscous: float
    orifice: float


def leak_of(scenario: Scenario) -> LeakSize:
    """The two leak sizes that together pass what the scenario's hole would at 35 kPa."""
    inside = scenario.ambient_pa + math.copysign(_REFERENCE_PA, scenario.target_pa)
    high, low = max(inside, scenario.ambient_pa), min(inside, scenario.ambient_pa)
    cd_area = DISCHARGE_COEFFICIENT * math.pi / 4.0 * scenario.hole_m**2
    total = orifice_throughput(high, low, cd_area, scenario.room_k)
    per_k_v = viscous_throughput(high, low, 1.0)
    return LeakSize(scenario.viscous_share * total / per_k_v, (1.0 - scenario.viscous_share) * cd_area)


class Vessel:
    """Steps through a scenario; ask for the gauge pressure at rising times. `temperature_k`: of the gas now."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.phase: Phase = "zero"
        self._leak = leak_of(scenario)
        self._time_s = 0.0
        self.temperature_k = scenario.room_k
        self._mass_kg = scenario.ambient_pa * scenario.volume_m3 / (GAS_CONSTANT_J_KG_K * scenario.room_k)
        self._wall_w_k = self._mass_kg * CV_J_KG_K / max(scenario.relaxation_s, 4.0 * STEP_S)
        swing = abs(scenario.target_pa) * scenario.volume_m3 / (GAS_CONSTANT_J_KG_K * scenario.room_k)
        self._pump_kg_s = math.copysign(swing / max(scenario.fill_s, STEP_S), scenario.target_pa)
        self._filled = self._topped_up = False

    @property
    def pressure_pa_abs(self) -> float:
        """Absolute pressure now."""
        return self._mass_kg * GAS_CONSTANT_J_KG_K * self.temperature_k / self.scenario.volume_m3

    def gauge_pa(self, time_s: float) -> float:
        """Gauge pressure at `time_s` seconds; earlier times than the last asked for give the present one."""
        while self._time_s + STEP_S <= time_s:
            self._step()
        return self.pressure_pa_abs - self.scenario.ambient_pa

    def _step(self) -> None:
        self.phase = self._phase_at(self._time_s)
        pressure = self.pressure_pa_abs
        flow_kg_s = self._leak_kg_s(pressure) + self._valve_kg_s(pressure)
        pump = self._pump_now(pressure)
        inward = max(flow_kg_s, 0.0) + max(pump, 0.0)
        outward = max(-flow_kg_s, 0.0) + max(-pump, 0.0)
        temperature = self.temperature_k
        heat_w = (
            inward * (CP_J_KG_K * self.scenario.room_k - CV_J_KG_K * temperature)
            - outward * GAS_CONSTANT_J_KG_K * temperature
            + self._wall_w_k * (self.scenario.room_k - temperature)
        )
        self.temperature_k += heat_w / (self._mass_kg * CV_J_KG_K) * STEP_S
        self._mass_kg = max(self._mass_kg + (inward - outward) * STEP_S, 1e-12)
        self._time_s += STEP_S

    def _phase_at(self, time_s: float) -> Phase:
        s = self.scenario
        phases: tuple[Phase, ...] = ("zero", "fill", "hold", "vent")
        for phase, length in zip(phases, (s.zero_s, s.fill_s, s.hold_s, s.vent_s), strict=True):
            if time_s < length:
                return phase
            time_s -= length
        return "done"

    def _pump_now(self, pressure: float) -> float:
        """Mass flow of the pump, inward positive; it stops once the target is reached."""
        since_fill_s = self._time_s - self.scenario.zero_s - self.scenario.fill_s
        if self.scenario.top_up_s and not self._topped_up and self.phase == "hold":
            self._topped_up = since_fill_s >= self.scenario.top_up_s
            self._filled = not self._topped_up
        if self._filled or not (self.phase == "fill" or (self.phase == "hold" and self._topped_up)):
            return 0.0
        gauge = pressure - self.scenario.ambient_pa
        self._filled = abs(gauge) >= abs(self.scenario.target_pa)
        return 0.0 if self._filled else self._pump_kg_s

    def _valve_kg_s(self, pressure: float) -> float:
        """The open valve while zeroing and venting, inward positive, never past equality in one step."""
        if self.phase in ("fill", "hold"):
            return 0.0
        return self._limited(self._through(pressure, 0.0, _VENT_AREA_M2), pressure)

    def _leak_kg_s(self, pressure: float) -> float:
        grown = 1.0 + self.scenario.growth_per_s * max(self._time_s - self.scenario.zero_s, 0.0)
        return self._limited(grown * self._through(pressure, self._leak.viscous, self._leak.orifice), pressure)

    def _through(self, pressure: float, k_v: float, cd_area_m2: float) -> float:
        ambient, inward = self.scenario.ambient_pa, pressure < self.scenario.ambient_pa
        high, low = (ambient, pressure) if inward else (pressure, ambient)
        upstream_k = self.scenario.room_k if inward else self.temperature_k
        throughput = viscous_throughput(high, low, k_v) + orifice_throughput(high, low, cd_area_m2, upstream_k)
        flow = throughput / (GAS_CONSTANT_J_KG_K * upstream_k)
        return flow if inward else -flow

    def _limited(self, flow_kg_s: float, pressure: float) -> float:
        """At most half of what would level the pressure within one step."""
        level = abs(self.scenario.ambient_pa - pressure) / pressure * self._mass_kg * 0.5 / STEP_S
        return max(-level, min(level, flow_kg_s))
