"""The virtual gauge: its physics against closed forms, its faults, and the whole chain through the log."""

from __future__ import annotations

import math

import numpy as np
import pytest

from leakdown.errors import UsageError
from leakdown.live.capture.logger import LiveLog, LogPlan
from leakdown.live.capture.session import Remark, Row
from leakdown.live.virtual.gauge import Faults, GaugeKind, VirtualGauge, messages
from leakdown.live.virtual.vessel import Scenario, Vessel, leak_of
from leakdown.live.virtual.wires import PtyWire, TcpWire
from leakdown.physics.flow import DISCHARGE_COEFFICIENT, orifice_throughput, viscous_throughput
from leakdown.sheets.file import read

pytestmark = pytest.mark.slow


def hold_of(scenario: Scenario, times: np.ndarray) -> np.ndarray:
    vessel = Vessel(scenario)
    return np.array([vessel.gauge_pa(t) for t in times])


def test_a_slow_viscous_leak_follows_its_closed_form():
    """V dp/dt = -k (p^2 - a^2): (p - a)/(p + a) = C exp(-2 a k t / V), after the gas has settled."""
    scenario = Scenario(hole_m=0.1e-3, viscous_share=1.0, relaxation_s=0.05, zero_s=0.1, fill_s=1.0, hold_s=80.0)
    times = np.arange(5.0, 80.0, 5.0)
    pressure = hold_of(scenario, times) + scenario.ambient_pa
    ratio = (pressure - scenario.ambient_pa) / (pressure + scenario.ambient_pa)
    rate = -np.polyfit(times, np.log(ratio), 1)[0]
    expected = 2.0 * scenario.ambient_pa * leak_of(scenario).viscous / scenario.volume_m3
    assert rate == pytest.approx(expected, rel=5e-3)


def test_a_choked_orifice_fills_a_vacuum_linearly():
    """Below 0.528 of ambient the inflow is constant: dp/dt = C_d A p_a psi* sqrt(R T) / V."""
    scenario = Scenario(hole_m=0.3e-3, viscous_share=0.0, target_pa=-70e3, relaxation_s=0.05, zero_s=0.1, fill_s=2.0)
    times = np.arange(5.0, 8.0, 0.5)
    slope = np.polyfit(times, hold_of(scenario, times), 1)[0]
    area = DISCHARGE_COEFFICIENT * math.pi / 4.0 * 0.3e-3**2
    expected = orifice_throughput(101_325.0, 10_000.0, area, 293.15) / scenario.volume_m3
    assert slope == pytest.approx(expected, rel=1e-2)


@pytest.mark.parametrize("target_pa", [40e3, -40e3])
def test_the_hole_passes_the_same_at_35_kpa_whatever_its_kind(target_pa):
    flows = []
    for share in (0.0, 0.3, 1.0):
        scenario = Scenario(viscous_share=share, target_pa=target_pa)
        size = leak_of(scenario)
        inside = 101_325.0 + math.copysign(35e3, target_pa)
        high, low = max(inside, 101_325.0), min(inside, 101_325.0)
        flows.append(viscous_throughput(high, low, size.viscous) + orifice_throughput(high, low, size.orifice, 293.15))
    assert flows == pytest.approx([flows[0]] * 3, rel=1e-9)


def test_a_tight_vessel_cools_after_filling_and_then_stands():
    """Filling warms the gas; what is left after it has cooled is the isothermal pressure of its mass."""
    vessel = Vessel(Scenario(hole_m=0.0, zero_s=0.5, fill_s=0.5, hold_s=60.0, relaxation_s=2.0))
    peak = max(vessel.gauge_pa(0.5 + 0.01 * i) for i in range(60))
    late, later = vessel.gauge_pa(30.0), vessel.gauge_pa(50.0)
    assert peak == pytest.approx(40e3, rel=0.01)
    assert late < peak - 1_000.0
    assert later == pytest.approx(late, abs=1.0)
    assert vessel.temperature_k == pytest.approx(293.15, abs=0.01)


def test_a_leak_too_big_to_pump_up_never_reaches_the_target():
    vessel = Vessel(Scenario(hole_m=2e-3, viscous_share=0.0, zero_s=0.1, fill_s=5.0))
    assert max(vessel.gauge_pa(0.1 * i) for i in range(50)) < 10e3


def test_venting_ends_at_zero():
    scenario = Scenario(zero_s=1.0, fill_s=1.0, hold_s=5.0, vent_s=6.0)
    vessel = Vessel(scenario)
    assert vessel.gauge_pa(6.9) > 25e3
    assert abs(vessel.gauge_pa(scenario.length_s)) < 100.0


def lines(faults: Faults, **kind: object) -> list[tuple[float, str]]:
    scenario = Scenario(zero_s=0.5, fill_s=0.5, hold_s=4.0, vent_s=0.5)
    return [(t, data.decode()) for t, data in messages(scenario, GaugeKind(seed=3, faults=faults, **kind))]


def test_the_same_seed_plays_the_same_test():
    assert lines(Faults()) == lines(Faults())


def test_frozen_readings_do_not_move():
    late = {text for t, text in lines(Faults(freeze_s=2.0), style="bare") if t >= 2.0}
    assert len(late) == 1


def test_a_restart_sets_the_gauges_clock_back():
    clocks = [int(text.split("t_ms=")[1].split()[0]) for t, text in lines(Faults(reboot_s=2.0)) if "t_ms=" in text]
    assert sum(b < a for a, b in zip(clocks, clocks[1:], strict=False)) == 1


def test_torn_and_missing_lines_come_in_their_share():
    many = [text for seed in range(5) for text in (x for _, x in lines(Faults(torn=0.2, no_reading=0.2)))]
    assert 0.1 < sum("OL" in x for x in many) / len(many) < 0.35
    assert 0.1 < sum(not x.endswith("\r\n") for x in many) / len(many) < 0.3


def test_nonsense_is_refused():
    with pytest.raises(UsageError, match="unknown line style"):
        GaugeKind(style="morse")
    with pytest.raises(UsageError, match="readings a second"):
        GaugeKind(rate_hz=0.0)


@pytest.mark.parametrize("wire", [PtyWire, TcpWire])
def test_the_whole_chain_through_the_log(tmp_path, wire):
    out = tmp_path / "a.csv"
    scenario = Scenario(zero_s=0.5, fill_s=0.5, hold_s=2.0, vent_s=0.5)
    gauge = VirtualGauge(scenario, GaugeKind(rate_hz=50.0, seed=1), wire())
    gauge.start()
    remarks = []
    with LiveLog(LogPlan(gauge.address, out, wait_s=0.2)) as log:
        remarks = [e.text for e in log.events() if isinstance(e, Remark)]
    assert gauge.join(2.0)
    recording = read(out)
    vessel = Vessel(scenario)
    sent = int(scenario.length_s * 50) + 1
    assert recording.time_s.size >= sent - 1, "a pseudo-terminal may lose its very last line when it is unplugged"
    begin = recording.time_s[0]
    truth = np.array([vessel.gauge_pa(t - begin) for t in recording.time_s])
    assert np.abs(recording.pressure_pa - truth).max() < 150.0
    assert remarks[0] == "took the number after 'p_pa' for the pressure, in Pa"


def test_unplugging_by_plan(tmp_path):
    gauge = VirtualGauge(Scenario(zero_s=0.3), GaugeKind(rate_hz=50.0, faults=Faults(unplug_s=0.4)), PtyWire())
    gauge.start()
    with LiveLog(LogPlan(gauge.address, tmp_path / "a.csv", wait_s=0.2)) as log:
        events = list(log.events())
    assert "did not come back within 0.2 s" in str(events[-1].error)
    assert 15 <= sum(isinstance(e, Row) and e.pressure_pa is not None for e in events) <= 21


def test_an_endless_gauge_goes_on_vented_until_nobody_listens(tmp_path):
    scenario = Scenario(zero_s=0.1, fill_s=0.2, hold_s=0.2, vent_s=0.2)
    gauge = VirtualGauge(scenario, GaugeKind(rate_hz=50.0, seed=1), PtyWire(), endless=True)
    gauge.start()
    with LiveLog(LogPlan(gauge.address, tmp_path / "a.csv")) as log:
        for event in log.events():
            if isinstance(event, Row) and event.time_s > 4.0:
                log.stop()
                assert event.pressure_pa is None or abs(event.pressure_pa) < 200.0
    assert gauge.join(2.0), "it ends when the port is closed"
