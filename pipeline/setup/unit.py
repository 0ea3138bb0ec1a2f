"""Unit: what the export says of it, beside the readings or in the header; where it says nothing, nothing."""

import re

from pipeline.ingest.channels import unit_of
from pipeline.setup.guess import Guess

_AT_THE_END = frozenset(
    (
        "mgl",
        "ugl",
        "ntu",
        "fnu",
        "degc",
        "degf",
        "mgd",
        "gpm",
        "gph",
        "gpd",
        "cfs",
        "lps",
        "psi",
        "psig",
        "pct",
        "rpm",
    )
)
"""Last words that are units even without brackets; ``c`` or ``m`` would be too bold."""

_SHORT = {"mgl": "mg/L", "ugl": "ug/L"}

_BRACKETS = re.compile(r"[\[(]\s*([^\[\]()]{1,12}?)\s*[\])]")
_AFTER_COMMA = re.compile(r",\s*([^,\s]{1,10})\s*$")
_LAST_WORD = re.compile(r"[_\s-]([A-Za-zµ%]{2,6}(?:/[A-Za-z]{1,3})?)$")
_DEGREES = re.compile(r"[_\s-]([CF])$")
"""A last letter that is a unit behind the name of a temperature."""


def unit(name: str, measure: str, said: str) -> Guess:
    """Say in which unit a column is.

    Parameters
    ----------
    name : str
        Header of the export.
    measure : str
        What it measures: a pH has one unit only, and a state none.
    said : str
        What a unit row or column of the export says; blank where there is none.
    """
    if measure == "state":
        return Guess("1")
    written = said or _written(name) or _degrees(name, measure)
    if written and (known := unit_of(written)):
        return Guess(known, f"the export says '{written}'")
    if measure == "ph":
        return Guess("pH", "pH has no other unit")
    doubt = f" we know (it says '{written}')" if written else ""
    return Guess("1", f"the export names no unit{doubt}: fill it in")


def unknown(name: str, said: str) -> str:
    """Return what a header has where a unit may stand, if it is none that we know."""
    written = said or _written(name)
    return written if written and unit_of(written) is None else ""


def _degrees(name: str, measure: str) -> str:
    found = _DEGREES.search(name) if measure == "temperature" else None
    return f"deg{found[1]}" if found else ""


def without_unit(name: str) -> str:
    """Return a header without the unit it names in brackets or after a comma."""
    for pattern in (_BRACKETS, _AFTER_COMMA):
        match = pattern.search(name)
        if match and unit_of(match[1]):
            return (name[: match.start()] + name[match.end() :]).strip(" -_,")
    return name


def _written(name: str) -> str:
    """Return what a header has in brackets, after a comma, or as its last word."""
    brackets = [match[1] for match in _BRACKETS.finditer(name)]
    comma = _AFTER_COMMA.search(name)
    last = _LAST_WORD.search(name)
    known = [text for text in brackets if unit_of(text)]
    if known or brackets:
        return (known or brackets)[-1]
    if comma and unit_of(comma[1]):
        return comma[1]
    if last and "/" in last[1] and unit_of(last[1]):
        return last[1]
    if last and last[1].lower() in _AT_THE_END:
        return _SHORT.get(last[1].lower(), last[1])
    return ""
