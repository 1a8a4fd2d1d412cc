"""A form of what is there, sent as it came, writes nothing: in any units and locale, to the last digit."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from serving import desk_of, served
from walking import Screen

from fishplate.build import Build, Money
from fishplate.build.base import ThreePoint
from fishplate.build.formats import LOCALES, UNIT_SYSTEMS, Formats, using
from fishplate.build.quantities import in_arithmetic
from fishplate.starters import load_demo
from fishplate.web.amounts import as_typed
from fishplate.web.fields import limit_field, number_field
from fishplate.web.form import Form

# Page -> where the form goes that is sent as it came.
FORMS = {
    "/owner": ("/owner", "/owner/work", "/owner/formats"),
    "/parts/door-rollers": ("/parts/door-rollers", "/parts/door-rollers/offers/wilgenkade-rollers"),
    "/buying/offers/wilgenkade-rollers/terms": ("/buying/offers/wilgenkade-rollers/terms",),
    "/interfaces/dimensions/wheelbase/change": ("/interfaces/dimensions/wheelbase/change",),
    "/interfaces/door-rail/conditions/roller-play/change": ("/interfaces/door-rail/conditions/roller-play/change",),
    "/jobs/roof-frame/change": ("/jobs/roof-frame/change",),
    "/decisions/tyre-size/change": ("/decisions/tyre-size/change",),
    "/collections/ferry-december": ("/collections/ferry-december",),
    "/door/ways/courier-gb": ("/door/ways/courier-gb",),
    "/money/aside": ("/money/aside/small-things",),
}
# One mark and three digits: a bit over one, or a thousand.
OPEN, OPEN_MONEY = 1.234, Decimal("1.234")


def hard_to_read(formats: Formats) -> Build:
    """The demo with figures that can be read in two ways, and an owner who reads them so."""
    changed: dict[str, dict[str, dict[str, Any]]] = {
        "parts": {"door-rollers": {"mass_kg": OPEN}},
        "offers": {"wilgenkade-rollers": {"price": Money(amount=OPEN_MONEY, currency="EUR"), "deposit_percent": OPEN}},
        "dimensions": {"wheelbase": {"minutes": OPEN}},
        "conditions": {"roller-play": {"at_least": "0.60 mm", "at_most": "1.234 mm"}},
        "jobs": {"roof-frame": {"hours": ThreePoint(low=0.125, likely=OPEN, high=2.345)}},
        "collections": {"ferry-december": {"distance_km": OPEN, "hours": 0.1}},
        "routes": {"courier-gb": {"max_mass_kg": OPEN, "max_length_mm": 1234.567, "fuel_percent": OPEN}},
    }
    demo = load_demo()
    lists = {
        name: tuple(noun.model_copy(update=nouns.get(noun.id, {})) for noun in getattr(demo, name))
        for name, nouns in changed.items()
    }
    owner = {"units": formats.units, "locale": formats.locale, "hours_per_week": OPEN, "cash_now": OPEN_MONEY}
    return demo.model_copy(update={**lists, "owner": demo.owner.model_copy(update=owner)})


@pytest.mark.parametrize("formats", [Formats("imperial-fractions", "de_DE"), Formats()], ids=lambda it: it.locale)
def test_a_form_sent_as_it_came_writes_nothing(tmp_path: Path, formats: Formats) -> None:
    build = hard_to_read(formats)
    with served(tmp_path / "demo.fishplate", build) as client:
        client.get("/owner")
        for path, actions in FORMS.items():
            forms = {form.action: form for form in Screen(client.get(path).text).forms}
            for action in actions:
                sent: dict[str, list[str]] = {}
                for each in forms[action].fields:
                    if each.sent and each.name:
                        sent.setdefault(each.name, []).append(each.value)
                answer = client.post(action, data=sent, follow_redirects=False)
                assert answer.status_code == 303, f"{action}: {answer.text}"
                assert desk_of(client).view().build == build, action


EVERY = st.builds(Formats, st.sampled_from(UNIT_SYSTEMS), st.sampled_from(sorted(LOCALES)))
amounts = st.decimals(0, 10**9, places=3) | st.decimals(0, 2000, places=2) | st.integers(0, 10**6).map(Decimal)


@given(amounts, EVERY)
def test_an_untouched_amount_stays_and_shows_the_owners_mark(amount: Decimal, formats: Formats) -> None:
    with using(formats):
        field = number_field("price", as_typed(Money(amount=amount, currency="EUR")), "EUR")
        assert field.text.count(formats.mark) <= 1
        assert formats.mark == "." or "." not in field.text
        form = Form({"price": [field.text], **{name: [text] for name, text in field.sent}})
        assert form.maybe_number("price") == float(amount)
        assert form.problems == []


@given(amounts, st.sampled_from(["mm", " mm", " N/mm", "", " lbf*ft", " * gap"]), EVERY)
def test_an_untouched_limit_stays_letter_by_letter(amount: Decimal, unit: str, formats: Formats) -> None:
    held = f"{amount:f}{unit}"
    with using(formats):
        assert in_arithmetic(limit_field(held), formats.mark) == held
