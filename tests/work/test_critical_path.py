"""The forward and backward pass."""

from __future__ import annotations

import pytest

from fishplate.work import Precedence, critical_path


def test_start_to_start_link_lets_jobs_overlap() -> None:
    path = critical_path({"a": 10, "b": 4}, [Precedence("a", "b", "start-start", 3)])
    assert (path.es["b"], path.duration, path.slack["b"]) == (3, 10, 3)
    assert path.chain == ("a",)


def test_start_of_a_job_is_critical_where_only_its_start_holds_the_rest() -> None:
    path = critical_path({"a": 1, "b": 9}, [("a", "b", "start-start", 2)])
    assert path.duration == 11
    assert path.slack == {"a": 0, "b": 0}
    assert path.chain == ("a", "b")


def test_lag_lengthens_the_path() -> None:
    path = critical_path({"a": 2, "b": 3}, [("a", "b", "finish-start", 4)])
    assert (path.es["b"], path.lf["a"], path.duration) == (6, 2, 9)


def test_chain_is_one_path_and_ties_go_by_id() -> None:
    path = critical_path({"a": 2, "b": 2, "c": 1}, [("b", "c"), ("a", "c")])
    assert path.critical == ("a", "b", "c")
    assert path.chain == ("a", "c")


def test_nothing_takes_no_time() -> None:
    assert critical_path({}, []).duration == 0


@pytest.mark.parametrize(
    ("durations", "links", "words"),
    [
        ({"a": 1, "b": 1}, [("a", "b"), ("b", "a")], "circle: a → b → a"),
        ({"a": -1}, [], "negative or not a number: a"),
        ({"a": float("nan")}, [], "negative or not a number: a"),
        ({"a": 1}, [("a", "z")], "without a duration: z"),
    ],
)
def test_bad_networks_are_refused_by_name(
    durations: dict[str, float], links: list[tuple[str, str]], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        critical_path(durations, links)
