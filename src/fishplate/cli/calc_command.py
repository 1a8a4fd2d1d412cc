"""`fishplate calc`

Keys of --json: calculation, purpose, arguments [name, given, value, unit], results [name, words, value, unit, shape],
notes, references, caution, settles, conditions [id, name, expression, at_least, at_most, source, consequence].
With --list: calculations [calculation, purpose, parameters [name, words, unit, shape, required], results, settles,
conditions]. Numbers that have no value are null.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from .common import JSON_FLAG, emit, table

if TYPE_CHECKING:
    from ..trade.answers import Answer
    from ..trade.catalogue import Calculation, Parameter, Quantity
    from ..trade.templates import Template


@click.command("calc", context_settings={"ignore_unknown_options": True})
@click.argument("name", metavar="SUBJECT.FUNCTION", required=False)
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
@click.option("--list", "as_list", is_flag=True, help="List every calculation, or those of a subject.")
@JSON_FLAG
def command(name: str | None, arguments: tuple[str, ...], as_list: bool, as_json: bool) -> None:
    """Vehicle engineering: tyres, shafts, springs, brakes, links, screws, wires, loads.

    Give the values in order, or as name=value, with units: "12.5 mm", "3 deg", "1 3/8 in", "3500 rpm". A bare number is
    taken in the unit the calculation works in. Lists are parted by commas, rows of points by semicolons.

    \b
    fishplate calc wheels.tyre_size "205/65R15C"
    fishplate calc springs.spring_rate "12 mm" "100 mm" 6 shear_modulus_mpa="81.5 GPa"
    fishplate calc wheels.tyre_size          what it takes
    fishplate calc --list springs            what there is
    """
    if as_list or name is None:
        _show_list(name, as_json)
        return
    found = _find(name)
    if not arguments and any(parameter.required for parameter in found.parameters):
        _describe(found, as_json)
        return
    _show(found, _worked_out(found, arguments), as_json)


def _find(name: str) -> Calculation:
    from difflib import get_close_matches

    from ..trade import calculations

    known = calculations()
    if (plain := name.strip().lower().replace("-", "_")) in known:
        return known[plain]
    near = [id_ for id_ in known if id_.split(".")[1] == name] or get_close_matches(name, known, 3, 0.5)
    hint = f"Did you mean {' or '.join(near)}?" if near else "See fishplate calc --list."
    raise click.UsageError(f"There is no calculation {name!r}. {hint}")


def _worked_out(found: Calculation, arguments: tuple[str, ...]) -> Answer:
    """The answer to what was written; raises Refused."""
    from ..trade.answers import work_out

    if len(found.parameters) == 1 and found.parameters[0].kind == "text":
        arguments = (" ".join(arguments),)  # a designation may be written without quotes
    names = {parameter.name for parameter in found.parameters}
    parted = [(item, *item.partition("=")) for item in arguments]
    # only name=value names a parameter: a designation may hold an equals sign too
    named = {head.strip(): tail for _, head, sign, tail in parted if sign and (head.isidentifier() or head in names)}
    positional = [item for item, head, sign, _ in parted if not sign or head.strip() not in named]
    return work_out(found, positional, named)


def _show(found: Calculation, answer: Answer, as_json: bool) -> None:
    from ..trade.answers import label, value_words

    given, values = answer.given, answer.values
    if as_json:
        arguments = [
            {"name": item.name, "given": given.get(item.name), "value": _plain(values.get(item.name, item.default)),
             "unit": item.quantity.unit}
            for item in found.parameters
        ]  # fmt: skip
        results = [{**_quantity(item), "value": _plain(part)} for item, part in answer.parts]
        emit(
            {
                "calculation": found.id,
                "purpose": found.purpose,
                "arguments": arguments,
                "results": results,
                **_rest(found),
            }
        )
        return
    click.echo(f"{found.purpose}\n")
    taken = [
        (
            item.name,
            given.get(item.name, "(as usual)"),
            value_words(values.get(item.name, item.default), item.quantity.unit),
        )
        for item in found.parameters
    ]
    table(["given", "as written", "taken as"], taken)
    rows = [(label(item), value_words(part, item.unit), item.words) for item, part in answer.parts]
    table(["result", "", ""], [row for row in rows if row[1]])
    _say_rest(found)


def _describe(found: Calculation, as_json: bool) -> None:
    """What a calculation takes and gives."""
    if as_json:
        emit(_listed(found) | _rest(found))
        return
    click.echo(f"{found.purpose}\n")
    table(
        ["takes", "", "unit", ""],
        [(item.name, _about(item.quantity), item.quantity.unit, _default(item)) for item in found.parameters],
    )
    table(["gives", "unit"], [(_about(item), item.unit) for item in found.results])
    _say_rest(found)


def _say_rest(found: Calculation) -> None:
    click.echo(found.notes)
    click.echo(f"Source: {' '.join(found.references.split())}")
    if found.settles:
        click.echo(f"Settles: {found.settles}")
    for item in found.templates:
        click.echo(f"Condition: {item.name}: {_limits(item)} ({item.source}).")
    if found.caution:
        click.echo(f"\n{found.caution}")


def _limits(item: Template) -> str:
    least, most = item.at_least, item.at_most
    if least is not None and most is not None:
        return f"from {least} to {most}"
    return f"at least {least}" if least is not None else f"at most {most}"


def _show_list(subject: str | None, as_json: bool) -> None:
    from ..trade import calculations
    from ..trade.catalogue import SUBJECTS

    if subject is not None and subject not in SUBJECTS:
        raise click.UsageError(f"There is no subject {subject!r}. There are {', '.join(SUBJECTS)}.")
    found = [item for item in calculations().values() if subject in (None, item.id.split(".")[0])]
    if as_json:
        emit({"calculations": [_listed(item) for item in found]})
        return
    table(["calculation", "what for"], [(item.id, item.purpose) for item in found])
    click.echo("fishplate calc SUBJECT.FUNCTION says what one takes.")


def _listed(found: Calculation) -> dict[str, Any]:
    return {
        "calculation": found.id,
        "purpose": found.purpose,
        "parameters": [{**_quantity(item.quantity), "required": item.required} for item in found.parameters],
        "results": [_quantity(item) for item in found.results],
        "settles": found.settles,
        "conditions": [_condition(item) for item in found.templates],
    }


def _rest(found: Calculation) -> dict[str, Any]:
    return {"notes": " ".join(found.notes.split()), "references": " ".join(found.references.split()),
            "caution": found.caution, "settles": found.settles,
            "conditions": [_condition(item) for item in found.templates]}  # fmt: skip


def _condition(item: Template) -> dict[str, Any]:
    return item.model_dump(
        mode="json", include={"id", "name", "expression", "at_least", "at_most", "source", "consequence"}
    )


def _quantity(item: Quantity) -> dict[str, str]:
    return {"name": item.name, "words": item.words, "unit": item.unit, "shape": item.shape}


def _about(item: Quantity) -> str:
    return f"{item.words or item.name} {item.shape}".strip()


def _default(parameter: Parameter) -> str:
    return (
        ""
        if parameter.required
        else f"{parameter.default:.6g}"
        if isinstance(parameter.default, float)
        else str(parameter.default)
    )


def _plain(value: Any) -> Any:
    """A value for programs: arrays as lists, what is no number as null."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
