"""Each state of a live test: its words and none of the others', drawn at three sizes; what leads into each and out."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from rich.console import Console

from leakdown.analysis import Analysis
from leakdown.circuits import circuit
from leakdown.cli.live_draw import Frame, frame_lines
from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.live.bench.estimator import leak_so_far
from leakdown.live.bench.liveness import Liveness
from leakdown.live.bench.prompts import Aim
from leakdown.live.bench.so_far import seconds_more
from leakdown.live.bench.states import PressureGuard
from leakdown.live.bench.vain import VainWatch
from leakdown.live.bench.view import LiveState, View
from leakdown.live.capture.session import Remark, Row
from leakdown.recording import Conditions, Recording
from leakdown.uncertainty import Interval

AIM = Aim(45e3, 50e3, 65.0, "kPa", True)
SIZES = ((40, 12), (80, 24), (200, 60))
FORBIDDEN = ("holding", "hands off", "no leak", "passes", "stabi")


class Clock:
    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class Played:
    """A test played into a state, at ten readings a second, with the clock going along."""

    def __init__(self, unit: str = "kPa") -> None:
        self.clock, self.time_s = Clock(), 0.0
        self.state = LiveState(unit, replace(AIM, unit=unit), clock=self.clock, wait_s=10.0)
        self.noise = np.random.default_rng(1)

    def go(self, *levels_pa: float, noise_pa: float = 20.0) -> Played:
        for level in levels_pa:
            self.time_s = round(self.time_s + 0.1, 6)
            self.clock.now_s = self.time_s
            value = round((level + self.noise.normal(0.0, noise_pa)) / 10.0) * 10.0 if noise_pa else level
            self.state.feed(Row(self.time_s, value))
        return self

    def held(self, sign: float = 1.0, top_pa: float = 45e3) -> Played:
        return self.go(*[0.0] * 50, *np.linspace(0.0, sign * top_pa, 50), *[sign * top_pa * 0.97] * 450)

    @property
    def view(self) -> View:
        return self.state.view()


def drawn(view: View, width: int, height: int, unicode: bool = True, colour: bool = False) -> str:
    out = io.StringIO()
    console = Console(
        file=out, width=width, height=height, force_terminal=colour, color_system="standard" if colour else None,
        no_color=not colour, highlight=False, legacy_windows=False,
    )  # fmt: skip
    console.print(Frame(view, unicode), end="", height=height)
    return out.getvalue()


def waiting() -> View:
    return Played().view


def open_to_air() -> View:
    return Played().go(*[0.0] * 50).view


def filling() -> View:
    return Played().go(*[0.0] * 50, *np.linspace(0.0, 30e3, 50)).view


def settling() -> View:
    return Played().go(*[0.0] * 50, *np.linspace(0.0, 45e3, 50), *[44e3] * 60).view


def holding() -> View:
    return Played().held().view


@cache
def falling() -> Analysis:
    """44 kPa that fall by 15 kPa in a minute, by common practice's limit."""
    times = np.arange(0.0, 60.0, 2.0)
    return analyse(Recording(times, 44e3 - 250.0 * times, conditions=Conditions(volume_m3=250e-6)), Settings())


def judged(unit: str = "kPa") -> View:
    played = Played(unit).held()
    played.state.result, played.state.leak = falling(), leak_so_far(falling(), unit)
    return played.view


def decided() -> View:
    played = Played().held()
    played.state.decided = True
    return played.view


def frozen() -> View:
    return Played().held().go(*[43_650.0] * 100, noise_pa=0.0).view


def too_high() -> View:
    return Played().held().go(*[60e3] * 20).view


def too_low() -> View:
    return Played().held(-1.0).go(*[-60e3] * 20).view


def lost() -> View:
    played = Played().held()
    played.state.feed(Remark("gauge lost after 60.0 s", "lost"))
    played.clock.now_s += 4.0
    return played.view


def silent() -> View:
    played = Played().held()
    played.clock.now_s += 4.0
    return played.view


def unread() -> View:
    played = Played().held()
    for k in range(6):
        played.state.feed(Row(played.time_s + 0.1 * k, None, raw="OL"))
    return played.view


def strokes(played: Played, count: int, top_pa: float = 8e3) -> list[tuple[float, float]]:
    """One stroke a second, lost again between them: a rise in 0.2 s, a fall by half until the next."""
    begun = played.time_s
    level = [top_pa * (0.5 + 0.25 * k) if k < 2 else top_pa * 0.5 ** ((k - 2) / 7.0) for k in range(10)]
    return [(begun + 0.1 * (k + 1), p) for k, p in enumerate(level * count)]


def vain() -> View:
    played = Played().go(*[0.0] * 30)
    watch = VainWatch(Conditions(), Settings())
    for time_s, pressure_pa in strokes(played, 12):
        watch.feed(time_s, pressure_pa)
        played.go(pressure_pa)
    played.state.vain = watch.look("kPa")
    return played.view


STATES = {
    waiting: ("waiting", "waiting for the gauge"),
    open_to_air: ("open", "pump to 45 kPa, or draw 50 kPa of vacuum"),
    filling: ("filling", "pump to 45 kPa, slowly"),
    settling: ("settling", "valve shut, hands off"),
    holding: ("holding", "hands off: holding"),
    judged: ("holding", "so far fails: 7 kPa in 60 s"),
    decided: ("decided", "crack a blank open"),
    frozen: ("frozen", "GAUGE FROZEN: press on the hose"),
    too_high: ("over", "LET IT DOWN to 45 kPa"),
    too_low: ("over", "LET AIR IN to 50 kPa"),
    lost: ("lost", "GAUGE LOST, plug it in"),
    silent: ("lost", "GAUGE LOST, plug it in"),
    unread: ("lost", "NO READING"),
    vain: ("vain", "IT DOES NOT BUILD UP"),
}  # fmt: skip


@pytest.mark.parametrize("made", STATES, ids=lambda made: made.__name__)
def test_every_state_has_its_words_and_none_of_the_others(made):
    state, words = STATES[made]
    view = made()
    assert view.state == state and view.alarming == (state in ("over", "lost", "frozen", "vain"))
    others = {said for _, said in STATES.values() if said.isupper() or said.split(":")[0].isupper()} - {words}
    for width, height in SIZES:
        for unicode in (True, False):
            text = drawn(view, width, height, unicode)
            lines = text.split("\n")
            assert len(lines) == height and max(map(len, lines)) <= width
            flat = " ".join(text.split())
            assert words in flat and "q end" in flat
            assert not any(other in flat for other in others)
            assert unicode or text.isascii()
            if view.alarming:
                assert not [word for word in FORBIDDEN if word in text] and not view.picture.phases


def test_digits_dim_dash_and_alarm():
    assert frozen().dim and frozen().digits.startswith("43") and lost().dim and lost().digits == "--.-"
    assert too_high().alarming and not too_high().dim and too_high().digits == "60.0"
    assert "waited 4 s of 10 s" in lost().said.lead
    assert "\x1b[1;31m" in drawn(too_high(), 80, 24, colour=True) and "\x1b[2m" in drawn(frozen(), 80, 24, colour=True)
    assert "\x1b" not in drawn(too_high(), 80, 24), "colours only where the terminal has them"


def test_a_note_being_typed_says_how_it_ends():
    for made in (holding, too_high, lost):
        view = replace(made(), typing="boot")
        for size in SIZES:
            text = " ".join(drawn(view, *size).split())
            assert "note: boot_" in text and "Enter keeps, Esc drops" in text


@pytest.mark.parametrize("seed", range(3))
def test_a_gauge_that_loses_its_noise_is_frozen_and_a_coarse_one_is_not(seed):
    """Noise of two steps that ends; the same with steps of fifteen times the noise, standing in a step all along."""
    rng = np.random.default_rng(seed)
    for step_pa, noise_pa, freezes in (
        (10.0, 20.0, True),
        (50.0, 60.0, True),
        (250.0, 16.0, False),
        (1700.0, 60.0, False),
    ):
        alive = Liveness()
        levels = [*np.zeros(100), *np.linspace(0.0, 40e3, 60), *np.full(300, 40e3), *np.full(150, np.nan)]
        value = 0.0
        for k, level in enumerate(levels):
            if not np.isnan(level):
                value = round((level + rng.normal(0.0, noise_pa)) / step_pa) * step_pa
                alive.feed(0.1 * k, value)
                assert alive.since_s is None
            else:
                alive.feed(0.1 * k, value)
        assert (alive.since_s is not None) is freezes
        alive.feed(0.1 * len(levels), value + 4.0 * step_pa)
        assert alive.since_s is None, "pressed on the hose, it lives"


def test_a_slow_gauge_is_not_lost_between_its_readings():
    played = Played()
    for k in range(6):
        played.clock.now_s = 10.0 * k
        played.state.feed(Row(10.0 * k, 20.0 * k))
    played.clock.now_s += 15.0
    assert played.view.state != "lost"
    played.clock.now_s += 60.0
    assert played.view.state == "lost"


def test_too_high_lasts_until_it_is_down_to_the_target():
    played = Played().held().go(*[60e3] * 10)
    played.go(*[50e3] * 10)
    assert played.view.state == "over", "below the caution, above the target"
    played.go(*[44e3] * 10)
    assert played.view.state == "settling" and not played.view.alarming
    guard = PressureGuard(circuit("tank"), None)
    guard.feed(25e3)
    assert guard.now is not None and guard.now.target_pa == circuit("tank").target_pa("pressure")


def test_a_limit_of_ones_own_raises_the_caution():
    guard = PressureGuard(circuit("crankcase"), parse_limit("7 kPa in 60 s from 70 kPa"))
    guard.feed(72e3)
    assert guard.now is None
    guard.feed(80e3)
    assert guard.now is not None


def test_a_circuit_that_does_not_build_up_is_counted():
    """Strokes of 15 cm3 once a second that leave 8 kPa take 1.5 Pa m3/s at most, about 0.5 mm (common practice figures:
    strokes a second x stroke x air pressure)."""
    view = vain()
    flat = " ".join(drawn(view, 80, 24).split())
    assert "8 strokes, 8.0 kPa at most" in flat
    assert "soap" in flat and "hole of 0." in flat
    flow = float(view.said.lead.split(" cm3/min")[0].split()[-1])
    assert flow == pytest.approx(900.0, rel=0.05), "60 strokes of 15 cm3 a minute"
    played = Played()
    watch = VainWatch(Conditions(), Settings())
    for time_s, pressure_pa in strokes(played, 12, 40e3):
        watch.feed(time_s, pressure_pa)
    assert watch.look("kPa") is None, "it was pumped up"


def test_how_much_longer_decides_it():
    """A slope's doubt falls with time to the 3/2 (least squares): half of it in 2^(2/3) times as long."""
    assert seconds_more(Interval(8.0, 6.0, 10.0), 7.0, 20.0) == pytest.approx(20.0 * (2.0 ** (2.0 / 3.0) - 1.0))
    assert seconds_more(Interval(8.0, 7.5, 8.5), 7.0, 20.0) == 0.0
    assert seconds_more(Interval(7.1, 5.0, 9.0), 7.0, 20.0) is None


def test_psi_is_shown_judged_and_answered_in_psi():
    flat = " ".join(drawn(judged("psi"), 100, 30).split())
    assert "psi" in flat and "1.0 psi in 60 s from 5.8 psi" in flat and "kPa" not in flat
    assert "LET IT DOWN to 6.5 psi" in " ".join(drawn(Played("psi").held().go(*[60e3] * 9).view, 80, 24).split())


def test_the_second_zero_ends_a_led_recording():
    played = Played().held()
    assert not played.state.zero_read_again
    played.go(*[0.0] * 20)
    assert not played.state.zero_read_again
    played.go(*[0.0] * 40)
    assert played.state.zero_read_again


def test_the_curve_is_drawn_from_few_points():
    picture = Played().held().go(*[40e3] * 1500).view.picture
    assert 300 <= len(picture.readings) <= 900 and picture.readings[-1][0] == pytest.approx(205.0, abs=0.2)
    assert [name for _, name in picture.phases][:4] == ["zero", "fill", "stabilise", "hold"]


def test_strokes_are_shown_until_it_is_pumped_and_every_line_fits():
    """In full, over as many lines as it needs; gone once the valve is shut. Units in the signs of print, or plain."""
    played = Played()
    played.state.before = ("One full stroke of a 15 cm3 pump moves 250 cm3 by about 6.1 kPa: 7.4 strokes to 45 kPa.",)
    played.go(*[0.0] * 30)
    for width, height in ((40, 24), (60, 30)):
        for unicode, sign in ((True, "cm³"), (False, "cm3")):
            lines = frame_lines(Frame(played.state.view(), unicode), width, height)
            rows = ["".join(segment.text for segment in line) for line in lines]
            assert max(map(len, rows)) <= width and len(rows) == height
            assert f"One full stroke of a 15 {sign}" in " ".join(" ".join(rows).split())
            assert "7.4 strokes to 45 kPa." in " ".join(" ".join(rows).split())
    assert any("stroke" in note for note in played.state.view().notes)
    played.held()
    assert not any("stroke" in note for note in played.state.view().notes)
