# ruff: noqa: E501 - photos as they are described
"""Photos of labels kept with their part: shown with the day they were taken, kept without the place."""

from __future__ import annotations

import io
from datetime import date

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from serving import desk_of

from fishplate.web.photo_facts import taken_on, without_place

EXIF, GPS, ORIENTATION, ORIGINAL = 0x8769, 0x8825, 0x0112, 0x9003


def photo(kind: str = "JPEG", *, place: bool = True, day: str = "2026:11:23 20:15:00", xmp: bytes = b"") -> bytes:
    """A photo as a telephone takes it, turned on its side."""
    fields = Image.Exif()
    fields[ORIENTATION] = 6
    fields.get_ifd(EXIF)[ORIGINAL] = day
    if place:
        fields.get_ifd(GPS).update({1: "N", 2: (52.0, 22.0, 12.5), 3: "E", 4: (4.0, 53.0, 42.0)})
    written = io.BytesIO()
    more = {"xmp": xmp} if xmp else {}
    Image.linear_gradient("L").resize((40, 30)).convert("RGB").save(written, kind, exif=fields, **more)
    return written.getvalue()


def facts(content: bytes) -> tuple[dict[int, object], object, bytes]:
    """Place, orientation and points of a photo, read by an independent library."""
    with Image.open(io.BytesIO(content)) as opened:
        opened.load()
        return dict(opened.getexif().get_ifd(GPS)), opened.getexif().get(ORIENTATION), opened.tobytes()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_place_is_taken_out_and_nothing_else(kind: str) -> None:
    before = photo(kind)
    after = without_place(before)
    assert facts(before)[0]
    assert facts(after) == ({}, *facts(before)[1:])
    assert taken_on(after) == date(2026, 11, 23)
    assert len(after) == len(before)


def test_a_photo_without_a_place_is_kept_to_the_byte() -> None:
    assert without_place(photo(place=False)) == photo(place=False)


def test_the_place_in_its_description_goes_too() -> None:
    xmp = b'<x:xmpmeta><rdf exif:GPSLatitude="52,22.5N" t="1"><exif:GPSLongitude>4,53E</exif:GPSLongitude></rdf></x:xmpmeta>'
    after = without_place(photo(xmp=xmp))
    assert b"52,22" not in after
    assert b"4,53E" not in after
    assert b't="1"' in after


@pytest.mark.parametrize(
    "content", [b"", b"Exif\0\0II*\0", b"Exif\0\0MM\0*\xff\xff\xff\xff", photo()[:60], photo()[:-200], b"eXIf" * 50]
)
def test_what_is_damaged_is_neither_worse_nor_an_error(content: bytes) -> None:
    assert len(without_place(content)) == len(content)
    assert taken_on(content) in (None, date(2026, 11, 23))


@pytest.mark.parametrize("day", ["0000:00:00 00:00:00", "soon", ""])
def test_a_day_that_is_none_is_not_known(day: str) -> None:
    assert taken_on(photo(day=day)) is None


def send(client: TestClient, path: str, content: bytes | None = None, **fields: str) -> int:
    """Send a form of a part, with a photo."""
    files = {} if content is None else {"photo": ("IMG_1.jpg", content, "image/jpeg")}
    data = {"revision": str(desk_of(client).file.revision), "form": "x", **fields}
    return client.post(path, data=data, files=files, follow_redirects=False).status_code


def test_a_photo_is_kept_with_its_part_and_a_line(client: TestClient) -> None:
    part = desk_of(client).view().build.parts[0].id
    assert send(client, f"/parts/{part}/photo", photo(), **{"photo-note": "Number FH-220"}) == 303
    (kept,) = desk_of(client).view().build.find("parts", part).photos
    assert (kept.day, kept.note) == (date(2026, 11, 23), "Number FH-220")
    assert facts(desk_of(client).file.attachment(kept.photo))[0] == {}
    page = client.get(f"/parts/{part}").text
    assert "Number FH-220. Taken on 23 November" in page
    assert f"/photos/{kept.photo}/small" in page
    assert 'capture="environment"' in page


def test_a_photo_comes_with_goods_in(client: TestClient) -> None:
    part = desk_of(client).view().build.parts[0].id
    day = desk_of(client).today().isoformat()
    assert send(client, f"/parts/{part}/arrived", photo(), count="1", day=day, place="Shelf") == 303
    assert len(desk_of(client).view().build.find("parts", part).photos) == 1


def test_what_is_no_photo_is_refused_beside_its_field(client: TestClient) -> None:
    part = desk_of(client).view().build.parts[0].id
    assert send(client, f"/parts/{part}/photo", b"<html>") == 422
    assert send(client, f"/parts/{part}/photo") == 422
    assert desk_of(client).view().build.find("parts", part).photos == ()
