"""Units and formats on the page: what is chosen is shown, what is typed is read so, an untouched field is no change."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st
from serving import desk_of

from fishplate.build.formats import LOCALES, UNIT_SYSTEMS, Formats, using
from fishplate.web.fields import number_field
from fishplate.web.form import Form
from fishplate.web.quantities import figure

HELD = (
    "mm", "cm", "m", "km", "kg", "g", "N", "N*m", "bar", "MPa", "N/mm", "km/h", "°C", "in", "ft", "lb", "psi", "h",
    "weeks", "%", "EUR", "",
)  # fmt: skip
sizes = st.one_of(st.floats(-1e9, 1e9), st.floats(-100, 100)).filter(lambda value: not 0 < abs(value) < 1e-9)
EVERY = [Formats(units, locale) for units in UNIT_SYSTEMS for locale in LOCALES]


def sent_back(value: float, unit: str, shown: Formats) -> float | None:
    """What comes back from a field nobody touched."""
    with using(shown):
        field = number_field("it", value, unit)
        form = Form({"it": [field.text], **{name: [text] for name, text in field.sent}})
        back = form.maybe_number("it")
        assert not form.problems
        assert not form.said
        return back


@settings(deadline=None)  # the first asks for locale data
@given(sizes, st.sampled_from(HELD), st.sampled_from(EVERY))
def test_an_untouched_field_gives_its_value_back_to_the_last_digit(value: float, unit: str, shown: Formats) -> None:
    assert sent_back(value, unit, shown) == value


@settings(deadline=None)  # the first asks for locale data
@given(sizes, st.sampled_from(["mm", "in", "kg"]), st.sampled_from(EVERY))
def test_an_untouched_figure_gives_its_value_back(value: float, unit: str, shown: Formats) -> None:
    with using(shown):
        field = number_field("value", value, unit)
        form = Form({"value": [field.text], **{name: [text] for name, text in field.sent}})
        assert figure(form, unit) == (value, None)


@pytest.mark.parametrize(
    ("typed", "unit", "shown", "value"),
    [
        ("55", "kg", Formats("imperial"), 24.94758035),
        ("25 kg", "kg", Formats("imperial"), 25),
        ("10 1/2", "mm", Formats("imperial-fractions"), 266.7),
        ("212", "°C", Formats("imperial"), 100),
        ("2 h 30", "h", Formats(), 2.5),
        ("90 min", "h", Formats(), 1.5),
        ("12,50 €", "EUR", Formats(locale="de_DE"), 12.5),
        ("7,5 %", "%", Formats(locale="nl_NL"), 7.5),
    ],
)
def test_what_is_typed_is_turned_into_the_unit_that_is_held(
    typed: str, unit: str, shown: Formats, value: float
) -> None:
    with using(shown):
        form = Form({"it": [typed], **{name: [text] for name, text in number_field("it", "", unit).sent}})
        assert form.maybe_number("it") == pytest.approx(value, rel=1e-12)
        assert form.problems == []


@pytest.mark.parametrize(
    ("typed", "unit", "words"),
    [
        ("25 lb-ft", "mm", "lb-ft measures a torque, this is a length in mm"),
        ("£12", "EUR", "GBP where EUR is wanted"),
        ("5 mm", "", "mm measures a length, this is a plain number"),
        ("5 kg", "h", "kg measures a mass, this is a time in h"),
    ],
)
def test_a_unit_of_another_kind_is_refused_naming_both(typed: str, unit: str, words: str) -> None:
    form = Form({"it": [typed], **{name: [text] for name, text in number_field("it", "", unit).sent}})
    assert form.maybe_number("it") is None
    assert [problem.what for problem in form.problems] == [words]


@pytest.mark.parametrize(("locale", "value"), [("en_GB", 1234), ("de_DE", 1.234)])
def test_what_can_be_read_in_two_ways_follows_the_locale_and_is_said(locale: str, value: float) -> None:
    with using(Formats(locale=locale)):
        form = Form({"it": ["1,234"], "it.unit": ["kg"]})
        assert form.maybe_number("it") == value
        assert form.said == ([f"“1,234” is read as {value:g}"] if locale == "en_GB" else form.said)


@pytest.mark.parametrize("sent", ["kg h", "furlong kg", "mm", "kg kg kg", "<b>", "degF mm"])
def test_a_forged_unit_is_a_plain_field_or_refused(sent: str) -> None:
    form = Form({"it": ["5"], "it.unit": [sent], "it.was": ["5 nonsense"]})
    assert form.maybe_number("it") in (5.0, None)


def test_the_owner_chooses_and_every_page_follows(client: TestClient) -> None:
    page = client.get("/owner").text
    assert "1 3/8 in" in page
    assert "1.234,50 EUR, 3. Februar 2027" in page
    revision = desk_of(client).view().revision
    sent = {"revision": str(revision), "form": "owner-formats", "units": "imperial", "locale": "de_DE"}
    assert client.post("/owner/formats", data=sent, follow_redirects=False).status_code == 303
    owner = desk_of(client).view().build.owner
    assert (owner.units, owner.locale) == ("imperial", "de_DE")
    money = unescape(client.get("/money").text)
    assert re.search(r"\d\.\d{3} EUR", money)
    assert not re.search(r"\d,\d{3} EUR", money)
    said = client.post(
        "/owner",
        data={"revision": str(revision + 1), "form": "owner", "country": "NL", "currency": "EUR", "now": "1.500"},
    ).text
    assert "“1.500” is read as 1500." in said
    assert desk_of(client).view().build.owner.cash_now == 1500


def test_a_locale_that_is_none_is_refused(client: TestClient) -> None:
    revision = str(desk_of(client).view().revision)
    sent = {"revision": revision, "form": "owner-formats", "units": "cubits", "locale": "xx"}
    assert client.post("/owner/formats", data=sent).status_code == 422
