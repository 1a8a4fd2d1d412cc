"""What all tests share: a cache and a data folder of their own, and examples that are the same in every run.

`make test` must give the same verdict twice, so generated examples follow from the test's text. `make test-long` sets
FISHPLATE_EXPLORE and looks at new ones each time; what it finds is written down as an example of its own.
"""

import os
import tempfile

from hypothesis import settings

os.environ["FISHPLATE_CACHE"] = tempfile.mkdtemp(prefix="fishplate-tests-")
os.environ["FISHPLATE_DATA"] = os.environ["FISHPLATE_CACHE"]  # a user's own rule files have no say here

settings.register_profile("repeatable", derandomize=True)
settings.load_profile("default" if os.environ.get("FISHPLATE_EXPLORE") else "repeatable")
