"""The three questions of an evening, each answered where it stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money, offer_contents
from ..build.commerce import Enquiry, FreightTerms, Offer, ReturnTerms, Route, Supplier
from ..build.money import Currency
from ..build.owner import SeasonHours
from ..build.parts import Phase
from ..plan import Plan
from ..plan.sentences import phases_asked
from .ask import Ask, Asked
from .desk import Edit, View, fresh_id, put, put_all
from .form import Form, made
from .words import RETURN_ENDS

router = APIRouter()
ANSWERED: Final = "answered"
AN_EVENING: Final = 3
PHASES_AT_ONCE: Final = 8
WINTER: Final = (11, 12, 1, 2)
ORIGIN_TAX: Final = (
    ("charged", "No, the price keeps it", ""),
    ("taken-off", "Yes, they export and take it off", ""),
    ("refund", "It is paid, and can be claimed back", ""),
    ("none", "Their prices carry no tax", ""),
)


@dataclass(frozen=True, slots=True)
class Asking:
    """A question with what its form needs.

    Parameters
    ----------
    kind, about : the two halves of the question's key; the form is chosen by kind
    currency : of amounts typed in
    options : what there is to pick from, as value, words and a finer line
    parts : id and name of the parts it is about
    """

    kind: str
    about: str
    text: str
    why: str
    currency: str
    options: tuple[tuple[str, str, str], ...] = ()
    chosen: str = ""
    parts: tuple[tuple[str, str], ...] = ()
    others: int = 0

    @property
    def key(self) -> str:
        """Names its form."""
        return f"{self.kind}-{self.about}".strip("-")


def asking(view: View, plan: Plan) -> tuple[Asking, ...]:
    """The plan's questions that are still open."""
    found = [_asking(view, plan, question.key, question.text, question.why) for question in plan.questions]
    return tuple(item for item in found if item is not None)


def enough_for_today(cookie: str, today: date) -> bool:
    """Whether the questions of an evening were answered already."""
    day, _, count = cookie.partition(" ")
    return day == today.isoformat() and count.isdigit() and int(count) >= AN_EVENING


def _asking(view: View, plan: Plan, key: str, text: str, why: str) -> Asking | None:
    kind, _, about = key.partition(":")
    build, home = view.build, view.currency
    match kind:
        case "hours-per-week" | "week-delay-cost" | "hour-worth" | "cash-per-month" | "hours-left":
            field = kind.replace("-", "_")
            return Asking(kind, "", text, why, home) if getattr(build.owner, field) is None else None
        case "lead" | "returns":
            return _about_offer(build, kind, about, text, why)
        case "freight":
            return _about_freight(build, about, text, why)
        case "phases":
            parts = undated_parts(build, plan)
            text = phases_asked([name for _, name in parts])  # some may have been answered since the plan
            return Asking(kind, "", text, why, home, parts=parts[:PHASES_AT_ONCE]) if parts else None
        case "offer":
            return _about_part(build, about, text, why, home)
        case "leading":
            return _about_decision(build, about, text, why, home)
        case "interfaces":
            return None if build.interfaces else Asking(kind, "", text, why, home)
        case "origin-tax":
            supplier = build.index["suppliers"].get(about)
            open_ = supplier is not None and supplier.origin_tax is None
            return Asking(kind, about, text, why, home, ORIGIN_TAX) if open_ else None
        case "heading":
            parts = unheaded_parts(build, about)
            return Asking(kind, about, text, why, home, parts=parts) if parts else None
        case _ if about in build.index["suppliers"]:
            told = any(text in enquiry.questions and enquiry.answer for enquiry in build.enquiries)
            return None if told else Asking("told", about, text, why, home)
        case _:
            return None


def _about_offer(build: Build, kind: str, about: str, text: str, why: str) -> Asking | None:
    offer: Offer | None = build.index["offers"].get(about)
    if offer is None or (offer.lead_weeks if kind == "lead" else offer.returns) is not None:
        return None
    others = sum(each.id != about for each in _alike(build, offer, kind))
    return Asking(kind, about, text, why, offer.price.currency, others=others)


def _alike(build: Build, offer: Offer, kind: str) -> list[Offer]:
    """Offers of the same supplier that leave the same thing open."""
    return [
        each
        for each in build.offers
        if each.supplier == offer.supplier and (each.lead_weeks if kind == "lead" else each.returns) is None
    ]


def _about_freight(build: Build, about: str, text: str, why: str) -> Asking | None:
    supplier: Supplier | None = build.index["suppliers"].get(about)
    if supplier is None or supplier.freight:
        return None
    options = [(route.id, route.name, "") for route in build.routes if route.from_country == supplier.country]
    return Asking(
        "freight", about, text, why, supplier.currency, (*options, ("", f"By parcel from {supplier.country}", ""))
    )


def _about_part(build: Build, about: str, text: str, why: str, home: str) -> Asking | None:
    if about not in build.index["parts"] or any(about in offer_contents(build, offer) for offer in build.offers):
        return None
    options = tuple((supplier.id, supplier.name, supplier.country) for supplier in build.suppliers)
    return Asking("offer", about, text, why, home, options)


def _about_decision(build: Build, about: str, text: str, why: str, home: str) -> Asking | None:
    decision = build.index["decisions"].get(about)
    if decision is None or decision.leading or decision.chosen:
        return None
    return Asking(
        "leading", about, text, why, home, tuple((option.id, option.name, option.note) for option in decision.options)
    )


def unheaded_parts(build: Build, supplier: str) -> tuple[tuple[str, str], ...]:
    """Parts a supplier sells whose tariff heading is not known."""
    sold = {
        part for offer in build.offers if offer.supplier == supplier for part in offer_contents(build, offer)
    }  # fmt: skip
    found = [(part.id, part.name) for part in build.parts if part.id in sold and part.heading is None]
    return tuple(found[:PHASES_AT_ONCE])


def undated_parts(build: Build, plan: Plan) -> tuple[tuple[str, str], ...]:
    """Parts that name no phase and that no job names, the dearest first."""
    named = {part for job in build.jobs for part in (*job.to_try, *job.to_keep)}
    cost = {
        part: line.landed
        for line in plan.purchase.lines
        if line.offer in build.index["offers"]
        for part in offer_contents(build, build.find("offers", line.offer))
    }
    found = [part for part in build.parts if part.phase is None and part.id not in named]
    found.sort(key=lambda part: (-cost.get(part.id, 0.0), part.name))
    return tuple((part.id, part.name) for part in found)


# answers


def answer(build: Build, kind: str, about: str, form: Form) -> Build:
    """The build with a question answered."""
    return _ANSWERS[kind](build, about, form)


def _hours(build: Build, _about: str, form: Form) -> Build:
    usual, winter = form.number("hours", at_least=0, at_most=168), form.maybe_number("winter", at_least=0, at_most=168)
    seasons = build.owner.seasons if winter is None else (SeasonHours(months=WINTER, hours=winter),)
    return _owner(build, hours_per_week=usual, seasons=seasons)


def _hours_left(build: Build, _about: str, form: Form) -> Build:
    hours = form.number("hours", at_least=0.5)
    return build if form.problems else _owner(build, hours_left=hours)


def _origin_tax(build: Build, about: str, form: Form) -> Build:
    known = form.choice("tax", [value for value, _, _ in ORIGIN_TAX])
    supplier = build.find("suppliers", about)
    return put(build, "suppliers", supplier.model_copy(update={"origin_tax": known})) if known else build


def _headings(build: Build, about: str, form: Form) -> Build:
    found = {}
    for part, _ in unheaded_parts(build, about):
        digits = form.text(f"heading-{part}").replace(" ", "").replace(".", "")
        if digits and not (digits.isdigit() and len(digits) in (4, 6, 8, 10)):
            form.refuse(f"heading-{part}", "not a tariff heading", digits, "Give 4, 6, 8 or 10 digits.")
        elif digits:
            found[part] = build.find("parts", part).model_copy(update={"heading": digits})
    if not found and not form.problems:
        form.refuse("form", "nothing was filled in", do="Give the heading of at least one.")
    return put_all(build, "parts", found)


def _told(build: Build, about: str, form: Form) -> Build:
    said, text = form.required("answer", "Write what they said."), form.text("question")
    if form.problems or not text:
        return build
    id_ = fresh_id(build, "enquiries", f"{about} {text}"[:60])
    return put(build, "enquiries", made(Enquiry, id=id_, supplier=about, questions=(text,), answer=said))


def _week_delay(build: Build, _about: str, form: Form) -> Build:
    return _owner(build, week_delay_cost=_decimal(form, "amount"))


def _hour_worth(build: Build, _about: str, form: Form) -> Build:
    return _owner(build, hour_worth=_decimal(form, "amount"))


def _cash(build: Build, _about: str, form: Form) -> Build:
    in_hand = form.maybe_number("now", at_least=0)
    cash_now = build.owner.cash_now if in_hand is None else Money.of(in_hand, "EUR").amount
    return _owner(build, cash_per_month=_decimal(form, "month"), cash_now=cash_now)


def _decimal(form: Form, name: str) -> object:
    return Money.of(form.number(name, at_least=0), "EUR").amount


def _owner(build: Build, **fields: object) -> Build:
    return build.model_copy(update={"owner": build.owner.model_copy(update=fields)})


def _lead(build: Build, about: str, form: Form) -> Build:
    lead = form.three_point("lead")
    if lead is None and not form.problems:
        form.refuse("lead-likely", "nothing was filled in", do="Give weeks.")
    return _offers(build, about, "lead", form, lead_weeks=lead)


def _returns(build: Build, about: str, form: Form) -> Build:
    days, fee = form.number("days", at_least=0, at_most=3650), form.maybe_number("fee", at_least=0, at_most=100)
    ends = [end for end in form.every("ends") if end in RETURN_ENDS]
    terms = made(ReturnTerms, days=int(days), ended_by=tuple(ends), restocking_percent=fee or 0)
    return _offers(build, about, "returns", form, returns=terms)


def _offers(build: Build, about: str, kind: str, form: Form, **fields: object) -> Build:
    offer = build.find("offers", about)
    meant = _alike(build, offer, kind) if form.ticked("all") else [offer]
    return put_all(build, "offers", {each.id: each.model_copy(update=fields) for each in meant})


def _freight(build: Build, about: str, form: Form) -> Build:
    supplier: Supplier = build.find("suppliers", about)
    cost, free = form.money("cost", supplier.currency), form.money("free", supplier.currency)
    if cost is None:
        form.refuse("cost", "nothing was filled in", do="Give an amount; 0 if it is sent free.")
        return build
    route = form.text("route")
    if not route:
        new = Route(
            id=fresh_id(build, "routes", f"parcel {supplier.country}"),
            name=f"Parcel from {supplier.country}",
            kind="courier",
            from_country=supplier.country,
        )
        build, route = put(build, "routes", new), new.id
    terms = FreightTerms(route=route, fixed=cost, free_from=free)
    return put(build, "suppliers", supplier.model_copy(update={"freight": (terms,)}))


def _phases(build: Build, _about: str, form: Form) -> Build:
    chosen = {part.id: form.text(f"phase-{part.id}") for part in build.parts}
    named = {part: Phase(word) for part, word in chosen.items() if word in list(Phase)}
    if not named:
        form.refuse("form", "no phase is chosen", do="Choose one for at least one part.")
    return put_all(
        build, "parts", {id_: build.find("parts", id_).model_copy(update={"phase": p}) for id_, p in named.items()}
    )


def _offer(build: Build, about: str, form: Form) -> Build:
    name = form.required("supplier")
    known = {supplier.name.casefold(): supplier for supplier in build.suppliers}
    supplier = known.get(name.casefold())
    currency: Currency = form.text("currency", supplier.currency if supplier else build.owner.currency).upper()
    price = form.number("price", at_least=0)
    if form.problems:
        return build
    if supplier is None:
        country = form.text("country", build.owner.country).upper()
        id_ = fresh_id(build, "suppliers", name)
        supplier = made(Supplier, id=id_, name=name, country=country, currency=currency)
        build = put(build, "suppliers", supplier)
    new = made(
        Offer,
        id=fresh_id(build, "offers", f"{supplier.id} {about}"),
        supplier=supplier.id,
        part=about,
        price={"amount": str(price), "currency": currency},
        lead_weeks=form.three_point("lead"),
    )
    return put(build, "offers", new)


def _leading(build: Build, about: str, form: Form) -> Build:
    decision = build.find("decisions", about)
    option = form.choice("option", [option.id for option in decision.options])
    return put(build, "decisions", decision.model_copy(update={"leading": option})) if option else build


_ANSWERS: dict[str, Callable[[Build, str, Form], Build]] = {
    "hours-per-week": _hours,
    "week-delay-cost": _week_delay,
    "hour-worth": _hour_worth,
    "cash-per-month": _cash,
    "hours-left": _hours_left,
    "origin-tax": _origin_tax,
    "heading": _headings,
    "told": _told,
    "lead": _lead,
    "returns": _returns,
    "freight": _freight,
    "phases": _phases,
    "offer": _offer,
    "leading": _leading,
}
_ABOUT = {
    **dict.fromkeys(("origin-tax", "heading", "told", "freight"), "suppliers"),
    **dict.fromkeys(("lead", "returns"), "offers"),
    "offer": "parts",
    "leading": "decisions",
}


@router.post("/questions/{kind}")
def take(kind: str, ask: Asked) -> Response:
    """An answer."""
    return _take(ask, kind, "")


@router.post("/questions/{kind}/{about}")
def take_about(kind: str, about: str, ask: Asked) -> Response:
    """An answer about one thing."""
    return _take(ask, kind, about)


def _take(ask: Ask, kind: str, about: str) -> Response:
    from .week import show_week

    if kind not in _ANSWERS or (kind in _ABOUT) != bool(about):
        kind = ask.find("nothing", kind)
    if kind in _ABOUT:
        ask.find(_ABOUT[kind], about)
    edit: Edit = lambda build: answer(build, kind, about, ask.form)  # noqa: E731
    response = ask.write(edit, message=f"answered: {kind.replace('-', ' ')}", back="/#questions", again=show_week)
    if response.status_code == 303:
        day, _, count = ask.request.cookies.get(ANSWERED, "").partition(" ")
        today = ask.today.isoformat()
        so_far = int(count) if day == today and count.isdigit() else 0
        response.set_cookie(ANSWERED, f"{today} {so_far + 1}", samesite="strict", httponly=True)
    return response
