"""What takes a moment to work out: worked out beside the pages, kept until the build or the day is another."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, Generic, TypeVar

from .course import STOPPED, Course, StoppedError, follow
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
    said : why it could not be worked out, if it could not, or that it was stopped
    stage, share : what is being done, and how much of the whole is done, 0 to 1, where the work tells
    """

    value: Value | None
    current: bool
    said: str = ""
    stage: str = ""
    share: float = 0.0

    @property
    def working(self) -> bool:
        """Whether it is being worked out."""
        return not self.current and not self.said


class Kept(Generic[Value]):
    """One result of a view, worked out in a thread of its own whenever the revision or the day is another.

    Parameters
    ----------
    work : from what there is to show to the result; needs nothing else, and runs at most once at a time; may tell how
        far it is by `course.say`, and can be stopped where it does
    alike : whether the result of one view is that of another too; told in a moment
    """

    def __init__(self, work: Callable[[View], Value], alike: Callable[[View, View], bool] | None = None) -> None:
        self._work, self._alike = work, alike
        self._of: View | None = None
        self._lock, self._working = threading.Lock(), threading.Lock()
        self._key: Key | None = None
        self._wanted: Key | None = None
        self._ready = threading.Event()
        self._value: Value | None = None
        self._said, self._course = "", Course()

    def of(self, view: View, *, patience_seconds: float = PATIENCE_SECONDS) -> Standing[Value]:
        """The result for a view, or the last one if it takes longer than there is patience for."""
        key = view.revision, view.as_of
        with self._lock:
            if self._wanted != key and self._of is not None and self._alike is not None and self._alike(self._of, view):
                self._wanted, self._key, self._of, self._said, self._course = key, key, view, "", Course()
                self._ready.set()
            elif self._wanted != key:
                self._wanted, self._ready, self._said, self._course = key, threading.Event(), "", Course()
                threading.Thread(target=self._run, args=(view, key, self._ready, self._course), daemon=True).start()
            ready = self._ready
        ready.wait(patience_seconds)
        with self._lock:
            said = self._said if self._wanted == key else ""
            return Standing(self._value, self._key == key, said, self._course.stage, self._course.share)

    def stop(self) -> None:
        """Give up what is being worked out, if anything is."""
        with self._lock:
            if self._wanted is not None and not self._ready.is_set():
                self._course.stop()
                self._said = STOPPED
                self._ready.set()

    def again(self) -> None:
        """Have it worked out when it is asked for next, if it was stopped or could not be."""
        with self._lock:
            if self._said:
                self._wanted = None

    def _run(self, view: View, key: Key, ready: threading.Event, course: Course) -> None:
        with self._working:
            if self._wanted != key:  # changed again meanwhile
                ready.set()
                return
            value, said = None, ""
            try:
                follow(course)
                value = self._work(view)
            except StoppedError:
                said = STOPPED
            except Exception:
                said = f"This could not be worked out (incident {note_failure()}); the build is unchanged."
        with self._lock:
            if said and self._course is course:
                self._said = said
            elif not said and self._key != self._wanted:  # what is wanted may be held by now
                self._key, self._value = key, value
                self._of = view if self._alike is not None else None
                self._said = "" if self._course is course else self._said
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
        return self._kept(asked).of(view, patience_seconds=patience_seconds)

    def stop(self, asked: Asked) -> None:
        """Give up what is being worked out for what was asked."""
        self._kept(asked).stop()

    def again(self, asked: Asked) -> None:
        """Have it worked out when it is asked for next, if it was stopped or could not be."""
        self._kept(asked).again()

    def _kept(self, asked: Asked) -> Kept[Value]:
        with self._lock:
            kept = self._held.setdefault(asked, Kept(lambda seen: self._work(seen, asked)))
            self._held.move_to_end(asked)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
            return kept
