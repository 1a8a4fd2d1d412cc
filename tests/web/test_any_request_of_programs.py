"""Whatever a program asks, as the interface's description allows or forbids it: an answer, never a failure of ours."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from pathlib import Path

import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.core import NOT_SET
from serving import desk_of, served

from fishplate.starters import load_demo

EXPLORES = bool(os.environ.get("FISHPLATE_EXPLORE"))
FREELY = settings(
    max_examples=300 if EXPLORES else 12, deadline=None, database=None, suppress_health_check=list(HealthCheck)
)


def hold_to_its_word(operation: schemathesis.schemas.APIOperation, client: TestClient, mode: GenerationMode) -> None:
    """Ask for one operation in many ways."""

    @given(case=operation.as_strategy(generation_mode=mode))
    @FREELY
    def ask(case: schemathesis.Case) -> None:
        body = b"" if case.body is NOT_SET else case.body
        content = body if isinstance(body, bytes) else json.dumps(body)
        query = {name: str(value) for name, value in (case.query or {}).items()}
        kind = {"Content-Type": "application/json"}
        response = client.request(case.method, case.formatted_path, params=query, content=content, headers=kind)
        assert response.status_code < 500, f"{case.method} {case.formatted_path} {query} {content!r}"

    ask()


def test_no_request_makes_the_interface_fail(tmp_path: Path) -> None:
    with served(tmp_path / "demo.fishplate", load_demo()) as client:
        schema = schemathesis.openapi.from_dict(client.get("/api/openapi.json").json())
        operations = [found.ok() for found in schema.get_all_operations()]
        assert len(operations) > 6
        for operation in operations:
            hold_to_its_word(operation, client, GenerationMode.POSITIVE)
            with suppress(Unsatisfiable):  # where nothing is asked for, nothing can be asked wrongly
                hold_to_its_word(operation, client, GenerationMode.NEGATIVE)
        desk_of(client).file.build()  # whatever was written can be read
