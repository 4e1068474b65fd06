"""Readers: a recording, a logger's export or a hand sheet -> leakdown.recording.Recording."""

from leakdown.readers.file import read, read_bytes
from leakdown.readers.options import ReadingOptions

__all__ = ["ReadingOptions", "read", "read_bytes"]
