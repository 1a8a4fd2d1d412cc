"""Builds and lists to begin with, as data.

- `scenario`: the demo build, read from the TOML files in `demo/`, one per room
- `outlines`: starters, read from the TOML files in `outlines/`: what a kind of rebuild usually takes
- `matching`, `merging`: a starter brought into a running build without doubling what is there
- `reading`: the shorthands such files are written in
- `lists/`: small sheets as strangers keep them, for a first evening
"""

from .matching import Match
from .merging import Added, Merge, merge
from .outlines import Starter, starter, starters
from .scenario import demo_as_of, load_demo

__all__ = ["Added", "Match", "Merge", "Starter", "demo_as_of", "load_demo", "merge", "starter", "starters"]
