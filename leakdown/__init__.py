"""Crankcase and fuel-system pressure/vacuum tests of small two-stroke engines: readings in, verdict out.

    import leakdown

    result = leakdown.analyse(leakdown.read("sheet.csv"))
    print(result.verdict.word)

`import leakdown` costs next to nothing: each name loads what it needs when it is first used.
"""

# ruff: noqa: F403, F405
from typing import TYPE_CHECKING, Any

from leakdown.errors import LeakdownError

if TYPE_CHECKING:
    from leakdown.library import *

__version__ = "0.2.0"
__all__ = [
    "Analysis", "Change", "Conditions", "LeakdownError", "Located", "Mark", "Plan", "Recording", "Settings",
    "__version__", "analyse", "compare", "figure", "locate", "plan", "read", "table",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """The public names, loaded at their first use."""
    if name in __all__:
        from leakdown import library

        return globals().setdefault(name, getattr(library, name))
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
