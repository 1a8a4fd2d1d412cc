"""The lock names exact versions and nothing else."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
LINES = [line for line in (ROOT / "requirements.lock").read_text(encoding="utf-8").splitlines() if line.strip()]


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_every_line_is_a_name_and_an_exact_version() -> None:
    assert [line for line in LINES if not re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+!_-]+", line)] == []


def test_everything_the_project_asks_for_is_locked() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    names = {_plain(re.split(r"[<>=\[ ]", text)[0]) for text in asked}
    assert names <= {_plain(line.split("==")[0]) for line in LINES}
