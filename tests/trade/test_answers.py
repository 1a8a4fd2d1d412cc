"""Every calculation's worked example, read back from how a person would write it."""

import pytest

from fishplate.build import Refused
from fishplate.trade import Calculation, calculations
from fishplate.trade.answers import example_of, value_words, work_out


@pytest.mark.parametrize("found", calculations().values(), ids=lambda found: found.id)
def test_the_worked_example_is_read_back_as_it_is_written(found: Calculation) -> None:
    given = example_of(found)
    assert {item.name for item in found.parameters if item.required} <= given.keys()
    answer = work_out(found, [], given)
    assert any(value_words(value, item.unit) for item, value in answer.parts)


def test_what_is_only_rounding_is_shown_as_nothing() -> None:
    assert value_words([2694.9, -3.6e-14], "mm") == "[2694.9, 0] mm"


def test_faults_are_all_told_at_once() -> None:
    with pytest.raises(Refused) as refused:
        work_out(calculations()["arches.bump_room"], ["wide", "3 kg"], {})
    assert len(refused.value.problems) == 3
