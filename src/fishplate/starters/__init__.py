"""Builds and lists to begin with, as data.

- `scenario`: the demo build, read from the TOML files in `demo/`, one per room
- `lists/`: small sheets as strangers keep them, for a first evening
"""

from .scenario import demo_as_of, load_demo

__all__ = ["demo_as_of", "load_demo"]
