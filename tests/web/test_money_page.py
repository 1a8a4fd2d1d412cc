"""Money: the page model by itself, and what is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from door_builds import with_orders
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, Money, facts_of
from fishplate.build.commerce import RateQuote
from fishplate.build.events import Order, OrderLine, PartCount, Payment, Receipt
from fishplate.plan import Plan
from fishplate.plan.model import CashLine
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.amounts import to_home, with_original
from fishplate.web.desk import View
from fishplate.web.money import MoneyPage, money_page

TODAY = demo_as_of()


@pytest.fixture(scope="session")
def view(demo_plan: Plan) -> View:
    """The demo build with its plan, as the page sees it."""
    build = load_demo()
    return View(build, facts_of(build, TODAY), 1, TODAY, demo_plan)


def changed(view: View, **lists: Any) -> View:
    build: Build = view.build.model_copy(update=lists)
    return replace(view, build=build, facts=facts_of(build, view.as_of))


def with_events(view: View, *events: Any) -> View:
    return changed(view, events=(*view.build.events, *events))


def amount_of(words: str) -> float:
    return float(words.split()[0].replace(",", ""))


def standing(page: MoneyPage) -> dict[str, float]:
    return {row.name: amount_of(row.amount) for row in page.standing}


def send(client: TestClient, path: str = "/money/payments", **fields: object):  # type: ignore[no-untyped-def]
    """A form as a page of ours sends it."""
    data = {"revision": str(desk_of(client).file.revision), "form": "pay", "what": "goods", **fields}
    return client.post(path, data=data, follow_redirects=False)


def last_payment(client: TestClient) -> Payment:
    return [event for event in desk_of(client).view().build.events if isinstance(event, Payment)][-1]


# where it stands


def test_paid_to_buy_and_set_aside_add_up_to_the_total(view: View, demo_plan: Plan) -> None:
    page = money_page(view)
    rows = standing(page)
    assert sum(rows.values()) == pytest.approx(amount_of(page.sum), abs=0.05)
    assert rows["Still to buy"] == pytest.approx(sum(line.landed for line in demo_plan.purchase.lines), abs=0.01)
    work = sum(
        job.cost for job in view.build.jobs if job.id in view.facts.wanted_jobs and not view.facts.is_done(job.id)
    )
    assert rows["Work sent out"] == work


def test_paid_counts_every_payment_of_the_demo_less_its_refunds(view: View) -> None:
    # payments in euro, the bank's figures for those in pounds, dollars and zloty; 37 came back, sending it cost 9;
    # 110 for the old calipers and 20 for a dent
    euro = sum(e.amount.amount for e in view.build.events if isinstance(e, Payment) and e.amount.currency == "EUR")
    booked = Decimal("123.10") + Decimal("389.90") + Decimal("228.30")
    assert standing(money_page(view))["Paid"] == float(euro + booked - 37 + 9 - 110 - 20)


def test_what_is_likely_asked_on_arrival_counts_until_it_was_paid_or_the_goods_have_come(view: View) -> None:
    ordered = replace(view, build=(build := with_orders()), facts=facts_of(build, view.as_of))
    wheel, roof = (build.find("events", id_) for id_ in ("o-wheel", "o-roof"))
    likely = {each.id: sum(float(line.amount.amount) for line in each.likely_bill or () if line.kind != "freight")
              for each in (wheel, roof)}  # fmt: skip
    assert min(likely.values()) > 0
    page = money_page(ordered)
    before = standing(page)
    assert before["Asked on arrival"] == pytest.approx(sum(likely.values()), abs=0.01)
    assert sum(before.values()) == pytest.approx(amount_of(page.sum), abs=0.05)
    tax = Payment(id="tax", day=TODAY, order="o-wheel", amount=Money.of(30, "EUR"), what="tax")
    after = standing(money_page(with_events(ordered, tax)))
    assert after["Asked on arrival"] == pytest.approx(likely["o-roof"], abs=0.01)
    came = Receipt(id="r", day=TODAY, order="o-roof", lines=(PartCount(part="roof-panel"),))
    assert "Asked on arrival" not in standing(money_page(with_events(ordered, tax, came)))


def test_own_hours_of_a_trip_are_not_money(view: View, demo_plan: Plan) -> None:
    trip = demo_plan.purchase.collections[0]
    hours = view.build.find("collections", trip.collection).hours
    assert standing(money_page(view))["Trips to fetch it"] == pytest.approx(trip.trip_cost - 15 * hours, abs=0.01)


def test_small_things_are_their_percentage_of_all_that_is_to_come(view: View) -> None:
    rows = standing(money_page(view))
    to_come = rows["Still to buy"] + rows["Trips to fetch it"] + rows["Work sent out"] + rows["On order, not paid"]
    assert rows["Small things"] == pytest.approx(0.09 * to_come, abs=0.02)


def test_discovery_is_by_system_where_one_is_named_and_by_the_whole_for_the_rest(view: View) -> None:
    page = money_page(view)
    rows = standing(page)
    to_buy = {row.name: amount_of(row.to_buy) for row in page.systems}
    own = {"Body, roof and sliding door": 0.15, "Rear axle and its springs": 0.10, "Electrics and second battery": 0.05}
    to_come = rows["Still to buy"] + rows["Trips to fetch it"] + rows["Work sent out"]
    rest = to_come - sum(to_buy[name] for name in own)
    expected = 0.05 * rest + sum(share * to_buy[name] for name, share in own.items())
    assert rows["What is found on the way"] == pytest.approx(expected, abs=1.0)  # by system in whole euro
    assert sum(amount_of(item.aside) for item in page.allowances if "found" in item.name) == pytest.approx(
        rows["What is found on the way"], abs=0.05
    )


def test_an_unpaid_order_is_owed_with_the_original_beside_it_and_paying_it_settles_it(view: View) -> None:
    order = Order(
        id="o-new", day=TODAY, supplier="saltmere", route="courier-gb",
        lines=(OrderLine(offer="saltmere-seals", quantity=1, price=Money.of(180, "GBP")),), freight=Money.of(22, "GBP"),
    )  # fmt: skip
    owed = money_page(with_events(view, order))
    (item,) = owed.owing
    assert item.money.endswith("EUR (202.00 GBP)")
    assert item.form is not None
    assert (item.form.amount, item.form.currency, item.form.order) == ("202.00", "GBP", "o-new")
    assert standing(owed)["On order, not paid"] == amount_of(item.money)
    payment = Payment(id="p-new", day=TODAY, order="o-new", amount=Money.of(202, "GBP"))
    assert money_page(with_events(view, order, payment)).owing == ()


def test_a_deposit_that_may_come_back_is_named_apart(view: View) -> None:
    assert money_page(view).beyond == ()  # the charge for the old calipers has come back
    deposit = Payment(id="p-more", day=TODAY, order="o-brakes", amount=Money.of(110, "EUR"), what="deposit")
    (item,) = money_page(with_events(view, deposit)).beyond
    assert item.what == "Veerhoek Remmen, ordered on 15 June 2026"
    assert item.money == "110.00 EUR"


def test_before_the_first_plan_what_is_still_to_buy_is_not_known_rather_than_nothing(view: View) -> None:
    page = money_page(replace(view, plan=None))
    assert page.finish == ""
    assert page.months == ()
    assert "Still to buy" not in standing(page)
    assert page.total.startswith("Known so far: ")
    assert "not known before the first plan" in page.total


# month by month


def cash(
    view: View, *figures: tuple[float, float, float], now: str | None = "1000", monthly: str | None = "500"
) -> View:
    lines = tuple(CashLine(f"2026-{11 + i}" if i < 2 else f"2027-{i - 1:02d}", *item) for i, item in enumerate(figures))
    assert view.plan is not None
    owner = view.build.owner.model_copy(
        update={"cash_now": now and Decimal(now), "cash_per_month": monthly and Decimal(monthly)}
    )
    return changed(replace(view, plan=replace(view.plan, cash=lines)), owner=owner)


def test_what_is_in_hand_after_each_month_is_there_plus_a_month_less_what_goes_out(view: View) -> None:
    page = money_page(cash(view, (0, 800, 900), (100, 900, 1200), (0, 100, 100)))
    # 1000 + 500 - 800 = 700; + 500 - 900 = 300; + 500 - 100 = 700
    assert [row.left for row in page.months] == ["700", "300", "700"]
    assert page.months_said.startswith("If every month goes evenly there is always enough; the least is 300 EUR")


def test_the_first_month_that_falls_short_is_said(view: View) -> None:
    page = money_page(cash(view, (0, 800, 900), (100, 1400, 2000)))
    assert page.months[1].left == "−200"
    assert page.months_said.startswith("If every month goes evenly, 200 EUR is short by the end of December 2026")


def test_without_what_there_is_a_month_no_month_is_held_against_it(view: View) -> None:
    page = money_page(cash(view, (0, 800, 900), now=None, monthly=None))
    assert page.months[0].left == ""
    assert "is not written down" in page.months_said
    assert page.chart is not None
    assert len(page.chart.marks) == 2


def test_months_of_the_chart_and_the_table_are_those_of_the_plan(view: View, demo_plan: Plan) -> None:
    page = money_page(view)
    assert page.chart is not None
    last = max(position for position, line in enumerate(demo_plan.cash) if line.p90 > 0)
    assert len(page.months) == len(page.chart.points) == last + 1
    assert page.months[0].even == f"{demo_plan.cash[0].p50:,.0f}"


# what was paid


def test_payments_show_home_currency_with_the_original_and_where_the_figure_comes_from(view: View) -> None:
    shown = {item.id: item for item in money_page(view).paid}
    assert shown["p-gauges"].amount == "389.90 EUR (448.30 USD)"
    assert shown["p-gauges"].whence == "as the bank booked it"
    assert shown["p-seals"].amount == "201.90 EUR"
    assert shown["p-seals"].whence == ""


def test_without_the_banks_figure_the_rate_of_its_day_counts(view: View) -> None:
    quote = RateQuote(currency="GBP", rate=1.25, day=date(2026, 11, 1), source="bank")
    payment = Payment(id="p-new", day=TODAY, amount=Money.of(100, "GBP"))
    page = money_page(changed(view, rates=(quote,), events=(*view.build.events, payment)))
    shown = next(item for item in page.paid if item.id == "p-new")
    assert (shown.amount, shown.whence) == ("125.00 EUR (100.00 GBP)", "at that day's rate")


def test_systems_name_what_went_to_them_and_add_up(view: View) -> None:
    page = money_page(view)
    rows = standing(page)
    assert sum(amount_of(row.paid) for row in page.systems) == pytest.approx(rows["Paid"], abs=len(page.systems))
    assert sum(amount_of(row.to_buy) for row in page.systems) == pytest.approx(rows["Still to buy"], abs=10)
    brakes = next(row for row in page.systems if row.name == "Brakes")
    # calipers and discs 450 less 110 for the old ones, master cylinder 123.10 with 25.85 tax and 22 fees
    assert amount_of(brakes.paid) == round(450 - 110 + 123.10 + 25.85 + 22)


def test_what_was_paid_is_held_against_the_price_of_the_time(view: View) -> None:
    page = money_page(view)
    seals = next(row for row in page.against if row.path.endswith("lindhafen-seals"))
    assert seals.saved.endswith(" less")  # bought in the January sale
    assert page.against_said.startswith("In all ")
    assert page.against_said.endswith("freight left aside.")


def test_money_of_no_known_rate_is_left_out_of_the_sums_and_said(view: View) -> None:
    payment = Payment(id="p-new", day=TODAY, amount=Money.of(100, "KWD"))
    page = money_page(with_events(view, payment))
    assert page.without_rate == ("100.000 KWD of 16 November 2026",)
    assert standing(page)["Paid"] == standing(money_page(view))["Paid"]


def test_home_money_needs_no_rate() -> None:
    build = load_demo()
    assert to_home(build)(Money.of(5, "EUR"), date(1990, 1, 1)) == Money.of(5, "EUR")
    assert with_original(Money.of(5, "EUR"), Money.of(5, "EUR")) == "5.00 EUR"


# writing


def test_a_payment_is_written_on_its_order_with_the_banks_figure(client: TestClient) -> None:
    response = send(
        client,
        order="o-arches",
        amount="172",
        currency="GBP",
        home="201.34",
        what="freight",
        day="2026-11-15",
        note="x",
    )
    assert response.status_code == 303
    payment = last_payment(client)
    assert (payment.order, payment.amount, payment.home_amount, payment.what, payment.day) == (
        "o-arches", Money.of(172, "GBP"), Money.of("201.34", "EUR"), "freight", date(2026, 11, 15),
    )  # fmt: skip


def test_a_payment_out_of_an_allowance_is_drawn_from_it(client: TestClient) -> None:
    assert send(client, amount="18,40", currency="EUR", what="other", allowance="small-things").status_code == 303
    assert last_payment(client).allowance == "small-things"
    page = money_page(desk_of(client).view())
    drawn = {item.name: item.drawn for item in page.allowances}
    assert drawn["Small things"] == "18.40 EUR"


@pytest.mark.parametrize(
    ("fields", "fault"),
    [
        ({"amount": ""}, "Nothing was filled in"),
        ({"amount": "5", "currency": "XAU"}, "No rate is known"),
        ({"amount": "5", "order": "p-seals"}, "Not an order"),
        ({"amount": "5", "allowance": "none"}, "Not set aside"),
        ({"amount": "5", "day": "2031-01-01"}, "After today"),
        ({"amount": "5", "what": "bribe"}, "Not one of the choices"),
    ],
)
def test_a_refused_payment_says_why_and_writes_nothing(client: TestClient, fields: dict[str, str], fault: str) -> None:
    before = desk_of(client).file.revision
    response = send(client, **{"currency": "EUR", **fields})
    assert response.status_code == 422
    assert fault in response.text
    assert desk_of(client).file.revision == before


def test_a_payment_written_by_mistake_is_taken_out(client: TestClient) -> None:
    assert send(client, "/money/payments/p-arches/out").status_code == 303
    assert "p-arches" not in desk_of(client).view().build.index["events"]
    assert send(client, "/money/payments/o-arches/out").status_code == 404  # an order is not a payment


def test_the_page_stands_without_a_plan(tmp_path_factory: pytest.TempPathFactory) -> None:
    with served(tmp_path_factory.mktemp("bare") / "demo.fishplate", load_demo()) as client:
        assert "can't be laid out by month" in client.get("/money").text


def test_a_build_of_every_kind_of_currency_has_its_page(demo_plan: Plan) -> None:
    made: Callable[[str], Build] = lambda code: load_demo().model_copy(  # noqa: E731
        update={"owner": load_demo().owner.model_copy(update={"currency": code})}
    )
    for code in ("EUR", "GBP", "JPY"):
        build = made(code)
        page = money_page(View(build, facts_of(build, TODAY), 1, TODAY, replace(demo_plan, currency=code)))
        assert page.total.startswith("Likely ")
