"""Hypothesis strategies for builds. Every noun and field joins by itself: they are read off the models.

A build drawn here passes every check: ids are unique, references find their nouns, jobs wait in no circle.
"""

from __future__ import annotations

import os
import types
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from enum import Enum
from itertools import combinations
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from pydantic import BaseModel, StringConstraints
from pydantic.fields import FieldInfo

from fishplate.build import Build, Money
from fishplate.build.base import Country, Heading, ThreePoint
from fishplate.build.commerce import FeeStep, FixedChoice, Offer, PriceChange, Route, SaleWindow
from fishplate.build.decisions import Decision, Given, Option, Rule, Swing
from fishplate.build.designations import Family
from fishplate.build.document import LISTS, LISTS_WITH_IDS, NAMED_EVENTS, REFERENCES
from fishplate.build.events import Check, Event, PartCount
from fishplate.build.interface_kinds import interface_kinds
from fishplate.build.interfaces import Condition, Correlation, Dimension, Reading, Settled
from fishplate.build.jobs import Gate, Job, Link, Release
from fishplate.build.owner import DaysOff, Helper, Owner
from fishplate.build.parts import Kit

ANY_BUILD = settings(
    deadline=None,
    max_examples=200 if os.environ.get("FISHPLATE_EXPLORE") else 25,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example],
)
"""Tests that hold for any build: few of them each time the same, many where new ones are looked at."""

COUNTRIES = ("NL", "DE", "GB", "US", "JP")
CURRENCIES = ("EUR", "GBP", "USD", "JPY", "KWD")
UNITS = ("mm", "in", "deg", "kg", "N*m", "bar", "")
DESIGNATIONS: dict[Family, tuple[str, ...]] = {
    "thread": ("M10x1.25", "1/4-20 UNC", "G 1/4"), "pattern": ("5x112", "4x100"), "spline": ("26x1 1/8 in",),
    "connector": ("ISO 11446",),
}  # fmt: skip
EVENT_KINDS = {get_args(kind.model_fields["kind"].annotation)[0]: kind for kind in get_args(get_args(Event)[0])}

# Lists that nouns of a list can't do without, beyond those their required fields name.
NEEDS = {
    "offers": ("parts",),
    "price_changes": ("offers",),
    "fixed_choices": ("offers",),
    "releases": ("parts",),
    "rules": ("decisions",),
    "conditions": ("dimensions",),
}

moments = st.dates(date(2020, 1, 1), date(2034, 12, 31))
plain_text = st.text(st.characters(codec="utf-8"), max_size=12)
amounts = st.decimals(min_value=0, max_value=Decimal("99999.999"), places=3).map(lambda d: d.normalize() + 0)
moneys = st.builds(Money.of, amounts, st.sampled_from(CURRENCIES))


@st.composite
def builds(draw: st.DrawFn, *, most: int = 2) -> Build:
    """A whole build that passes every check, with up to `most` nouns in a list."""
    counts = {name: draw(st.sampled_from((0, 0, *range(1, most + 1)))) for name in LISTS}
    counts["events"] = min(6, 3 * counts["events"])  # they are of many kinds
    _fill_needs(counts)
    maker = _Maker(draw, {name: _ids(name, counts[name]) for name in LISTS_WITH_IDS})
    maker.correlated = counts["correlations"] > 0
    lists = {name: tuple(maker.nouns(name, counts[name])) for name in LISTS}
    return Build(
        name=draw(plain_text.map(str.strip).filter(bool)),
        started=draw(st.none() | moments),
        frame_origin=draw(plain_text),
        owner=maker.noun(Owner, "owner", ""),
        **lists,
    )


def _ids(name: str, count: int) -> tuple[str, ...]:
    glue = "_" if name == "dimensions" else "-"
    return tuple(f"{name.replace('_', glue)}{glue}{number}" for number in range(1, count + 1))


def _fill_needs(counts: dict[str, int]) -> None:
    """Give each list that others can't do without at least one noun."""
    changed = True
    while changed:
        changed = False
        for name, count in list(counts.items()):
            for target in _needs(name) if count else ():
                if not counts[target]:
                    counts[target] = 1
                    changed = True


def _needs(name: str) -> tuple[str, ...]:
    model = _element(Build.model_fields[name].annotation)
    if name == "events" or not isinstance(model, type):
        return ()
    required = [target for path, target in REFERENCES.get(name, {}).items() if _is_required(model, path)]
    return (*required, *NEEDS.get(name, ()))


def _is_required(model: type[BaseModel], path: str) -> bool:
    head, _, rest = path.partition(".")
    field = model.model_fields[head]
    return field.is_required() and (not rest or _is_required(_element(field.annotation), rest))


def _element(annotation: Any) -> Any:
    return get_args(annotation)[0]


class _Maker:
    """Draws nouns that refer to ids known beforehand."""

    def __init__(self, draw: st.DrawFn, ids: Mapping[str, Sequence[str]]) -> None:
        self.draw, self.ids = draw, ids
        self.units: dict[str, str] = {}
        self.options: tuple[str, ...] = ()
        self.correlated = False
        self.families: dict[str, Family] = {}
        self.interfaces: dict[str, str] = {}

    def nouns(self, name: str, count: int) -> list[BaseModel]:
        """The nouns of a list, with their ids."""
        if name == "events":
            return self._events()
        if name == "correlations":
            pairs = list(combinations(self.ids["dimensions"], 2))[:count]
            return [self.noun(Correlation, name, "", first=first, second=second) for first, second in pairs]
        model = _element(Build.model_fields[name].annotation)
        if name in LISTS_WITH_IDS:
            return [self.noun(model, name, "", id=id_) for id_ in self.ids[name]]
        return [self.noun(model, name, "") for _ in range(count)]

    def _events(self) -> list[BaseModel]:
        possible = [kind for kind in EVENT_KINDS if all(self.ids[name] for name in EVENT_NEEDS.get(kind, ()))]
        kinds = {id_: self.draw(st.sampled_from(possible)) for id_ in self.ids["events"]}
        for position, (kind, needed) in enumerate(NEEDED_EVENTS.items()):
            if kind in kinds.values() and needed in possible and position < len(kinds):
                # an event becomes what the others name
                kinds[self.ids["events"][position]] = needed
        kinds = {
            id_: "paid" if NEEDED_EVENTS.get(kind, kind) not in kinds.values() else kind for id_, kind in kinds.items()
        }
        return [self.noun(EVENT_KINDS[kind], "events", "", id=id_, **self._named(kind, kinds))
                for id_, kind in kinds.items()]  # fmt: skip

    def _named(self, kind: str, kinds: Mapping[str, str]) -> dict[str, Any]:
        """The events that an event of a kind names."""
        found = {}
        for field, (target, _) in NAMED_EVENTS.items():
            if field in EVENT_KINDS[kind].model_fields:
                ids = tuple(id_ for id_, each in kinds.items() if each == target)
                needed = EVENT_KINDS[kind].model_fields[field].is_required()
                found[field] = self.draw(st.sampled_from(ids if needed else (None, *ids)))
        return found

    def noun(self, model: type[BaseModel], name: str, path: str, **fixed: Any) -> Any:
        """One noun, or a thing inside one, of which some fields are given."""
        values = dict(fixed)
        for field_name, field in model.model_fields.items():
            if field_name not in values:
                here = f"{path}.{field_name}" if path else field_name
                values[field_name] = self.value(field.annotation, tuple(field.metadata), name, here)
        mend = MENDS.get(model)
        return model(**(values if mend is None else mend(self, values)))

    def value(self, annotation: Any, metadata: tuple[Any, ...], name: str, path: str) -> Any:
        """A value for an annotation; an id that exists where the field is a reference."""
        origin, arguments = get_origin(annotation), get_args(annotation)
        if origin is Annotated:
            return self.value(arguments[0], (*metadata, *_flat(arguments[1:])), name, path)
        if origin in (Union, types.UnionType):
            (inner,) = (each for each in arguments if each is not type(None))
            target = REFERENCES.get(name, {}).get(path)
            if self.draw(st.booleans()) or (target is not None and not self.ids[target]):
                return None
            return self.value(inner, metadata, name, path)
        if origin is tuple:
            return self._tuple(arguments, name, path)
        target = REFERENCES.get(name, {}).get(path)
        if target is not None:
            return self.draw(st.sampled_from(self.ids[target]))
        if isinstance(annotation, type) and issubclass(annotation, BaseModel) and annotation is not Money:
            return self.noun(annotation, name, path)
        return self.draw(_scalar(annotation, metadata))

    def _tuple(self, arguments: tuple[Any, ...], name: str, path: str) -> tuple[Any, ...]:
        if arguments[-1] is not Ellipsis:
            return tuple(self.value(each, (), name, path) for each in arguments)
        targets = {
            target for key, target in REFERENCES.get(name, {}).items() if key == path or key.startswith(path + ".")
        }
        if any(not self.ids[target] for target in targets):
            return ()
        return tuple(self.value(arguments[0], (), name, path) for _ in range(self.draw(st.integers(0, 2))))


EVENT_NEEDS = {
    "ordered": ("suppliers", "offers"), "arrived": ("parts",), "checked": ("parts",), "fitted": ("parts",),
    "returned": ("parts",), "worked": ("jobs",), "changed": ("states",), "claimed": ("parts",), "moved": ("parts",),
    "counted": ("parts",), "core-sent": ("offers",), "stage-shown": ("workshops",),
}  # fmt: skip
# Kinds of event that name one of another kind.
NEEDED_EVENTS = {"cancelled": "ordered", "settled": "claimed", "delayed": "ordered"}


def _flat(metadata: tuple[Any, ...]) -> tuple[Any, ...]:
    flat: list[Any] = []
    for each in metadata:
        flat.extend(each.metadata if isinstance(each, FieldInfo) else (each,))
    return tuple(flat)


def _scalar(annotation: Any, metadata: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    if get_origin(annotation) is Literal:
        return st.sampled_from(get_args(annotation))
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return st.sampled_from(list(annotation))
    if annotation is str:
        return _texts(metadata)
    simple = {bool: st.booleans(), date: moments, Money: moneys, Decimal: amounts}
    if annotation in simple:
        return simple[annotation]
    low, high = _bounds(metadata)
    if annotation is int:
        return st.integers(int(low), int(high))
    if annotation is float:
        return st.floats(low, high, exclude_min=any(isinstance(each, Gt) for each in metadata))
    raise TypeError(f"no strategy for {annotation}")


def _bounds(metadata: tuple[Any, ...]) -> tuple[float, float]:
    low, high = -1e6, 1e6
    for each in metadata:
        match each:
            case Ge(ge=bound) | Gt(gt=bound):
                low = bound
            case Le(le=bound) | Lt(lt=bound):
                high = bound
    return low, high


def _texts(metadata: tuple[Any, ...]) -> st.SearchStrategy[str]:
    patterns = [each.pattern for each in metadata if isinstance(each, StringConstraints)]
    if Country.__metadata__[0].pattern in patterns:
        return st.sampled_from(COUNTRIES)
    if Heading.__metadata__[0].pattern in patterns:
        return st.sampled_from(("8708", "870880", "8708809910"))
    if any("_check_currency" in repr(each) for each in metadata):
        return st.sampled_from(CURRENCIES)
    if any("known_locale" in repr(each) for each in metadata):
        return st.sampled_from(("en_GB", "de_CH", "ja_JP"))
    if any("known_kind" in repr(each) for each in metadata):
        return st.sampled_from(tuple(interface_kinds()))
    if any(pattern is not None for pattern in patterns):
        return st.sampled_from(("one", "two-b", "3rd_thing"))
    if any(each.min_length for each in metadata if isinstance(each, StringConstraints)):
        return plain_text.map(str.strip).filter(bool)
    return plain_text


Values = dict[str, Any]


def _three_point(maker: _Maker, values: Values) -> Values:
    return dict(zip(("low", "likely", "high"), sorted(values.values()), strict=True))


def _spell(maker: _Maker, values: Values) -> Values:
    return {**values, "first": min(values["first"], values["last"]), "last": max(values["first"], values["last"])}


def _sale(maker: _Maker, values: Values) -> Values:
    depth = sorted(maker.draw(st.floats(0, 100)) for _ in range(3))
    return {**_spell(maker, values), "depth_percent": ThreePoint(low=depth[0], likely=depth[1], high=depth[2])}


def _one_thing(first: str, second: str) -> Callable[[_Maker, Values], Values]:
    """Exactly one of two references."""

    def mend(maker: _Maker, values: Values) -> Values:
        if values[first] is None and values[second] is None:
            values[first] = maker.draw(st.sampled_from(maker.ids[f"{first}s"]))
        return {**values, second: None} if values[first] is not None else values

    return mend


def _offer(maker: _Maker, values: Values) -> Values:
    breaks = {each.units: each for each in values["breaks"]}.values()
    same = tuple(
        each.model_copy(update={"price": Money.of(each.price.amount, values["price"].currency)}) for each in breaks
    )
    return _one_thing("part", "kit")(maker, {**values, "breaks": same})


def _fixed_choice(maker: _Maker, values: Values) -> Values:
    values = _one_thing("part", "offer")(maker, values)
    if values["part"] is not None or values["first"] is not None:
        values = {**values, "first": values["first"] or date(2024, 1, 1), "last": values["last"] or date(2024, 2, 1)}
        return _spell(maker, values)
    return values


def _price_change(maker: _Maker, values: Values) -> Values:
    scoped = values["offer"] or values["supplier"] or values["category"]
    return values if scoped else {**values, "category": "tyres"}


def _kit(maker: _Maker, values: Values) -> Values:
    from fishplate.build.parts import KitContent

    return values if values["contents"] else {**values, "contents": (KitContent(part=maker.ids["parts"][0]),)}


def _decision(maker: _Maker, values: Values) -> Values:
    options = values["options"] or (Option(id="only", name="The only way"),)
    options = tuple(
        option.model_copy(update={"id": f"{values['id']}-{number}"}) for number, option in enumerate(options, 1)
    )
    ids = [option.id for option in options]
    maker.options += tuple(ids)
    named = {field: maker.draw(st.sampled_from((None, *ids))) for field in ("leading", "chosen")}
    return {**values, "options": options, **named, "swings": _first_of_each(values["swings"], "criterion")}


def _first_of_each(nouns: tuple[Any, ...], field: str) -> tuple[Any, ...]:
    return tuple({getattr(noun, field): noun for noun in reversed(nouns)}.values())


def _option(maker: _Maker, values: Values) -> Values:
    return {
        **values,
        "dimensions": _first_of_each(values["dimensions"], "dimension"),
        "scores": _first_of_each(values["scores"], "criterion"),
    }


def _swing(maker: _Maker, values: Values) -> Values:
    percent = maker.draw(st.none() | st.just(ThreePoint(low=20, likely=40.5, high=100)))
    return {**values, "best": values["worst"] + maker.draw(st.sampled_from((-7.0, 100.0))), "compared": percent}


def _rule(maker: _Maker, values: Values) -> Values:
    some = st.sampled_from(maker.options)
    return {
        **values,
        "option": maker.draw(some),
        "also": maker.draw(st.lists(some, max_size=1).map(tuple)),
        "requires": maker.draw(st.none() | some),
        "excludes": maker.draw(some),
    }


def _dimension(maker: _Maker, values: Values) -> Values:
    maker.units[values["id"]] = unit = maker.draw(st.sampled_from(UNITS))
    # correlated dimensions are numbers, and so is the first one, which conditions can rest on
    free = not maker.correlated and values["id"] != maker.ids["dimensions"][0]
    family = values["designates"] if free else None
    if family is not None:
        maker.families[values["id"]] = family
    return {**values, "unit": unit, "designates": family}


def _reading(maker: _Maker, values: Values) -> Values:
    family = maker.families.get(values["dimension"])
    if family is not None:
        return {**values, "value": None, "designation": maker.draw(st.sampled_from(DESIGNATIONS[family]))}
    return {**values, "value": values["value"] or 0.0, "designation": ""}


def _condition(maker: _Maker, values: Values) -> Values:
    bare = {"expression": "", "at_least": None, "at_most": None, "mates": None}
    maker.interfaces[values["id"]] = values["interface"]
    if values["kind"] == "dry-run":
        return {**values, **bare}
    if values["kind"] == "match" and maker.families:
        id_ = maker.draw(st.sampled_from(sorted(maker.families)))
        other = maker.draw(st.sampled_from((id_, *DESIGNATIONS[maker.families[id_]])))
        return {**values, **bare, "mates": (id_, other)}
    id_ = maker.draw(st.sampled_from([each for each in maker.ids["dimensions"] if each not in maker.families]))
    unit = maker.units[id_]
    least = f"{maker.draw(st.integers(0, 99))} {unit}".strip()
    kind = "range" if values["kind"] == "angle" and unit != "deg" else values["kind"]
    return {**values, **bare, "kind": kind, "expression": f"{id_} * 2", "at_least": least}


def _counted(maker: _Maker, values: Values) -> Values:
    return {**values, "faulty": min(values["faulty"], values["quantity"])}


def _checked(maker: _Maker, values: Values) -> Values:
    faulty = None if values["good"] or values["faulty"] is None else values["quantity"] and values["faulty"]
    return {**values, "faulty": min(faulty, values["quantity"]) if faulty else faulty}


def _settled(maker: _Maker, values: Values) -> Values:
    known = sorted(key for key, interface in maker.interfaces.items() if interface == values["interface"])
    return {**values, "condition": maker.draw(st.sampled_from((None, *known)))}


def _correlation(maker: _Maker, values: Values) -> Values:
    # small enough that every set of them holds together
    return {**values, "coefficient": values["coefficient"] * 0.2}


def _job(maker: _Maker, values: Values) -> Values:
    earlier = maker.ids["jobs"][: maker.ids["jobs"].index(values["id"])]
    return {**values, "after": tuple(link for link in values["after"] if link.job in earlier)}


def _link(maker: _Maker, values: Values) -> Values:
    late = values["within_days"]
    return {**values, "within_days": None if late is None else max(late, values["lag_days"])}


def _helper(maker: _Maker, values: Values) -> Values:
    return {**values, "weekdays": ()} if values["hours_per_week"] is not None else values


def _route(maker: _Maker, values: Values) -> Values:
    steps: tuple[FeeStep, ...] = values["entry_steps"]
    if values["entry_fee"] is not None or not steps:
        return {**values, "entry_steps": ()}
    ends = [Money.of(100 * number, steps[0].fee.currency) for number in range(1, len(steps))]
    table = tuple(
        FeeStep(up_to=end, fee=Money.of(abs(step.fee.amount), step.fee.currency))
        for end, step in zip([*ends, None], steps, strict=True)
    )
    return {**values, "entry_steps": table}


def _gate(maker: _Maker, values: Values) -> Values:
    middle = len(maker.ids["jobs"]) // 2
    return {
        **values,
        "after": tuple(id_ for id_ in values["after"] if id_ in maker.ids["jobs"][:middle]),
        "before": tuple(id_ for id_ in values["before"] if id_ in maker.ids["jobs"][middle:]),
    }


MENDS: dict[type[BaseModel], Callable[[_Maker, Values], Values]] = {
    ThreePoint: _three_point, DaysOff: _spell, SaleWindow: _sale, Offer: _offer,
    FixedChoice: _fixed_choice,
    Release: _one_thing("part", "offer"), PriceChange: _price_change, Kit: _kit, Decision: _decision, Rule: _rule,
    Option: _option, Given: _reading, Swing: _swing,
    Dimension: _dimension, Reading: _reading, Condition: _condition, Settled: _settled, Correlation: _correlation,
    Job: _job, Link: _link, Helper: _helper, Gate: _gate, Route: _route, PartCount: _counted, Check: _checked,
}  # fmt: skip
