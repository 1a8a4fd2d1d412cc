"""Reads the text of an expression by precedence: sums of products of signed powers of atoms."""

from __future__ import annotations

import re
from math import isfinite

from .expression_nodes import (
    CONSTANTS,
    FUNCTIONS,
    Binary,
    Call,
    ExpressionError,
    Literal,
    Name,
    Negative,
    Node,
    Power,
    Span,
)
from .units import UnitProblem, parse_unit

MAX_CHARACTERS = 2000
MAX_DEPTH = 50
MAX_NODES = 500
MAX_EXPONENT = 10.0

# --- reading ---------------------------------------------------------------------------------------------------------

_NUMBER = re.compile(r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_MIXED = re.compile(r"([0-9]+)[ \t]+([0-9]+)/([0-9]+)(?![0-9.])")
_FRACTION = re.compile(r"([0-9]+)/([0-9]+)(?=[ \t]*(?:[A-Za-zµ°\"]))(?![0-9.])")
_WORD = re.compile(r"[a-z][a-z0-9_]*")
_UNIT = re.compile(r"[ \t]*(\"|[A-Za-zµ°][A-Za-z0-9_µ°]*)")
_UNIT_POWER = re.compile(r"(?:\*\*|\^)-?[1-4](?![0-9.])|[²³]")
_UNIT_NEXT = re.compile(r"([*/·])([A-Za-zµ°]+)(?![A-Za-z0-9_(])")
_SPACE = re.compile(r"\s*")
_COMMA_NUMBER = re.compile(r"[0-9],[0-9]")

# After a stroke or a dot only these are read as going on with the unit; anything else is a dimension.
_UNIT_ATOMS = frozenset(
    ["mm", "cm", "m", "in", "ft", "kg", "g", "lb", "lbf", "kgf", "N", "kN", "rad", "deg", "s", "min", "h", "V", "A",
     "W"]
)  # fmt: skip
_SIGNS = {"−": "-", "×": "*", "·": "*", "÷": "/", "^": "**", "π": "pi"}


class Reader:
    """Reads by precedence: sums of products of signed powers of atoms."""

    def __init__(self, text: str) -> None:
        self.text, self.at, self.depth, self.nodes = text, 0, 0, 0
        self._space()

    def whole(self) -> Node:
        """The whole text as one node."""
        if self.at == len(self.text):
            raise self._fault("nothing is written", "Write arithmetic over dimensions, such as a - b.")
        node = self._sum()
        if self.at < len(self.text):
            raise self._fault(f"did not expect {self._shown()} here", "Write an operation between two values.")
        return node

    def _fault(self, what: str, do: str = "Correct it.", at: int | None = None) -> ExpressionError:
        return ExpressionError(self.text, (self.at if at is None else at) + 1, what, do)

    def _shown(self) -> str:
        word = _WORD.match(self.text, self.at)
        return repr(word[0] if word else self.text[self.at : self.at + 1]) if self.at < len(self.text) else "the end"

    def _space(self) -> None:
        match = _SPACE.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _take(self, *signs: str) -> str | None:
        for sign in signs:
            for written in (sign, *(other for other, plain in _SIGNS.items() if plain == sign)):
                if self.text.startswith(written, self.at):
                    self.at += len(written)
                    self._space()
                    return sign
        return None

    def _made(self, node: Node) -> Node:
        self.nodes += 1
        if self.nodes > MAX_NODES:
            raise self._fault(f"more than {MAX_NODES} operations and values", "Divide it into several conditions.")
        return node

    def _deeper(self) -> None:
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise self._fault(f"nested more than {MAX_DEPTH} deep", "Simplify it.")

    def _span(self, start: int) -> Span:
        return start, len(self.text[: self.at].rstrip())

    def _sum(self) -> Node:
        start, node = self.at, self._product()
        while (sign := self._take("+", "-")) is not None:
            node = self._made(Binary(sign, node, self._product(), self._span(start)))
        return node

    def _product(self) -> Node:
        start, node = self.at, self._signed()
        # a power sign also begins with a star, but powers are read further in
        while (sign := self._take("*", "/")) is not None:
            if sign == "/" and _FRACTION.match(self.text, self.at):
                raise self._fault("a fraction straight after a stroke can be read two ways", "Put it in brackets.")
            node = self._made(Binary(sign, node, self._signed(), self._span(start)))
        return node

    def _signed(self) -> Node:
        start = self.at
        sign = self._take("-", "+")
        if sign is None:
            return self._power()
        self._deeper()
        node = self._signed()
        self.depth -= 1
        return self._made(Negative(node, self._span(start))) if sign == "-" else node

    def _power(self) -> Node:
        start, base = self.at, self._atom()
        if self._take("**") is None:
            return base
        exponent = self._exponent()
        if self._take("**") is not None:
            raise self._fault("a power of a power can be read two ways", "Put brackets round the first.")
        return self._made(Power(base, exponent, self._span(start)))

    def _exponent(self) -> float:
        start, sign = self.at, self._take("-", "+")
        match = _NUMBER.match(self.text, self.at)
        if match is None:
            raise self._fault("a power takes a plain number", "Write a ^ 2, or use sqrt.")
        exponent = float(match[0]) * (-1 if sign == "-" else 1)
        if abs(exponent) > MAX_EXPONENT:
            raise self._fault(f"a power beyond {MAX_EXPONENT:g}", "Use a smaller one.", start)
        self.at = match.end()
        self._space()
        return exponent

    def _atom(self) -> Node:
        start = self.at
        if self._take("("):
            self._deeper()
            node = self._sum()
            self.depth -= 1
            if not self._take(")"):
                raise self._fault(f"expected a closing bracket, got {self._shown()}", "Close the bracket.")
            return node
        if self._take("π"):
            return self._made(Literal(CONSTANTS["pi"], "", "number", self._span(start)))
        if self.text[start : start + 1] in set("0123456789."):
            return self._literal()
        match = _WORD.match(self.text, start)
        if match is None:
            raise self._fault(f"expected a value, got {self._shown()}", "Write a dimension, a number or a bracket.")
        self.at = match.end()
        self._space()
        return self._word(match[0], start)

    def _word(self, word: str, start: int) -> Node:
        if self.text.startswith("(", self.at):
            return self._call(word, start)
        if word in CONSTANTS:
            return self._made(Literal(CONSTANTS[word], "", "number", self._span(start)))
        if word in FUNCTIONS:
            raise self._fault(f"{word} is a function", f"Write {word}(...).", start)
        return self._made(Name(word, self._span(start)))

    def _call(self, word: str, start: int) -> Node:
        if word not in FUNCTIONS:
            raise self._fault(f"{word!r} is not a function", f"Use one of {', '.join(sorted(FUNCTIONS))}.", start)
        self._deeper()
        self._take("(")
        arguments = [self._sum()]
        while self._take(","):
            arguments.append(self._sum())
        self.depth -= 1
        if not self._take(")"):
            raise self._fault(f"expected a comma or a closing bracket, got {self._shown()}", "Close the bracket.")
        function = FUNCTIONS[word]
        if not function.fewest <= len(arguments) <= function.most:
            wanted = f"{function.fewest}" if function.fewest == function.most else f"at least {function.fewest}"
            raise self._fault(f"{word} takes {wanted} values, got {len(arguments)}", "Separate them by commas.", start)
        return self._made(Call(word, tuple(arguments), self._span(start)))

    def _literal(self) -> Node:
        start = self.at
        number = self._number()
        if _COMMA_NUMBER.match(self.text, self.at - 1):
            raise self._fault("a comma between digits can be read two ways", "Write 12.5, or a space after the comma.")
        symbol, kind, factor = self._unit()
        if not isfinite(number * factor):
            raise self._fault("the number is too large", "Use a smaller one.", start)
        self._space()
        return self._made(Literal(number * factor, symbol, kind, self._span(start)))

    def _number(self) -> float:
        for pattern in (_MIXED, _FRACTION):
            if match := pattern.match(self.text, self.at):
                *whole, top, bottom = (int(group) for group in match.groups())
                if bottom == 0:
                    raise self._fault("a fraction divides by zero")
                self.at = match.end()
                return self._finite(sum(whole), top, bottom)
        match = _NUMBER.match(self.text, self.at)
        if match is None:
            raise self._fault(f"expected a number, got {self._shown()}")
        self.at = match.end()
        return float(match[0])

    def _finite(self, whole: int, top: int, bottom: int) -> float:
        try:
            return whole + top / bottom
        except OverflowError:
            raise self._fault("the number is too large", "Use a smaller one.") from None

    def _unit(self) -> tuple[str, str, float]:
        """The longest unit that stands here: its text, kind and factor; a plain number if none does."""
        match = _UNIT.match(self.text, self.at)
        if match is None:
            return "", "number", 1.0
        start, ends = match.start(1), [match.end()]
        if match[1] in FUNCTIONS or match[1] in CONSTANTS:
            raise self._fault(f"did not expect {match[1]!r} straight after a number", "Write * in between.", start)
        if power := _UNIT_POWER.match(self.text, ends[-1]):
            ends.append(power.end())
        while (further := _UNIT_NEXT.match(self.text, ends[-1])) and further[2] in _UNIT_ATOMS:
            power = _UNIT_POWER.match(self.text, further.end())
            ends.append(power.end() if power else further.end())
        refusal = ""
        for end in reversed(ends):
            written = self.text[start:end]
            try:
                unit = parse_unit(_plain_unit(written))
            except UnitProblem as problem:
                refusal = str(problem)
                continue
            self.at = end
            return written, unit.kind, unit.factor
        raise self._fault(refusal, "Write an operation, or a unit such as mm.", start)


def _plain_unit(written: str) -> str:
    for sign, plain in (("^", "**"), ("²", "**2"), ("³", "**3"), ("·", "*"), ("µ", "u")):
        written = written.replace(sign, plain)
    return written
