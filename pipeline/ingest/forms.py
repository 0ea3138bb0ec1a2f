"""Forms: the ways in which a date and a clock are written, and which of them a text fits."""

import re
from collections import Counter
from collections.abc import Sequence
from functools import cache, lru_cache
from itertools import product
from typing import Literal

import polars as pl

from pipeline.ingest.fixed import read_fixed

Order = Literal["month_first", "day_first"]

_ISO_DATES = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d")
_ISO_CLOCKS = ("T%H:%M:%S%.f", " %H:%M:%S%.f", "T%H:%M", " %H:%M")
_TWELVE = (" %I:%M:%S %p", " %I:%M %p", " %I:%M:%S%p", " %I:%M%p", " %I:%M:%S%.f %p")
_CLOCKS = (" %H:%M:%S%.f", " %H:%M", *_TWELVE, "")
_COMPACT = (
    "%Y%m%dT%H%M%S",
    "%Y%m%dT%H%M",
    "%Y%m%d %H%M%S",
    "%Y%m%d %H%M",
    "%Y%m%d %H:%M:%S%.f",
    "%Y%m%d %H:%M",
)
_DATES = ("{0}/{1}/%Y", "{0}/{1}/%y", "{0}.{1}.%Y", "{0}.{1}.%y", "{0}-{1}-%Y", "{0}-{1}-%y")
_NAMED_DATES = (
    *("%d-%B-%Y", "%d-%B-%y", "%d %B %Y", "%d %B %y", "%d/%B/%Y", "%B %d, %Y", "%B %d %Y", "%Y-%B-%d"),
)
_PARTS: dict[Order, tuple[str, str]] = {"month_first": ("%m", "%d"), "day_first": ("%d", "%m")}
_YEARS = (1970, 2199)
"""A year outside is a number read at the wrong place, such as 26 for 2026."""
_SAMPLE = 16
_DIGIT = re.compile(r"[0-9]")
_DIGITS = {
    "Y": r"\d{4}",
    "p": "[AaPp][Mm]",
    ".": r"(\.\d+)?",
    "#": r"(Z|[+-]\d\d(:?\d\d)?)",
    "B": "[A-Za-z]{3,9}",
}

ISO_FORMS = (
    *(f"{date}{clock}" for date, clock in product(_ISO_DATES, (*_ISO_CLOCKS, *_TWELVE, ""))),
    *_COMPACT,
)
OFFSET_FORMS = (
    *(f"%Y-%m-%d{clock}{gap}%#z" for clock, gap in product(_ISO_CLOCKS, ("", " "))),
    *(f"{form}%#z" for form in _COMPACT[:2]),
)
NAMED_FORMS = tuple(f"{date}{clock}" for date, clock in product(_NAMED_DATES, _CLOCKS))
LOCAL_FORMS: dict[Order, tuple[str, ...]] = {
    order: tuple(date.format(*parts) + clock for date, clock in product(_DATES, _CLOCKS))
    for order, parts in _PARTS.items()
}
"""Dates without a clock are their midnight: spreadsheets drop 00:00."""


def parsed(texts: pl.Series, forms: Sequence[str]) -> tuple[pl.Series, pl.Series]:
    """Read `texts` with whichever of `forms` fits each.

    Returns
    -------
    wall : Series
        Datetime without zone, where the form has no offset.
    instant : Series
        Datetime UTC, where it has; both null where no form fits.
    """
    frame = _read(texts, [form for form, hits in _likely(texts, forms) if hits])
    if not frame["wall"].has_nulls():
        return frame["wall"], frame["instant"]
    left = frame["wall"].is_null() & frame["instant"].is_null()
    if left.any():
        distinct = texts.filter(left).unique(maintain_order=True)
        table = _read(distinct, [form for form, _ in _likely(distinct, forms, every=True)])
        found = texts.filter(left).to_frame("text")
        found = found.join(table.with_columns(text=distinct), "text", "left", maintain_order="left")
        where = left.arg_true()
        frame = frame.select(frame[name].scatter(where, found[name]) for name in ("wall", "instant"))
    return frame["wall"], frame["instant"]


def _read(texts: pl.Series, forms: Sequence[str]) -> pl.DataFrame:
    """Try one form after the other on what is left; the first to fit holds."""
    wall = pl.Series("wall", [None], pl.Datetime("us")).new_from_index(0, len(texts))
    instant = pl.Series("instant", [None], pl.Datetime("us", "UTC")).new_from_index(0, len(texts))
    for form in forms:
        if not wall.has_nulls():
            break
        left = wall.is_null() & instant.is_null()
        if not left.any():
            break
        found = _as_form(texts if left.all() else texts.filter(left), form)
        if form.endswith("z"):
            instant = found if left.all() else instant.scatter(left.arg_true(), found)
        else:
            wall = found if left.all() else wall.scatter(left.arg_true(), found)
    return pl.DataFrame({"wall": wall, "instant": instant})


def _as_form(texts: pl.Series, form: str) -> pl.Series:
    found = read_fixed(texts, form)
    if found is None:
        found = texts.str.to_datetime(form, strict=False, time_unit="us", cache=True)
    year = found.dt.year()
    outside = (year < _YEARS[0]) | (year > _YEARS[1])
    return found.set(outside.fill_null(False), None) if outside.any() else found


def _likely(texts: pl.Series, forms: Sequence[str], every: bool = False) -> list[tuple[str, int]]:
    """Sort `forms` by how many of a few texts (of all the different shapes) they fit."""
    if every:
        shapes = texts.str.replace_all(r"\d", "0").str.replace_all("[A-Za-z]{3,}", "Jan")
        sample = pl.DataFrame({"shape": shapes, "text": texts}).unique(
            "shape", keep="first", maintain_order=True
        )
        some = sample["text"].head(20 * _SAMPLE).drop_nulls().to_list()
    else:
        some = texts.gather_every(max(1, len(texts) // _SAMPLE)).drop_nulls().to_list()
    # Patterns ask for digits, not for which: texts of one shape fit the same forms.
    alike = Counter(_DIGIT.sub("0", text) for text in some)
    hits = {form: sum(n for shape, n in alike.items() if _fits(form, shape)) for form in forms}
    found = sorted(hits.items(), key=lambda item: -item[1])
    return [item for item in found if item[1]] if every else found


@lru_cache(maxsize=2**16)
def _fits(form: str, text: str) -> bool:
    # Most forms differ in their punctuation: that is seen sooner than a pattern is made of each.
    return _punctuation(text).startswith(_marks(form)) and _shape(form).fullmatch(text) is not None


@cache
def _marks(form: str) -> str:
    """Return the punctuation that every text of this form has, up to its first optional piece."""
    return _punctuation(re.sub(r"%[^#.]", "", re.split(r"%#z|%\.f", form)[0]))


@lru_cache(maxsize=2**12)
def _punctuation(text: str) -> str:
    return "".join(sign for sign in text if not sign.isalnum())


@cache
def _shape(form: str) -> re.Pattern[str]:
    """Return what a text of this form looks like."""
    pieces = re.findall(r"%(?:#z|\.f|.)|[^%]", form)
    compact = form.startswith("%Y%m")
    return re.compile(
        "".join(
            _DIGITS.get(piece[1], r"\d\d" if compact else r"\d{1,2}") if piece[0] == "%" else re.escape(piece)
            for piece in pieces
        )
    )
