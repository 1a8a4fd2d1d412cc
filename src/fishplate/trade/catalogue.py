"""Every calculation of this package, with its parameters, units, source and what it is for, read from its docstring."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from types import ModuleType
from typing import Any, Literal, get_type_hints

from .tables import table
from .templates import Template, templates

__all__ = ["SUBJECTS", "Calculation", "Parameter", "Quantity", "calculations"]

SUBJECTS = (
    "arches", "axes", "brakes", "coupling", "driveline", "fasteners", "gearing", "housings", "hydraulics", "linkages",
    "mounts", "springs", "steering", "weight", "wheels", "wiring",
)  # fmt: skip

Kind = Literal["number", "array", "text", "count", "flag", "gauge"]
_KINDS: dict[str, Kind] = {
    "Value": "number", "float": "number", "FloatArray": "array", "FloatArray | None": "array", "str": "text",
    "int": "count", "bool": "flag", "Gauge": "gauge",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Quantity:
    """Something taken or returned, as its docstring has it.

    Parameters
    ----------
    unit : "-" for a plain number, empty for text
    shape : of an array, such as "(n, 3)"
    """

    name: str
    words: str
    unit: str = ""
    shape: str = ""


@dataclass(frozen=True, slots=True)
class Parameter:
    """An argument of a calculation."""

    quantity: Quantity
    kind: Kind
    keyword_only: bool = False
    default: Any = inspect.Parameter.empty

    @property
    def name(self) -> str:
        """As in the signature."""
        return self.quantity.name

    @property
    def required(self) -> bool:
        """Whether it has no default."""
        return self.default is inspect.Parameter.empty


@dataclass(frozen=True, slots=True)
class Calculation:
    """A function of this package and what is known of it.

    Parameters
    ----------
    id : subject.function
    results : one, or one for each field
    hazards : what its subject is near
    """

    id: str
    function: Callable[..., Any]
    purpose: str
    parameters: tuple[Parameter, ...]
    results: tuple[Quantity, ...]
    notes: str
    references: str
    hazards: tuple[str, ...]
    caution: str

    @property
    def templates(self) -> tuple[Template, ...]:
        """Conditions it gives the value of."""
        return tuple(item for item in templates() if item.calculation == self.id)

    @property
    def settles(self) -> str:
        """What it decides, where it has no condition of its own; empty otherwise."""
        subject, name = self.id.split(".")
        return str(table("decisions").get(subject, {}).get(name, ""))


@lru_cache(maxsize=1)
def calculations() -> dict[str, Calculation]:
    """Every calculation by its id, in order of subject and name."""
    found = {}
    for subject in SUBJECTS:
        module = importlib.import_module(f"fishplate.trade.{subject}")
        for name in sorted(module.__all__):
            function = getattr(module, name)
            if inspect.isfunction(function):
                found[f"{subject}.{name}"] = _calculation(f"{subject}.{name}", function, module)
    return found


def _calculation(id_: str, function: Callable[..., Any], module: ModuleType) -> Calculation:
    sections = read_sections(function.__doc__ or "")
    return Calculation(
        id_, function, sections[""], _parameters(function, sections), _results(function, sections),
        sections.get("Notes", ""), sections.get("References", ""), tuple(getattr(module, "HAZARDS", ())),
        _caution(module),
    )  # fmt: skip


def _caution(module: ModuleType) -> str:
    """The second paragraph of a subject that is near something that can hurt."""
    paragraphs = (module.__doc__ or "").split("\n\n")
    return " ".join(paragraphs[1].split()) if hasattr(module, "HAZARDS") and len(paragraphs) > 1 else ""


def _parameters(function: Callable[..., Any], sections: dict[str, str]) -> tuple[Parameter, ...]:
    described = {item.name: item for item in read_quantities(sections.get("Parameters", ""))}
    return tuple(
        Parameter(
            described.get(name, Quantity(name, "")),
            _KINDS.get(str(parameter.annotation), "text"),
            parameter.kind is inspect.Parameter.KEYWORD_ONLY,
            parameter.default,
        )
        for name, parameter in inspect.signature(function).parameters.items()
    )


def _results(function: Callable[..., Any], sections: dict[str, str]) -> tuple[Quantity, ...]:
    returned = get_type_hints(function)["return"]
    if dataclasses.is_dataclass(returned):
        described = {
            item.name: item for item in read_quantities(read_sections(returned.__doc__ or "").get("Parameters", ""))
        }
        return tuple(
            described.get(field.name, Quantity(field.name, "")) for field in dataclasses.fields(returned)
        )  # fmt: skip
    words, shape, unit = _parted(" ".join(sections.get("Returns", "").split()))
    return (Quantity("value", words, unit, shape),)


_HEAD = re.compile(r"^(Parameters|Returns|Raises|Notes|References|Examples)\n-+\n", re.MULTILINE)


def read_sections(text: str) -> dict[str, str]:
    """Sections of a docstring by their heads; what stands before the first is "".

    Examples
    --------
    >>> read_sections("Purpose.\\n\\nNotes\\n-----\\nk = F / s.\\n")
    {'': 'Purpose.', 'Notes': 'k = F / s.'}
    """
    parts = _HEAD.split(inspect.cleandoc(text) + "\n")
    return {"": parts[0].strip(), **{head: body.strip() for head, body in zip(parts[1::2], parts[2::2], strict=True)}}


_ENTRY = re.compile(r"^(\w+(?:, \w+)*) : ", re.MULTILINE)
_TAIL = re.compile(r"^(?P<words>.*?)(?: ?(?P<shape>\([^()]*,[^()]*\)))?(?: ?\[(?P<unit>[^\]]+)\])?$", re.DOTALL)


def read_quantities(text: str) -> list[Quantity]:
    """Entries of a section, each `name : words (shape) [unit]`.

    Examples
    --------
    >>> read_quantities("point : places of the panel (n, 3) [mm]")
    [Quantity(name='point', words='places of the panel', unit='mm', shape='(n, 3)')]
    """
    parts = _ENTRY.split(text)
    found = []
    for names, body in zip(parts[1::2], parts[2::2], strict=True):
        words, shape, unit = _parted(" ".join(body.split()))
        found += [Quantity(name, words, unit, shape) for name in names.split(", ")]
    return found


def _parted(text: str) -> tuple[str, str, str]:
    match = _TAIL.match(text)
    assert match is not None
    return match["words"].strip(), match["shape"] or "", match["unit"] or ""
