"""What is made of several tests, reckoned a second time by hand on many made-up ones (no recording, no fit)."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from leakdown.analysis import MarkEffect
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval
from leakdown.where import measured as of_measured
from leakdown.where.belonging import _copied, _shut, _two_volumes, about_one, belonging
from leakdown.where.directional import directional
from leakdown.where.knowledge import KnownPlace
from leakdown.where.located import Ratio
from leakdown.where.measured import Measured
from leakdown.where.phrases import Concept, Form, Half, clauses, vocabulary
from leakdown.where.reasons import _about_weight, mark_words
from leakdown.where.sections import _groups, _sizes, _volumes
from leakdown.where.stories import CASES, SIZES, Bench

T = tuned("where")
Z = 1.959963984540054  # tables


def _one(**said: Any) -> Any:
    """A test of which nothing is known but this."""
    plain: dict[str, Any] = {
        "low": 90.0, "value": 100.0, "high": 120.0, "volume": 250e-6, "doubt": 2e-6, "codes": (), "inward": False,
        "tight": False, "detected": True, "verdict": None, "circuit": "crankcase", "started": None, "extra": (),
        "note": None, "source": "x.csv", "time_s": np.zeros(0), "pressure_pa": np.zeros(0),
    }  # fmt: skip
    s = SimpleNamespace(**(plain | said))
    conditions = SimpleNamespace(started=s.started, extra=s.extra, note=s.note)
    recording = SimpleNamespace(conditions=conditions, source=s.source, time_s=s.time_s, pressure_pa=s.pressure_pa)
    used = SimpleNamespace(volume_u_m3=SimpleNamespace(value=s.doubt), temperature_k=SimpleNamespace(value=300.0))
    verdict = None if s.verdict is None else SimpleNamespace(word=s.verdict)
    return SimpleNamespace(
        rate_pa_s=SimpleNamespace(low=s.low, value=s.value, high=s.high), volume_m3=s.volume, inward=s.inward,
        tight=s.tight, detected=s.detected, has=lambda code: code in s.codes,
        analysis=SimpleNamespace(used=used, recording=recording, circuit=s.circuit, verdict=verdict),
    )  # fmt: skip


WHOLE, CASE = frozenset(("boot", "case")), frozenset(("case",))


# ---------------------------------------------------------------- volumes and sizes


def test_sizes_and_their_covariance_of_tests_with_and_without_volumes() -> None:
    """size = rate x volume; variance = own^2 + volume's^2, and tests of one volume share the volume's part."""
    rng = np.random.default_rng(1)
    for _ in range(60):
        inside = [(WHOLE, CASE)[int(k)] for k in rng.integers(0, 2, 4)]
        volumes = [float(rng.choice([200e-6, 250e-6])) if rng.random() < 0.7 else None for _ in inside]
        tests = []
        for v in volumes:
            value = float(rng.uniform(5, 300)) if rng.random() < 0.8 else None
            low, high = (0.0, 4.0) if value is None else (0.9 * value, 1.2 * value)
            doubt = 2e-6 if rng.random() < 0.7 else None
            tests.append(_one(volume=v, value=value, low=low, high=high, doubt=doubt))
        stated, most = [v for v in volumes if v], max(len(s) for s in inside)
        volume, unsure = [], []
        for h, v, s in zip(tests, volumes, inside, strict=True):
            if v:
                volume.append(v)
                unsure.append((h.analysis.used.volume_u_m3.value or 0.0) / v / Z)
            else:
                part = 1.0 if len(s) == most else T.blanked_volume
                volume.append(part * (max(stated) if stated else 1.0))
                unsure.append(0.0 if len(s) == most and not stated else T.unknown_volume_log_sd)
        found = _volumes(tests, inside)
        assert found[0] == pytest.approx(volume) and found[1] == pytest.approx(unsure)
        size, covariance = _sizes(tests, inside)
        rates = [h.rate_pa_s for h in tests]
        expected = [(r.value or 0.0) * v for r, v in zip(rates, volume, strict=True)]
        assert size == pytest.approx(expected)
        for i, j in itertools.product(range(4), range(4)):
            shared = inside[i] == inside[j] and volumes[i] == volumes[j]
            entry = expected[i] * unsure[i] * expected[j] * unsure[j] if shared else 0.0
            if i == j:
                r = rates[i]
                sd = r.high / Z if r.value is None else (r.high - r.low) / (2.0 * Z)
                entry += max(sd * volume[i], 1e-6 * max(expected)) ** 2
            assert covariance[i, j] == pytest.approx(entry, rel=1e-9, abs=1e-30)


def test_a_size_known_to_the_last_digit_keeps_a_millionth_of_the_largest() -> None:
    sure = [_one(value=v, low=v, high=v, doubt=0.0) for v in (100.0, 40.0)]
    _, covariance = _sizes(sure, [WHOLE, CASE])
    assert np.sqrt(np.diag(covariance)) == pytest.approx([1e-6 * 100.0 * 250e-6] * 2)


def test_sections_that_no_set_of_tests_tells_apart() -> None:
    """By hand: columns go together where the tests' rows do not fix each alone."""
    for rows, groups in (
        ([[1, 1, 1]], [(0, 1, 2)]),
        ([[1, 1, 1], [0, 1, 1]], [(0,), (1, 2)]),
        ([[1, 1, 1], [0, 1, 1], [0, 0, 1]], [(0,), (1,), (2,)]),
        ([[1, 1, 0, 0], [0, 0, 1, 1]], [(0, 1), (2, 3)]),
        ([[1, 1, 0], [0, 1, 1]], [(0, 1, 2)]),  # a chain: neither end is fixed
    ):
        assert _groups(np.array(rows, dtype=float)) == groups


def test_the_volumes_of_one_test_over_the_first_s() -> None:
    """Tests of the same sections have one volume, the mean of what was written on them."""
    rng = np.random.default_rng(2)
    for _ in range(80):
        inside = [(WHOLE, CASE)[int(k)] for k in rng.integers(0, 2, 3)]
        volumes = [float(rng.uniform(200e-6, 300e-6)) if rng.random() < 0.6 else None for _ in inside]
        usable = [(_one(volume=v, doubt=3e-6 if rng.random() < 0.7 else None), s) for v, s in zip(volumes, inside, strict=True)]  # fmt: skip  # noqa: E501
        of = {s: [v for v, t in zip(volumes, inside, strict=True) if v and t == s] for s in inside}
        mean = {s: sum(v) / len(v) for s, v in of.items() if v}
        reference = mean.get(inside[0]) or (next(iter(mean.values())) if mean else 1.0)
        most, expected, doubts = max(len(s) for s in inside), [], []
        for h, s in usable:
            if s in mean:
                expected.append(mean[s] / reference)
                relative = (h.analysis.used.volume_u_m3.value or 0.0) / mean[s] / Z
                doubts.append(relative if len(mean) == 2 else 0.0)
            else:
                expected.append(1.0 if len(s) == most else T.blanked_volume)
                doubts.append(0.0 if len(s) == most and not mean else T.unknown_volume_log_sd)
        found = of_measured._volumes(usable)
        assert found[0] == pytest.approx(expected) and found[1] == pytest.approx(doubts)


# ---------------------------------------------------------------- belonging together


def test_two_volumes_are_two_beyond_their_doubts() -> None:
    for part, doubt, two in ((1.0, 0.0, False), (0.99, 0.0, True), (1.01, 0.0, False), (0.99, 0.5, True)):
        other = 250e-6 * math.exp(T.one_volume / part)
        tests = [_one(doubt=doubt * v * T.one_volume, volume=v) for v in (250e-6, other)]
        if part != 1.0:
            assert _two_volumes(*tests) is _two_volumes(*tests[::-1]) is two
    for sigma, two in ((2.5, True), (3.2, False)):  # 5 sigma apart: two doubts of 3.2 make 4.5, of 3.6 more
        apart, each = 3.0 * T.one_volume, 3.0 * T.one_volume / (math.sqrt(2.0) * 3.0) * sigma
        one, other = (_one(volume=v, doubt=each * v) for v in (250e-6, 250e-6 * math.exp(apart)))
        assert _two_volumes(one, other) is two
    assert not _two_volumes(_one(volume=None), _one()) and not _two_volumes(_one(), _one(volume=None))
    assert _two_volumes(_one(doubt=None), _one(volume=500e-6, doubt=None))


def test_a_copy_is_closer_than_two_holds_scatter() -> None:
    """Readings times a factor, and white noise of a known part of their scatter on top of it."""
    rng = np.random.default_rng(3)
    n = max(int(T.copied_least), 200)
    t = np.arange(n) * 0.5
    noise, other = rng.normal(0, 20, n), rng.normal(0, 20, n)
    p = 40e3 * np.exp(-t / 80.0) + noise
    one = _one(time_s=t, pressure_pa=p)

    def copied(y: Any, clock: Any = t, inward: bool = True) -> bool:
        return _copied(one, _one(time_s=clock, pressure_pa=y, inward=inward))

    assert copied(-p) and copied(-0.7 * p) and copied(p) and copied(-p, t + 30.0)
    assert not copied(-p, inward=False) and not copied(-p, t * 1.01) and not copied(-p[:-1], t[:-1])
    norm = float(np.linalg.norm(np.diff(p, 2))) / math.sqrt(6.0)
    across = other - p * float(other @ p) / float(p @ p)  # at right angles to the readings: no factor takes it off
    across /= np.linalg.norm(across)
    assert copied(-p - 1.05 * T.copied_alike * norm * across) and not copied(-p - 1.2 * T.copied_alike * norm * across)
    half = 0.5 * norm  # of what scatters half as much
    assert copied(-0.5 * p - 1.05 * T.copied_alike * half * across)
    assert not copied(-0.5 * p - 1.2 * T.copied_alike * half * across)
    few = int(T.copied_least) - 1
    assert not _copied(*(_one(time_s=t[:few], pressure_pa=p[:few], inward=w) for w in (False, True)))
    even = _one(time_s=t, pressure_pa=np.full(n, 30e3)), _one(time_s=t, pressure_pa=np.full(n, -30e3), inward=True)
    assert not _copied(*even)


def test_one_direction_leaks_and_the_other_holds() -> None:
    """Every combination of what was found, by hand."""
    for detected, tight, words, rises in itertools.product(
        itertools.product((False, True), repeat=2), itertools.product((False, True), repeat=2),
        itertools.product((None, "pass", "fail"), repeat=2), itertools.product((False, True), repeat=2),
    ):  # fmt: skip
        each = zip((False, True), detected, tight, words, rises, strict=True)
        one, other = (_one(inward=i, detected=d, tight=t, verdict=w, codes=("pressure-rises",) * r) for i, d, t, w, r in each)  # fmt: skip  # noqa: E501
        leaks = sum(d and w != "pass" for d, w in zip(detected, words, strict=True))
        assert _shut(one, other) is (leaks == 1 and any(tight) and not any(rises))
    assert not _shut(_one(), _one(detected=False, tight=True))


def test_how_sure_it_is_that_tests_belong_together() -> None:
    """Odds times the factor of every doubt, each counted once; bounded where a lip and a repair look alike."""
    usual, said = (p / (1.0 - p) for p in (T.together_usual, T.together_said))
    one, other = _one(), _one(inward=True)

    def found(*tests: Any, **more: Any) -> Any:
        return belonging(tests, [WHOLE] * len(tests), **more)

    assert found(one) == found(one, said=None) and found(one, said="yes").asked and not found(one).asked
    assert found(one, other).usual == pytest.approx(T.together_usual) and found(one, other).most == 1.0
    assert found(one, other, said="yes").usual == pytest.approx(T.together_said)
    no = found(one, other, said="no")
    assert (no.usual, no.most, no.asked) == (T.strangers, 1.0, True) and [d.code for d in no.doubts] == ["not-together"]
    a, b = _one(extra=(("engine", "A-1"),)), _one(extra=(("engine", "B-2"),), inward=True)
    odds = usual * T.other_engine
    assert found(a, b).usual == pytest.approx(odds / (1.0 + odds)) and found(a, b).most == 1.0
    early, late = _one(started="2026-03-02 10:00"), _one(started="2026-03-09 10:00", inward=True)
    odds = usual * T.other_day
    assert found(early, late).usual == pytest.approx(odds / (1.0 + odds)) and found(early, late).most == 1.0
    assert found(early, late, said="yes").usual == pytest.approx(said / (1.0 + said))
    small = _one(volume=500e-6, inward=True)
    odds = usual * T.two_volumes
    assert found(one, small).usual == pytest.approx(odds / (1.0 + odds)) and found(one, small).most == T.strangers_below
    odds = said * T.two_volumes  # no answer removes what the files show
    assert found(one, small, said="yes").usual == pytest.approx(odds / (1.0 + odds))
    assert found(one, small, said="yes").most == T.strangers_below
    assert found(one, _one(volume=500e-6, circuit="rig")).usual == pytest.approx(T.together_usual)
    apart = belonging([one, small], [WHOLE, CASE])
    assert apart.usual == pytest.approx(T.together_usual)
    odds = usual * T.other_day
    assert found(early, early, late).usual == pytest.approx(odds / (1.0 + odds))  # said of two pairs, counted once
    copy = {"time_s": np.arange(99.0), "pressure_pa": np.random.default_rng(1).normal(30e3, 20.0, 99)}
    twins = _one(**copy), _one(**(copy | {"pressure_pa": -copy["pressure_pa"]}), inward=True)
    odds = usual * T.copied
    assert found(*twins).usual == pytest.approx(odds / (1.0 + odds)) and found(*twins).most == T.strangers_below
    assert [d.code for d in found(*twins).doubts] == ["copied"]
    tight = _one(inward=True, tight=True, detected=False)
    assert found(one, tight, one).most == T.together_unasked  # any two of three
    assert found(one, tight).most == T.together_unasked and found(one, tight, said="yes").most == 1.0
    assert belonging([one, tight], [WHOLE, CASE]).most == 1.0
    for ratio, most in ((Ratio(3.0, 2.9, 3.1), T.together_unasked), (Ratio(1.0, 0.9, 1.1), 1.0), (None, 1.0)):
        assert found(one, other, ratio=ratio).most == most
        assert belonging([one, other], [WHOLE, CASE], ratio=ratio).most == 1.0
        rig = _one(circuit="rig")
        assert belonging([one, other, rig], [WHOLE, WHOLE, CASE], ratio=ratio).most == most


def test_about_one_is_between_its_two_bounds() -> None:
    for size, alike in ((T.fixed_hole_least, True), (T.fixed_hole_most, True), (1.01 * T.fixed_hole_most, False),
                        (0.99 * T.fixed_hole_least, False)):  # fmt: skip
        assert about_one(Ratio(size, 0.5 * size, 2.0 * size)) is alike
        assert about_one(Ratio(None, size, None, at_least=size)) is alike  # bounds alone: the least, else the most
        assert about_one(Ratio(None, 0.0, size)) is alike


# ---------------------------------------------------------------- words


def test_a_form_fits_up_to_the_last_word_and_only_whole() -> None:
    """Against a comparison of written words that a stemmer leaves as they are."""
    rng = np.random.default_rng(4)
    for _ in range(200):
        text = [str(w) for w in rng.choice(["cap", "fuel", "saw", "12"], int(rng.integers(1, 6)))]
        form = [str(w) for w in rng.choice(["cap", "fuel", "saw", "12"], int(rng.integers(1, 3)))]
        (clause,) = clauses(" ".join(text))
        for k in range(len(text) + 1):
            fits = text[k : k + len(form)] == form
            assert Form.of(" ".join(form)).at(clause.words, k) == (k + len(form) if fits else None)


# ---------------------------------------------------------------- what a leak at one place would show


PLACE = KnownPlace("base", "base", "other", {"crankcase": 1.0}, ratio=((1.0, 0.9999, 1.0, 1.0001),), hole=0.3)
OUT = Measured("p", False, frozenset(("case",)), 100.0, 5.0, 10.0, 1.0, 1.0, 0.8, False, -7.5, False, False)
INTO = replace(OUT, inward=True, weep=0.7, hole=1.4, hole_like=0.1, inside=frozenset(("case", "boot")))


def _bench(*tests: Measured, **more: Any) -> Bench:
    plain: dict[str, Any] = {"sections": (), "nameless": (), "intake": "", "lips": "", "codes": frozenset()}
    return Bench(**({"tests": tests, "other_laws": 0.0} | plain | more))


def test_one_leak_s_cases_have_the_doubts_that_they_should() -> None:
    """The log ratio scatters by the normal distribution's quantiles (scipy), what else it passes inward by half of
    it, and of a hundred cases thirty are holes, 15 % viscous; the unknowns go each their own way."""
    z = stats.norm.ppf((np.arange(CASES) + 0.5) / CASES)
    for stream in (0, 1, 2):
        _, ratio, viscous, seen = _bench(OUT, INTO, other_laws=0.4)._leak(PLACE, stream, 0.2)
        assert np.sort(ratio) == pytest.approx(0.2 * z, abs=2e-3)
        assert sorted(set(viscous)) == [0.15, 0.85] and int(np.sum(viscous == 0.15)) == round(0.3 * CASES)
        weighed = [viscous * t.weep + (1.0 - viscous) * t.hole for t in (OUT, INTO)]
        assert np.log(seen[0] / weighed[0]) == pytest.approx(-0.5 * ratio)
        more = np.log(seen[1] / weighed[1]) - 0.5 * ratio
        assert np.sort(more) == pytest.approx(np.sort(np.abs(z)) * 0.4 / Z, abs=2e-3)
        for one, other in itertools.combinations((ratio, viscous, more), 2):
            assert abs(np.corrcoef(one, other)[0, 1]) < 0.3
    known = replace(PLACE, lips={"in": ((1.0, 2.9, 3.0, 3.1),)}, intake={"reed": ((1.0, 0.29, 0.3, 0.31),)})
    for lips, intake, middle in (("in", "reed", 3.0), ("out", "reed", 0.3), ("", "", 1.0)):
        _, ratio, _, _ = _bench(OUT, lips=lips, intake=intake)._leak(known, 0, 0.0)
        assert np.median(ratio) == pytest.approx(math.log(middle), abs=0.01)


def test_a_leak_shows_in_tests_that_hold_its_section() -> None:
    """Of a place that no section names, every nameless section in as many cases."""
    own = replace(PLACE, sections=("boot",))
    for place, shares in ((own, (0.0, 1.0)), (PLACE, (0.5, 1.0))):
        bench = _bench(OUT, INTO, sections=("boot", "case"), nameless=("case", "boot"))
        seen = bench.of_place(place, 0.0).per_size
        assert [float(np.mean(row > 0.0)) for row in seen] == pytest.approx(shares)


def test_a_story_of_two_leaks_case_by_case() -> None:
    """Each case by hand from the two leaks: what they pass, what their decays look like, what besides leaks."""
    tests = (OUT, INTO, replace(OUT, tight=True, hole_like=0.9), replace(INTO, of_rig=True, gave_back=True))
    a, b = replace(PLACE, odd={"x": 1.5}), replace(PLACE, hole=0.8, odd={"x": 0.5, "y": 9.0})
    bench = _bench(*tests, codes=frozenset(("x",)))
    leaks = [bench._leak(a, 1, 0.3), bench._leak(b, 2, 0.3)]
    first = np.linspace(0.02, 0.98, CASES)
    story = bench._story(leaks, first)
    given = T.gives_back * (1.0 - T.gives_back)  # one of the two vacuum tests gave something back
    beside = np.sort(-T.beside_pa_per_s * np.log(1.0 - (np.arange(CASES) + 0.5) / CASES))
    for k in range(CASES):
        parts = (first[k], 1.0 - first[k])
        seen = [sum(p * leak[3][t, k] for p, leak in zip(parts, leaks, strict=True)) for t in range(4)]
        assert story.per_size[:, k] == pytest.approx(seen)
        hole = sum(p for p, leak in zip(parts, leaks, strict=True) if leak[2][k] == 0.15)
        like = 1.0
        for t in tests:
            like *= 1.0 if t.tight else (hole * t.hole_like + (1.0 - hole) * (1.0 - t.hole_like)) ** T.shape_power
        assert story.shape[k] == pytest.approx(like * 1.5 * given)
        out, into = (
            sum(p * math.exp(s * 0.5 * leak[1][k]) for p, leak in zip(parts, leaks, strict=True)) for s in (-1, 1)
        )
        assert story.log_ratio[k] == pytest.approx(math.log(into / out)) and story.first[k] == (first[k] >= 0.5)
    for row, factor in zip(story.besides, (1.0, 0.5 * (0.7 + 1.4), 1.0, 0.0), strict=True):
        assert np.sort(row) == pytest.approx(beside * factor)
    bell = np.exp(-0.5 * (np.log(SIZES / T.leak_pa_per_s) / T.leak_log_sd) ** 2)
    assert story.usual == pytest.approx(bell / bell.sum()) and story.surprise == T.surprise


def test_two_leaks_share_in_any_proportion_and_scatter_each_by_itself() -> None:
    """Each alone in its own test, of what a leak of size 1 passes: from a twentieth to all but that, evenly."""
    boot, case = replace(PLACE, sections=("boot",), hole=1.0), replace(PLACE, sections=("case",), hole=1.0)
    tests = replace(OUT, inside=frozenset(("boot",))), replace(OUT, inside=frozenset(("case",)))
    story = _bench(*tests, sections=("boot", "case")).of_two(boot, case, 0.0)
    assert np.sort(story.per_size[0]) == pytest.approx(np.linspace(0.05, 0.95, CASES), rel=1e-3)
    assert story.per_size.sum(axis=0) == pytest.approx(np.ones(CASES), rel=1e-3)
    alike = _bench(OUT, INTO).of_two(PLACE, PLACE, 0.4)  # two that vary apart vary less in the mean
    assert np.std(alike.log_ratio) < 0.9 * np.std(_bench(OUT, INTO).of_place(PLACE, 0.4).log_ratio)


def test_a_sound_engine_s_little_and_what_disturbs_it() -> None:
    """Geometric rows of drifts between their two bounds, times what each test loses for 1 K/min; vapour as it is."""
    bench = _bench(OUT, replace(INTO, warming=6.0))
    quiet = bench.without_leak()
    z = stats.norm.ppf((np.arange(CASES) + 0.5) / CASES)
    assert np.sort(quiet.log_ratio) == pytest.approx(T.residual_ratio_log_sd * z, abs=2e-3)
    assert np.log(quiet.per_size[1] / quiet.per_size[0]) == pytest.approx(quiet.log_ratio + math.log(0.5 * (0.7 + 1.4)))
    bell = np.exp(-0.5 * (np.log(SIZES / T.residual_pa_per_s) / T.residual_log_sd) ** 2)
    assert quiet.usual == pytest.approx(bell / bell.sum()) and quiet.surprise == T.surprise_sound
    for cause, bounds, factors, gives in (
        ("warming", T.drift_k_per_min, (-7.5, 6.0), T.gives_back),
        ("cooling", T.drift_k_per_min, (7.5, -6.0), T.gives_back),
        ("vapour", T.vapour_pa_per_s, (0.0, 1.0), T.gives_back_vapour),
    ):
        story, row = bench.without_leak(cause), np.geomspace(*bounds, CASES)
        for found, factor in zip(story.besides, factors, strict=True):
            assert np.sort(np.abs(found)) == pytest.approx(row * abs(factor)) and np.all(found * factor >= 0.0)
        assert story.shape == pytest.approx(np.full(CASES, 1.0 - gives))


def test_what_a_longer_word_means_reaches_no_further_than_the_word() -> None:
    """A "screw cap" is something else; a cap right after it is a cap."""
    cap = Concept.of(["cap", "!screw cap", "!cap nut"])
    (clause,) = clauses("screw cap cap and a cap nut")
    assert [k for k in range(len(clause.words)) if cap.at(clause.words, k) is not None] == [2]


def test_a_phrase_that_denies_by_itself_is_not_denied_by_another_not() -> None:
    """Whichever part of it says so: the first word's "no" counts to its end."""
    known = vocabulary({"spark": ["no spark"], "cap": ["cap"]})
    for text in ("never a no spark cap", "never a cap no spark"):
        (clause,) = clauses(text)
        half = Half.of("<spark> <cap>" if text.endswith("cap") else "<cap> <spark>", known)
        assert [hit.denied for hit in half.hits(clause)] == [False]


def test_only_a_question_mark_asks() -> None:
    for end, asked in ((".", False), ("!", False), ("?", True), ("\n", False)):
        assert [c.asked for c in clauses(f"is it the cap{end} yes")] == [asked, False]


def test_the_usual_share_is_of_what_leaks() -> None:
    """By hand: a place's weight over those of all leaks that are no fault's absence, in per cent."""
    rows = ((3.0, "leak", False), (5.0, "leak", False), (9.0, "tight", False), (2.0, "leak", True))
    places = [replace(PLACE, weight={"crankcase": w}, pattern=of, healthy=healthy) for w, of, healthy in rows]
    assert " 38 % of" in _about_weight(places[:1], places, "crankcase")  # 3 of 8
    assert " 100 % of" in _about_weight(places[:2], places, "crankcase")
    assert _about_weight([], places, "crankcase") == "" == _about_weight(places[2:], places, "crankcase")
    assert " 75 % of" in _about_weight(
        places[:1], [places[0], replace(places[0], weight={"crankcase": 1.0})], "crankcase"
    )


def test_a_mark_s_change_in_words() -> None:
    """Per cent of what leaked before: 0.38 is 62 less, 1.5 is 50 more; either way the least change first."""
    for ratio, said in (
        (Interval(0.38, 0.32, 0.45), "fell by 62 % (55 to 68)"),
        (Interval(1.5, 1.2, 2.0), "grew by 50 % (20 to 100)"),
        (Interval(1.02, 0.9, 1.25), "stayed as it was (-10 to +25 %)"),
        (Interval(0.9, 0.8, 1.0), "stayed as it was (-20 to +0 %)"),
        (Interval(1.1, 1.0, 1.2), "stayed as it was (+0 to +20 %)"),
        (Interval(1.5, 0.0, 4.0), "stayed as it was (-100 to +300 %)"),
    ):
        assert mark_words(MarkEffect(30.0, "boot", ratio)) == f"after 'boot' the leak {said}"


def test_one_direction_alone_gives_no_ratio() -> None:
    """Tight both ways bounds nothing; a hold that rises says nothing of a leak, tight or not."""
    leaks, holds = _one(), _one(tight=True, detected=False)
    rising = [_one(codes=("pressure-rises",)), _one(codes=("pressure-rises",), tight=True, detected=False)]
    for one in (leaks, holds, *rising):
        assert directional([one], []) is None and directional([], [one]) is None
        for useless in rising:
            assert directional([one], [useless]) is None and directional([useless], [one]) is None
    assert directional([holds], [holds]) == Ratio(None, 0.0, None)
