"""What all tests share: a cache folder of their own."""

import os
import tempfile

os.environ["FISHPLATE_CACHE"] = tempfile.mkdtemp(prefix="fishplate-tests-")
