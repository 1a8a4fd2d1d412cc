"""A hundred thousand strings: each is read as arithmetic or refused with its column, and nothing else ever happens."""

import random
import sys
from contextlib import suppress

import numpy as np
import pytest

from fishplate.build.expression import Expression, ExpressionError, parse_expression
from fishplate.build.expression_nodes import Binary, Call, Literal, Name, Negative, Power, walk
from fishplate.build.expression_reader import MAX_CHARACTERS, MAX_DEPTH, MAX_NODES
from fishplate.build.units import UnitProblem

COUNT = 100_000
NODES = (Binary, Call, Literal, Name, Negative, Power)
PIECES = (
    "a", "b", "arch_height", "x1", "1", "2.5", ".5", "1e3", "1e308", "3/8", "1 3/8", "0", "mm", "in", "lb", "lbf",
    "deg", "rad", "N/mm", "N*mm", "°", '"', "²", "³", "·", "×", "÷", "−", "π", "pi", "+", "-", "*", "/", "^", "**", "(",
    ")", ",", ".", "_", "[", "]", "{", "}", ";", ":", "'", "\\", "\n", "\t", " ", "\x00", "é", "😀", "if", "lambda",
    "import",
    "__class__", "a.b", "a()", "a[0]", "sin(", "cos(", "tan(", "asin(", "acos(", "atan(", "atan2(", "sqrt(", "abs(",
    "min(", "max(", "hypot(", "clip(", "eval(", "exec(", "open(", "__import__('os')", "9" * 60, "(" * 30, "-" * 30,
)  # fmt: skip
SOUND = (
    "arch_height - tyre_radius - 15 mm", "hypot(a, b) / max(a, b) * 2.5 mm", "2 * (1 3/8 in + 0.6 mm)",
    "a * sin(30 deg) + clip(b, 1 mm, 2 mm)", "(a - b) ^ 2 / (3 mm)", "35 N/mm * (a - 4 mm)", "atan2(a, b) - 0.5 rad",
    "min(a, b, 3 mm) - abs(-a)", "piston^2 * travel / (bore^2 * stroke)", "1 / a + 1 / b - 3 / (2 mm)",
)  # fmt: skip


def strings(seed: int, count: int) -> list[str]:
    """Heaps of pieces, heaps of characters, and sound expressions with pieces put in, taken out and turned round."""
    chance = random.Random(seed)
    found = []
    for number in range(count):
        match number % 3:
            case 0:
                found.append("".join(chance.choice(PIECES) for _ in range(chance.randrange(1, 24))))
            case 1:
                size = chance.randrange(1, 60)
                found.append("".join(chr(chance.choice((chance.randrange(32, 127), chance.randrange(1, 0x2FFF))))
                                     for _ in range(size)))  # fmt: skip
            case _:
                found.append(_bent(chance, chance.choice(SOUND)))
    return found


def _bent(chance: random.Random, text: str) -> str:
    for _ in range(chance.randrange(1, 5)):
        at, size = chance.randrange(len(text) + 1), chance.randrange(0, 6)
        put = chance.choice(("", chance.choice(PIECES), text[at : at + size][::-1], text[: chance.randrange(1, 9)]))
        text = text[:at] + put + text[at + size :]
    return text


def read(text: str) -> Expression | ExpressionError:
    """An expression, or its refusal; anything else that is raised goes through."""
    try:
        return parse_expression(text)
    except ExpressionError as fault:
        return fault


def met(text: str) -> bool:
    """Whether a string is arithmetic; it is worked out if it is, and refused with a place inside it if not."""
    expression = read(text)
    if isinstance(expression, ExpressionError):
        assert 1 <= expression.column <= len(text) + 1, text
        assert expression.what, text
        assert expression.do, text
        return False
    nodes = list(walk(expression.root))
    assert all(isinstance(node, NODES) for node in nodes), text
    assert len(nodes) <= MAX_NODES + 1, text
    with suppress(UnitProblem):
        expression.kind(dict.fromkeys(expression.names, "length"))
    one = expression.evaluate(dict.fromkeys(expression.names, 2.0))
    assert isinstance(one, float), text
    three = expression.evaluate({name: np.array([0.0, -1.0, 2.0]) for name in expression.names})
    if expression.names:
        assert np.shape(three) in ((3,), ()), text
    return True


def test_a_few_thousand_strings_are_read_or_refused() -> None:
    sound = sum(met(text) for text in strings(7, 3000))
    assert 100 < sound < 2900


@pytest.mark.long
@pytest.mark.parametrize("part", range(4))
def test_a_hundred_thousand_strings_are_read_or_refused(part: int) -> None:
    sound = sum(met(text) for text in strings(100 + part, COUNT // 4))
    assert COUNT // 100 < sound < COUNT // 5


@pytest.mark.parametrize(
    "text",
    [
        "(" * 1999, "-" * 1999 + "a", "a^" * 900 + "2", "+".join(["a"] * 999), "sin(" * 400, "9" * 1999, "a," * 999,
        "max(" + "a," * 900 + "a)", "1 " * 900, "a" * 1999, "e" * 1999, "1e" * 900, "/" * 1999, '"' * 1999,
        "hypot(" * 45 + "a,b" + ")" * 45, "1 mm*" * 380 + "a",
    ],
)  # fmt: skip
def test_the_longest_strings_are_answered_and_leave_the_stack_alone(text: str) -> None:
    assert len(text) <= MAX_CHARACTERS
    assert sys.getrecursionlimit() > MAX_DEPTH * 12
    met(text)
