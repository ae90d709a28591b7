"""Cakewright: from a beaker of sludge to a dewatering line kept running."""

__version__ = "0.1.0"
