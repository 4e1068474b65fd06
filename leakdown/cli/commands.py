"""Which commands exist, in the order of the job, and where each is: read for `--help` without importing them.

The sentence beside each is the first of its own help; a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Command:
    """One command: its name, its module in `leakdown.cli`, what it does."""

    name: str
    module: str
    does: str
    hidden: bool = False


_SIZE = "Size the leak in a reading sheet or recording, judge it, and write a report."

COMMANDS = (
    Command("analyse", "analyse", _SIZE),
    Command("analyze", "analyse", _SIZE, hidden=True),
    Command("log", "log", "Record a live test from a gauge; nothing that it sends is lost."),
    Command(
        "sheet",
        "sheet",
        "Print a blank reading sheet for one circuit: times filled in, target and caution named.",
    ),
    Command("locate", "locate", "Rank where the leak is, from pressure and vacuum tests and what was seen."),
    Command("compare", "locate", "Say how much smaller or larger a leak became."),
    Command(
        "suspects",
        "suspects",
        "Rank what can be wrong, from the complaint and what was seen, and say what to check next.",
    ),
    Command(
        "job",
        "job",
        "Job records: complaint, tests, finding, repair, re-test, verdict, in a folder of plain files.",
    ),
    Command(
        "plan", "plan", "Say how long a hold decides the limit with this gauge, and what it can see at best."
    ),
    Command("volume", "volume", "Volume under test, from a bottle, a syringe or dimensions."),
    Command("circuits", "circuits", "Show how a circuit is sealed, filled and judged."),
    Command("vent", "oneway", "Judge a tank vent: air must get in; outward it holds, relieves, or breathes."),
    Command("popoff", "oneway", "Opening and reseat of an inlet needle, five times, and whether it closes."),
    Command("rig", "rig", "Rig first: keep its own leak, take it off, check with an orifice."),
    Command("repeats", "repeats", "Pool several holds of one test: do they agree, how well do they repeat."),
    Command(
        "sums", "sums", "Small sums: a leak that will not pump up, its share of the idle air, a centre seal."
    ),
    Command("gauges", "gauges", "List the serial ports present and the gauge profiles known."),
    Command(
        "simulate",
        "simulate",
        "Play a test as a virtual gauge; the first line is the port to give to `leakdown log`.",
    ),
    Command(
        "convert", "convert", "Show what was understood of a sheet: seconds, gauge kPa, marks and conditions."
    ),
    Command(
        "settings",
        "settings",
        "Set once what every test at this bench shares: barometer, gauge, limits, folders.",
    ),
    Command("demo", "demo", "Run the main job on a bundled, invented scenario and say which files it wrote."),
)
