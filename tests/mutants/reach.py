"""Which functions each test reaches, and how long it takes: traced once a test file, kept in `.mutants/`."""

from __future__ import annotations

import gc
import hashlib
import json
import os
import sys
import threading
import time
from collections.abc import Iterator
from functools import _lru_cache_wrapper
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
NEAR = {
    "physics": ("physics", "published"),
    "fit": ("fit", "published", "judge"),
    "judge": ("judge", "hold"),
    "where": ("where",),
    "live": ("live",),
    "jobs": ("jobs",),
}
"""The folders of tests whose task a room's faults are; what all others would notice too counts for nothing."""
SOURCE = str(ROOT / "leakdown") + os.sep
KEPT = ROOT / ".mutants" / "reach.json"
OPTIONS = (
    *("-q", "-m", "not browser", "-p", "no:cacheprovider", "-p", "no:xdist"),
    *("-W", "ignore::pytest.PytestAssertRewriteWarning"),  # hypothesis is there already
)


class Tracer:
    """A pytest plugin: {test: [seconds, ["physics/flow.py:flow_function", ...]]} of what ran."""

    def __init__(self) -> None:
        self.tests: dict[str, tuple[float, set[str]]] = {}
        self.of_file: dict[str, set[str]] = {}
        self._seen: set[Any] = set()
        self._caches: list[Any] = []

    def _call(self, frame: FrameType, event: str, arg: object) -> None:
        self._seen.add(frame.f_code)

    def _reached(self) -> set[str]:
        found = {
            f"{code.co_filename.removeprefix(SOURCE)}:{code.co_qualname.replace('.<locals>', '')}"
            for code in self._seen
            if code.co_filename.startswith(SOURCE)
        }
        self._seen = set()
        return found

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector: pytest.Collector) -> Iterator[None]:
        if not isinstance(collector, pytest.Module):
            return (yield)
        sys.settrace(self._call)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            self.of_file.setdefault(collector.nodeid, set()).update(self._reached())

    def pytest_collection_finish(self) -> None:
        self._caches = [
            thing
            for thing in gc.get_objects()
            if isinstance(thing, _lru_cache_wrapper) and str(thing.__module__).split(".")[0] == "leakdown"
        ]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        for cache in self._caches:  # what an earlier test left there would hide who needs it
            cache.cache_clear()
        started = time.perf_counter()
        sys.settrace(self._call)
        threading.settrace(self._call)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            threading.settrace(None)
            self.tests[item.nodeid] = (round(time.perf_counter() - started, 4), self._reached())

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: pytest.FixtureRequest) -> Iterator[None]:
        before, self._seen = self._seen, set()
        try:
            return (yield)
        finally:
            seen = set(self._seen)
            if fixturedef.scope != "function":  # made once, used by every test of the file
                self.of_file.setdefault(request.node.nodeid.split("::")[0], set()).update(self._reached())
            self._seen = before | seen


def traced(files: list[str]) -> dict[str, Any]:
    """{test file: {"tests": {node: [seconds, reached]}}} of running those files here (do so in a child)."""
    tracer = Tracer()
    pytest.main([*OPTIONS, *files], plugins=[tracer])
    found: dict[str, Any] = {file: {"tests": {}} for file in files}
    for node, (seconds, reached) in tracer.tests.items():
        file = node.split("::")[0]
        found[file]["tests"][node] = [seconds, sorted(reached | tracer.of_file.get(file, set()))]
    return found


def reach(in_child: Any, rooms: list[str]) -> dict[str, tuple[float, set[str]]]:
    """{test: (seconds, functions)} of the tests near to `rooms`; only what is new or changed is traced again."""
    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {}
    hashes = {
        path.relative_to(ROOT).as_posix(): hashlib.sha256(repr(OPTIONS).encode() + path.read_bytes()).hexdigest()
        for room in sorted({near for room in rooms for near in NEAR[room.split("/")[0]]})
        for path in sorted((ROOT / "tests" / room).glob("test_*.py"))
    }
    fresh = [file for file, now in hashes.items() if file not in kept or kept[file]["hash"] != now]
    for first in range(0, len(fresh), 8):
        some = fresh[first : first + 8]
        print("tracing", *some, flush=True)
        for file, row in in_child(traced, some).items():
            kept[file] = {"hash": hashes[file], **row}
        KEPT.write_text(json.dumps(kept), encoding="utf-8")
    tests = {node: row for file in hashes for node, row in kept[file]["tests"].items()}
    return {node: (seconds, set(names)) for node, (seconds, names) in tests.items()}
