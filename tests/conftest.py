"""What all tests share: a cache folder of their own, and examples that are the same in every run.

`make test` must give the same verdict twice, so generated examples follow from the test's text. `make test-long` sets
FISHPLATE_EXPLORE and looks at new ones each time; what it finds is written down as an example of its own.
"""

import os
import tempfile

from hypothesis import settings

os.environ["FISHPLATE_CACHE"] = tempfile.mkdtemp(prefix="fishplate-tests-")

settings.register_profile("repeatable", derandomize=True)
settings.load_profile("default" if os.environ.get("FISHPLATE_EXPLORE") else "repeatable")
