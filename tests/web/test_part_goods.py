"""What a part is as goods, on a page of its own: mass, box, origin, heading, how long it keeps."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build.parts import Part

PATH = "/parts/radiator/goods"
FILLED = {"mass": "7.5", "long": "700", "wide": "500", "high": "120", "origin": "pl", "heading": "8708.91",
          "keeps": "52", "category": "cooling"}  # fmt: skip


def send(client: TestClient, **fields: str) -> int:
    client.get(PATH)
    revision = str(desk_of(client).view().revision)
    return client.post(PATH, data={"revision": revision, "form": "goods", **fields}, follow_redirects=False).status_code


def radiator(client: TestClient) -> Part:
    found: Part = desk_of(client).view().build.find("parts", "radiator")
    return found


def test_what_a_part_weighs_and_how_long_it_keeps_is_written_and_cleared(client: TestClient) -> None:
    assert PATH in client.get("/parts/radiator").text
    before = radiator(client)
    assert send(client, **FILLED) == 303
    part = radiator(client)
    assert (part.mass_kg, part.box_mm, part.origin, part.heading) == (7.5, (700, 500, 120), "PL", "870891")
    assert (part.shelf_weeks, part.category) == (52, "cooling")
    assert (part.name, part.quantity, part.system) == (before.name, before.quantity, before.system)
    assert 'value="52"' in client.get(PATH).text
    assert send(client, **dict.fromkeys(FILLED, "")) == 303
    assert (radiator(client).mass_kg, radiator(client).box_mm, radiator(client).shelf_weeks) == (None, None, None)


@pytest.mark.parametrize(
    "wrong",
    [{"high": ""}, {"mass": "-1"}, {"origin": "Poland"}, {"heading": "12"}, {"keeps": "0"}, {"keeps": "soon"}],
)
def test_what_can_not_be_is_refused_whole(client: TestClient, wrong: dict[str, str]) -> None:
    before = radiator(client)
    assert send(client, **(FILLED | wrong)) == 422
    assert radiator(client) == before
