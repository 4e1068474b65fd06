"""What must not matter: the clock's zero, the volume (for losses), the direction of a mirrored law, units."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fit import truth
from tests.fit.helpers import analysed

pytestmark = pytest.mark.slow

AMBIENT = 98_000.0
T = np.arange(0, 50, 0.125)


def _decay(rate_pa_s: float, share: float, sign: float = 1.0) -> np.ndarray:
    k, a = truth.geometry(rate_pa_s, share, AMBIENT, sign)
    noise = np.random.default_rng(9).normal(0, 20, T.size)
    return truth.isothermal(T, AMBIENT + sign * 42e3, AMBIENT, k, a) - AMBIENT + noise


PLAIN = _decay(150.0, 0.4)


@settings(max_examples=15, deadline=None)
@given(shift=st.floats(-1e4, 1e5))
def test_the_zero_of_the_clock_does_not_matter(shift: float) -> None:
    one = analysed(T, PLAIN, barometer_pa=AMBIENT).leak
    other = analysed(T + shift, PLAIN, barometer_pa=AMBIENT).leak
    assert one is not None and other is not None
    assert other.rate_pa_s.value == pytest.approx(one.rate_pa_s.value, rel=2e-3)


@settings(max_examples=10, deadline=None)
@given(factor=st.floats(0.5, 2.0))
def test_stretched_time_scales_the_loss_rate_of_a_slow_leak(factor: float) -> None:
    slow = _decay(20.0, 1.0)
    one = analysed(T, slow, barometer_pa=AMBIENT).leak
    other = analysed(T * factor, slow, barometer_pa=AMBIENT).leak
    assert one is not None and other is not None
    assert other.rate_pa_s.value * factor == pytest.approx(one.rate_pa_s.value, rel=0.05)


def test_the_leak_rate_is_proportional_to_the_volume_and_the_loss_is_not() -> None:
    small = analysed(T, PLAIN, barometer_pa=AMBIENT, volume_m3=200e-6).leak
    large = analysed(T, PLAIN, barometer_pa=AMBIENT, volume_m3=220e-6).leak
    assert small is not None and large is not None
    assert large.rate_pa_s.value == pytest.approx(small.rate_pa_s.value, rel=2e-3)
    assert large.throughput_pa_m3_s.value / small.throughput_pa_m3_s.value == pytest.approx(1.1, rel=3e-3)


@pytest.mark.parametrize("share", [0.0, 1.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_each_law_alone_is_recognised(share: float, sign: float) -> None:
    found = analysed(
        T, _decay(400.0, share, sign), barometer_pa=AMBIENT, direction="vacuum" if sign < 0 else "pressure"
    ).leak
    assert found is not None
    assert found.viscous_share.low - 0.02 <= share <= found.viscous_share.high + 0.02
    assert found.rate_pa_s.value == pytest.approx(400.0, rel=0.02)


def test_the_volume_doubt_widens_the_leak_rate_only() -> None:
    sure = analysed(T, PLAIN, barometer_pa=AMBIENT).leak
    unsure = analysed(T, PLAIN, barometer_pa=AMBIENT, volume_u_m3=25e-6).leak
    assert sure is not None and unsure is not None
    assert unsure.rate_pa_s.low == pytest.approx(sure.rate_pa_s.low, rel=1e-6)
    q = unsure.throughput_pa_m3_s
    # 10 % of volume doubt dominates: about +/-10 % in quadrature with the fit's own (JCGM 100 eq. 10)
    assert q.high / q.value == pytest.approx(1.10, abs=0.015)
    assert q.low / q.value == pytest.approx(0.90, abs=0.015)
