"""What a price as offered becomes: what is paid, what customs sees, what limits are compared with.

Goods carried out by a private owner keep the seller's tax unless a rule says the buyer gets it back: a seller who
hands goods over inside the country has not exported them.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from ..build.commerce import Route, Supplier
from ..build.owner import Owner
from ..build.problem import Assumption
from .figures import limit_words
from .kinds import OriginTax, RuleBase, Stream
from .rules_of_day import RulesOfDay, percent_text

ONE = Decimal(1)
Movement = Literal["inside", "sent", "carried"]
Use = Literal["vehicle", "general"]


@dataclass(frozen=True, slots=True)
class PriceTerms:
    """Factors on an offered price.

    Parameters
    ----------
    paid : what it costs in the end, the seller's tax taken off or put on
    customs : what the customs value counts
    intrinsic : what limits are compared with: without tax, as far as the tax is known
    at_sale : the price already holds the destination's tax
    label, rule, kind : of the line that shows the difference between offered and paid
    freight_taxed : the same tax is put on freight
    """

    paid: Decimal
    customs: Decimal
    intrinsic: Decimal
    label: str
    rule: RuleBase
    note: str
    kind: Literal["origin-tax", "tax"] = "origin-tax"
    at_sale: bool = False
    freight_taxed: bool = False
    assumptions: tuple[Assumption, ...] = ()
    flags: tuple[str, ...] = ()


def movement(supplier: Supplier, route: Route | None, rules: RulesOfDay) -> Movement:
    """Whether goods stay inside the single market, are sent across its border, or carried across by the owner."""
    start = route.from_country if route is not None else supplier.country
    if start in rules.set.single_market:
        return "inside"
    return "carried" if route is not None and route.kind == "collection" else "sent"


def stream_of(route: Route | None) -> Stream:
    """By which stream of the customs goods come in: post, courier, freight, or carried by the owner."""
    kind = "courier" if route is None else route.kind
    streams: dict[str, Stream] = {"collection": "traveller", "post": "post", "freight": "freight"}
    return streams.get(kind, "courier")


def price_terms(
    supplier: Supplier,
    route: Route | None,
    owner: Owner,
    rules: RulesOfDay,
    tax_included: bool | None,
    *,
    at_sale: bool,
    use: Use = "vehicle",
    receipt: Decimal | None = None,
) -> PriceTerms:
    """How a supplier's prices read on a route.

    Parameters
    ----------
    tax_included : whether prices carry the seller's tax (the import tax, if it collects that); None: not known
    at_sale : the supplier collects the import tax on this consignment
    use : parts for a private vehicle, or general goods, whose seller's tax may be refunded where a rule says so
    receipt : what the receipt is for, in the seller's currency, where a refund asks for a least amount
    """
    moves = movement(supplier, route, rules)
    if moves == "inside":
        return _inside(supplier, route, rules, tax_included)
    if supplier.collects_import_tax and moves == "sent" and rules.seller_collects is not None:
        return _collecting(supplier, rules, tax_included, at_sale=at_sale)
    return _from_abroad(supplier, owner, rules, tax_included, carried=moves == "carried", use=use, receipt=receipt)


def _inside(supplier: Supplier, route: Route | None, rules: RulesOfDay, tax_included: bool | None) -> PriceTerms:
    sale = rules.practice("eu.sale") if _has(rules, "eu.sale") else rules.practice("general.price")
    if supplier.origin_tax == "none":
        return PriceTerms(ONE, ONE, ONE, "sales tax", sale, "the seller charges none")
    assumed: tuple[Assumption, ...] = ()
    if tax_included is None:
        local = rules.origin_tax(supplier.country)
        tax_included = local is None or local.prices_include
        how = "include tax, as prices shown to consumers do" if tax_included else "leave out tax, as prices there do"
        text = f"prices of {supplier.name} are taken to {how}"
        assumed = (Assumption("price-includes-tax", f"supplier {supplier.id}", text),)
    if tax_included:
        return PriceTerms(ONE, ONE, ONE, "sales tax", sale, "in the price", assumptions=assumed)
    fetched = route is not None and route.kind == "collection"
    member = rules.member_tax(supplier.country) if fetched else None
    share = rules.tax_share if member is None else member.share
    tax = member or rules.tax
    note = f"{percent_text(share * 100)} on goods and freight, which are offered without tax"
    flags = () if share else (f"{supplier.name}: sales tax may be added; its rate is not known and not counted",)
    return PriceTerms(
        ONE + share, ONE, ONE, "sales tax", tax, note, "tax", freight_taxed=True, assumptions=assumed, flags=flags
    )


def _has(rules: RulesOfDay, id_: str) -> bool:
    return any(rule.id == id_ for rule in rules.set.rules)


def _collecting(supplier: Supplier, rules: RulesOfDay, tax_included: bool | None, *, at_sale: bool) -> PriceTerms:
    """Prices of a seller who collects the import tax: it exports, so its own tax is off; above the limit both are."""
    rule = rules.seller_collects
    assert rule is not None
    about = f"supplier {supplier.id}"
    assumed: tuple[Assumption, ...] = ()
    if tax_included is None:
        text = f"prices of {supplier.name} are taken to leave out the import tax that it adds at the sale"
        assumed = (Assumption("price-excludes-import-tax", about, text),)
    if not tax_included:
        return PriceTerms(ONE, ONE, ONE, "import tax", rule, "", "tax", assumptions=assumed)
    net = 1 / (1 + rules.tax_share)
    percent = percent_text(rules.tax_share * 100)
    if at_sale:
        note = f"{percent} of the destination, in the price and collected by the seller"
        return PriceTerms(ONE, net, net, "import tax", rule, note, "tax", at_sale=True)
    above = limit_words(rule.limit, rule.currency)
    text = f"{supplier.name} is taken to leave the import tax out of its price above {above}"
    assumed = (Assumption("price-excludes-import-tax", about, text),)
    return PriceTerms(net, net, net, "tax in the price", rule, f"{percent} taken off", "tax", assumptions=assumed)


def _from_abroad(
    supplier: Supplier,
    owner: Owner,
    rules: RulesOfDay,
    tax_included: bool | None,
    *,
    carried: bool,
    use: Use,
    receipt: Decimal | None,
) -> PriceTerms:
    rule = rules.origin_tax(supplier.country)
    about = f"supplier {supplier.id}"
    if rule is None:
        return _unknown_origin(supplier, rules, about)
    assumed = []
    if tax_included is None and supplier.origin_tax != "none":
        tax_included = rule.prices_include
        how = "include" if tax_included else "leave out"
        text = f"prices of {supplier.name} are taken to {how} sales tax, as prices in {supplier.country} do"
        assumed.append(Assumption("price-includes-tax", about, text))
    stays = _carried_out(rule, use, receipt)
    treatment, flags = _treatment(supplier, owner, stays, carried=carried, included=bool(tax_included))
    if supplier.origin_tax is None:
        assumed.append(_default_treatment(supplier, treatment, about))
    if rule.percent is None:
        return _no_percent(supplier, rule, treatment, tuple(assumed), flags)
    return _with_percent(rule, rule.percent / 100, treatment, bool(tax_included), tuple(assumed), flags)


def _carried_out(rule: OriginTax, use: Use, receipt: Decimal | None) -> Literal["stays", "refund"]:
    """What becomes of the tax on goods a private buyer carries out."""
    if use == "vehicle":
        return rule.carried_out
    small = receipt is not None and receipt <= rule.refund_above
    return "stays" if small else rule.general_goods


def _treatment(
    supplier: Supplier, owner: Owner, carried_out: str, *, carried: bool, included: bool
) -> tuple[str, tuple[str, ...]]:
    """What happens to the seller's tax, and a warning where it is not what the supplier's terms say."""
    stated = supplier.origin_tax or ("charged" if included or carried else "taken-off")
    if stated in ("taken-off", "refund") and carried and owner.private_person and carried_out == "stays":
        warning = (
            f"{supplier.name}: the sales tax of {supplier.country} stays on goods a private owner carries out; "
            "it can come off only if the seller exports them"
        )
        return "charged", (warning,)
    return stated, ()


def _default_treatment(supplier: Supplier, treatment: str, about: str) -> Assumption:
    what = {
        "charged": f"{supplier.name} is taken to keep its own sales tax in the price; ask whether it sells without it",
        "taken-off": f"{supplier.name} offers without sales tax and is taken to export without it",
    }[treatment]
    return Assumption("origin-tax-default", about, what)


def _with_percent(
    rule: RuleBase,
    share: Decimal,
    treatment: str,
    included: bool,
    assumed: tuple[Assumption, ...],
    flags: tuple[str, ...],
) -> PriceTerms:
    net = 1 / (1 + share) if included else ONE
    percent = percent_text(share * 100)
    if treatment == "none":
        return PriceTerms(ONE, ONE, ONE, "origin tax", rule, "prices carry none", assumptions=assumed, flags=flags)
    if treatment == "charged":
        gross = ONE if included else 1 + share
        note = f"{percent} stays in the price" if included else f"{percent} put on the price"
        return PriceTerms(gross, gross, net, "origin tax", rule, note, assumptions=assumed, flags=flags)
    note = f"{percent} taken off by the seller, who exports"
    if treatment == "refund":
        note = f"{percent} claimed back later from the seller"
    return PriceTerms(net, net, net, "origin tax", rule, note, assumptions=assumed, flags=flags)


def _no_percent(
    supplier: Supplier, rule: RuleBase, treatment: str, assumed: tuple[Assumption, ...], flags: tuple[str, ...]
) -> PriceTerms:
    if treatment == "charged":
        text = f"{supplier.name}: sales tax of {supplier.country} may be added; its rate is not known and not counted"
        flags = (*flags, text)
    return PriceTerms(ONE, ONE, ONE, "origin tax", rule, "no rate known", assumptions=assumed, flags=flags)


def _unknown_origin(supplier: Supplier, rules: RulesOfDay, about: str) -> PriceTerms:
    rule = rules.practice("general.price")
    text = (
        f"there is no rule for the sales tax of {supplier.country}: prices of {supplier.name} are taken as they stand"
    )
    assumed = () if supplier.origin_tax == "none" else (Assumption("origin-tax-unknown", about, text),)
    return PriceTerms(ONE, ONE, ONE, "origin tax", rule, "", assumptions=assumed)
