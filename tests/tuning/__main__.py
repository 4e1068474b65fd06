"""Run again what the tuned numbers rest on: `python -m tests.tuning [ROOM...]`, in its long form.

For each number of the rooms named (all by default) the test that guards it is run with `--full`, and what it
measures is printed. A number that is changed should be changed with this beside it.
"""

from __future__ import annotations

import subprocess
import sys

from leakdown.tuned import tuned
from tests.tuning.test_rows import ROOMS


def main(rooms: list[str]) -> int:
    """Print each number with its guard, then run the guards."""
    guards: dict[str, None] = {}
    for room in rooms or ROOMS:
        for name, row in tuned(room):
            print(f"{room}.{name} = {row['value']} {row['unit']}: {row['means']} [{row['rests_on']}]")
            guards[row["guards"]] = None
    return subprocess.call([sys.executable, "-m", "pytest", "-q", "-s", "--full", *guards])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
