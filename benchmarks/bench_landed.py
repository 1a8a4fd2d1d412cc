"""Time of an explained quote, of costs by the linear bands, of the bands themselves, and of loading rates and rules."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import date
from time import process_time

from fishplate.build import Build, Money, Rates
from fishplate.build.commerce import FreightTerms, Route, Supplier
from fishplate.build.owner import Owner
from fishplate.landed import Consignment, Goods, charge_bands, landed_cost, load_rules
from fishplate.landed.bands import BandUnits
from fishplate.wiring import load_rates

DAY = date(2026, 10, 30)
HEADINGS = ("870830", "84821090", "87088099", None)


def _seconds(work: Callable[[], object], repeats: int) -> float:
    """Best of three rounds, for one call."""
    work()
    rounds = []
    for _ in range(3):
        start = process_time()
        for _ in range(repeats):
            work()
        rounds.append((process_time() - start) / repeats)
    return min(rounds)


def _cold(code: str) -> float:
    """Seconds inside a fresh interpreter, imports left out."""
    script = f"import time\n{code.split('---')[0]}\nt = time.process_time()\n{code.split('---')[1]}\n"
    script += "print(time.process_time() - t)"
    done = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    return float(done.stdout)


def _abroad(country: str, currency: str, count: int) -> Callable[[], object]:
    """An explained quote to a destination with surtaxes, goods of unknown origin."""
    rules, owner = load_rules(country), Owner(country=country, currency=currency)
    seller = Supplier(id="seller", name="Seller", country="GB", currency=currency, origin_tax="taken-off")
    route = Route(id="way", name="Way", kind="courier", from_country="GB")
    goods = tuple(
        Goods(f"part {place}", Money.of(400 + place, currency), 2, 3.0, HEADINGS[place % 4]) for place in range(count)
    )
    what = Consignment(seller, route, goods, Money.of(40, currency), True, DAY)
    rates = Rates(base=currency, per_base={}, day=DAY, source="bench")
    return lambda: landed_cost(what, owner, rules, rates)


def rows() -> list[dict[str, object]]:
    """The timings, one row each."""
    terms = FreightTerms(route="way", fixed=Money.of(12, "GBP"), per_kg=Money.of(2, "GBP"))
    seller = Supplier(
        id="seller", name="Seller", country="GB", currency="GBP", origin_tax="taken-off", freight=(terms,)
    )
    route = Route(
        id="way", name="Way", kind="courier", from_country="GB", advance_percent=2.5,
        advance_minimum=Money.of(15, "EUR"), entry_fee=Money.of(5, "EUR"), fuel_percent=12.0,
    )  # fmt: skip
    rates, _ = load_rates(DAY, Build())
    rules, owner = load_rules("NL"), Owner()
    goods = tuple(
        Goods(f"part {place}", Money.of(40 + place, "GBP"), 2, 3.0, HEADINGS[place % 4]) for place in range(5)
    )
    consignment = Consignment(seller, route, goods, Money.of(40, "GBP"), True, DAY)
    bands = charge_bands(seller, route, owner, rules, rates, DAY)
    prices = [Money.of(20 + place / 10, "GBP") for place in range(100)]

    def by_band() -> None:
        for place, price in enumerate(prices):
            bands[-1].unit_cost(price, 2.5, HEADINGS[place % 4], None, True)

    units = [BandUnits(item.value, 2, 3.0, item.heading, None, True) for item in goods]
    american = _abroad("US", "USD", 5)
    quote = _seconds(lambda: landed_cost(consignment, owner, rules, rates), 200)
    plain = _seconds(lambda: landed_cost(consignment, owner, rules, rates, with_doubts=False), 200)
    unit = _seconds(by_band, 200) / len(prices)
    whole = _seconds(lambda: bands[-1].total(units), 2000)
    made = _seconds(lambda: charge_bands(seller, route, owner, rules, rates, DAY), 200)
    loaded_rates = _cold(
        "from datetime import date\nfrom fishplate.build import Build\nfrom fishplate.wiring import load_rates\n---\n"
        "load_rates(date(2026, 10, 30), Build())"
    )
    loaded_rules = _cold("from fishplate.landed import load_rules\n---\nload_rules('NL')")
    return [
        {"name": "explained quote, five goods, doubts included", "seconds": quote, "note": "aim: 0.005"},
        {"name": "explained quote, five goods, without doubts", "seconds": plain},
        {"name": "unit cost by a band", "seconds": unit, "note": f"{1 / unit:,.0f} a second; aim: 10,000"},
        {
            "name": "consignment of five goods by a band",
            "seconds": whole,
            "note": f"{1 / whole:,.0f} quotes a second; aim: 10,000",
        },
        {
            "name": "explained quote to the United States, five goods of unknown origin, doubts included",
            "seconds": _seconds(american, 200),
            "note": "aim: 0.005",
        },
        {"name": "bands of one supplier and route", "seconds": made},
        {"name": "rates of a day, first load", "seconds": loaded_rates, "note": "aim: 0.1"},
        {"name": "rules of a country, first load", "seconds": loaded_rules},
    ]


if __name__ == "__main__":
    for row in rows():
        print(row)
