"""Imports point one way."""

import ast
from pathlib import Path

import fishplate

SOURCE = Path(fishplate.__file__).parent
ENGINES = {"fit", "landed", "prices", "buy", "work", "decide", "impact", "records"}
MAY_IMPORT = {
    "build": set(),
    "trade": {"build"},
    **{engine: {"build", "trade"} for engine in ENGINES},
    "plan": {"build", "trade", *ENGINES},
    "store": {"build", "trade", "plan", *ENGINES},
    "exchange": {"build", "trade", "plan", *ENGINES},
    "papers": {"build", "trade", "plan", *ENGINES},
    "starters": {"build", "trade", "plan", *ENGINES},
    "web": {"build", "trade", "plan", "store", "exchange", "papers", "starters", *ENGINES},
}


def _imported_rooms(path: Path) -> set[str]:
    """Rooms of ours a module imports, absolute or relative."""
    here = ("fishplate", *path.relative_to(SOURCE).with_suffix("").parts)
    rooms = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = list(here[: -node.level]) if node.level else []
            names = [".".join([*base, *(node.module.split(".") if node.module else [])])]
            if not node.module:
                names = [".".join([*base, alias.name]) for alias in node.names]
        else:
            continue
        rooms |= {name.split(".")[1] for name in names if name.startswith("fishplate.")}
    return {room for room in rooms if (SOURCE / room).is_dir()}


def test_every_room_imports_only_what_lies_below_it() -> None:
    wrong = []
    for room, allowed in MAY_IMPORT.items():
        for path in (SOURCE / room).rglob("*.py"):
            extra = _imported_rooms(path) - allowed - {room}
            wrong += [f"{path.relative_to(SOURCE)} imports {name}" for name in sorted(extra)]
    assert not wrong


def test_the_check_sees_a_wrong_import(tmp_path: Path) -> None:
    tree = ast.parse("from ..plan import plan")
    node = tree.body[0]
    assert isinstance(node, ast.ImportFrom)
    assert node.level == 2
    assert "plan" in _imported_rooms(SOURCE / "papers" / "page.py")


BANNED_MODULES = {"socket", "urllib", "requests", "httpx", "subprocess", "os"}
CLOCKS = {"today", "now", "utcnow", "time"}


def _outside_words(source: str) -> set[str]:
    """What a module reaches for of clock, network and disk; its own tables and elapsed time are no such thing."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name.split(".")[0] in BANNED_MODULES}
        elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
            found |= {node.module} if node.module.split(".")[0] in BANNED_MODULES else set()
        elif isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and called.id == "open":
                found.add("open")
            if isinstance(called, ast.Attribute) and called.attr in CLOCKS and isinstance(called.value, ast.Name):
                found |= {called.attr} if called.value.id in {"date", "datetime", "time"} else set()
    return found


def test_no_engine_reads_clock_network_or_disk() -> None:
    wrong = []
    for engine in {"trade", *ENGINES}:
        for path in (SOURCE / engine).rglob("*.py"):
            found = _outside_words(path.read_text(encoding="utf-8"))
            wrong += [f"{path.relative_to(SOURCE)}: {word}" for word in sorted(found)]
    assert not wrong


def test_the_clock_check_sees_a_clock() -> None:
    assert _outside_words("from datetime import date\nd = date.today()") == {"today"}
    assert _outside_words("import urllib.request") == {"urllib.request"}
