"""What every page has: a frame, headers, and a guard before it."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from fishplate.web.rooms import ROOMS


@pytest.mark.parametrize("path", [room.path for room in ROOMS] + ["/more", "/plan"])
def test_every_room_answers_with_its_name_and_a_strict_policy(client: TestClient, path: str) -> None:
    response = client.get(path)
    assert response.status_code == 200
    assert "<h1>" in response.text
    assert "default-src 'none'" in response.headers["content-security-policy"]
    assert "style=" not in response.text
    assert "https://" not in response.text
