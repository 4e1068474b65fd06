"""Crankcase and fuel-system pressure/vacuum testing of small two-stroke engines."""

__version__ = "0.1.0"
