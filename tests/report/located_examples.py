"""Answers of locating and comparing made by hand, and real ones from virtual engines."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from leakdown.analysis import Flag, MarkEffect
from leakdown.judge.analyse import fitted
from leakdown.judge.judged import FittedTest
from leakdown.uncertainty import Interval
from leakdown.where.answers import EngineFacts
from leakdown.where.compare import compare_fitted
from leakdown.where.locate import locate_fitted
from leakdown.where.located import Change, Entry, Located, MarkOutcome, NextTest, Place, Ratio, SectionShare
from tests.report.report_examples import NASTY
from tests.where.engines import Engine, Leak, run

SEAL = Engine((Leak(120.0, 0.9, 3.0),))
TORN = Engine((Leak(120.0, 0.9, 3.0), Leak(90.0, 0.1, 1.0, "boot")))
TIGHT = Engine((Leak(0.02, 0.9),))
WEEP = Engine((Leak(40.0, 0.9),))

Example = tuple[Located, tuple[FittedTest, ...]]


def _pair(engine: Engine, seed: int) -> tuple[FittedTest, ...]:
    rng = np.random.default_rng(seed)
    return tuple(fitted(run(engine, rng, sign, hold_s=60.0)) for sign in (1.0, -1.0))


@cache
def seal() -> Example:
    """A leak that vacuum opens threefold."""
    tests = _pair(SEAL, 1)
    return locate_fitted(tests, EngineFacts(intake="piston-port", seal_lips="in")), tests


@cache
def tight() -> Example:
    """No leak either way."""
    tests = _pair(TIGHT, 2)
    return locate_fitted(tests), tests


@cache
def one_sided() -> Example:
    """Tight under pressure, leaking under vacuum: the ratio has a lower bound only."""
    tests = (_pair(TIGHT, 3)[0], _pair(SEAL, 3)[1])
    return locate_fitted(tests), tests


@cache
def sections() -> Example:
    """Both directions with the boot and without it."""
    rng = np.random.default_rng(4)
    tests = tuple(
        fitted(run(TORN, rng, sign, sections=inside, named=True, hold_s=60.0, source=f"{sign:+.0f}{len(inside)}"))
        for sign in (1.0, -1.0)
        for inside in (("boot", "case"), ("case",))
    )
    return locate_fitted(tests), tests


@cache
def alone() -> Example:
    """One test only: no ratio."""
    tests = _pair(SEAL, 5)[:1]
    return locate_fitted(tests), tests


def nasty() -> Example:
    """User's and maker's texts that try to be markup, in every place that takes one."""
    found, tests = sections()
    recordings = [
        replace(
            h.analysis.recording,
            source=NASTY,
            remarks=(NASTY,),
            conditions=replace(h.analysis.recording.conditions, note=NASTY, gauge=NASTY, started=NASTY),
        )
        for h in tests
    ]
    tests = tuple(replace(h, analysis=replace(h.analysis, recording=r)) for h, r in zip(tests, recordings, strict=True))
    group = replace(found.groups[0], name=NASTY, reasons=(NASTY,))
    told = Interval(0.5, 0.4, 0.6)
    return replace(
        found,
        headline=NASTY,
        groups=(group, *found.groups[1:]),
        places=(Place("a", group.group, NASTY, 0.5), Place("b", group.group, NASTY, 0.4)),
        sections=(SectionShare(NASTY, (), False, (NASTY + "2",), (("pressure", told), ("vacuum", told))),),
        ruled_out=((NASTY, NASTY),),
        not_tested=(NASTY,),
        next_test=NextTest("soap", NASTY, NASTY, 8.0, "pressure", (Entry("file", NASTY), Entry("seen", NASTY))),
        warnings=(Flag("x", NASTY),),
        marks=(MarkOutcome(NASTY, "pressure", MarkEffect(30.0, NASTY, told), None, True, False),),
    ), tests


LOCATED = {"seal": seal, "tight": tight, "one-sided": one_sided, "sections": sections, "alone": alone, "nasty": nasty}
RATIOS = {
    "both": Ratio(3.0, 2.5, 3.6),
    "at least": Ratio(None, 40.0, None, at_least=40.0),
    "at most": Ratio(None, 0.0, 0.2),
    "wide": Ratio(30.0, 0.02, 4e4),
    "unbounded": Ratio(2.0, 1.1, None),
}

Changed = tuple[Change, FittedTest, FittedTest]


@cache
def repaired() -> Changed:
    """A third of the leak is left."""
    before, after = _pair(Engine((Leak(120.0, 0.9),)), 6)[0], _pair(WEEP, 7)[0]
    return compare_fitted(before, after), before, after


@cache
def healed() -> Changed:
    """No leak is seen any more."""
    before, after = _pair(WEEP, 8)[0], _pair(TIGHT, 9)[0]
    return compare_fitted(before, after), before, after


@cache
def never() -> Changed:
    """Neither test saw a leak."""
    before, after = _pair(TIGHT, 10)[0], _pair(TIGHT, 11)[0]
    return compare_fitted(before, after), before, after


def nasty_change() -> Changed:
    """The same with hostile texts."""
    change, before, after = repaired()
    recording = replace(before.analysis.recording, source=NASTY, remarks=(NASTY,))
    before = replace(before, analysis=replace(before.analysis, recording=recording))
    return replace(change, sentence=NASTY, warnings=(Flag("x", NASTY),)), before, after


CHANGES = {"repaired": repaired, "healed": healed, "never": never, "nasty": nasty_change}
