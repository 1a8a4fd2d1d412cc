"""Five evenings before any part has come: my list, the first plan, what to measure, a decision, the first order.

One build that lives on from evening to evening, on the phone and on the desk; evenings six to ten are lived in
`test_evenings_with_the_parts`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from evenings import WORKED_OUT_MS, Evenings, evenings, fill
from PIL import Image
from playwright.sync_api import Browser, Locator, expect
from serving import PHONE_FIRST, assert_accessible, assert_nothing_is_cut

from fishplate.build import Build, Money
from fishplate.build.events import Order, Payment
from fishplate.build.parts import Phase

pytestmark = pytest.mark.browser

# As such lists are: headings of one's own, last year's price beside the firm one, an l for a 1, a sum at the end.
LIST = """What it needs;Off;Lister;Firm price;Price;Currency;Comes in;Remarks
BRAKES AND CORNERS;;;;;;;
Front calipers and brackets;2;Veerhoek Remmen;168,00;185,00;EUR;3 weeks;four pistons
Front discs;2;Veerhoek Remmen;71,50;79,00;EUR;1 week;vented
Front brake pads;1 set;Veerhoek Remmen;46,00;49,50;EUR;1 week;
Springs;4;Kettlewharf Springs;68,00;72,00;GBP;5 weeks;
Dampers;4;Kettlewharf Springs;l19,00;129,00;GBP;6 weeks;
WHEELS;;;;;;;
Wheels 16 x 6,5;4;Tidegate Wheelworks;176,00;189,00;GBP;9-12 weeks;made to our offset
Tyres 215/70 R 16;4;Polderband Banden;104,00;112,00;EUR;1 week;
Total;;;;;;;
"""
LARGER, WHY = "Larger set with four pistons", "Four pistons were on the list from the start."


@pytest.fixture(params=PHONE_FIRST)
def sitting(browser: Browser, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Evenings]:
    """A build with nothing in it, on the first evening."""
    with evenings(browser, tmp_path, request.param, Build(name="Van"), day=date(2026, 11, 16)) as found:
        yield found


def test_evenings_from_my_list_to_the_first_order(sitting: Evenings, tmp_path: Path) -> None:
    bring_in_my_list(sitting, tmp_path)
    sitting.day = date(2026, 11, 18)
    answer_three_questions(sitting)
    sitting.day = date(2026, 11, 20)
    measure_what_tells_most(sitting, tmp_path)
    sitting.day = date(2026, 11, 24)
    decide_on_the_brakes(sitting)
    sitting.day = date(2026, 11, 26)
    order_with_a_deposit(sitting)


def bring_in_my_list(sitting: Evenings, folder: Path) -> None:
    """Evening 1: columns put right, a row mended, all of it in the build and priced at the door."""
    (folder / "list.csv").write_text(LIST, encoding="utf-8")
    sitting.opens("/")
    assert_accessible(sitting.page)
    sitting.sends("See what it would do", {"Your list": folder / "list.csv", "The build is called": "Road van"})
    sitting.reads("What list.csv would do", "Nothing is written yet")
    reading = sitting.unfolds("How it was read")
    for header, use in {
        "Lister": "seller",
        "Comes in": "lead time",
        "Firm price": "price",
        "Price": "leave it out",
    }.items():
        fill(reading, header, use)
    reading.get_by_role("button", name="Read it again so").click()
    sitting.reads("1 that can't be read", "Not an amount (“l19,00”)")
    assert_accessible(sitting.page)
    sitting.sends("Read it again, mended", {"Dampers, column D (Firm price)": "119,00"})
    sitting.reads("7 new", "4 × 119.00 GBP, Kettlewharf Springs, lead time 6 weeks")
    assert_nothing_is_cut(sitting.page)
    assert sitting.build.parts == ()

    sitting.sends("Take it in")
    sitting.is_told("Written: imported list.csv")
    assert sitting.build.name == "Road van"
    prices = {offer.part: (offer.supplier, offer.price) for offer in sitting.build.offers}
    assert len(sitting.build.parts) == len(prices) == 7
    assert prices["dampers"] == ("kettlewharf-springs", Money.of("119", "GBP"))
    assert prices["front-discs"] == ("veerhoek-remmen", Money.of("71.50", "EUR"))
    assert "79,00" not in sitting.build.find("parts", "front-discs").note

    plan = sitting.waits_for_the_plan()
    sitting.reads("Still to be bought", "With phases it says when to order.")
    assert plan.finish.p50 is None
    assert not plan.purchase.unmet


def answer_three_questions(sitting: Evenings) -> None:
    """Evening 2: each answer is in the build, and the plan has days where it had none."""
    sitting.opens("/")
    sitting.waits_for_the_plan()
    sitting.opens("/")
    phases = sitting.page.locator("form", has=sitting.page.locator("select[name^=phase-]"))
    for part in sitting.build.parts:
        fill(phases, part.name, "Assembly: to keep")
    phases.get_by_role("button", name="Answer").click()
    sitting.is_told("Written: answered: phases")
    assert {part.phase for part in sitting.build.parts} == {Phase.ASSEMBLY}
    sitting.waits_for_the_plan()

    sitting.opens("/")
    sitting.sends("Answer", {"All told, about": "160"}, within=sitting.page.locator("#questions"))
    sitting.is_told("Written: answered")
    sitting.sends("Answer", {"In a usual week": "8"}, within=asked(sitting, "In a usual week"))
    sitting.is_told("Written: answered")
    sitting.reads("Three answers are enough for an evening.")
    assert (sitting.build.owner.hours_left, sitting.build.owner.hours_per_week) == (160, 8)

    plan = sitting.waits_for_the_plan()
    sitting.opens("/")
    sitting.reads("An even chance that it is finished by", "Tidegate Wheelworks", "lead times")
    assert plan.finish.p50 is not None
    assert plan.actions
    assert_accessible(sitting.page)
    assert_nothing_is_cut(sitting.page)


def asked(sitting: Evenings, label: str) -> Locator:
    """The question that is answered in a field."""
    return sitting.page.locator("#questions li", has=sitting.page.get_by_label(label))


def measure_what_tells_most(sitting: Evenings, folder: Path) -> None:
    """Evening 3: the usual places come in; a reading with its instrument and photo settles one of them."""
    sitting.opens("/start/brakes-suspension-wheels")
    expect(sitting.page.get_by_role("button", name="Bring it in")).to_be_visible(timeout=WORKED_OUT_MS)
    own = "“Front calipers and brackets as chosen” is your “Front calipers and brackets”"
    sitting.reads("Yours stays as it is.", own, "“Wheels as chosen” is your “Wheels 16 x 6,5”")
    sitting.sends("Bring it in")
    sitting.reads("Brought in: Brakes, suspension and wheels")
    sitting.opens("/interfaces/disc-flange")
    sitting.reads("Not known; there is no reading of")

    sitting.opens("/measuring")
    sitting.reads("What to do together", "Measure “Disc, register bore” with the vernier caliper")
    sheet = sitting.form("Write it all down")
    for name, value in (
        ("Disc, register bore", "63,30"),
        ("Disc, depth of the hat", "46,2"),
        ("Flange face to backing plate", "50"),
    ):
        line = sheet.get_by_role("group", name=name)
        fill(line, "Value", value)
        fill(line, "Give or take", "0,02")
    expect(sheet.get_by_label("As it is marked", exact=True).first).to_be_visible()  # a thread has no unit
    sitting.sends("Write it all down")
    sitting.is_told("Written: measured 3 dimensions")

    sitting.opens("/interfaces/disc-flange")
    sitting.reads("Not known; there is no reading of “Flange, register diameter”")
    Image.new("RGB", (60, 40), "grey").save(folder / "flange.png")
    sitting.follows("Flange, register diameter")
    reading = {"Value": "63,20", "Give or take": "0,02", "Taken with": "caliper", "Photo": folder / "flange.png"}
    sitting.sends("Write it down", reading)
    sitting.is_told("Written: measured: Flange, register diameter")
    expect(sitting.page.locator("main > p strong").first).to_have_text("Fits", timeout=WORKED_OUT_MS)
    sitting.reads("whatever the dimensions within their limits", "not an approval")
    taken = sitting.build.readings[-1]
    assert (taken.dimension, taken.value, taken.instrument, taken.day) == (
        "flange_register",
        63.2,
        "caliper",
        sitting.day,
    )
    assert taken.photo is not None
    assert_nothing_is_cut(sitting.page)


def decide_on_the_brakes(sitting: Evenings) -> None:
    """Evening 4: what matters is asked; what the choice loosens is seen before it is made; its reason stays."""
    sitting.opens("/decisions")
    sitting.waits_for_the_plan()
    sitting.opens("/decisions")
    sitting.follows("Brake discs and calipers")
    sitting.follows("Say what matters most here")
    sitting.reads("Which of these steps matters most to you?")
    places = (
        ("Pleasure to use and look at", "matters most"), ("Lasts, and can be mended", "comes next"),
        ("Easily approved for the road", "comes third"), ("Spares money", "comes 4th"),
    )  # fmt: skip
    for name, place in places:
        fill(sitting.page.get_by_role("group", name=name), "This step", place)
    sitting.sends("Write it down")
    sitting.is_told("Written")
    sitting.reads("comes out best on average", "What would change the choice")

    sitting.follows("See what", within=sitting.page.get_by_role("article", name=LARGER))
    sitting.reads(
        "It gives up “From a heavier model of the family”.", "What comes loose", "Jobs that no longer wait for it"
    )
    sitting.reads("checked on the vehicle before first use")
    assert sitting.build.find("decisions", "brake-size").chosen is None
    assert_nothing_is_cut(sitting.page)
    sitting.sends("Decide for it", {"Why, for later": WHY})
    sitting.is_told(f"Written: decided: Brake discs and calipers: {LARGER}")
    sitting.reads(f"Decided on 24 November 2026: {LARGER}. {WHY}")
    decision = sitting.build.find("decisions", "brake-size")
    assert (decision.option(decision.chosen or "").name, decision.why) == (LARGER, WHY)
    assert decision.chosen_on == sitting.day


def order_with_a_deposit(sitting: Evenings) -> None:
    """Evening 5: what is ready is ordered at the price they gave; the money says what is paid and what is owed."""
    sitting.opens("/buying")
    sitting.waits_for_the_plan()
    sitting.opens("/buying")
    consignment = sitting.page.locator(
        "section[aria-labelledby=to-order] .leads > li", has_text="Veerhoek Remmen"
    ).first
    sitting.unfolds("Order it, or see what it costs and why", within=consignment)
    form = sitting.form("Write the order down", within=consignment)
    fill(form.get_by_role("group", name="Front calipers and brackets"), "Price of one", "165,00")
    terms = {"Freight they ask": "12,00", "Deposit": "150", "the deposit": True}
    sitting.sends("Write the order down", terms, within=consignment)
    sitting.is_told("Written: ordered from Veerhoek Remmen")
    # 2 x 165.00 + 2 x 71.50 + 46.00 + 12.00 of freight, less 150.00
    order = next(event for event in sitting.build.events if isinstance(event, Order))
    assert {line.offer.split("-veerhoek")[0] for line in order.lines} == {
        "front-calipers-and-brackets", "front-discs", "front-brake-pads"}  # fmt: skip
    (payment,) = (event for event in sitting.build.events if isinstance(event, Payment))
    assert (payment.order, payment.amount) == (order.id, Money.of(150, "EUR"))
    sitting.reads("531.00 EUR, of which 381.00 EUR is still to be paid.")
    assert_nothing_is_cut(sitting.page)

    sitting.opens("/money")
    rows = sitting.page.get_by_role("row")
    expect(rows.filter(has_text="payments less what came back")).to_contain_text("150.00")
    expect(rows.filter(has_text="what orders still cost")).to_contain_text("381.00")
    sitting.reads("Veerhoek Remmen")
