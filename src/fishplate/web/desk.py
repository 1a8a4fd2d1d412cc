"""What every page stands on: the build in memory by revision, writes, undo and redo, the last plan."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, cast

from ..build import Build, Facts, Problem, Refused, facts_of
from ..build.document import LISTS_WITH_IDS
from ..build.telling import Teller
from ..store import Batch, BuildFile, Change, Conflict, RevisionConflict
from ..store.build_file import Note
from ..store.plans import PLAN, keep_plan, load_plan
from ..wiring import open_file
from .alike import alike
from .beside import Beside
from .comparing import dated, weighed
from .evenings import evening
from .hands import HAND
from .kept import Kept, KeptEach
from .later import later
from .looks import Looks
from .reckoned import own_changes, trip_figures
from .rights import may
from .sendings import Sendings
from .small_photos import SmallPhotos
from .trials import Trials
from .turns import TurnKind, whose_turn
from .verdicts import fitted
from .worker import UNREADABLE, Errand, Progress, Runner

if TYPE_CHECKING:
    from ..decide import DecisionReport
    from ..exchange.confirmation import Confirmation
    from ..impact import Tweak
    from ..plan import Plan
    from ..starters import Merge
    from .bringing import Brought, ConfirmationAsked, Reading
    from .consequences import Consequences
    from .finding import Index
    from .what_if import Loosened

Edit = Callable[[Build], Build]
Made = TypeVar("Made")
QUIET_SECONDS = 1.5


@dataclass(frozen=True, slots=True)
class View:
    """What a page is made from: the build at one revision, what is so today, the last plan.

    Parameters
    ----------
    plan : the last plan that was finished, of an earlier revision or day perhaps; None if there is none
    """

    build: Build
    facts: Facts
    revision: int
    as_of: date
    plan: Plan | None
    _made: dict[Any, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def once(self, work: Callable[[View], Made]) -> Made:
        """What a function makes of this view, worked out the first time it is asked for; nobody may change it."""
        if work not in self._made:
            self._made[work] = work(self)
        return cast("Made", self._made[work])

    @property
    def currency(self) -> str:
        """Home currency."""
        return self.build.owner.currency

    @property
    def changes_since(self) -> int:
        """Changes made since the plan."""
        return 0 if self.plan is None else max(0, self.revision - self.plan.revision)

    @property
    def is_current(self) -> bool:
        """Whether the plan is of this revision and day."""
        return self.plan is not None and (self.plan.revision, self.plan.as_of) == (self.revision, self.as_of)

    @property
    def stands(self) -> str:
        """Names what is shown: the same as long as neither the build, the day nor the plan is another."""
        plan = "none" if self.plan is None else f"{self.plan.revision} of {self.plan.as_of.isoformat()}"
        return f"{self.revision} on {self.as_of.isoformat()}, plan {plan}"


class Desk:
    """One build file, as the pages use it. Safe to use from several threads.

    Parameters
    ----------
    path : the build file
    today : gives the day; author : who writes
    runner : works out plans
    quiet_seconds : how long the file must be left alone before a new plan starts by itself
    trials : plans of the build as it would be; beside : what else is worked out when it is asked for
    """

    def __init__(
        self,
        path: Path,
        *,
        today: Callable[[], date],
        author: str,
        runner: Runner,
        quiet_seconds: float = QUIET_SECONDS,
        trials: Trials | None = None,
        beside: Beside | None = None,
    ) -> None:
        self.path, self.today, self.runner = path, today, runner
        self._author = author
        self.file: BuildFile = open_file(path)
        self.verdicts, self.order, self.trials = Kept(fitted, alike), Kept(decision_order, alike), trials or Trials()
        self.trips, self.own_changes, self.words = Kept(trip_figures), Kept(own_changes), Kept(index_of_words)
        self._lock = threading.RLock()
        self.sendings = Sendings(self.file, self._lock)
        self.later, self.loosened, self.merges = KeptEach(later), KeptEach(loosened_by), KeptEach(merged_with, most=4)
        self.evenings, self.small_photos, self.looks = KeptEach(evening), SmallPhotos(), Looks()
        self.beside = beside or Beside()
        self.turns = KeptEach(consequences_of)
        self.brought = KeptEach(partial(brought_in, self.file), most=4)
        self.confirmed = KeptEach(partial(confirmed_in, self.file), most=4)
        self.weighings, self.dates = KeptEach(weighed), Kept(dated)
        self._quiet_seconds = quiet_seconds
        self._view: View | None = None
        self._teller: tuple[Build, Teller] | None = None
        self._plan = load_plan(self.file.memo_get(PLAN))
        self._unreadable = False  # the plan that was made last
        self._timer: threading.Timer | None = None

    @property
    def author(self) -> str:
        """Who writes: the device that asks, or whoever serves."""
        device = HAND.get()
        return self._author if device is None else device.name

    def view(self) -> View:
        """What there is to show now."""
        held, plan = self._view, self._plan
        # not behind the lock: a page whose build is known does not wait for those who write
        if held is not None and held.plan is plan and (held.revision, held.as_of) == (self.file.revision, self.today()):
            return held
        with self._lock:
            day, revision = self.today(), self.file.revision
            held = self._view
            if held is None or held.revision != revision:
                snapshot = self.file.snapshot()
                held = View(snapshot.build, facts_of(snapshot.build, day), snapshot.revision, day, self._plan)
            elif held.as_of != day:
                held = replace(held, facts=facts_of(held.build, day), as_of=day)
                self.plan_soon()  # where pages are served over night, the plan they show is of the day before
            if held.plan is not self._plan:
                held = replace(held, plan=self._plan)
            self._view = held
            return held

    def teller(self) -> Teller:
        """Tells what is shown now in the owner's units and locale."""
        build, held = self.view().build, self._teller
        if held is None or held[0] is not build:
            held = self._teller = build, Teller.of(build)
        return held[1]

    def write(self, edit: Edit, *, revision: int, message: str, note: Note | None = None) -> int:
        """Change the build in one batch.

        Parameters
        ----------
        edit : from the build as it is to the build as it shall be
        revision : the revision the person saw
        note : from the new revision to what is kept with it, as `BuildFile.write` takes it

        Returns
        -------
        the new revision

        Raises
        ------
        RevisionConflict
            if a noun the edit touches was changed since the person saw it
        Refused
            if the result has problems
        """
        with self._lock:
            view = self.view()
            new = edit(view.build)
            if 0 < revision < view.revision:
                self._refuse_overlap(view, new, revision)
            written = self.file.write(new, revision=view.revision, author=self.author, message=message, note=note)
            if written != view.revision:
                self.plan_soon()
            return written

    def change(self, changes: Sequence[Change], *, revision: int, message: str) -> int:
        """Change the build by changes as programs ask for them; raises RevisionConflict, Refused.

        What was changed elsewhere since goes side by side with it.
        """
        with self._lock:
            now_at = self.file.revision
            if 0 < revision < now_at and not self._changed_since(revision).keys() & {change.key for change in changes}:
                revision = now_at
            written = self.file.write(changes, revision=revision, author=self.author, message=message)
        self.plan_soon()
        return written

    def undo(self, *, revision: int) -> Batch:
        """Take back the last change; raises Refused, RevisionConflict."""
        self._refuse_others_turn("undo", revision)
        batch = self.file.undo(revision=revision, author=self.author)
        self.plan_soon()
        return batch

    def redo(self, *, revision: int) -> Batch:
        """Make the last undone change again; raises Refused, RevisionConflict."""
        self._refuse_others_turn("redo", revision)
        batch = self.file.redo(revision=revision, author=self.author)
        self.plan_soon()
        return batch

    # plans

    def start(self) -> None:
        """Bring the plan and the verdicts up to date, as the pages are opened."""
        self.verdicts.of(self.view(), patience_seconds=0)
        if not self.view().is_current:
            self.plan_now()

    @property
    def is_waiting(self) -> bool:
        """Whether a plan starts by itself in a moment."""
        return self._timer is not None and self._timer.is_alive()

    @property
    def is_busy(self) -> bool:
        """Whether a plan is being worked out or starts in a moment."""
        return self.progress.running or self.is_waiting

    @property
    def progress(self) -> Progress:
        """How far the plan being worked out is."""
        progress = self.runner.progress()
        if self._unreadable and not progress.running:
            return replace(progress, said=UNREADABLE)
        return progress

    def plan_soon(self) -> None:
        """Plan once the file has been left alone for a moment."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            self._timer = threading.Timer(self._quiet_seconds, self.plan_now)
            self._timer.daemon = True
            self._timer.start()

    def plan_now(self) -> None:
        """Start a plan, unless there is nothing to plan or one is being worked out."""
        self._unreadable = False
        if self.view().build.parts or self.view().build.jobs:
            self.runner.start(Errand(self.path, self.today()), self._finished)

    def stop_planning(self) -> None:
        """Give up the plan that is being worked out."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
        self.runner.stop()

    def close(self) -> None:
        """Stop what runs beside the pages."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
        self.trials.close()
        self.beside.close()
        self.runner.close()

    def _finished(self, content: bytes) -> None:
        plan = keep_plan(self.file, content)
        with self._lock:
            self._unreadable = plan is None
            self._plan = plan or self._plan
            behind = plan is not None and (plan.revision, plan.as_of) != (self.file.revision, self.today())
        if behind:
            self.plan_soon()

    def _refuse_others_turn(self, kind: TurnKind, revision: int) -> None:
        """Refuse to turn what another wrote, where a device may turn its own alone.

        A revision that is no longer the last is refused when the turn is written, so that nothing can come between.
        """
        if may(HAND.get(), "own"):
            return
        batches = self.file.heads()
        author, last = whose_turn(batches, kind), batches[-1].number
        if author is not None and revision >= last and (author != self.author or revision > last):
            do = "Ask whoever wrote it, or the owner."
            raise Refused([Problem("form", "not-yours", f"the last change is by {author}", "", do)])

    # stale edits

    def _changed_since(self, revision: int) -> dict[tuple[str, str], Change]:
        """The last change to every noun that was changed after a revision."""
        return {change.key: change for batch in self.file.history(since=revision) for change in batch.changes}

    def _refuse_overlap(self, view: View, new: Build, revision: int) -> None:
        """Refuse an edit that touches what another hand changed since the person looked."""
        theirs = self._changed_since(revision)
        mine = {change.key: change for change in changed_nouns(view.build, new)}
        both = sorted(theirs.keys() & mine.keys())
        if both:
            conflicts = [Conflict(key, theirs[key].after, mine[key].after, touched=True) for key in both]
            raise RevisionConflict(self.path.name, revision, view.revision, conflicts)


def loosened_by(view: View, tweaks: tuple[Tweak, ...]) -> Loosened:
    """What comes loose by changes that are tried."""
    from .what_if import loosened

    return loosened(view, tweaks)


def consequences_of(view: View, asked: tuple[str, str]) -> Consequences:
    """What a way a decision is to go changes, by the ids of the decision and the option; no option opens it again."""
    from .consequences import consequences, turn_of

    return consequences(view, turn_of(view, *asked))


def brought_in(file: BuildFile, view: View, asked: tuple[str, Reading]) -> Brought:
    """What a list, page or mail that is kept in the file holds, by its key and how it is to be read."""
    from .bringing import read_kept

    return read_kept(file, view, *asked)


def confirmed_in(file: BuildFile, view: View, asked: ConfirmationAsked) -> Confirmation:
    """What a supplier's confirmation that is kept in the file would order."""
    from .bringing import read_confirmed

    return read_confirmed(file, view, asked)


def merged_with(view: View, asked: tuple[str, frozenset[str], frozenset[str]]) -> Merge:
    """The build with a starter in it, by its name, what of it is held apart and what in doubt is taken as the same."""
    from .starting import merged

    return merged(view.build, *asked)


def decision_order(view: View) -> DecisionReport:
    """Decisions in the order of what bears on what; their days are the plan's to say."""
    from ..decide import order_decisions

    return order_decisions(view.build, view.facts, start_weeks={}, order_by_weeks={})


def index_of_words(view: View) -> Index:
    """Everything that can be found."""
    from .findable import index_of

    return index_of(view)


def changed_nouns(before: Build, after: Build) -> tuple[Change, ...]:
    """Nouns that differ, of the lists whose nouns have ids, and the build's own fields."""
    found = [
        Change(name, id_, _data(new.get(id_)), _data(old.get(id_)))
        for name in LISTS_WITH_IDS
        if getattr(before, name) is not getattr(after, name)
        for old, new in [(before.index[name], after.index[name])]
        for id_ in dict.fromkeys((*old, *new))
        if old.get(id_) != new.get(id_)
    ]
    for name in ("name", "started", "frame_origin", "owner"):
        was, now = getattr(before, name), getattr(after, name)
        if was != now:
            found.append(Change("build", name, _data(now), _data(was)))
    return tuple(found)


def _data(noun: Any) -> Any:
    dump = getattr(noun, "model_dump", None)
    return noun if dump is None else dump(mode="json", exclude_defaults=True)


def put(build: Build, list_name: str, noun: Any) -> Build:
    """The build with a noun in place of the one with its id, or at the end of its list."""
    return put_all(build, list_name, {noun.id: noun})


def put_all(build: Build, list_name: str, nouns: Mapping[str, Any]) -> Build:
    """The build with several nouns of one list put in."""
    held = {**build.index[list_name], **nouns}
    return build.model_copy(update={list_name: tuple(held.values())})


def without(build: Build, list_name: str, id_: str) -> Build:
    """The build without a noun."""
    kept = tuple(noun for noun in getattr(build, list_name) if noun.id != id_)
    return build.model_copy(update={list_name: kept})


def fresh_id(build: Build, list_name: str, words: str) -> str:
    """An id made from words that no noun of the list has.

    Examples
    --------
    >>> fresh_id(Build(), "parts", "Brake hose, front")
    'brake-hose-front'
    """
    letters = "".join(c if c.isascii() and c.isalnum() else " " for c in words.casefold())
    stem = "-".join(letters.split())[:70].strip("-") or list_name.rstrip("s")
    taken, id_, count = build.index[list_name], stem, 1
    while id_ in taken:
        count += 1
        id_ = f"{stem}-{count}"
    return id_
