"""Fishplate: what to decide, measure, buy, collect and do next on a vehicle build, and why."""

__version__ = "0.1.0"
