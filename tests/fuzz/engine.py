"""Feeding a target until the time is up, and keeping the shortest input of every fault.

With atheris (`pip install atheris`) the coverage of leakdown's own modules guides what is changed further; without it,
`sys.monitoring` does from Python 3.12 on, line by line; on 3.11 alone nothing does. The changes are the same.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import random
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

from tests.fuzz.mutate import mutated

BROKEN = Path(__file__).parent / "broken"
LONGEST_CASE_S = 10.0
MOST_MEMORY = 6_000_000_000


class TooLongError(BaseException):
    """No `except Exception` on the way holds it up."""


@dataclass
class Found:
    """How much was tried, and each fault by the place it left from with its shortest input."""

    tried: int = 0
    answered: int = 0
    slowest_s: float = 0.0  # of the processor
    faults: dict[str, bytes] = field(default_factory=dict)
    traces: dict[str, str] = field(default_factory=dict)

    def keep(self, error: BaseException, data: bytes) -> None:
        """One fault more, or a shorter input of a known one."""
        name = place_of(error)
        if name not in self.faults or len(data) < len(self.faults[name]):
            self.faults[name], self.traces[name] = data, "".join(traceback.format_exception(error))[-3000:]


def place_of(error: BaseException) -> str:
    """Kind of the error, and the last line of leakdown, else of the tests, that it passed through."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [f for f in frames if "/leakdown/" in f.filename.replace("\\", "/").rsplit("site-packages", 1)[-1]]
    last = (ours or frames)[-1]
    return f"{type(error).__name__} {Path(last.filename).name}:{last.lineno} {last.name}"


@contextlib.contextmanager
def bounded(seconds: float = LONGEST_CASE_S) -> Iterator[None]:
    """Raise TooLongError in what takes more of the processor, where it is counted; a busy machine is no fault."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def over(number: int, frame: FrameType | None) -> None:
        raise TooLongError(f"longer than {seconds:g} s")

    before = signal.signal(signal.SIGPROF, over)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def tried(once: Callable[[bytes], object], data: bytes, found: Found, seconds: float = LONGEST_CASE_S) -> None:
    """One input: its answer, the project's own error, or a fault that is kept."""
    from leakdown.errors import LeakdownError

    found.tried += 1
    begun = time.process_time()
    try:
        with bounded(seconds):
            once(data)
        found.answered += 1
    except LeakdownError as error:
        if not 0 < len(str(error).splitlines()) <= 2:
            found.keep(error, data)
    except (Exception, TooLongError) as error:
        found.keep(error, data)
    found.slowest_s = max(found.slowest_s, time.process_time() - begun)


def fuzzed(name: str, seconds: float, seed: int, report: Path) -> None:
    """Feed one target; the report is written every few seconds, for atheris never comes back."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    try:
        import atheris
    except ImportError:
        atheris = None
    if atheris is not None:
        with atheris.instrument_imports(include=["leakdown"], enable_loader_override=False):
            from tests.fuzz.targets import TARGETS
    else:
        from tests.fuzz.targets import TARGETS
    found, target, told = Found(), TARGETS[name], [0.0, time.monotonic()]
    seeds = [*target.seeds(), *kept(name).values()]

    def once(data: bytes) -> None:
        tried(target.once, data, found)
        if time.monotonic() > told[0] or time.monotonic() - told[1] > seconds - 1.0:
            told[0] = time.monotonic() + 3.0
            _tell(name, found, report, time.monotonic() - told[1])

    if atheris is not None:
        _by_atheris(atheris, once, seeds, seconds, seed, report)
    else:
        _by_ourselves(once, seeds, seconds, random.Random(seed))


def _by_atheris(
    atheris: Any, once: Callable[[bytes], None], seeds: list[bytes], seconds: float, seed: int, report: Path
) -> None:
    corpus = report.with_suffix(".corpus")
    corpus.mkdir(exist_ok=True)
    for data in seeds:
        (corpus / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)

    def changed(data: bytes, most: int, seed: int) -> bytes:
        dice = random.Random(seed)
        if dice.random() < 0.3:
            return bytes(atheris.Mutate(data, most))
        return mutated(data, dice, seeds)[:most]

    flags = [
        f"-max_total_time={int(seconds)}",
        "-timeout=9999",
        "-rss_limit_mb=0",
        "-max_len=60000",
        f"-seed={seed + 1}",
    ]
    atheris.Setup(
        [sys.argv[0], *flags, "-verbosity=0", f"-artifact_prefix={corpus}/", str(corpus)], once, custom_mutator=changed
    )
    atheris.Fuzz()


def _by_ourselves(once: Callable[[bytes], None], seeds: list[bytes], seconds: float, dice: random.Random) -> None:
    corpus, end = list(seeds), time.monotonic() + seconds
    new = _new_lines()
    for data in seeds:
        once(data)
    new()
    while time.monotonic() < end:
        data = mutated(dice.choice(corpus), dice, seeds)
        once(data)
        if new():
            corpus.append(data)


def _new_lines() -> Callable[[], bool]:
    """A function that says whether a line of leakdown was reached for the first time since it was asked last."""
    watch = getattr(sys, "monitoring", None)
    if watch is None:
        return lambda: False
    reached = [0, 0]

    def line(code: Any, number: int) -> Any:
        reached[0] += "leakdown" in code.co_filename
        return watch.DISABLE  # each line once: it costs nothing after that

    watch.use_tool_id(watch.COVERAGE_ID, "fuzz")
    watch.register_callback(watch.COVERAGE_ID, watch.events.LINE, line)
    watch.set_events(watch.COVERAGE_ID, watch.events.LINE)

    def new() -> bool:
        before, reached[1] = reached[1], reached[0]
        return reached[0] > before

    return new


def kept(name: str) -> dict[str, bytes]:
    """Inputs that broke a target once, by file name."""
    folder = BROKEN / name
    return {path.name: path.read_bytes() for path in sorted(folder.glob("*"))} if folder.is_dir() else {}


def _tell(name: str, found: Found, report: Path, seconds: float) -> None:
    told = {"target": name, "seconds": round(seconds, 1), "tried": found.tried, "answered": found.answered}
    faults = {place: {"input": data.hex(), "trace": found.traces[place]} for place, data in found.faults.items()}
    report.write_text(json.dumps(told | {"slowest_s": round(found.slowest_s, 2), "faults": faults}), encoding="utf-8")
