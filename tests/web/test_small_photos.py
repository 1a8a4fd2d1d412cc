"""Photos made small, upright, and pictures of telephones shown."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from serving import desk_of, served

from fishplate.starters import load_demo
from fishplate.web import small_photos
from fishplate.web.small_photos import SMALL, SmallPhotos, can_show_heic, small

DIMENSION = "/interfaces/dimensions/bump_travel_rear"


def picture(kind: str, size: tuple[int, int] = (1200, 900), mode: str = "RGB", *, turned: bool = False) -> bytes:
    written = io.BytesIO()
    exif = Image.Exif()
    if turned:
        exif[0x0112] = 6  # orientation: a quarter turn
    Image.new(mode, size, 128).save(written, kind, exif=exif)
    return written.getvalue()


@pytest.mark.parametrize(
    ("kind", "mode"), [("JPEG", "RGB"), ("PNG", "RGBA"), ("PNG", "P"), ("WEBP", "RGB"), ("JPEG", "CMYK")]
)
def test_a_photo_becomes_a_small_jpeg(kind: str, mode: str) -> None:
    made = small(picture(kind, mode=mode), 480)
    assert made is not None
    with Image.open(io.BytesIO(made)) as opened:
        assert (opened.format, opened.size) == ("JPEG", (480, 360))


def test_a_photo_taken_with_the_phone_on_its_side_stands_upright() -> None:
    made = small(picture("JPEG", turned=True), 480)
    assert made is not None
    with Image.open(io.BytesIO(made)) as opened:
        assert opened.size == (360, 480)


@pytest.mark.parametrize("content", [b"", b"\xff\xd8\xff\xe0" + bytes(64), picture("PNG")[:200], b"RIFF0000WEBP"])
def test_what_can_t_be_opened_is_left_as_it_is(content: bytes) -> None:
    assert small(content, 480) is None


def test_a_picture_of_too_many_points_is_not_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(small_photos, "MOST_POINTS", 1000)
    assert small(picture("PNG"), 480) is None


def test_each_photo_is_made_once_and_the_oldest_let_go() -> None:
    read: list[str] = []

    def reader(name: str) -> bytes:
        read.append(name)
        return picture("PNG")

    size = len(small(picture("PNG"), 100) or b"")
    photos = SmallPhotos(most_bytes=2 * size)
    for name in ("a", "b", "a", "c", "a", "b"):
        assert photos.of(name, 100, lambda name=name: reader(name)) is not None  # type: ignore[misc]
    assert read == ["a", "b", "c", "b"]


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The demo build without a plan: none is needed here."""
    with served(tmp_path / "demo.fishplate", load_demo()) as found:
        found.get("/")
        yield found


def sent(client: TestClient, content: bytes, name: str) -> str:
    form, files = {"value": "84", "day": "2026-11-15"}, {"photo": (name, content, "image/jpeg")}
    shown = client.post(DIMENSION, data=form, files=files, follow_redirects=False).headers["location"]
    if shown.startswith("/before/"):
        form["looked"] = shown.removeprefix("/before/")
        assert client.post(DIMENSION, data=form, files=files, follow_redirects=False).status_code == 303
    return desk_of(client).view().build.readings[-1].photo


def test_lists_show_it_small_and_it_opens_whole(client: TestClient) -> None:
    content = picture("JPEG")
    name = sent(client, content, "IMG.jpg")
    assert f'<a class="photo" href="/photos/{name}"><img src="/photos/{name}/small"' in client.get(DIMENSION).text
    response = client.get(f"/photos/{name}/small")
    assert response.headers["content-type"] == "image/jpeg"
    with Image.open(io.BytesIO(response.content)) as opened:
        assert max(opened.size) == SMALL
    assert client.get(f"/photos/{name}").content == content
    assert client.get("/photos/none/small").status_code == 404


HEIC = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(64)


def test_a_picture_that_can_t_be_shown_is_kept_and_that_is_said(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fishplate.web.photos.can_show_heic", lambda: False)
    name = sent(client, HEIC, "IMG.heic")
    text = client.get(DIMENSION).text
    assert "Its photo is kept, but can&#39;t be shown here." in text
    assert f'src="/photos/{name}' not in text
    response = client.get(f"/photos/{name}")
    assert response.content == HEIC
    assert response.headers["content-disposition"] == "attachment"


def test_a_damaged_picture_of_a_telephone_is_handed_over_as_it_is(client: TestClient) -> None:
    name = sent(client, HEIC, "IMG.heic")
    assert can_show_heic()
    assert client.get(f"/photos/{name}").content == HEIC
    assert client.get(f"/photos/{name}/small").content == HEIC
