"""Expressions: when a reading means something, such as ``YS-101 == 1 and FIT-102 > 50``.

Words are tag names (hyphens included) and numbers, ``== != < <= > >=``, ``and or not`` and brackets.
A comparison with a value that is not known is itself not known, and a reading counts as valid only
where the whole expression is known to be true.
"""

import operator
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import polars as pl

_TOKEN = re.compile(
    r"\s*(?:(?P<number>-?\d+(?:\.\d+)?(?![\w.-]))|(?P<op>==|!=|<=|>=|<|>|\(|\))|(?P<word>[^\s()<>=!]+))"
)
_COMPARE: dict[str, Callable[[Any, Any], Any]] = {
    "==": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}


@dataclass(frozen=True)
class Expression:
    """A parsed condition.

    Parameters
    ----------
    text : str
        As written.
    names : tuple of str
        Tags (or states) it speaks of, in order of appearance.
    condition : polars expression
        Over columns of those names; null where it cannot be told.
    """

    text: str
    names: tuple[str, ...]
    condition: pl.Expr


def parse(text: str) -> Expression:
    """Parse a condition.

    Raises
    ------
    ValueError
        What is wrong and near which word.
    """
    parser = _Parser(_tokens(text))
    condition = parser.either()
    if parser.here is not None:
        raise ValueError(f"nothing was expected after {parser.before!r}, found {parser.here!r}")
    return Expression(text, tuple(dict.fromkeys(parser.names)), condition)


def _tokens(text: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    position = 0
    end = len(text.rstrip())
    while position < end:
        match = _TOKEN.match(text, position)
        if not match:
            raise ValueError(f"{text[position:].strip()[:12]!r} is not a tag, a number or a comparison")
        kind = match.lastgroup or ""
        found.append((kind, match[kind]))
        position = match.end()
    return found


class _Parser:
    """Recursive descent: or < and < not < comparison < tag, number or brackets."""

    def __init__(self, tokens: list[tuple[str, str]]) -> None:
        self.tokens = tokens
        self.position = 0
        self.names: list[str] = []

    @property
    def here(self) -> str | None:
        return self.tokens[self.position][1] if self.position < len(self.tokens) else None

    @property
    def before(self) -> str:
        return self.tokens[self.position - 1][1]

    def take(self, *words: str) -> str | None:
        if self.here in words:
            self.position += 1
            return self.before
        return None

    def either(self) -> pl.Expr:
        left = self.both()
        while self.take("or"):
            left = left | self.both()
        return left

    def both(self) -> pl.Expr:
        left = self.negation()
        while self.take("and"):
            left = left & self.negation()
        return left

    def negation(self) -> pl.Expr:
        return ~self.negation() if self.take("not") else self.comparison()

    def comparison(self) -> pl.Expr:
        if self.take("("):
            inside = self.either()
            if not self.take(")"):
                raise ValueError("a bracket is not closed")
            return inside
        left, is_name = self.operand()
        sign = self.take(*_COMPARE)
        if sign is None:
            if not is_name:
                raise ValueError(f"{self.before!r} stands alone; compare it with a tag")
            return left == 1.0
        right, _ = self.operand()
        compared: pl.Expr = _COMPARE[sign](left, right)
        return compared

    def operand(self) -> tuple[pl.Expr, bool]:
        if self.position >= len(self.tokens):
            raise ValueError("it ends where a tag or a number was expected")
        kind, word = self.tokens[self.position]
        if kind == "op" or word in ("and", "or", "not"):
            raise ValueError(f"a tag or a number was expected before {word!r}")
        self.position += 1
        if kind == "number":
            return pl.lit(float(word)), False
        self.names.append(word)
        return pl.col(word), True
