"""What is ordered otherwise than in an earlier plan, in sentences, with the cause where it can be told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ..build import Build, offer_contents
from ..build.defaults import in_home
from .model import OfferTiming, Plan, PlanChange, PlannedLine
from .sentences import day_words, money_words, name_of
from .steady import Earlier, Touched, order_day, way_key

SAME_DAYS = 4
# A line that costs otherwise by less is not told: share of it, and amount [EUR].
PRICE_SHARE, LEAST_PRICE = 0.01, 2.0
NEED_DAYS = 14


def changes_since(build: Build, earlier: Earlier, plan: Plan) -> tuple[PlanChange, ...]:
    """What the plan orders otherwise than an earlier one, what only costs otherwise last.

    Parameters
    ----------
    build : as the plan has it
    """
    ground = _Ground.of(build, earlier, plan)
    told = [(offers, ground.with_cause(offers, change)) for offers, change in _differences(ground)]
    caused = {offer: change for offers, change in told if change.cause for offer in offers}
    finished = [change if change.cause else ground.with_company(offers, change, caused) for offers, change in told]
    return tuple(sorted(finished, key=lambda change: (change.kind == "price", change.part, change.kind)))


@dataclass(frozen=True)
class _Ground:
    """Two plans by offer, and what was changed in the build between them."""

    build: Build
    earlier: Earlier
    plan: Plan
    before: Mapping[str, PlannedLine]
    after: Mapping[str, PlannedLine]
    touched: Mapping[str, tuple[Touched, ...]]

    @classmethod
    def of(cls, build: Build, earlier: Earlier, plan: Plan) -> _Ground:
        touched: dict[str, list[Touched]] = defaultdict(list)
        for item in earlier.touched:
            touched[item.list_name].append(item)
        return cls(
            build,
            earlier,
            plan,
            before={line.offer: line for line in earlier.before.purchase.lines},
            after={line.offer: line for line in plan.purchase.lines},
            touched={name: tuple(items) for name, items in touched.items()},
        )

    def parts(self, offers: tuple[str, ...]) -> frozenset[str]:
        """Parts that some offers bring; of an offer that is gone, what is known of it."""
        known = self.build.index["offers"]
        return frozenset(part for id_ in offers if id_ in known for part in offer_contents(self.build, known[id_]))

    def day(self, day: date) -> str:
        """A day in words."""
        return day_words(day, self.plan.as_of)

    def with_cause(self, offers: tuple[str, ...], change: PlanChange) -> PlanChange:
        """The change with the first cause that can be told."""
        if change.kind == "ordered":
            return replace(change, text=_sentence(change.text, ""))
        cause = next(_price_causes(self, offers) if change.kind == "price" else _causes(self, offers), "")
        return replace(change, cause=cause, text=_sentence(change.text, cause)) if cause else change

    def with_company(self, offers: tuple[str, ...], change: PlanChange, caused: Mapping[str, PlanChange]) -> PlanChange:
        """The change with the company it now travels in, or has lost, as its cause."""
        if change.kind == "ordered":
            return change
        for lines in (self.after, self.before):
            shipments = {lines[offer].shipment for offer in offers if offer in lines}
            for other, told in sorted(caused.items()):
                if other in lines and lines[other].shipment in shipments and told.part != change.part:
                    cause = f"it goes by what is done about {told.part}, which shares its freight"
                    return replace(change, cause=cause, text=_sentence(change.text, cause))
        if change.kind == "price":
            return replace(change, text=_sentence(change.text, ""))
        return replace(change, text=_sentence(f"{change.text}; no single cause can be told", ""))


def _sentence(text: str, cause: str) -> str:
    return f"{text}: {cause}." if cause else f"{text}."


# what differs


def _differences(ground: _Ground) -> Iterator[tuple[tuple[str, ...], PlanChange]]:
    """Offers and the change, its text without the cause."""
    before, after = ground.before, ground.after
    ordered = _ordered_since(ground)
    gone, new = sorted(before.keys() - after.keys()), sorted(after.keys() - before.keys())
    for offer in sorted(before.keys() & after.keys()):
        yield from _same_offer(ground, before[offer], after[offer])
    for offer in gone:
        line = before[offer]
        if offer in ordered:
            yield (offer,), PlanChange(line.part, "ordered", f"{line.part} was ordered", "")
            continue
        instead = [other for other in new if ground.parts((offer,)) & ground.parts((other,))]
        if instead:
            yield (offer, *instead), _elsewhere(ground, line, [after[other] for other in instead])
        else:
            yield (offer,), PlanChange(line.part, "dropped", f"{line.part} is not ordered any more", "")
    replaced = {other for offer in gone for other in new if ground.parts((offer,)) & ground.parts((other,))}
    for offer in new:
        if offer not in replaced:
            line = after[offer]
            day = ground.day(order_day(ground.plan, line))
            yield (offer,), PlanChange(line.part, "added", f"{line.part} is ordered besides, on {day}", "")


def _same_offer(ground: _Ground, was: PlannedLine, now: PlannedLine) -> Iterator[tuple[tuple[str, ...], PlanChange]]:
    first, second = order_day(ground.earlier.before, was), order_day(ground.plan, now)
    overdue = first <= ground.plan.as_of and second <= ground.plan.as_of
    if abs((second - first).days) >= SAME_DAYS and not overdue:
        text = f"{now.part} is ordered on {ground.day(second)}, not on {ground.day(first)}"
        yield (now.offer,), PlanChange(now.part, "moved", text, "")
    elif way_key(was) != way_key(now):
        text = f"{now.part} comes by {now.route}, not by {was.route}"
        yield (now.offer,), PlanChange(now.part, "moved", text, "")
    elif abs(now.landed - was.landed) >= max(in_home(LEAST_PRICE, ground.build.owner), PRICE_SHARE * was.landed):
        more = money_words(abs(now.landed - was.landed), ground.plan.currency)
        text = f"{now.part} costs {more} {'more' if now.landed > was.landed else 'less'} at the door"
        yield (now.offer,), PlanChange(now.part, "price", text, "")


def _elsewhere(ground: _Ground, was: PlannedLine, now: list[PlannedLine]) -> PlanChange:
    def seller(line: PlannedLine) -> str:
        return name_of(ground.build, "suppliers", line.supplier)

    first = now[0]
    day = ground.day(order_day(ground.plan, first))
    whom = f"from {seller(first)}, not from {seller(was)}"
    if first.supplier == was.supplier:
        whom = f"as {first.part}" if first.part != was.part else "by another offer of the same seller"
    return PlanChange(was.part, "elsewhere", f"{was.part} is bought {whom}, on {day}", "")


def _ordered_since(ground: _Ground) -> frozenset[str]:
    events = [item.after for item in ground.touched.get("events", ()) if item.after and item.before is None]
    return frozenset(
        str(line.get("offer")) for event in events if event.get("kind") == "ordered" for line in event.get("lines", ())
    )


# causes


def _causes(ground: _Ground, offers: tuple[str, ...]) -> Iterator[str]:
    """What was changed that bears on some offers, the nearest first."""
    yield from _decision_causes(ground, offers)
    yield from _price_causes(ground, offers)
    yield from _hold_causes(ground, offers)
    yield from _term_causes(ground, offers)
    yield from _need_causes(ground, offers)
    held = ground.plan.purchase.held
    yield from (f"its order waits for the {held[offer]}" for offer in offers if offer in held)


def _decision_causes(ground: _Ground, offers: tuple[str, ...]) -> Iterator[str]:
    parts = ground.parts(offers)
    for item in ground.touched.get("decisions", ()):
        noun = item.after or {}
        if not noun.get("chosen") or noun["chosen"] == (item.before or {}).get("chosen"):
            continue
        called_for = {part for option in noun.get("options", ()) for part in option.get("parts", ())}
        if parts & called_for:
            yield f"“{name_of(ground.build, 'decisions', item.id)}” was decided"


def _price_causes(ground: _Ground, offers: tuple[str, ...]) -> Iterator[str]:
    for item in ground.touched.get("offers", ()):
        if item.id not in offers:
            continue
        if item.before is None:
            yield "its offer is new"
        elif item.after is None:
            yield "the offer of the earlier plan is gone"
        elif item.before.get("price") != item.after.get("price"):
            yield f"the price went from {_price(item.before)} to {_price(item.after)}"
    for item in ground.touched.get("sightings", ()):
        if item.after and item.after.get("offer") in offers:
            yield f"it was seen at {_price(item.after)}{' in a sale' if item.after.get('sale') else ''}"
    suppliers = {line.supplier for lines in (ground.before, ground.after) for o, line in lines.items() if o in offers}
    for name, what in (("price_changes", "an announced change of price"), ("sale_windows", "an expected sale")):
        for item in ground.touched.get(name, ()):
            noun = item.after or item.before or {}
            if noun.get("offer") in offers or noun.get("supplier") in suppliers:
                yield f"{what} was {'entered' if item.before is None else 'changed' if item.after else 'taken out'}"


def _price(noun: Mapping[str, Any]) -> str:
    price = noun.get("price") or {}
    return f"{float(price.get('amount', 0)):,.2f} {price.get('currency', '')}".rstrip()


def _hold_causes(ground: _Ground, offers: tuple[str, ...]) -> Iterator[str]:
    before, after = ground.earlier.before.purchase.held, ground.plan.purchase.held
    for offer in offers:
        if offer in before and offer not in after:
            yield f"what held its order, the {before[offer]}, is settled"
        elif offer in after and before.get(offer) != after[offer]:
            yield f"its order now waits for the {after[offer]}"


def _term_causes(ground: _Ground, offers: tuple[str, ...]) -> Iterator[str]:
    for item in ground.touched.get("offers", ()):
        if item.id in offers:
            yield "the terms of its offer were changed"
    lines = [line for lines in (ground.before, ground.after) for offer, line in lines.items() if offer in offers]
    for name, ids in (
        ("suppliers", {line.supplier for line in lines}),
        ("collections", {line.collection for line in lines}),
        ("routes", {way_key(line).split("|")[0] for line in lines}),
    ):
        for item in ground.touched.get(name, ()):
            if item.id in ids:
                yield f"the terms of {name_of(ground.build, name, item.id)} were changed"


def _need_causes(ground: _Ground, offers: tuple[str, ...]) -> Iterator[str]:
    before, after = _needed(ground.earlier.before.purchase.timings), _needed(ground.plan.purchase.timings)
    for offer in offers:
        was, now = before.get(offer), after.get(offer)
        if was is None or now is None or abs((now - was).days) < NEED_DAYS:
            continue
        direction = "later" if now > was else "sooner"
        yield f"it is needed {direction}, from about {ground.day(now)} instead of {ground.day(was)}"


def _needed(timings: tuple[OfferTiming, ...]) -> dict[str, date]:
    return {timing.offer: timing.needed for timing in timings if timing.needed is not None}
