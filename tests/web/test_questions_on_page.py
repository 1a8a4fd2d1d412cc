"""The three questions of an evening: each answer changes what the question was about, and no other."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build import Build, Money, Refused
from fishplate.build.commerce import Offer, Supplier
from fishplate.build.decisions import Decision, Option
from fishplate.build.parts import Part, Phase
from fishplate.plan import Plan, Question
from fishplate.web.form import Form
from fishplate.web.questions import answer, asking, enough_for_today
from fishplate.web.words import RETURN_ENDS


def bare() -> Build:
    """Three parts, two offers of one supplier that say nothing but a price, one decision."""
    return Build(
        parts=(Part(id="hub", name="Hub"), Part(id="disc", name="Disc"), Part(id="nut", name="Nut")),
        suppliers=(Supplier(id="s", name="Springs", country="GB", currency="GBP"),),
        offers=tuple(Offer(id=f"o-{p}", supplier="s", part=p, price=Money.of(40, "GBP")) for p in ("hub", "disc")),
        decisions=(Decision(id="d", name="Which", options=(Option(id="a", name="A"), Option(id="b", name="B"))),),
    )


def answered(kind: str, about: str = "", **typed: str) -> Build:
    """The bare build with a question answered."""
    form = Form({name.replace("__", "-"): [value] for name, value in typed.items()})
    result = answer(bare(), kind, about, form)
    if form.problems:
        raise Refused(form.problems)
    return result


def test_hours_by_season() -> None:
    owner = answered("hours-per-week", hours="6", winter="2,5").owner
    assert (owner.hours_per_week, owner.seasons[0].hours) == (6, 2.5)


def test_money_and_patience() -> None:
    assert answered("week-delay-cost", amount="80").owner.week_delay_cost == 80
    assert answered("hour-worth", amount="0").owner.hour_worth == 0
    assert answered("hours-left", hours="300").owner.hours_left == 300
    owner = answered("cash-per-month", month="400", now="1500").owner
    assert (owner.cash_per_month, owner.cash_now) == (400, 1500)


def test_a_lead_time_goes_to_its_offer_alone_unless_said_for_all() -> None:
    typed = {"lead__low": "1", "lead__likely": "2", "lead__high": "5"}
    one, all_ = answered("lead", "o-hub", **typed), answered("lead", "o-hub", all="yes", **typed)
    assert [offer.lead_weeks is not None for offer in one.offers] == [True, False]
    assert [offer.lead_weeks is not None for offer in all_.offers] == [True, True]


def test_one_figure_of_a_lead_time_is_enough() -> None:
    lead = answered("lead", "o-hub", lead__likely="3").offers[0].lead_weeks
    assert lead is not None
    assert (lead.low, lead.likely, lead.high) == (3, 3, 3)


def test_return_terms() -> None:
    returns = answered("returns", "o-hub", days="30", ends="bolted", fee="15").offers[0].returns
    assert returns is not None
    assert (returns.days, returns.ended_by, returns.restocking_percent) == (30, ("bolted",), 15)
    assert set(RETURN_ENDS) == {"opened", "offered-up", "bolted", "electrical", "altered"}


def test_freight_makes_a_way_home_where_there_is_none() -> None:
    build = answered("freight", "s", cost="18", free="250")
    assert build.routes[0].from_country == "GB"
    terms = build.suppliers[0].freight[0]
    assert (terms.route, str(terms.fixed), str(terms.free_from)) == (build.routes[0].id, "18.00 GBP", "250.00 GBP")


def test_phases_go_to_the_parts_that_were_given_one() -> None:
    build = answered("phases", phase__hub="mock-up")
    assert [part.phase for part in build.parts] == [Phase.MOCK_UP, None, None]


def test_an_offer_finds_its_supplier_by_name_or_makes_one() -> None:
    known = answered("offer", "nut", supplier="springs", price="3.50")
    assert (len(known.suppliers), known.offers[-1].supplier, str(known.offers[-1].price)) == (1, "s", "3.50 GBP")
    new = answered("offer", "nut", supplier="Nuts and more", price="3", currency="usd", country="us")
    assert (new.suppliers[-1].country, str(new.offers[-1].price)) == ("US", "3.00 USD")


def test_the_rest() -> None:
    assert answered("leading", "d", option="b").decisions[0].leading == "b"
    assert answered("origin-tax", "s", tax="taken-off").suppliers[0].origin_tax == "taken-off"
    assert answered("heading", "s", heading__hub="8708 70").parts[0].heading == "870870"
    told = answered("told", "s", question="Proof of origin?", answer="Yes, on the invoice.").enquiries[0]
    assert (told.supplier, told.answer) == ("s", "Yes, on the invoice.")


@pytest.mark.parametrize(
    ("kind", "about", "typed"),
    [
        ("hours-per-week", "", {"hours": "many"}),
        ("hours-per-week", "", {"hours": "500"}),
        ("week-delay-cost", "", {}),
        ("lead", "o-hub", {"lead__low": "5", "lead__likely": "2", "lead__high": "1"}),
        ("lead", "o-hub", {}),
        ("returns", "o-hub", {"days": "-1"}),
        ("freight", "s", {}),
        ("phases", "", {"phase__hub": "no such"}),
        ("offer", "nut", {"supplier": "", "price": "3"}),
        ("offer", "nut", {"supplier": "New", "price": "3", "currency": "QQQ"}),
        ("heading", "s", {"heading__hub": "12"}),
        ("leading", "d", {"option": "c"}),
        ("told", "s", {"question": "?", "answer": ""}),
    ],
)
def test_what_is_no_answer_is_refused(kind: str, about: str, typed: dict[str, str]) -> None:
    with pytest.raises(Refused):
        answered(kind, about, **typed)


def test_a_question_that_was_answered_since_the_plan_is_not_asked_again(client: TestClient, demo_plan: Plan) -> None:
    view = desk_of(client).view()
    owner = view.build.owner.model_copy(update={"hour_worth": None})
    open_ = replace(view, build=view.build.model_copy(update={"owner": owner}))
    plan = replace(demo_plan, questions=(Question("hour-worth", "What is an hour worth?", 10, "It weighs."),))
    assert [found.kind for found in asking(open_, plan)] == ["hour-worth"]
    assert view.build.owner.hour_worth is not None
    assert asking(view, plan) == ()


def test_three_answers_are_enough_for_an_evening(client: TestClient) -> None:
    today = desk_of(client).today()
    for count in range(3):
        assert not enough_for_today(client.cookies.get("answered", "").strip('"'), today)
        revision = str(desk_of(client).file.revision)
        data = {"revision": revision, "form": "x", "amount": str(20 + count)}
        assert client.post("/questions/hour-worth", data=data, follow_redirects=False).status_code == 303
    assert enough_for_today(client.cookies.get("answered", "").strip('"'), today)


@pytest.mark.parametrize(
    "path", ["/questions/nothing", "/questions/lead/no-such", "/questions/lead", "/questions/phases/x"]
)
def test_what_was_not_asked_is_not_here(client: TestClient, path: str) -> None:
    assert client.post(path, data={"revision": "1", "form": "x"}).status_code == 404


def test_a_question_answered_in_part_asks_for_the_rest_alone(client: TestClient, demo_plan: Plan) -> None:
    view = replace(desk_of(client).view(), build=answered("phases", phase__hub="assembly"))
    plan = replace(demo_plan, questions=(Question("phases", "Hub, Disc and Nut?", 10, "No phase, no day."),))
    (found,) = asking(view, plan)
    assert found.text == "In which phase do you need each of the 2 parts that name none: Disc and Nut?"
    assert [name for _, name in found.parts] == ["Disc", "Nut"]
