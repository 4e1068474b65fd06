"""Every error that leakdown raises on purpose. A leaf: imports nothing.

    LeakdownError                 root; the command line prints it and exits with `exit_status`
    ├── UsageError            2   an option or argument that cannot be used
    ├── InputError            2   a file, a sheet or a cell that cannot be read with certainty
    ├── RecordError           2   a job record that is missing, damaged or locked
    ├── GaugeError            1   the gauge or its port
    └── OutputError           1   something could not be written

A message says what is wrong, where, which limit was met and what to do.
"""

from __future__ import annotations


class LeakdownError(Exception):
    """Root of the tree. `str(error)` is one or two lines, ready to print."""

    exit_status = 1

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(what)

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head}\n  {self.remedy}" if self.remedy else head


class UsageError(LeakdownError):
    """An option or an argument that cannot be used."""

    exit_status = 2


class InputError(LeakdownError):
    """A file that cannot be read with certainty; `where` is `file:line` when known."""

    exit_status = 2


class RecordError(LeakdownError):
    """A job record that is missing, damaged, locked or newer than this program."""

    exit_status = 2


class GaugeError(LeakdownError):
    """The gauge, its port or its line format."""


class OutputError(LeakdownError):
    """Something could not be written."""
