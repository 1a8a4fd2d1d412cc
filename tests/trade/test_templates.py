"""Conditions as templates: plain arithmetic, the same as the functions they name, and enough for the demonstration."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fishplate.build import Refused, build_from_data
from fishplate.build.expression import parse_expression
from fishplate.build.interface_kinds import interface_kinds
from fishplate.build.units import parse_unit
from fishplate.starters import load_demo
from fishplate.trade import Template, calculations, template, templates, templates_for
from fishplate.trade.templates import put_in, template_dimensions

DRAWS = 200


def drawn(item: Template) -> dict[str, np.ndarray]:
    """Values in internal units, somewhere sensible for the unit."""
    r = np.random.default_rng(3)
    near = {"length": (40.0, 900.0), "angle": (0.01, 0.2), "number": (0.5, 0.9)}
    values = {
        name: r.uniform(*near.get(parse_unit(template_dimensions()[name].unit).kind, (100.0, 900.0)), DRAWS)
        for name in item.names
    }
    if "ring_outer" in values:
        values["ring_outer"] = values["ring_inner"] + 20
    if "drawbar_length" in values:
        values["drawbar_length"] += 900
    return values


def argument(item: Template, name: str, kind: str, values: dict[str, np.ndarray]) -> Any:
    """A parameter filled from the template's dimensions, by its own name less the unit or as the template says."""
    given = item.arguments.get(name)
    if given is None:
        given = next(
            known
            for known in sorted(item.names, key=len, reverse=True)
            if name == known or name.startswith(f"{known}_")
        )
    texts = (given,) if isinstance(given, str) else given
    parts = [np.broadcast_to(parse_expression(text).evaluate(values), DRAWS) for text in texts]
    return np.stack(parts, axis=-1) if kind == "array" else parts[0]


@pytest.mark.parametrize("item", [each for each in templates() if each.calculation], ids=lambda item: item.id)
def test_a_template_gives_what_its_calculation_gives(item: Template) -> None:
    calculation = calculations()[item.calculation or ""]
    values = drawn(item)
    arguments = {
        parameter.name: argument(item, parameter.name, parameter.kind, values)
        for parameter in calculation.parameters if parameter.required
    }  # fmt: skip
    result = calculation.function(**arguments)
    if item.taken_from:
        result = values[item.taken_from] - result
    if item.less:
        result = result - values[item.less]
    expected = parse_expression(item.expression).evaluate(values)
    assert np.allclose(result, np.broadcast_to(expected, DRAWS), rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("item", templates(), ids=lambda item: item.id)
def test_units_of_a_template_agree_with_its_limits(item: Template) -> None:
    kinds = {dimension.id: parse_unit(dimension.unit).kind for dimension in item.dimensions}
    expression = parse_expression(item.expression)
    limits = [text for text in (item.at_least, item.at_most) if text is not None]
    assert limits
    for limit in limits:
        expression.agree(parse_expression(limit), kinds)


def test_ids_are_used_once_and_every_dimension_is_asked_for() -> None:
    ids = [item.id for item in templates()]
    assert len(set(ids)) == len(ids)
    assert {name for item in templates() for name in item.names} == template_dimensions().keys()


def test_a_limit_that_is_only_a_start_defers_to_the_maker() -> None:
    starts = [item for item in templates() if "starting value" in item.source.lower()]
    assert starts
    assert all("maker's figure" in item.source for item in starts)


def test_hazards_are_marked_where_a_misfit_is_grave() -> None:
    near_brakes_or_steering = [item for item in templates() if {"brakes", "steering"} & set(item.hazards)]
    assert near_brakes_or_steering
    assert all(item.consequence != "inconvenience" for item in near_brakes_or_steering)


def test_a_name_inside_another_is_left_alone() -> None:
    assert put_in("gap - gap_at_rest + 2 * gap", {"gap": "a_gap", "gap_at_rest": "b"}) == "a_gap - b + 2 * a_gap"


def test_an_interface_of_a_kind_is_offered_its_conditions() -> None:
    offered = {item.id for item in templates_for("tyre-arch")}
    assert {"tyre-room-at-bump", "tyre-room-at-lock", "tyre-inside-lip", "tyre-outside-tub"} <= offered
    assert templates_for("no-such-kind") == ()


# --- the demonstration's conditions ---

PARTS: dict[str, dict[str, str]] = tomllib.loads(Path(__file__).with_name("demo_templates.toml").read_text("utf-8"))
DEMO = {condition.id: condition for condition in load_demo().conditions if condition.expression}


def test_every_computed_condition_of_the_demonstration_comes_from_a_template() -> None:
    assert DEMO.keys() == PARTS.keys()


@pytest.mark.parametrize("id_", DEMO)
def test_template_and_demonstration_say_the_same(id_: str) -> None:
    condition = DEMO[id_]
    dimensions = dict(PARTS[id_])
    made = template(dimensions.pop("template")).condition(id_, condition.interface, dimensions)
    r = np.random.default_rng(5)
    values = {name: r.uniform(10.0, 900.0, DRAWS) for name in condition.names}
    own, its = (parse_expression(item.expression).evaluate(values) for item in (condition, made))
    assert np.allclose(own, its)
    assert (condition.at_least is None, condition.at_most is None) == (made.at_least is None, made.at_most is None)


def test_kinds_of_interface_are_those_that_templates_are_for() -> None:
    assert interface_kinds().keys() == {kind for item in templates() for kind in item.interfaces}
    assert all(templates_for(kind) for kind in interface_kinds())


def test_an_interface_of_a_kind_that_is_not_known_is_refused_with_near_ones() -> None:
    assert build_from_data({"interfaces": [{"id": "a", "name": "A", "kind": "tyre-arch"}]}).interfaces[0].kind
    with pytest.raises(Refused, match="there is no such kind of interface; tyre-arch"):
        build_from_data({"interfaces": [{"id": "a", "name": "A", "kind": "tyre-arc"}]})


@pytest.mark.parametrize(
    ("put", "units"),
    [("axle_angle", "an angle in deg"), ("trailer + 5 mm", "a mass in lb"), ("12 lbf", "a force in lbf")],
)
def test_a_template_over_a_dimension_of_another_kind_is_refused_naming_both_units(put: str, units: str) -> None:
    made = template("bore-over-spigot").condition("c", "i", {"bore": "bore", "spigot": put})
    with pytest.raises(Refused) as refusal:
        build_from_data({
            "interfaces": [{"id": "i", "name": "Place"}],
            "dimensions": [{"id": "bore", "name": "Bore"}, {"id": "axle_angle", "name": "Angle", "unit": "deg"},
                           {"id": "trailer", "name": "Trailer", "unit": "lb"}],
            "conditions": [made.model_dump(mode="json")],
        })  # fmt: skip
    assert "mm" in str(refusal.value)
    assert units in str(refusal.value)
