"""Speed and memory, measured apart from the tests: `make bench`."""
