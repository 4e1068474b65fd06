"""A circuit's set-up and the limits in force -> the JSON object and the lines for a screen."""

from __future__ import annotations

from typing import Any

from leakdown.analysis import Limit
from leakdown.circuits import Circuit, Way, procedure
from leakdown.judge.limits import WHOSE, limit_for, strict_practice
from leakdown.settings import ShopSettings
from leakdown.words.numbers import kpa_words
from leakdown.words.wrap import Wrap, texts


def circuit_object(found: Circuit, shop: ShopSettings | None = None) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {
        "circuit": found.id,
        "name": found.name,
        "sealed": found.sealed,
        "four_stroke": found.four_stroke,
        "volume_cm3": [round(end * 1e6, 6) for end in found.volume_m3],
        "directions": [way.direction for way in found.ways],
        "needs_both": found.both == "needed",
        "sections": list(found.sections),
        "targets": [_target(way, limit_for(found.id, way.direction, shop)) for way in found.ways],
        "set_up": list(found.steps),
        "shut_and_start": list(_shut_steps(found)),
        "healthy": found.healthy,
        "mind": list(found.mind),
    }


def _target(way: Way, limit: Limit | None) -> dict[str, Any]:
    return {
        "direction": way.direction,
        "question": way.question,
        "fill_kpa": way.target_pa / 1e3,
        "caution_kpa": way.caution_pa / 1e3,
        "limit": limit.text if limit else None,
        "source": limit.source if limit else None,
    }


def circuit_lines(found: Circuit, width: int, wrap: Wrap, shop: ShopSettings | None = None) -> list[str]:
    """A page to have on the bench."""
    low, high = (end * 1e6 for end in found.volume_m3)
    lines = [
        f"{found.id}: {found.name}",
        *wrap(f"Sealed: {found.sealed}.", width, "  ", "    "),
        *wrap(f"Usual volume {low:g} to {high:g} cm3.", width, "  ", "  "),
    ]
    for way in found.ways:
        limit = limit_for(found.id, way.direction, shop)
        lax = f" {texts('circuits')['lax']}" if strict_practice(limit, found.id, way.direction) else ""
        lines += wrap(_words(way, limit) + lax, width, "  ", "    ")
    lines += ["Set up"]
    lines += [line for k, step in enumerate(found.steps, 1) for line in wrap(step, width, f"  {k}. ", "     ")]
    lines += [line for step in _shut_steps(found) for line in wrap(step, width, "  > ", "    ")]
    if found.engine:
        lines += wrap(texts("circuits")["not-building"], width, "", "  ")
    lines += [*wrap(f"Healthy: {found.healthy}", width, "", "  "), "Mind"]
    lines += [line for text in found.mind for line in wrap(text, width, "  ! ", "    ")]
    return [*lines, "All common practice but what is the shop's own: the maker's service manual comes first."]


def _shut_steps(found: Circuit) -> tuple[str, ...]:
    """From the full circuit to the start of the watch; nothing for a circuit that is not asked to hold."""
    targets = [
        kpa_words(way.target_pa, 6) + " of vacuum" * (way.direction == "vacuum") for way in found.ways if way.tops_up
    ]
    return procedure().told(" or ".join(sorted(targets, key=len))) if targets else ()


def _words(way: Way, limit: Limit | None) -> str:
    sign = "-" if way.direction == "vacuum" else "+"
    allowed = f"; limit {limit.text} ({WHOSE[limit.source]})" if limit else ""
    beyond = f"never beyond {sign}{kpa_words(way.caution_pa, 6)}"
    return f"{way.direction}: fill to {sign}{kpa_words(way.target_pa, 6)}{allowed}; {beyond}."
