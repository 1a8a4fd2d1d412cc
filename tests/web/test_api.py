"""The interface for programs."""

from __future__ import annotations

from fastapi.testclient import TestClient
from serving import desk_of


def test_it_describes_itself(client: TestClient) -> None:
    paths = client.get("/api/openapi.json").json()["paths"]
    assert {"/api/build", "/api/plan", "/api/undo"} <= paths.keys()
    assert all(path.startswith("/api/") for path in paths)


def test_the_build_and_its_lists_are_read_with_their_revision(client: TestClient) -> None:
    whole = client.get("/api/build").json()
    parts = client.get("/api/build/parts").json()
    assert whole["revision"] == parts["revision"] == 1
    assert whole["build"]["parts"] == parts["parts"]
    assert client.get("/api/build/events").json()["events"] == whole["build"]["events"]
    assert client.get("/api/build/nothing").status_code == 404


def test_a_change_is_one_batch_and_can_be_taken_back(client: TestClient) -> None:
    part = client.get("/api/build/parts").json()["parts"][0]
    change = {"list": "parts", "id": part["id"], "after": {**part, "name": "Renamed"}}
    assert client.post("/api/build", json={"revision": 1, "changes": [change]}).json() == {"revision": 2}
    assert desk_of(client).view().build.parts[0].name == "Renamed"
    assert client.post("/api/undo", json={"revision": 2}).json() == {"revision": 3}
    assert desk_of(client).view().build.parts[0].name == part["name"]
    assert client.post("/api/redo", json={"revision": 3}).json() == {"revision": 4}


def test_a_stale_change_is_a_conflict_with_both_values(client: TestClient) -> None:
    part = client.get("/api/build/parts").json()["parts"][0]
    for name, status in (("First", 200), ("Second", 409)):
        change = {"list": "parts", "id": part["id"], "after": {**part, "name": name}}
        response = client.post("/api/build", json={"revision": 1, "changes": [change]})
        assert response.status_code == status
    assert "changed by both" in response.json()["problems"][0]["what"]


def test_a_change_that_breaks_the_build_is_refused_with_every_problem(client: TestClient) -> None:
    change = {"list": "parts", "id": "x", "after": {"id": "x", "name": "X", "system": "no-such", "quantity": -1}}
    response = client.post("/api/build", json={"revision": 1, "changes": [change]})
    assert response.status_code == 422
    assert response.json()["problems"]
    assert desk_of(client).file.revision == 1


def test_the_plan_is_read_and_started(client: TestClient) -> None:
    found = client.get("/api/plan").json()
    assert found["is_current"]
    assert found["plan"]["actions"]
    assert client.post("/api/plan", json={}).status_code == 202


def test_the_history_is_told_in_words(client: TestClient) -> None:
    assert client.get("/api/history").json()[0]["kind"] == "start"


def test_only_json_changes_anything(client: TestClient) -> None:
    assert client.post("/api/undo", data={"revision": "1"}).status_code == 415
    response = client.post("/api/undo", json={"revision": 1}, headers={"Origin": "http://evil.example"})
    assert response.status_code == 403


def test_what_can_not_be_read_is_refused_in_words(client: TestClient) -> None:
    response = client.post("/api/build", content=b"{", headers={"Content-Type": "application/json"})
    assert response.status_code == 422
    assert response.json()["problems"]
