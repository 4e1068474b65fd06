"""Volumes by Boyle's law and by engine geometry."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdown.physics.volume import by_bottle_m3, by_syringe_m3, crankcase_at_bottom_m3, stroke_rise_pa, swept_m3

sizes = st.floats(1e-6, 1e-2)


def test_bottle():
    """100 cm3 at 50 kPa opened into 212.5 cm3 ends at 16 kPa, all gauge (computed, Boyle)."""
    assert by_bottle_m3(100e-6, 50e3, 16e3) == pytest.approx(212.5e-6, rel=1e-12)


def test_the_gas_pycnometers_working_equation():
    """V_sample = V_cell - V_exp/(P1/P2 - 1) in gauge pressures (ASTM D6226 form, in text; computed): the
    cell of 150 cm3 at 120 kPa is the bottle, and the expansion of 100 cm3 the unknown."""
    gas_in_cell = 150e-6 - 65.38461538461537e-6
    assert by_bottle_m3(gas_in_cell, 120e3, 55e3) == pytest.approx(100e-6, rel=1e-12)


def test_syringe():
    """10 cm3 of ambient air raise 210.218 cm3 by 4.82 kPa at 101.325 kPa (computed, Boyle)."""
    assert by_syringe_m3(10e-6, 4820.0, 101_325.0) == pytest.approx(210.21784232365144e-6, rel=1e-12)


@settings(deadline=None)
@given(sizes, sizes, st.floats(1e3, 1e5), st.floats(7e4, 1.1e5))
def test_boyle_balances_the_amount_of_gas(bottle, unknown, gauge, room):
    """Bottle at room + gauge, circuit at the room's pressure: p V before and after."""
    after = ((room + gauge) * bottle + room * unknown) / (bottle + unknown) - room
    assert by_bottle_m3(bottle, gauge, after) == pytest.approx(unknown, rel=1e-6)


@settings(deadline=None)
@given(sizes, st.floats(1e-7, 1e-4), st.floats(7e4, 1.1e5))
def test_a_stroke_and_a_syringe_are_one_law(volume, injected, room):
    assert by_syringe_m3(injected, stroke_rise_pa(injected, volume, room), room) == pytest.approx(volume)


@pytest.mark.parametrize(("volume_cm3", "rise_kpa"), [(250.0, 6.08), (20.0, 76.0), (5.0, 304.0)])
def test_what_one_stroke_of_a_15_cm3_pump_does(volume_cm3, rise_kpa):
    """Computed, Boyle: why small circuits are filled with care."""
    assert stroke_rise_pa(15e-6, volume_cm3 * 1e-6, 101_325.0) == pytest.approx(rise_kpa * 1e3, rel=1e-3)


def test_swept_volume():
    """54.0 x 54.5 mm: 124.817 cm3 (40 CFR 1054.140(b): section times stroke; computed)."""
    assert swept_m3(0.054, 0.0545) == pytest.approx(124.8170469234493e-6, rel=1e-12)


def test_crankcase_from_the_primary_compression_ratio():
    """CR = (V_cc + V_s)/V_cc = 1.4502 for 35.16 and 78.1 cm3 (Blair, SAE R-104 sec. 1.4, formula in text)."""
    assert crankcase_at_bottom_m3(35.16e-6, 1.450192061459667) == pytest.approx(78.1e-6, rel=1e-9)
