"""The real program in a process of its own: what a script or a mechanic meets."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Ran:
    """Exit status and both streams of one run."""

    status: int
    out: str
    err: str

    @property
    def objects(self) -> list[dict[str, Any]]:
        """Every line of standard output as JSON; NaN and Infinity are refused."""

        def refuse(text: str) -> None:
            raise AssertionError(f"{text} is no JSON number")

        return [json.loads(line, parse_constant=refuse) for line in self.out.splitlines()]


def leakdown(*words: str | Path, cwd: Path | None = None, **environment: str) -> Ran:
    """Run `leakdown WORDS`, standard input closed."""
    done = subprocess.run(
        [sys.executable, "-m", "leakdown", *map(str, words)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        cwd=cwd,
        env={**os.environ, "COLUMNS": "100", **environment},
        check=False,
        timeout=120,
    )
    return Ran(done.returncode, done.stdout, done.stderr)
