"""Evidence: what is there and missing and until when, pieces attached from wherever they are taken, the book."""

from __future__ import annotations

import io

import pytest
from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build.approval import Evidence, Requirement
from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.evidence import evidence_page


def send(client: TestClient, path: str, *, photo: bytes = b"", **fields: object):  # type: ignore[no-untyped-def]
    """A form as a page of ours sends it."""
    data = {"revision": str(desk_of(client).file.revision), "form": "test", **fields}
    files = {"photo": ("weld.jpg", photo, "image/jpeg")} if photo else None
    return client.post(path, data=data, files=files, follow_redirects=False)


def evidence(client: TestClient) -> tuple[Evidence, ...]:
    return desk_of(client).view().build.evidence


@pytest.fixture(scope="module")
def jpeg() -> bytes:
    from PIL import Image

    written = io.BytesIO()
    Image.new("RGB", (40, 30), "grey").save(written, "JPEG")
    return written.getvalue()


def test_requirements_stand_by_how_they_stand_with_the_next_to_be_hidden_named(demo_plan: Plan) -> None:
    from fishplate.build import facts_of
    from fishplate.web.desk import View

    build, day = load_demo(), demo_as_of()
    page = evidence_page(View(build, facts_of(build, day), 1, day, demo_plan))
    heads = [head for head, _ in page.groups]
    assert heads == ["Still missing", "There"]
    assert {row.id for _, rows in page.groups for row in rows} == {item.id for item in build.requirements}
    assert "The next to be hidden is “Welds of the front lower corners”" in page.lead
    said = {row.id: row.said for _, rows in page.groups for row in rows}
    assert said["sill-welds"] == "1 piece of evidence."
    assert said["corner-welds"].startswith(
        "Evidence is missing. It can be seen until “Front lower corners and valance” is done"
    )
    assert said["brake-report"] == "Evidence is missing. Nothing hides it."


def test_a_photo_is_attached_from_a_jobs_page_and_seen_in_the_book(client: TestClient, jpeg: bytes) -> None:
    assert "this hides “Welds of the front lower corners”" in client.get("/jobs/lower-corners").text
    sent = send(client, "/evidence/corner-welds", photo=jpeg, at="lower-corners", **{"from": "job"})
    assert (sent.status_code, sent.headers["location"]) == (303, "/jobs/lower-corners")
    piece = evidence(client)[-1]
    assert (piece.requirement, piece.kind, piece.job, piece.what) == ("corner-welds", "photo", "lower-corners", "Photo")
    assert "this hides “Welds" not in client.get("/jobs/lower-corners").text
    assert f'src="/photos/{piece.attachment}"' in client.get("/evidence/book").text
    assert client.get(f"/photos/{piece.attachment}").status_code == 200


def test_a_note_goes_back_to_the_evening_it_was_written_in(client: TestClient) -> None:
    fields = {"from": "tonight", "at": "lower-corners", "what": "Seen by the welder", "kind": "note"}
    sent = send(client, "/evidence/corner-welds?minutes=600&asked=yes", **fields)
    assert sent.headers["location"] == "/tonight?asked=yes&minutes=600"
    assert evidence(client)[-1].what == "Seen by the welder"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "Say what it shows"),
        ({"what": "x", "day": "2999-01-01"}, "after today"),
        ({"what": "x", "kind": "rumour"}, "not one of the choices"),
        ({"photo": b"not a photo"}, "not a photo"),
    ],
)
def test_what_is_no_evidence_is_refused_where_it_was_typed(
    client: TestClient, fields: dict[str, object], words: str
) -> None:
    for source in ("", "job", "tonight"):
        data = {"form": "evidence-corner-welds", "at": "lower-corners", "from": source, **fields}
        refused = send(client, "/evidence/corner-welds?minutes=600&asked=yes", **data)  # type: ignore[arg-type]
        assert refused.status_code == 422
        assert words.casefold() in refused.text.casefold()
    assert len(evidence(client)) == len(load_demo().evidence)


def test_a_requirement_is_added_changed_and_taken_out_with_its_evidence(client: TestClient) -> None:
    send(client, "/evidence", name="Tow bar plate", visible_until="underside", also_at="sills", wants="photo")
    path = "/evidence/tow-bar-plate"
    send(client, path, what="Front", kind="note")
    who = "the station, a welder"
    send(client, f"{path}/change", name="Plate", wants=["photo", "receipt"], looked_at_by=who, jobs=["sills"])
    build = desk_of(client).view().build
    assert build.find("requirements", "tow-bar-plate") == Requirement(
        id="tow-bar-plate", name="Plate", jobs=("sills",), wants=("photo", "receipt"),
        looked_at_by=("the station", "a welder"),
    )  # fmt: skip
    page = client.get(path).text
    assert "A photo and a receipt are missing." in page
    assert "May be looked at by: the station and a welder." in page
    send(client, f"{path}/pieces/{evidence(client)[-1].id}/gone")
    assert len(evidence(client)) == len(load_demo().evidence)
    send(client, path, what="Again")
    send(client, f"{path}/gone")
    assert len(evidence(client)) == len(load_demo().evidence)
    assert client.get(path).status_code == 404


def test_it_is_never_told_as_approved(client: TestClient) -> None:
    for path in ("/evidence", "/evidence/book"):
        text = client.get(path).text
        assert "The inspector decides" in text
        assert "approved" not in text.casefold()
