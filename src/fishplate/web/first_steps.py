"""The first evenings: where the owner is on the way from a list to a whole plan, and the one step that comes next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import offer_contents
from .ask import Ask, Asked
from .phasing import undated

if TYPE_CHECKING:
    from ..build.commerce import Offer
    from .desk import View

router = APIRouter()
AWAY: Final = "first-steps-away"
A_YEAR_SECONDS: Final = 365 * 24 * 3600
DEAREST: Final = 20
MOST_LEFT: Final = 0.1
SECONDS_A_TAP, MINUTES_A_PRICE, MINUTES_AN_OFFER, MINUTES_A_READING = 6, 2, 3, 10


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Parameters
    ----------
    evening : the evening it belongs to, from the first
    what : what to do; why : what it brings; do, path : the link to it
    minutes : how long it takes about, by our own estimate [min]; done : whether it is done, all but little of it
    starter : a starter can do it too, and is offered beside
    """

    evening: int
    what: str
    why: str
    do: str
    path: str
    minutes: int
    done: bool
    starter: bool = False

    @property
    def takes(self) -> str:
        """How long it takes, in words."""
        return f"About {self.minutes} minute{'' if self.minutes == 1 else 's'}"


@dataclass(frozen=True, slots=True)
class FirstSteps:
    """All steps; is_away : whether the next one is kept off the page of the week."""

    steps: tuple[Step, ...]
    is_away: bool = False

    @property
    def next(self) -> Step | None:
        """The first that is not done."""
        return next((step for step in self.steps if not step.done), None)

    @property
    def done(self) -> int:
        """How many are done."""
        return sum(step.done for step in self.steps)

    @property
    def evenings(self) -> tuple[tuple[str, tuple[Step, ...]], ...]:
        """The steps by evening, each with what it brings."""
        return tuple(
            (said, tuple(step for step in self.steps if step.evening == evening)) for evening, said in EVENINGS.items()
        )


EVENINGS: Final = {
    1: "Prices: what everything costs at your door",
    2: "Phases and hours: when to order what, and the money month by month",
    3: "Terms of the dearest: buy now or wait",
    4: "Places where parts meet: what to measure, what to decide",
}


def first_steps(view: View, *, is_away: bool = False) -> FirstSteps:
    """Where the owner is on the way in, from what the build says."""
    return FirstSteps(tuple(make(view) for make in _STEPS), is_away)


def _list(view: View) -> Step:
    return Step(
        1, "Bring the list you keep", "Nothing can be told before the build says what it needs. A name and a price "
        "in each row are enough, in any order of columns.", "Bring the list", "/import", 5,
        bool(view.build.parts or view.build.jobs), starter=True,
    )  # fmt: skip


def _prices(view: View) -> Step:
    build = view.build
    sold = {part for offer in build.offers for part in offer_contents(build, offer)}
    wanted = _missing(view)
    open_ = wanted - sold
    return Step(
        1, f"Put a price to the {len(open_)} parts that have none" if len(open_) > 1 else "Put a price to every part",
        "What has no price is missing from every sum. A rough price from anywhere is better than none.",
        "See what has none", "/buying#unsold", max(2, MINUTES_A_PRICE * len(open_)),
        bool(build.parts) and len(open_) <= MOST_LEFT * len(wanted),
    )  # fmt: skip


def _hours(view: View) -> Step:
    return Step(
        2, "Say how many hours a week you have", "It sets when each job can be done, and so when each part must be "
        "there. An honest small figure serves you better than a brave one.", "Say it", "/owner#form-owner", 1,
        view.build.owner.hours_per_week is not None,
    )  # fmt: skip


def _phases(view: View) -> Step:
    open_ = undated(view)
    return Step(
        2, f"Tap {len(open_)} parts into their phase" if len(open_) > 1 else "Tap each part into its phase",
        "Eight words, one tap a part. With it each part has a month to order it in; without it there are sums but "
        "no days.", "Begin tapping", "/parts/phases", max(1, ceil(len(open_) * SECONDS_A_TAP / 60)),
        bool(view.build.parts) and len(open_) <= MOST_LEFT * len(view.build.parts),
    )  # fmt: skip


def _delay(view: View) -> Step:
    return Step(
        2, "Say what a week of delay is worth to you", "Rent, a missed season, patience. Lateness is weighed against "
        "money by it; until you say, a figure of ours stands in.", "Say it", "/owner#form-owner", 2,
        view.build.owner.week_delay_cost is not None,
    )  # fmt: skip


def _terms(view: View) -> Step:
    dearest = _dearest(view)
    open_ = [offer for offer in dearest if offer.lead_weeks is None or offer.returns is None]
    path = f"/buying/offers/{quote(open_[0].id, safe='')}/terms" if open_ else "/buying/prices"
    count = f"the {len(open_)} dearest that lack them" if len(open_) > 1 else "the dearest parts"
    return Step(
        3, f"Look up lead time and return right of {count}", "Most of the money is in few rows. With these you are "
        "told whether to buy or wait, the price to stop waiting at, and until when you can change your mind.",
        "Begin with the dearest", path, max(3, MINUTES_AN_OFFER * len(open_)),
        bool(dearest) and len(open_) <= MOST_LEFT * len(dearest),
    )  # fmt: skip


def _missing(view: View) -> set[str]:
    """Parts that are wanted and of which there are too few."""
    build, facts = view.build, view.facts
    return {part.id for part in build.parts if part.id in facts.wanted_parts and facts.missing(build, part.id) > 0}


def _dearest(view: View) -> list[Offer]:
    """The dearest offers of what is wanted and not here, the dearest first."""
    from ..wiring import situation

    build, missing = view.build, _missing(view)
    offers = [offer for offer in build.offers if missing & offer_contents(build, offer).keys()]
    rates = situation(build, view.as_of).to_home if len(offers) > DEAREST else {}
    worth = {offer.id: float(offer.price.amount) * rates.get(offer.price.currency, 1.0) for offer in offers}
    return sorted(offers, key=lambda offer: (-worth[offer.id], offer.id))[:DEAREST]


def _places(view: View) -> Step:
    has_systems = bool(view.build.systems or view.build.parts)
    return Step(
        4, "List the places where parts meet", "Most money is lost where two parts turn out not to go together. Each "
        "usual place brings the dimensions that decide it and how to take them.",
        "See which are usual" if has_systems else "Take a starter", "/interfaces/usual" if has_systems else "/start", 5,
        bool(view.build.interfaces), starter=has_systems,
    )  # fmt: skip


def _foundation(view: View) -> Step:
    sheet = [item.id for item in view.build.dimensions if item.foundation and not item.provision]
    read = {reading.dimension for reading in view.build.readings}
    open_ = [id_ for id_ in sheet if id_ not in read]
    return Step(
        4, "Measure the foundation sheet", "A few dimensions most else rests on: tyre, ride height, wheelbase, track. "
        "Taken once and well, they settle more than any other evening at the vehicle.",
        "Measure it" if sheet else "List it", "/measuring?foundation" if sheet else "/interfaces#foundation",
        max(10, MINUTES_A_READING * len(open_)), bool(sheet) and 2 * len(open_) <= len(sheet),
    )  # fmt: skip


def _decisions(view: View) -> Step:
    return Step(
        4, "Write down the choice that most else waits for", "What is not decided holds orders that can't go back. "
        "Named, with the ways it can go, it gets a day to decide by and you see what hangs on it.",
        "Write it down", "/decisions/new", 5, bool(view.build.decisions), starter=True,
    )  # fmt: skip


_STEPS: Final[tuple[Callable[[View], Step], ...]] = (
    _list, _prices, _hours, _phases, _delay, _terms, _places, _foundation, _decisions,
)  # fmt: skip


def steps_asked(ask: Ask) -> FirstSteps:
    """The steps as a request sees them: put away or not on this device."""
    return first_steps(ask.view, is_away=AWAY in ask.request.cookies)


# routes


@router.get("/first-steps")
def show(ask: Asked) -> Response:
    """All steps."""
    return ask.show("first_steps.html", steps_asked(ask), title="First evenings")


@router.post("/first-steps/away")
def put_away(ask: Asked) -> Response:
    """Keep the next step off the page of the week, on this device."""
    response = ask.leave("/")
    response.set_cookie(AWAY, "yes", samesite="strict", httponly=True, max_age=A_YEAR_SECONDS)
    return response


@router.post("/first-steps/back")
def call_back(ask: Asked) -> Response:
    """Show the next step on the page of the week again."""
    response = ask.leave("/")
    response.delete_cookie(AWAY, samesite="strict")
    return response
