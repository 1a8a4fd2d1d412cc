"""What takes a moment to work out: worked out beside the pages, kept until the build or the day is another."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, Generic, TypeVar

from .failures import note_failure

if TYPE_CHECKING:
    from .desk import View

Value = TypeVar("Value")
Asked = TypeVar("Asked", bound=Hashable)
Key = tuple[int, date]
PATIENCE_SECONDS: Final = 0.05


@dataclass(frozen=True, slots=True)
class Standing(Generic[Value]):
    """What is known now.

    Parameters
    ----------
    value : the last that was worked out; None if nothing was yet
    current : whether it is of this revision and day
    said : why it could not be worked out, if it could not
    """

    value: Value | None
    current: bool
    said: str = ""

    @property
    def working(self) -> bool:
        """Whether it is being worked out."""
        return not self.current and not self.said


class Kept(Generic[Value]):
    """One result of a view, worked out in a thread of its own whenever the revision or the day is another.

    Parameters
    ----------
    work : from what there is to show to the result; needs nothing else, and runs at most once at a time
    """

    def __init__(self, work: Callable[[View], Value]) -> None:
        self._work = work
        self._lock, self._working = threading.Lock(), threading.Lock()
        self._key: Key | None = None
        self._wanted: Key | None = None
        self._ready = threading.Event()
        self._value: Value | None = None
        self._said = ""

    def of(self, view: View, *, patience_seconds: float = PATIENCE_SECONDS) -> Standing[Value]:
        """The result for a view, or the last one if it takes longer than there is patience for."""
        key = view.revision, view.as_of
        with self._lock:
            if self._wanted != key:
                self._wanted, self._ready, self._said = key, threading.Event(), ""
                threading.Thread(target=self._run, args=(view, key, self._ready), daemon=True).start()
            ready = self._ready
        ready.wait(patience_seconds)
        with self._lock:
            return Standing(self._value, self._key == key, self._said if self._wanted == key else "")

    def _run(self, view: View, key: Key, ready: threading.Event) -> None:
        with self._working:
            if self._wanted != key:  # changed again meanwhile
                ready.set()
                return
            value, said = None, ""
            try:
                value = self._work(view)
            except Exception:
                said = f"This could not be worked out (incident {note_failure()}); the build is unchanged."
        with self._lock:
            if said and self._wanted == key:
                self._said = said
            elif not said:
                self._key, self._value = key, value
        ready.set()


class KeptEach(Generic[Asked, Value]):
    """Results of a view for what was asked of it, each worked out beside the pages; the last few are kept.

    Parameters
    ----------
    work : from what there is to show, and what was asked, to the result
    most : how many are kept
    """

    def __init__(self, work: Callable[[View, Asked], Value], *, most: int = 8) -> None:
        self._work, self._most, self._lock = work, most, threading.Lock()
        self._held: OrderedDict[Asked, Kept[Value]] = OrderedDict()

    def of(self, view: View, asked: Asked, *, patience_seconds: float = PATIENCE_SECONDS) -> Standing[Value]:
        """The result for a view and what was asked, or the last one if it takes longer than there is patience for."""
        with self._lock:
            kept = self._held.setdefault(asked, Kept(lambda seen: self._work(seen, asked)))
            self._held.move_to_end(asked)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
        return kept.of(view, patience_seconds=patience_seconds)
