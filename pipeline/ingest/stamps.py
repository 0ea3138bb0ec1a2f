"""Stamps: times as written become UTC; without an offset they are the plant's wall clock."""

import re
from collections.abc import Sequence
from datetime import tzinfo
from functools import cache
from itertools import product
from typing import Literal

import polars as pl

from pipeline.clock import to_utc
from pipeline.errors import RefusedError

Order = Literal["month_first", "day_first"]

_ISO_CLOCKS = ("T%H:%M:%S%.f", " %H:%M:%S%.f", "T%H:%M", " %H:%M")
_CLOCKS = (" %H:%M:%S%.f", " %H:%M", " %I:%M:%S %p", " %I:%M %p", "")
_DATES = ("{0}/{1}/%Y", "{0}/{1}/%y", "{0}.{1}.%Y", "{0}.{1}.%y", "{0}-{1}-%Y")
_PARTS: dict[Order, tuple[str, str]] = {"month_first": ("%m", "%d"), "day_first": ("%d", "%m")}
_LOCAL_DATE = r"^\d{1,2}[/.-]\d{1,2}[/.-]\d"
_YEARS = (1970, 2199)
"""A year outside is a number read at the wrong place, such as 26 for 2026."""
_SAMPLE = 16
_DIGITS = {"Y": r"\d{4}", "p": "[AaPp][Mm]", ".": r"(\.\d+)?", "#": r"(Z|[+-]\d\d(:?\d\d)?)"}

ISO_FORMS = tuple(f"%Y-%m-%d{clock}" for clock in (*_ISO_CLOCKS, ""))
OFFSET_FORMS = tuple(f"%Y-%m-%d{clock}{gap}%#z" for clock, gap in product(_ISO_CLOCKS, ("", " ")))
LOCAL_FORMS: dict[Order, tuple[str, ...]] = {
    order: tuple(date.format(*parts) + clock for date, clock in product(_DATES, _CLOCKS))
    for order, parts in _PARTS.items()
}
"""Dates without a clock are their midnight: spreadsheets drop 00:00."""


def read_stamps(
    raw: pl.DataFrame, zone: tzinfo, order: Order | None, file: str, one_a_line: bool
) -> pl.DataFrame:
    """Read the column `when`.

    Parameters
    ----------
    raw : DataFrame
        Columns `tag`, `when` and `line`, in file order within each tag.
    zone : tzinfo
        The plant's.
    order : {"month_first", "day_first"} or None
        Order of dates such as 03/04/2026; None = decide from all the dates of the file.
    file : str
        For the error.
    one_a_line : bool
        Whether all readings of a line share its time, and the lines follow each other in time. Then the
        lines, not the readings of each tag, tell the two passes of a repeated hour apart.

    Returns
    -------
    DataFrame
        ``time`` (UTC, null where it cannot be told) and ``time_reason`` (why not).

    Raises
    ------
    RefusedError
        The order of day and month is not given and the file can be read both ways.
    """
    if not one_a_line:
        return _stamps(raw, zone, order, file)
    lines = raw.select("line", "when").unique("line", keep="first").sort("line")
    stamps = _stamps(lines.with_columns(tag=pl.lit("")), zone, order, file)
    place = pl.Series([0], dtype=pl.UInt32).new_from_index(0, int(lines["line"][-1]) + 1)
    place = place.scatter(lines["line"], pl.int_range(len(lines), dtype=pl.UInt32, eager=True))
    return stamps[place.gather(raw["line"])]


def _stamps(raw: pl.DataFrame, zone: tzinfo, order: Order | None, file: str) -> pl.DataFrame:
    texts = raw["when"]
    forms = (*ISO_FORMS, *OFFSET_FORMS, *LOCAL_FORMS[order or order_of(texts, file)])
    wall, instant = parsed(texts, forms)
    time = _utc(raw["tag"], wall, zone)
    skipped = wall.is_not_null() & time.is_null()
    if instant.count():
        time = time.zip_with(wall.is_not_null(), instant)
    frame = pl.DataFrame({"time": time, "when": texts, "skipped": skipped})
    return frame.select("time", _reason().alias("time_reason"))


def _reason() -> pl.Expr:
    unknown = pl.format("'{}' is not a time we know", "when")
    skipped = pl.format("'{}' never was on the plant's clock (the hour skipped in spring)", "when")
    return pl.when(pl.col("time").is_null()).then(pl.when("skipped").then(skipped).otherwise(unknown))


def _utc(tags: pl.Series, wall: pl.Series, zone: tzinfo) -> pl.Series:
    """Wall clock to UTC; a file that runs backwards is turned round, so that the second pass comes last."""
    frame = pl.DataFrame({"tag": tags, "when": wall})
    backwards = _runs_backwards(frame)
    times = to_utc(frame.reverse() if backwards else frame, zone)
    return times.reverse() if backwards else times


def _runs_backwards(frame: pl.DataFrame) -> bool:
    if frame.is_empty():
        return False
    one = frame.filter(pl.col("tag") == frame["tag"][0])["when"].drop_nulls()
    return len(one) > 1 and bool(one[0] > one[-1])


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
    left = frame["wall"].is_null() & frame["instant"].is_null()
    if left.any():
        distinct = texts.filter(left).unique(maintain_order=True)
        table = _read(distinct, [form for form, _ in _likely(texts, forms)]).with_columns(text=distinct)
        found = texts.filter(left).to_frame("text").join(table, "text", "left", maintain_order="left")
        where = left.arg_true()
        frame = frame.select(frame[name].scatter(where, found[name]) for name in ("wall", "instant"))
    return frame["wall"], frame["instant"]


def _read(texts: pl.Series, forms: Sequence[str]) -> pl.DataFrame:
    """Try one form after the other on what is left; the first to fit holds."""
    wall = pl.Series("wall", [None], pl.Datetime("us")).new_from_index(0, len(texts))
    instant = pl.Series("instant", [None], pl.Datetime("us", "UTC")).new_from_index(0, len(texts))
    for form in forms:
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
    found = texts.str.to_datetime(form, strict=False, time_unit="us", cache=True)
    year = found.dt.year()
    outside = (year < _YEARS[0]) | (year > _YEARS[1])
    return found.set(outside.fill_null(False), None) if outside.any() else found


def _likely(texts: pl.Series, forms: Sequence[str]) -> list[tuple[str, int]]:
    """Sort `forms` by how many of a few texts have their shape."""
    sample = texts.gather_every(max(1, len(texts) // _SAMPLE)).drop_nulls().to_list()
    hits = {form: sum(_shape(form).fullmatch(text) is not None for text in sample) for form in forms}
    return sorted(hits.items(), key=lambda item: -item[1])


@cache
def _shape(form: str) -> re.Pattern[str]:
    """Return what a text of this form looks like."""
    pieces = re.findall(r"%(?:#z|\.f|.)|[^%]", form)
    return re.compile(
        "".join(
            _DIGITS.get(piece[1], r"\d{1,2}") if piece[0] == "%" else re.escape(piece) for piece in pieces
        )
    )


def order_of(texts: pl.Series, file: str) -> Order:
    """Decide from the dates themselves whether the month or the day stands first.

    Raises
    ------
    RefusedError
        Every date can be read both ways, with different results.
    """
    distinct = texts.filter(texts.str.contains(_LOCAL_DATE)).unique(maintain_order=True)
    month, day = (parsed(distinct, LOCAL_FORMS[order])[0] for order in ("month_first", "day_first"))
    if month.count() != day.count():
        return "month_first" if month.count() > day.count() else "day_first"
    differs = (month != day).fill_null(False)
    if not differs.any():
        return "month_first"
    place = differs.arg_true()[0]
    first, second = (f"{found[place].day} {found[place]:%B %Y}" for found in (month, day))
    problem = (
        f"its dates can be read both ways: {distinct[place]!r} is {first} with the month first "
        f"and {second} with the day first"
    )
    remedy = 'say which with date_order = "month_first" or "day_first" in config/plant.toml, [reading]'
    raise RefusedError(file, problem, remedy)
