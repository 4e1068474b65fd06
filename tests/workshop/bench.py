"""What the bench answers when a test is done on an engine: a finding seen or not seen, or a log."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field

import numpy as np

from leakdown.recording import Recording
from tests.workshop.engines import Engine

# How often each finding shows when its place leaks (enough), and when it does not (common practice, no source).
SHOWS = {
    "bubbles-base": ("base-gasket", 0.85), "bubbles-joint": ("crankcase-joint", 0.8),
    "bubbles-plug": ("plug-thread", 0.85), "bubbles-boot": ("intake-boot", 0.7),
    "bubbles-blanks": ("rig-blanks", 0.8), "bubbles-rig": ("rig-hose", 0.75),
    "bubbles-decompression": ("decompression-valve", 0.7), "bubbles-flywheel-seal": ("seal-flywheel-side", 0.35),
    "bubbles-drive-seal": ("seal-drive-side", 0.3), "bubbles-case": ("crack", 0.9),
    "boot-push": ("intake-boot", 0.7), "reseat-changes": ("rig-blanks", 0.85),
    "grease-flywheel": ("seal-flywheel-side", 0.85), "grease-drive": ("seal-drive-side", 0.85),
    "impulse-capped": ("impulse-passage", 0.9), "decompression-press": ("decompression-valve", 0.9),
    "blocked-at-cylinder": ("intake-boot", 0.95), "shut-off-changes": ("rig-hose", 0.5),
    "bubbles-oil-tank": ("oil-pump", 0.6),
}  # fmt: skip
FALSELY = 0.05
_SEALS = ("seal-flywheel-side", "seal-drive-side")
_UNDER_PRESSURE = ("bubbles", "boot-push")
_UNDER_VACUUM = ("grease",)
_LEAST_PA_S = 12.0
_ABSENCE = {"soap-clean", "sink-clean"}


@dataclass
class Bench:
    """One engine on the bench, and everything found out of it so far."""

    engine: Engine
    files: list[Recording] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)
    not_seen: list[str] = field(default_factory=list)

    def shows(self, finding: str) -> bool:
        """Whether this finding shows; the same answer however often it is asked."""
        rng = np.random.default_rng([self.engine.seed, zlib.crc32(finding.encode())])
        chance = FALSELY if finding in SHOWS else 0.5
        if finding == "rig-tight":
            return bool(self.engine.rate_pa_s(False, only="rig-hose") < _LEAST_PA_S)
        if finding == "angle-changes":
            chance = 0.45 if self.engine.place in _SEALS else 0.06
        elif finding in ("same-setup", "reading-fell"):
            return True
        elif finding == "repeat-smaller":
            return not self.engine.leaks
        elif finding in SHOWS:
            place, often = SHOWS[finding]
            inward = finding.startswith(_UNDER_VACUUM)
            rates = [self.engine.rate_pa_s(way, only=place) for way in (False, True)]
            rate = rates[1] if inward else rates[0] if finding.startswith(_UNDER_PRESSURE) else max(rates)
            behind = finding in ("bubbles-boot", "boot-push") and self.engine.intake == "reed"
            if rate > _LEAST_PA_S and not behind and place == self.engine.place:
                chance = often
            elif rate > _LEAST_PA_S and not behind:
                chance = 0.5 * often
        return bool(rng.random() < chance)

    def look(self, findings: list[str]) -> list[str]:
        """Look for several things at once: those that show are taken as seen, of `bubbles` the first alone."""
        if "same-setup" in findings:
            self.seen.append("same-setup")
            findings = [f for f in findings if f != "same-setup"]
        absent = [f for f in findings if f in _ABSENCE]
        rest = [f for f in findings if f not in _ABSENCE]
        shown = sorted((f for f in rest if self.shows(f)), key=lambda f: SHOWS.get(f, ("",))[0] != self.engine.place)
        if absent and shown:
            shown = shown[:1]
        self.seen += shown
        if absent and not shown:
            self.seen += absent
        elif not absent:
            self.not_seen += [f for f in rest if f not in shown]
        return shown
