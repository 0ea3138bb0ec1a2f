"""Places: in which columns of a header a time stands: in one, or in parts side by side."""

import re
from collections.abc import Callable

from pipeline.ingest.vocabulary import (
    CLOCK_NAMES,
    DATE_NAMES,
    DAY_NAMES,
    FRACTION_NAMES,
    HALF_NAMES,
    MINUTE_NAMES,
    MONTH_NAMES,
    SECOND_NAMES,
    YEAR_NAMES,
    has_date,
    names_a_time,
)

Texts = Callable[[int], frozenset[str]]
"""Gives what stands in a column of the first lines."""

_DATE_PARTS = (YEAR_NAMES, MONTH_NAMES, DAY_NAMES)
_ORDERS = ((0, 1, 2), (2, 0, 1), (2, 1, 0))
"""Where each of them stands: the year first, the month, the day."""
_REST = (
    (MINUTE_NAMES, re.compile(r"\d:\d\d|\d{4}$")),
    (SECOND_NAMES, re.compile(r"\d:\d\d:\d\d|\d{6}$")),
    (FRACTION_NAMES, re.compile(r"\d:\d\d:\d\d[.,:]\d")),
    (HALF_NAMES, re.compile(r"[ap]\.?m", re.IGNORECASE)),
)
"""What a clock may leave to the columns behind it, and how it is written where it does not."""


def places_of_time(names: tuple[str, ...], texts: Texts) -> tuple[int, ...]:
    """Return where the first time of a header stands, by what its columns are called; empty if nowhere."""
    split = _split_date(names)
    if split:
        end = max(split) + 1
        has_clock = end < len(names) and names[end] in CLOCK_NAMES
        return _with_rest(names, (*split, end), texts) if has_clock else split
    for place, name in enumerate(names):
        following = names[place + 1] if place + 1 < len(names) else ""
        if name in DATE_NAMES and following in CLOCK_NAMES:
            return _with_rest(names, (place, place + 1), texts)
        if name in CLOCK_NAMES and following in DATE_NAMES and not any(map(has_date, texts(place))):
            return _with_rest(names, (place + 1, place), texts)
        if names_a_time(name):
            return _with_rest(names, (_local_beside(names, place),), texts)
    return ()


def calendar_of(names: tuple[str, ...]) -> tuple[int, ...]:
    """Return where year, month and day stand side by side, in this order; empty if nowhere."""
    for place in range(len(names) - 2):
        for order in _ORDERS:
            if all(names[place + at] in kind for kind, at in zip(_DATE_PARTS, order, strict=True)):
                return tuple(place + at for at in order)
    return ()


def _split_date(names: tuple[str, ...]) -> tuple[int, ...]:
    """Return where the parts of a date stand, if no other column is a time: then they are for sorting."""
    found = calendar_of(names)
    end = max(found, default=-1) + 1
    behind = [name for name in names[end : end + 1] if name not in CLOCK_NAMES]
    others = (*names[: min(found, default=0)], *behind, *names[end + 1 :])
    return () if any(map(names_a_time, others)) else found


def _with_rest(names: tuple[str, ...], places: tuple[int, ...], texts: Texts) -> tuple[int, ...]:
    """Add the columns behind a clock that hold what it leaves out: minutes, seconds, AM and PM."""
    written = texts(places[-1])
    for place in range(max(places) + 1, len(names)):
        full = next((form for kind, form in _REST if names[place] in kind), None)
        if full is None or any(map(full.search, written)):
            break
        places = (*places, place)
    return places


def _local_beside(names: tuple[str, ...], place: int) -> int:
    """Return the place of a local time beside one that does not say whose it is; else that one's.

    Who writes both means two clocks; a time called UTC is as good as the local one.
    """
    if any(word in names[place] for word in ("local", "utc", "gmt")):
        return place
    others = (at for at, name in enumerate(names) if "local" in name and names_a_time(name))
    return next(others, place)
