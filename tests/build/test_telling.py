"""Pages and sentences told in the owner's units and locale, once, as they leave."""

from __future__ import annotations

import pytest

from fishplate.build import build_from_data
from fishplate.build.formats import Formats
from fishplate.build.telling import Teller

GERMAN = Teller(Formats("imperial", "de_DE"), ("12.5 mm packer", 'Bolt 3/8" 1.5 mm & nut'))


@pytest.mark.parametrize(
    ("html", "told"),
    [
        ("<p>12.5 mm</p>", "<p>0,492 in</p>"),
        ('<svg aria-label="at most 1,234.5 EUR"><rect width="1.5"/></svg>',
         '<svg aria-label="at most 1.234,5 EUR"><rect width="1.5"/></svg>'),
        ("<p>the price is given as &#34;1.500&#34;</p>", "<p>the price is given as &#34;1.500&#34;</p>"),
        ("<p>3/8&#34; and 1.5 kg of 1/2&#34;</p>", "<p>3/8&#34; and 3,3 lb of 1/2&#34;</p>"),
        ("<textarea>12.5 mm</textarea><b>1.5</b>", "<textarea>12.5 mm</textarea><b>1,5</b>"),
        ('<i translate="no">1.5<i>2.5<br></i>3.5</i>4.5', '<i translate="no">1.5<i>2.5<br></i>3.5</i>4,5'),
        ("<b>12.5 mm packer</b>: 1.5", "<b>12.5 mm packer</b>: 1,5"),
        ("Bolt 3/8&#34; 1.5 mm &amp; nut, 1.5 kg", "Bolt 3/8&#34; 1.5 mm &amp; nut, 3,3 lb"),
        ('<style>p{top:1.5em}</style><input value="1.5">', '<style>p{top:1.5em}</style><input value="1.5">'),
    ],
)  # fmt: skip
def test_words_are_told_and_marks_fields_and_names_stay(html: str, told: str) -> None:
    assert GERMAN.page(html) == told


def owned(**owner: str) -> Teller:
    parts = [{"id": "a", "name": "Packer 12.5 mm"}, {"id": "b", "name": "Hub", "note": "12.5"}]
    return Teller.of(build_from_data({"parts": parts, "owner": owner}))


def test_what_the_owner_wrote_is_kept_but_for_a_bare_figure() -> None:
    teller = owned(locale="de_DE")
    assert teller.kept == ("Packer 12.5 mm",)
    assert teller.text("Packer 12.5 mm: 12.5 mm, 12.5") == "Packer 12.5 mm: 12,5 mm, 12,5"


def test_nothing_is_gone_through_where_figures_are_read_as_they_are_held() -> None:
    assert owned().idle
    assert owned().page("<p>1,234.50 EUR") == "<p>1,234.50 EUR"


def test_a_dimension_in_the_other_system_is_told_in_the_owners() -> None:
    build = build_from_data({"dimensions": [{"id": "gap", "name": "Gap", "unit": "in"}]})
    assert Teller.of(build).text("1.5 in to spare") == "38 mm to spare"
