"""Crankcase and fuel-system pressure/vacuum testing of small two-stroke engines."""

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_ENTRIES = {"plan": "leakdown.prepare.plan"}
"""Functions of the library, by the module that holds each: loaded when first asked for."""


def __getattr__(name: str) -> Any:
    if name in _ENTRIES:
        return getattr(import_module(_ENTRIES[name]), name)
    raise AttributeError(f"module 'leakdown' has no attribute {name!r}")
