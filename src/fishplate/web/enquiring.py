"""Asking a supplier: the sheet to copy or print, and what came back as terms, dimensions and a word that it fits."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.commerce import Enquiry, FitConfirmation, Offer, ReturnTerms, Sighting, Supplier
from ..build.interfaces import Dimension, Provenance, Reading
from ..build.parts import Part
from ..plan.enquiries import EnquirySheet, enquiry_sheet
from .ask import Ask, Asked
from .asked_goods import TAXES
from .desk import View, fresh_id, put
from .form import Form, made
from .order_edits import not_after
from .part_goods import read_box, read_heading, read_origin
from .whole_system import system_path
from .words import RETURN_ENDS, STARTS, day

router = APIRouter()


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """An offer that was asked about, and what of it was asked beside its price and terms."""

    offer: str
    name: str
    currency: str
    fits: bool
    core: bool
    mass: bool
    origin: bool


@dataclass(frozen=True, slots=True)
class EnquiryPage:
    """A sheet and what there is to answer.

    Parameters
    ----------
    path : of the page; others : other suppliers with something to ask, as (name, path)
    systems : areas it has something of, and the page that compares all of it from one with pieces
    dimensions : id, name and unit of what was asked for; designations : id and name of those that take one
    tax : whether it was asked what becomes of its own tax; freight : its page, where it was asked what freight costs
    earlier : enquiries sent before, in words
    """

    path: str
    sheet: EnquirySheet
    lines: tuple[AnswerLine, ...]
    dimensions: tuple[tuple[str, str, str], ...]
    designations: tuple[tuple[str, str], ...]
    tax: bool
    freight: str
    earlier: tuple[str, ...]
    systems: tuple[tuple[str, str], ...]
    others: tuple[tuple[str, str], ...]
    taxes: tuple[tuple[str, str], ...] = TAXES
    starts: tuple[tuple[str, str], ...] = (("", "not said"), *STARTS)


def path_of(supplier: str) -> str:
    """Address of a supplier's sheet."""
    return f"/buying/enquiries/{quote(supplier, safe='')}"


def enquiry_page(view: View, supplier: Supplier) -> EnquiryPage:
    """The page of one supplier."""
    build = view.build
    sheet = enquiry_sheet(build, view.facts, supplier.id)
    wanted = [item for _, items in sheet.systems for item in items]
    about = {question.about: set(question.offers) for question in sheet.questions if question.about != "dimension"}
    names = [name for question in sheet.questions for name in question.dimensions]
    asked: list[Dimension] = [build.find("dimensions", name) for name in names]
    return EnquiryPage(
        path=path_of(supplier.id),
        sheet=sheet,
        lines=tuple(
            AnswerLine(
                item.offer,
                item.name,
                build.find("offers", item.offer).price.currency,
                *(item.offer in about.get(kind, ()) for kind in ("fits", "core")),
                *(_alone(build, item.offer) and item.offer in about.get(kind, ()) for kind in ("mass", "origin")),
            )
            for item in wanted
        ),
        dimensions=tuple((item.id, item.name, item.unit) for item in asked if item.designates is None),
        designations=tuple((item.id, item.name) for item in asked if item.designates is not None),
        tax="origin-tax" in about,
        freight=f"/buying/suppliers/{quote(supplier.id, safe='')}" if "freight" in about else "",
        earlier=tuple(_earlier(item) for item in build.enquiries if item.supplier == supplier.id),
        systems=tuple((item.name, system_path(item.id)) for item in build.systems if item.name in dict(sheet.systems)),
        others=tuple((item.name, path_of(item.id)) for item in build.suppliers if item.id != supplier.id),
    )


def _alone(build: Build, offer: str) -> bool:
    """Whether an offer is of one part, and not of a kit."""
    return build.find("offers", offer).part is not None


def _earlier(item: Enquiry) -> str:
    sent = f"Sent on {day(item.sent)}" if item.sent else "Not sent"
    return f"{sent}; answered on {day(item.answered)}." if item.answered else f"{sent}; no answer is written down."


# changes


def sent_to(view: View, build: Build, supplier: Supplier, form: Form) -> Build:
    """The build with a sheet sent."""
    not_after(form, form.day("day", view.as_of), view.as_of)
    sheet = enquiry_sheet(build, view.facts, supplier.id)
    offers = tuple(item.offer for _, items in sheet.systems for item in items)
    when = form.day("day", view.as_of)
    questions = tuple(question.text[:400] for question in sheet.questions)
    id_ = fresh_id(build, "enquiries", f"asked {supplier.id} {when.isoformat()}")
    asked = made(Enquiry, id=id_, supplier=supplier.id, sent=when, questions=questions, offers=offers)
    return put(build, "enquiries", asked)


def answered(view: View, build: Build, supplier: Supplier, form: Form) -> Build:
    """The build with what a supplier answered, as terms of its offers, readings, and its word that they fit."""
    not_after(form, form.day("day", view.as_of), view.as_of)
    page, words = enquiry_page(view, supplier), []
    for line in page.lines:
        offer: Offer = build.find("offers", line.offer)
        told = _with_terms(offer, form)
        build = _regular_price_kept(put(build, "offers", told), offer, told)
        if offer.part is not None:
            build = put(build, "parts", _with_goods(build.find("parts", offer.part), offer.id, form))
        if form.text(f"fits-{line.offer}") in ("yes", "yes-back"):
            back = form.text(f"fits-{line.offer}") == "yes-back"
            words.append(FitConfirmation(offer=line.offer, day=form.day("day", view.as_of), takes_back=back))
    for id_, _, _ in page.dimensions:
        value, spread = form.maybe_number(f"value-{id_}"), form.maybe_number(f"spread-{id_}", at_least=0)
        if value is not None and not form.problems:
            reading = made(Reading, id=fresh_id(build, "readings", f"{supplier.id} {id_}"), dimension=id_, value=value,
                           spread=spread, provenance=Provenance.SUPPLIER, day=form.day("day", view.as_of))  # fmt: skip
            build = put(build, "readings", reading)
    for id_, _ in page.designations:
        if (marked := form.text(f"value-{id_}")) and not form.problems:
            new, when = fresh_id(build, "readings", f"{supplier.id} {id_}"), form.day("day", view.as_of)
            by = Provenance.SUPPLIER
            reading = made(Reading, id=new, dimension=id_, designation=marked, provenance=by, day=when)
            build = put(build, "readings", reading)
    if form.text("tax") in {value for value, _ in TAXES if value}:
        seller = build.find("suppliers", supplier.id)
        build = put(build, "suppliers", seller.model_copy(update={"origin_tax": form.text("tax")}))
    claim_days = form.maybe_number("claim-days", at_least=0, at_most=3650)
    if claim_days is not None:
        seller = build.find("suppliers", supplier.id)
        build = put(build, "suppliers", seller.model_copy(update={"claim_days": round(claim_days)}))
    return build if form.problems else _noted(view, build, supplier, form, page, tuple(words))


def _noted(
    view: View, build: Build, supplier: Supplier, form: Form, page: EnquiryPage, words: tuple[FitConfirmation, ...]
) -> Build:
    """The last open enquiry with its answer, or a new one where none was written down."""
    when, text = form.day("day", view.as_of), form.text("answer")
    open_ = [item for item in build.enquiries if item.supplier == supplier.id and item.answered is None]
    id_ = fresh_id(build, "enquiries", f"asked {supplier.id} {when.isoformat()}")
    last = (
        open_[-1] if open_ else Enquiry(id=id_, supplier=supplier.id, offers=tuple(line.offer for line in page.lines))
    )
    told = {"answered": when, "answer": text, "confirmations": (*last.confirmations, *words)}
    return put(build, "enquiries", last.model_copy(update=told))


def _regular_price_kept(build: Build, before: Offer, after: Offer) -> Build:
    """The build with the regular price noted as seen, where a quote has taken its place in the offer."""
    if after.price == before.price or after.price_until is None or after.seen is None:
        return build
    day = before.seen or after.seen
    if any(item.offer == before.id and item.day == day and not item.sale for item in build.sightings):
        return build
    seen = Sighting(offer=before.id, day=day, price=before.price, note="the regular price before their quote")
    return build.model_copy(update={"sightings": (*build.sightings, seen)})


def _with_goods(part: Part, stem: str, form: Form) -> Part:
    """A part with what its packing weighs and measures, and where it was made, as far as it was filled in."""
    mass, box = form.maybe_number(f"mass-{stem}", at_least=0), read_box(form, f"-{stem}")
    origin, heading = read_origin(form, f"-{stem}"), read_heading(form, f"-{stem}")
    said = {"mass_kg": mass, "box_mm": box, "origin": origin, "heading": heading}
    found = {name: value for name, value in said.items() if value is not None}
    return made(Part, **{**part.model_dump(), **found}) if found and not form.problems else part


def _with_terms(offer: Offer, form: Form) -> Offer:
    """An offer with what was filled in for it."""
    stem = offer.id
    price, until = form.money(f"price-{stem}", offer.price.currency), form.maybe_day(f"until-{stem}")
    lead, days = form.three_point(f"lead-{stem}"), form.maybe_number(f"returns-{stem}", at_least=0, at_most=3650)
    months = form.maybe_number(f"warranty-{stem}", at_least=0, at_most=1200)
    found: dict[str, object] = {}
    if price is not None:
        found |= {"price": price, "seen": form.maybe_day("day") or offer.seen}
    if until is not None:
        found["price_until"] = until
    if lead is not None:
        found["lead_weeks"] = lead
    fee = form.maybe_number(f"restocking-{stem}", at_least=0, at_most=100)
    ends = tuple(end for end in RETURN_ENDS if end in form.every(f"ends-{stem}"))
    if days is not None:
        told = {"ended_by": ends} if ends else {}
        terms = offer.returns or ReturnTerms(days=0)
        found["returns"] = terms.model_copy(
            update={"days": round(days), **told, **({} if fee is None else {"restocking_percent": fee})}
        )
    elif (fee or ends) and not form.problems:
        form.refuse(
            f"returns-{stem}", "nothing was filled in", do="Give within how many days; 0 if it can't come back."
        )
    core_days = form.maybe_number(f"core-days-{stem}", at_least=0, at_most=3650)
    if core_days is not None:
        found["core_days"] = round(core_days)
    if form.text(f"warranty-from-{stem}") in {value for value, _ in STARTS}:
        found["warranty_from"] = form.text(f"warranty-from-{stem}")
    if months is not None:
        found["warranty_months"] = round(months)
    if form.text(f"tax-{stem}") in ("yes", "no"):
        found["tax_included"] = form.text(f"tax-{stem}") == "yes"
    return made(Offer, **{**offer.model_dump(), **found}) if found and not form.problems else offer


# routes


def show_enquiry(ask: Ask, supplier: str) -> Response:
    """The page of one supplier."""
    page = enquiry_page(ask.view, ask.find("suppliers", supplier))
    return ask.show("enquiry.html", page, title=f"Ask {page.sheet.name}")


@router.get("/buying/enquiries/{supplier}")
def show(supplier: str, ask: Asked) -> Response:
    """One sheet."""
    return show_enquiry(ask, supplier)


@router.get("/buying/enquiries/{supplier}/text")
def show_text(supplier: str, ask: Asked) -> Response:
    """One sheet as plain text."""
    text = enquiry_sheet(ask.view.build, ask.view.facts, ask.find("suppliers", supplier).id).text
    return Response(ask.told(text), media_type="text/plain; charset=utf-8")


@router.post("/buying/enquiries/{supplier}/sent")
def take_sent(supplier: str, ask: Asked) -> Response:
    """A sheet was sent, by the owner."""
    seller, view = ask.find("suppliers", supplier), ask.view
    return ask.write(lambda build: sent_to(view, build, seller, ask.form), message=f"asked {seller.name}",
                     back=path_of(supplier), again=lambda ask: show_enquiry(ask, supplier))  # fmt: skip


@router.post("/buying/enquiries/{supplier}/answered")
def take_answer(supplier: str, ask: Asked) -> Response:
    """An answer has come."""
    seller, view = ask.find("suppliers", supplier), ask.view
    return ask.write(lambda build: answered(view, build, seller, ask.form), message=f"answer of {seller.name}",
                     back=path_of(supplier), again=lambda ask: show_enquiry(ask, supplier))  # fmt: skip
