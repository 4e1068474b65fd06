"""Located -> Chart: which tests are drawn together, and what each is called."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from leakdown.analysis import Analysis
from leakdown.judge.judged import FittedTest
from leakdown.report.chart_data import Chart
from leakdown.report.decay_chart import decay_chart
from leakdown.where.located import Located
from leakdown.where.tests import RIG, Tests, sort_tests
from leakdown.words.sizes import circuit_words

MOST_TESTS = 6
_LONGEST = 30


def located_chart(found: Located, tests: Sequence[FittedTest]) -> Chart:
    """Both directions mirrored; tests with other blanks quietly behind those that were compared."""
    drawn = drawn_tests(tests)
    if len(drawn) == 1:
        return decay_chart(drawn[0][1])
    names = [name for name, _ in drawn]
    chart = decay_chart(*(a for _, a in drawn), names=names, limits_within=0.0)  # the place is asked for
    directions = " and ".join(sorted({a.direction for _, a in drawn}))
    return replace(chart, title=f"{circuit_words(found.circuit).capitalize()}, {directions} tests")


def drawn_tests(tests: Sequence[FittedTest]) -> list[tuple[str, Analysis]]:
    """Name and analysis of each test on the chart, the compared ones last; at most `MOST_TESTS`."""
    order = sort_tests(list(tests))
    compared = [*order.fullest(False), *order.fullest(True)]
    with_rig = order.circuit == RIG
    others = [h for h in order.all if not _among(h, compared) and (h.analysis.circuit != RIG or with_rig)]
    chosen = [*others, *compared][-MOST_TESTS:]
    names = _apart([_name(h, order) for h in chosen])
    return list(zip(names, (h.analysis for h in chosen), strict=True))


def _among(one: FittedTest, tests: Sequence[FittedTest]) -> bool:
    return any(one is h for h in tests)


def _name(one: FittedTest, order: Tests) -> str:
    """The direction, and what was blocked or what alone was tested, whichever is shorter."""
    direction = one.analysis.direction
    inside = next(s for h, s in zip(order.all, order.inside.tests, strict=True) if h is one) - {RIG}
    missing = frozenset(order.inside.sections) - {RIG} - inside
    if not missing:
        return direction
    few = len(missing) <= len(inside)
    said = f" without {_listed(missing)}" if few else f", {_listed(inside)} only"
    name = direction + said
    return name if len(name) <= _LONGEST else name[: _LONGEST - 3] + "..."


def _listed(names: frozenset[str]) -> str:
    return ", ".join(sorted(names))


def _apart(names: Sequence[str]) -> list[str]:
    """The names, numbered where one stands for several tests."""
    return [f"{name} {names[: k + 1].count(name)}" if names.count(name) > 1 else name for k, name in enumerate(names)]
