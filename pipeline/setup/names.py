"""Names: what we call a column: the ISA-5.1 tag in its header, else the header as one word."""

import re
from collections import Counter
from collections.abc import Sequence

from pipeline.setup.measures import isa_tag
from pipeline.setup.unit import without_unit

_NOT_IN_A_WORD = re.compile(r"[\s()<>=!|,;:\"'*?\[\]#]+")
_NO_NAME = frozenset(["and", "or", "not"])


def tag_names(headers: Sequence[str]) -> dict[str, str]:
    """Return a tag for every header, each its own.

    A tag must be one word that a condition can speak of (``YS-101 == 1``). Where two headers hold the
    same ISA-5.1 tag (``FIT-101 PV``, ``FIT-101 SP``), both keep all their words.
    """
    short = {header: isa_tag(header) or _word(header) for header in headers}
    counts = Counter(short.values())
    names = {header: name if counts[name] == 1 else _word(header) for header, name in short.items()}
    taken: set[str] = set()
    for header, name in names.items():
        number, free = 2, name
        while free in taken:
            free, number = f"{name}_{number}", number + 1
        taken.add(free)
        names[header] = free
    return names


def label(header: str, tag: str) -> str:
    """Return a header's words for people: without its unit, and without the tag that stands beside it."""
    words = without_unit(header)
    return words.replace(tag, "").strip(" -_,:;/") or words


def _word(header: str) -> str:
    word = _NOT_IN_A_WORD.sub("_", without_unit(header)).strip("_") or "column"
    is_number = re.fullmatch(r"-?\d+(\.\d+)?", word) is not None
    return f"T_{word}" if is_number or word.lower() in _NO_NAME else word
