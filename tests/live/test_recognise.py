"""`auto` over time: it locks on, says what it took, keeps to it, and never re-interprets in silence."""

from __future__ import annotations

import pytest

from leakdown.live.capture.session import Row, Session
from leakdown.live.lines.line import Line, checksum
from leakdown.live.lines.look import LineLooker
from leakdown.live.lines.table import choose_column, is_burst
from leakdown.live.profiles.profile import AUTO, Conversion
from leakdown.live.streams.decode import LineDecoder
from leakdown.live.streams.recognise import HOLD_S, AutoReader
from leakdown.live.virtual.gauge import STYLES, Faults, GaugeKind, messages
from leakdown.live.virtual.vessel import Scenario, Vessel
from leakdown.quantities import PRESSURE_PA, PressureUnit

KPA = PressureUnit("kPa", PRESSURE_PA["kPa"])


def feed(reader: AutoReader, *texts: str, at: float = 0.0) -> list:
    return [s for i, text in enumerate(texts) for s in reader.feed(Line(text), at + 0.1 * i)]


def test_two_lines_that_name_their_pressure_are_enough():
    reader = AutoReader()
    assert feed(reader, "Pressure: 40.1 kPa") == []
    samples = feed(reader, "Pressure: 40.0 kPa", at=0.1)
    assert [s.value for s in samples] == [40.1, 40.0]
    assert reader.account == "took the number after 'pressure' for the pressure, in kPa"


def test_a_slow_gauge_is_decided_by_time():
    reader = AutoReader()
    assert feed(reader, "Pressure: 40.1 kPa") == []
    assert reader.tick(HOLD_S - 0.1) == []
    assert [s.value for s in reader.tick(HOLD_S + 0.1)] == [40.1]


def test_after_locking_a_different_number_is_never_taken():
    reader = AutoReader()
    feed(reader, "P=40.1 kPa", "P=40.0 kPa")
    later = feed(reader, "12.3", "T=22.5", "Max pressure: 45 kPa", "12.3 kPa", "P=39.9 kPa")
    assert [s.value for s in later] == [None, None, None, None, 39.9]


def test_a_banner_that_looked_like_a_pressure_is_given_up_aloud():
    reader = AutoReader()
    samples = feed(reader, "pressure = 100", *["P1: 40.1 kPa"] * 1, *["seal ok"] * 2)
    samples += reader.tick(5.0)
    samples += feed(reader, *["P1: 40.0 kPa"] * 12, at=6.0)
    assert [s.value for s in samples if s.value is not None][-1] == 40.0
    assert "the first lines were something else" in reader.remarks[-1]
    assert reader.remarks[-1].endswith("in kPa")


def test_a_unit_switched_at_the_gauge_is_followed_aloud():
    reader = AutoReader()
    samples = feed(reader, "40.1 kPa", "39.9 kPa", "5.79 psi", "5.78 psi", "5.77 psi")
    taken = [(s.value, s.unit.name) for s in samples if s.value is not None]
    assert taken == [(40.1, "kPa"), (39.9, "kPa"), (5.78, "psi"), (5.77, "psi")]
    assert "changed its unit" in reader.remarks[-1]


def test_a_number_that_lost_its_tail_is_refused():
    reader = AutoReader()
    samples = feed(reader, *[f"pressure= 10{i}.40" for i in range(5)], "pressure= 10", "pressure= 101.40")
    assert [s.value for s in samples][-2:] == [None, 101.4]
    assert samples[-2].why.startswith("torn")


def test_a_checksum_that_holds_once_must_hold_always():
    reader = AutoReader()

    def line(body: str) -> str:
        return f"{body}*{checksum(body):02X}"

    samples = feed(reader, line("p_pa=40.1 n=1"), line("p_pa=40.2 n=2"), "p_pa=94.3 n=3" + line("p_pa=40.3 n=3")[-3:])
    assert [s.value for s in samples] == [40.1, 40.2, None]
    assert samples[-1].why == "wrong checksum"


def test_the_users_unit_wins():
    session = Session(AUTO, Conversion(PressureUnit("psi", PRESSURE_PA["psi"])), 0.0)
    events = session.feed(b"Pressure (ATM): 14.62\r\nPressure (ATM): 14.61\r\n", 0.1) + session.finish()
    rows = [e for e in events if isinstance(e, Row)]
    # 1 psi = 6894.757 Pa, NIST SP 811 B.8
    assert [r.pressure_pa for r in rows] == pytest.approx([14.62 * 6894.757, 14.61 * 6894.757], rel=1e-6)


def test_no_unit_anywhere_stops_with_everything_kept():
    session = Session(AUTO, Conversion(), 0.0)
    rows = [e for e in session.feed(b"12.1\n12.2\n12.3\n", 0.1) + session.finish() if isinstance(e, Row)]
    assert [r.raw for r in rows] == ["12.1", "12.2", "12.3"]
    assert session.stopped is not None and "without a unit" in session.stopped.what


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("target_pa", [40e3, -40e3])
def test_torn_lines_never_become_wrong_readings(style, target_pa):
    """Every twentieth line loses its tail and runs into the next; every reading must still be true."""
    scenario = Scenario(zero_s=1, fill_s=2, hold_s=12, vent_s=2, target_pa=target_pa)
    kind = GaugeKind(style=style, seed=7, faults=Faults(torn=0.05, no_reading=0.02))
    vessel, truth, rows = Vessel(scenario), [], []
    session = Session(AUTO, Conversion(KPA if style == "bare" else None), 0.0)
    for at_s, data in messages(scenario, kind):
        truth.append((at_s, vessel.gauge_pa(at_s)))
        rows += [e for e in session.feed(data, at_s + 0.01) if isinstance(e, Row)]
    rows += [e for e in session.finish() if isinstance(e, Row)]
    taken = [r for r in rows if r.pressure_pa is not None]
    assert len(taken) > 0.8 * len(truth)
    for row in taken:
        near = [p for t, p in truth if abs(t - row.time_s) < 0.35]
        assert min(near) - 150 < row.pressure_pa < max(near) + 150, row


def test_how_long_the_first_lines_are_held_back():
    reader = AutoReader()
    assert feed(reader, "Pressure: 40.1 kPa") == [] and reader.tick(1.9) == []
    assert [s.value for s in reader.tick(2.1)] == [40.1]
    reader = AutoReader()
    assert feed(reader, "12.1", "12.2") == [] and len(feed(reader, "12.3")) == 3
    reader = AutoReader()
    assert feed(reader, *[f"q{letter}: 5" for letter in "abcdefghijk"]) == [], "each says something else"
    assert [s.value for s in feed(reader, "ql: 5")] == [None] * 12
    reader = AutoReader()
    assert feed(reader, *["hello"] * 59) == [] and len(feed(reader, "hello")) == 60


@pytest.mark.parametrize(("before", "taken"), [(10, 40.1), (25, None)])
def test_a_missing_decimal_is_a_torn_number_once_they_have_been_steady(before, taken):
    reader = AutoReader()
    samples = feed(reader, *["p = 40.12 kPa"] * before, "p = 40.1 kPa")
    assert samples[-1].value == taken


def test_a_gauge_without_line_ends_is_read_after_a_silence():
    decoder = LineDecoder(AUTO)
    decoder.feed(b"12.3 kPa", 1.0)
    assert decoder.tick(1.2) == [] and not decoder.holds
    assert decoder.tick(1.35) == [] and decoder.holds


def test_wrong_sums_are_believed_only_so_often():
    looker = LineLooker()
    whys = [looker.look(Line("p=40.1 kPa*00")).why for _ in range(5)]
    assert whys == ["wrong checksum"] * 3 + [""] * 2


def test_columns_that_run_evenly_and_numbers_that_repeat():
    rows = [[0.5 + 0.1 * i, 40.0] for i in range(6)]
    assert choose_column(rows)[0] == 1 and choose_column(rows[:5])[0] != 1
    assert is_burst([100.0, 101.5]) and not is_burst([100.0, 105.0])
