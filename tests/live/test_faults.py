"""Every fault that the virtual gauge plays does what it says, and is met by the right words or none at all."""

from __future__ import annotations

import re

import numpy as np
import pytest

import leakdown
from leakdown.errors import UsageError
from leakdown.judge.settings import Settings
from leakdown.live.bench.prompts import PhaseWatch
from leakdown.live.bench.vain import VainWatch
from leakdown.live.capture.logger import LiveLog, LogPlan
from leakdown.live.capture.recording_file import RecordingFile
from leakdown.live.capture.session import Remark, Row, Session
from leakdown.live.profiles.profile import AUTO, Conversion
from leakdown.live.virtual.faults import FAULTS, faults_named, listed
from leakdown.live.virtual.gauge import GaugeKind, VirtualGauge, messages, with_faults
from leakdown.live.virtual.vessel import Scenario, Vessel
from leakdown.live.virtual.wires import PtyWire, TcpWire
from leakdown.recording import Conditions

SCENARIO = Scenario(hold_s=60.0, hole_m=0.12e-3, top_up_s=0.0)


def played(*names: str) -> tuple[list[Row], list[str], Session]:
    kind = GaugeKind(seed=4, rate_hz=5.0, played=faults_named(list(names)))
    session = Session(AUTO, Conversion(), 0.0)
    said = [one for at_s, data in messages(SCENARIO, kind) for one in session.feed(data, at_s + 0.004)]
    said += session.finish()
    rows = [one for one in said if isinstance(one, Row)]
    return rows, [one.text for one in said if isinstance(one, Remark)], session


def in_file(path, rows: list[Row], session: Session):
    file = RecordingFile(path, (("circuit", "crankcase"), ("volume", "250 cm3")))
    file.write(rows)
    file.close()
    if (settled := session.settled()) is not None:
        file.put_right(settled)
    return leakdown.read(path)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("frozen", "frozen since"),
        ("overload", ""),
        ("fault-values", ""),
        ("torn-clock", ""),
        ("fast-clock", r"runs (8|9)\.\d % fast"),
        ("slow-clock", r"runs (8|9)\.\d % slow"),
        ("clumps", ""),
        ("psi", "exactly zero"),  # steps of 0.01 psi
        ("chatter", ""),
    ],
)
def test_a_fault_of_the_gauge_is_met_by_its_words_and_spoils_no_reading(tmp_path, name, words):
    rows, remarks, session = played(name)
    settled = session.settled()
    told = remarks[1:] + ([settled.said] if settled is not None and settled.said and not settled.told else [])
    assert any(re.search(words, text) for text in told) if words else told == [], told
    if name == "frozen":
        assert len({row.pressure_pa for row in rows[200:320]}) == 1
        return
    recording = in_file(tmp_path / "test.csv", rows, session)
    vessel = Vessel(SCENARIO)
    true_pa = np.array([vessel.gauge_pa(t) for t in np.arange(0.0, 75.0, 0.02)])
    begin_s = 12.0 if name != "clumps" else 14.0
    for time_s, pressure_pa in zip(recording.time_s, recording.pressure_pa, strict=True):
        if begin_s < time_s < 64.0:
            near = true_pa[int(time_s * 50 * 0.98) - 20 : int(time_s * 50 * 1.02) + 20]
            assert near.min() - 120.0 < pressure_pa < near.max() + 120.0
    assert recording.time_s.size > 0.9 * 5 * SCENARIO.length_s


def test_what_each_fault_of_the_circuit_does():
    def pressures(name: str) -> np.ndarray:
        scenario, _ = with_faults(SCENARIO, GaugeKind(played=faults_named([name])))
        vessel = Vessel(scenario)
        return np.array([vessel.gauge_pa(t) for t in np.arange(0.0, 68.0, 0.5)])

    plain = np.array([Vessel(SCENARIO).gauge_pa(t) for t in (20.0, 60.0)])
    assert 55e3 < pressures("too-high").max() < 75e3
    assert pressures("never-builds-up").max() < 5e3
    grown = pressures("growing-leak")
    assert grown[120] < plain[1] - 3e3 and abs(grown[30] - plain[0]) < 6e3
    watch = PhaseWatch()
    phases = {watch.feed(0.5 * i, p).phase for i, p in enumerate(pressures("never-builds-up")[:100])}
    assert "hold" not in phases


@pytest.mark.slow
@pytest.mark.parametrize("wire", [lambda: PtyWire(comes_back=True), TcpWire])
def test_a_gauge_that_is_lost_and_comes_back_is_at_the_same_address(tmp_path, wire):
    scenario = Scenario(zero_s=0.1, fill_s=0.1, hold_s=1.6, vent_s=0.1)
    gauge = VirtualGauge(scenario, GaugeKind(rate_hz=50.0, played=faults_named(["lost-and-back"])), wire())
    gauge.start()
    with LiveLog(LogPlan(gauge.address, tmp_path / "a.csv", wait_s=1.0)) as log:
        remarks = [e.text for e in log.events() if isinstance(e, Remark)]
    assert any("gauge lost" in text for text in remarks) and any("gauge is back" in text for text in remarks)


def test_every_fault_is_listed_with_what_it_does_and_a_wrong_name_is_answered_with_all():
    assert all(f"{name}: " in listed() for name in FAULTS)
    with pytest.raises(UsageError) as caught:
        faults_named(["frozen", "hiccups"])
    assert "hiccups" in caught.value.what and all(name in caught.value.remedy for name in FAULTS)


@pytest.mark.parametrize("target_pa", [45e3, -50e3])
def test_a_circuit_that_never_builds_up_is_pumped_in_strokes(target_pa):
    """The bench counts them, one a second, and sizes the leak: 60 strokes of 15 cm3 a minute at most."""
    kind = GaugeKind("bare", seed=1, played=faults_named(["never-builds-up"]))
    scenario = Scenario(target_pa=target_pa, zero_s=3.0, fill_s=5.0, hold_s=20.0)
    watch = VainWatch(Conditions(), Settings())
    for time_s, line in messages(scenario, kind):
        if time_s < 20.0:
            watch.feed(time_s, float(line) * 1e3)
    found = watch.look("kPa")
    assert found is not None and 8 <= found.strokes <= 17 and float(found.leak) <= 945.0
