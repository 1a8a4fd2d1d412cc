"""How far something is that is worked out in a thread beside the pages: told from within, given up when asked."""

from __future__ import annotations

from contextvars import ContextVar
from typing import Final

STOPPED: Final = "It was stopped; nothing is changed."


class StoppedError(Exception):
    """What is being worked out was given up."""


class Course:
    """How far one piece of work is.

    Parameters
    ----------
    stage, share : what is being done, and how much of the whole is done, 0 to 1
    """

    def __init__(self) -> None:
        self.stage, self.share = "", 0.0
        self._stopped = False

    def stop(self) -> None:
        """Have the work given up the next time it tells how far it is."""
        self._stopped = True

    def say(self, stage: str, share: float) -> None:
        """Note how far the work is; raises StoppedError if it is to be given up."""
        if self._stopped:
            raise StoppedError
        self.stage, self.share = stage, share


_COURSE: ContextVar[Course | None] = ContextVar("course", default=None)


def follow(course: Course) -> None:
    """Have what this thread works out from now on told to a course."""
    _COURSE.set(course)


def say(stage: str, share: float) -> None:
    """Tell how far what this thread works out is, if anybody follows it; raises StoppedError if it is to be given up.

    Examples
    --------
    >>> course = Course()
    >>> follow(course)
    >>> say("setting side by side", 0.5)
    >>> course.stage, course.share
    ('setting side by side', 0.5)
    >>> course.stop()
    >>> say("and on", 0.6)
    Traceback (most recent call last):
    ...
    fishplate.web.course.StoppedError
    """
    course = _COURSE.get()
    if course is not None:
        course.say(stage, share)
