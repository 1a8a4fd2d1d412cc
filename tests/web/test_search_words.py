"""Finding by words: how a word is compared, what a number may look like, which slips are forgiven and which are not."""

import pytest

from fishplate.web.finding import Index, Thing, words_of

THINGS = (
    Thing("hose", "part", "Brake hose, front", "/parts/hose", "Missing.", ((3.0, "missing"),), ("AB-12 34/C",)),
    Thing("plate", "part", "Seat swivel plate", "/parts/plate", "In hand.", ((3.0, "in hand"),), ("CD-99",)),
    Thing("bow", "part", "Bågen, Größe Ø280", "/parts/bow"),
    Thing("thin", "dimension", "Bolt M10×1,25", "/interfaces/dimensions/thin"),
    Thing("thick", "dimension", "Bolt M12×1,25", "/interfaces/dimensions/thick"),
    Thing("wheels", "decision", "Wheels", "/decisions/wheels", "Open.", ((3.0, "open"),)),
    Thing("seats", "decision", "Seats", "/decisions/seats", "Decided.", ((3.0, "decided"),)),
    Thing(
        "order", "order", "Order from Duinvoet", "/o", "On its way, late.", ((3.0, "late overdue"), (2.0, "Brake hose"))
    ),
)
INDEX = Index(THINGS, ("open", "late", "missing"))


def found(text: str) -> list[str]:
    return [thing.id for _, thing in INDEX.find(text)]


@pytest.mark.parametrize("text", ["AB-12 34/C", "ab1234c", "AB 1234", "ab-1234", "hose ab12 34", "AB12", "ab-12.34"])
def test_a_part_number_is_found_however_its_parts_are_parted(text: str) -> None:
    assert found(text)[0] == "hose"


@pytest.mark.parametrize("text", ["M10x1.25", "m10×1,25", "M10 x 1.25", "bolt m10 X 1,25"])
def test_a_designation_is_found_however_it_is_written_and_no_other_for_it(text: str) -> None:
    assert found(text) == ["thin"]


@pytest.mark.parametrize("text", ["bagen", "BÅGEN", "grosse", "größe", "o280", "Ø280"])
def test_accents_and_case_do_not_count(text: str) -> None:
    assert found(text) == ["bow"]


@pytest.mark.parametrize(("text", "first"), [("braek hose", "hose"), ("swivle", "plate"), ("weels", "wheels")])
def test_small_slips_are_forgiven(text: str, first: str) -> None:
    assert found(text)[0] == first


def test_a_slip_is_not_looked_for_where_the_word_itself_is_there() -> None:
    assert found("seat") == ["seats", "plate"]


@pytest.mark.parametrize("text", ["", "  ", "the", "?!", "zzzzz", "m11x1.25", "\x00"])
def test_nothing_is_found_where_nothing_is(text: str) -> None:
    assert found(text) == []


def test_every_word_must_lead_to_it() -> None:
    assert found("brake hose missing") == ["hose"]
    assert found("swivel missing") == []


def test_things_are_found_by_where_they_stand() -> None:
    assert found("open decisions") == ["wheels"]
    assert found("missing parts") == ["hose"]
    assert found("overdue") == ["order"]


def test_a_state_is_not_found_inside_another_word() -> None:
    without = Index([thing for thing in THINGS if thing.id != "order"], ("late",))
    assert [thing.id for _, thing in without.find("late")] == []  # not the plate


def test_what_has_the_name_comes_before_what_only_tells_of_it() -> None:
    assert found("brake hose") == ["hose", "order"]


def test_decimal_fractions_and_sizes_stay_one_word() -> None:
    assert words_of("Tyre 225/75R16, 12,5 mm") == ["tyre", "225/75r16", "12.5", "mm"]


def test_long_and_odd_texts_take_no_harm() -> None:
    assert found("x" * 5000) == []
    assert found(" ".join(["brake"] * 500))[0] == "hose"
