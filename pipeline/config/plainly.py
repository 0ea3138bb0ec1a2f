"""Plainly: what pydantic finds wrong, in our words: the problem, and what to do."""

from collections.abc import Mapping
from typing import Any

_NUMBER = ("a number", "write a plain number such as 0.85")
_WHOLE = ("a whole number", "write a plain number such as 3")
_DAY = ("a day", "write it as 2026-11-09")
_TABLE = ("a table", "README.md shows how it is written")
_WANTED = {
    **dict.fromkeys(("float_parsing", "float_type", "finite_number"), _NUMBER),
    **dict.fromkeys(("int_parsing", "int_type", "int_from_float"), _WHOLE),
    **dict.fromkeys(("dict_type", "model_type", "model_attributes_type"), _TABLE),
    "greater_than": ("above {gt:g}", "write a larger number"),
    "greater_than_equal": ("{ge:g} or above", "write a larger number"),
    "less_than": ("below {lt:g}", "write a smaller number"),
    "less_than_equal": ("{le:g} or below", "write a smaller number"),
    "literal_error": ("one of the words known here", "use {expected}"),
    "string_type": ("text", "put it in quotes"),
    "tuple_type": ("a list", "README.md shows how it is written"),
    "too_long": ("a list of {max_length}", "leave out what is too much"),
}
"""What should stand there, and the remedy, by the name pydantic gives the problem."""


def plainly(problem: Mapping[str, Any]) -> tuple[str, str]:
    """Return the problem of an entry of ``ValidationError.errors()`` and its remedy ("" where none is known).

    A message of our own validators is kept; what stands behind its semicolon is the remedy.
    """
    kind, given, context = problem["type"], problem.get("input"), problem.get("ctx", {})
    if kind == "value_error":
        message, _, remedy = str(context["error"]).partition("; ")
        is_shown = not isinstance(given, str | int | float) or repr(given) in message
        return (message if is_shown else f"{given!r}: {message}"), remedy
    wanted, remedy = _DAY if kind.startswith("date") else _WANTED.get(kind, ("", ""))
    if not wanted:
        return f"{given!r}: {problem['msg'].replace('Input should', 'it should')}", ""
    return f"{given!r} is not {wanted.format(**context)}", remedy.format(**context)
