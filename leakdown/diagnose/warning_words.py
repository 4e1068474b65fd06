"""The texts of `locate`'s own warnings, by code: what it is and what to do about it."""

from __future__ import annotations

from leakdown.analysis import Flag

_TEXTS = {
    "one-direction": "{why}: no directional ratio, so the ranking rests on little.",
    "other-circuit": "{source} is a test of the {other} circuit and was left out of the {circuit}; locate it "
    "on its own.",
    "same-readings": "{again} has the very readings of {first}: it was counted once.",
    "rig-volume-missing": "The rig alone leaks, but without its volume its loss cannot be set beside the "
    "engine's: a small volume exaggerates it. Write it in the file (# volume: 15 cm3).",
    "two-gauges": "Two gauges were used: their gain (2.5 % class) is part of the ratio's interval. "
    "Use one gauge for both directions.",
    "reading-rises": "A hold that moves away from zero is fuel vapour or warming, never a leak. Dry the "
    "case, let everything cool, repeat both directions.",
    "laws-differ": "The two directions leak by different flow laws (or repeats differ), so the ratio is that "
    "of equal flow at the quoted pressure and its interval is wider. More than one leak is possible.",
    "temperature-matters": "The leak is so small that a drift of 0.1 K a minute would change the ratio by "
    "{percent:.0f} %. Log the temperature, or test pressure, vacuum, pressure on a cold engine.",
    "deep-vacuum": "Sound lips can lift near -50 kPa (common practice): repeat the vacuum test at -20 to "
    "-35 kPa before condemning a seal.",
    "case-wet": "Fuel in the case gives off vapour that looks like a vacuum leak and levels off after 4 to "
    "13 kPa. Dry it, wait, repeat: vapour shrinks, a leak does not.",
    "ask-dry": "Was the case dry? Fuel vapour looks like a vacuum leak. Say --seen case-dry or "
    "--seen case-wet.",
    "ask-intake": "Behind reeds an intake leak shows under vacuum only, like a seal. Say --intake "
    "piston-port, reed, rotary or stratified.",
    "ask-lips": "Lips that face outward or twin lips leak the other way round. Say --seal-lips in, out or "
    "twin if known.",
}


def warning(code: str, **fills: object) -> Flag:
    """The flag of one code with its text filled in."""
    return Flag(code, _TEXTS[code].format(**fills))
