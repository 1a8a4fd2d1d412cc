"""What a formula does not hold for is told on its page, in words and at its field."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from serving import served

from fishplate.build import Build


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with served(tmp_path_factory.mktemp("beyond") / "van.fishplate", Build(name="Van")) as found:
        found.get("/")
        yield found


@pytest.mark.parametrize(
    ("calculation", "given", "said"),
    [
        ("springs.coil_stress", {"load_n": "3000", "wire_mm": "-12", "coil_mm": "100"}, "It must be above zero"),
        ("wheels.tyre_size", {"designation": "7.50R16"}, "does not say how high the tyre is"),
        ("wheels.load_capacity", {"load_index": "300"}, "load index 300 is not in the table"),
        ("fasteners.proof_stress", {"grade": "7.7"}, "It must be one of 4.6"),
        (
            "brakes.braking_rate", {"brake_force_n": "-1", "mass_kg": "1500"}, "It must be zero or more",
        ),
        (
            "linkages.roll_centre",
            {"centre_across_mm": "750", "centre_up_mm": "150", "half_track_mm": "750"},
            "The distance of centre and contact must be above zero",
        ),
    ],
)  # fmt: skip
def test_what_a_formula_does_not_hold_for_is_told_in_words(
    client: TestClient, calculation: str, given: dict[str, str], said: str
) -> None:
    page = client.get(f"/calculations/{calculation}", params=given)
    assert page.status_code == 422
    assert said.lower() in page.text.lower()
    assert all(value in page.text for value in given.values())


def test_a_centre_that_is_nowhere_is_said_to_be_infinite(client: TestClient) -> None:
    links = {"lower_carrier": "0, 0", "lower_body": "500, 0", "upper_carrier": "0, 200", "upper_body": "500, 200"}
    page = client.get("/calculations/linkages.instant_centre", params=links)
    assert page.status_code == 200
    assert "infinite" in page.text
    assert "nan" not in page.text.replace("finance", "")


def test_a_wire_gauge_is_read_with_its_stroke(client: TestClient) -> None:
    assert "67.431" in client.get("/calculations/wiring.gauge_area", params={"gauge": "2/0"}).text
