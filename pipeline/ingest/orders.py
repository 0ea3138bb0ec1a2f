"""Orders: whether the month, the day or the year stands first in dates that may be read otherwise."""

from datetime import UTC, datetime, timedelta

import polars as pl

from pipeline.errors import RefusedError
from pipeline.ingest.forms import ISO_FORMS, LOCAL_FORMS, Order, parsed
from pipeline.ingest.rewriting import CLOCK_FIRST, WEEKDAY, ZONE_BEHIND, rewritten

_LOCAL_DATE = r"^\d{1,2}[/.-]\d{1,2}[/.-]\d{2}(?:\d{2})?(?:\D|$)"
_TWO_DIGIT_YEARS = r"^\d{2}[/.-]\d{1,2}[/.-]\d{1,2}(?:\D|$)"
_YEAR_FIRST = tuple(
    form.replace("%m/%d/%y", "%y/%m/%d") for form in LOCAL_FORMS["month_first"] if "/%y" in form
)
_DATE = r"(\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4})"
_MOST_SLIPS = 1
"""Days that fit the other order and may still be slips of the pen: two are a habit."""
_FEW = 64
"""Stamps that tell whether the clock stands first."""
_FEWEST_TURNED = 2
_PAUSE = timedelta(days=7)
"""How long the record of a sheet may pause and still run on by days: judgement, no source."""
_RECENT = timedelta(days=5 * 366)
"""How old an export may be before a year of two digits is doubted: judgement, no source."""
_LOCAL_HOUR = (
    r"^\s*(?:\pL{2,10}\.?,?\s+)?(?<date>\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4})"
    r"(?:[ T]+(?<hour>\d{1,2})(?:[:.h]|\d\d(?:\d\d)?(?:\D|$))[^apAP]*(?<half>[apAP])?)?"
)
"""The date, the hour and the half of the day of a stamp: what the order of day and month is told by."""


def order_of(texts: pl.Series, file: str, not_after: datetime | None = None) -> Order:
    """Decide from the dates themselves whether the month or the day stands first.

    A date that is one only in one order decides. Where every date can be read both ways, the recording
    does: if it runs on through midnight in one order and jumps from month to month in the other, it was
    written in the first.

    Parameters
    ----------
    texts : Series of str
        Stamps of one file.
    file : str
        For the error.
    not_after : datetime, optional
        When the file was read [UTC]: it tells a year that stands first from one that stands last.

    Raises
    ------
    RefusedError
        Every date can be read both ways, with different results; some seem to have changed them round; or a
        year of two digits stands first.
    """
    distinct, month, day = _local_dates(texts)
    _refuse_year_first(distinct, month, day, file, not_after)
    if month.count() != day.count():
        order: Order = "month_first" if month.count() > day.count() else "day_first"
        _refuse_turned(distinct, month, day, order, file)
        return order
    differs = (month != day).fill_null(False)
    if not differs.any():
        return "month_first"
    if _runs_on(month) and _jumps(day):
        return "month_first"
    if _runs_on(day) and _jumps(month):
        return "day_first"
    place = differs.arg_true()[0]
    first, second = (f"{found[place].day} {found[place]:%B %Y}" for found in (month, day))
    problem = (
        f"its dates can be read both ways: {distinct[place]!r} is {first} with the month first "
        f"and {second} with the day first"
    )
    remedy = 'say which with date_order = "month_first" or "day_first" in config/plant.toml, [reading]'
    raise RefusedError(file, problem, remedy)


def hours_of(texts: pl.Series) -> pl.Series:
    """Return the distinct hours of day-and-month stamps, as stamps."""
    found = _date_first(texts).str.extract_groups(_LOCAL_HOUR).struct.unnest().drop_nulls("date")
    clock = pl.format(" {}:00{}", "hour", pl.format(" {}m", "half").fill_null("")).fill_null("")
    return found.select(pl.concat_str("date", clock).alias("when")).to_series().unique(maintain_order=True)


def _date_first(texts: pl.Series) -> pl.Series:
    """Return stamps with the date first, where the first of them have the clock first."""
    has_clock_first = texts.head(_FEW).str.contains(CLOCK_FIRST.pattern).any()
    return texts.str.replace(CLOCK_FIRST.pattern, "$2 $1") if has_clock_first else texts


def _local_dates(texts: pl.Series) -> tuple[pl.Series, pl.Series, pl.Series]:
    """Return the distinct stamps that begin with a day or a month, and what they are with either first."""
    bare = (
        _date_first(texts.unique(maintain_order=True))
        .str.replace(WEEKDAY.pattern, "")
        .str.replace(ZONE_BEHIND.pattern, "")
    )
    distinct = bare.filter(bare.str.contains(_LOCAL_DATE)).unique(maintain_order=True)
    month, day = _both_ways(distinct)
    unread = month.is_null() & day.is_null()
    if not unread.any():
        return distinct, month, day
    where = unread.arg_true()
    anew = pl.Series([rewritten(text)[0] for text in distinct.gather(where)], dtype=pl.String)
    months, days = _both_ways(anew)
    return distinct.scatter(where, anew), month.scatter(where, months), day.scatter(where, days)


def _both_ways(texts: pl.Series) -> tuple[pl.Series, pl.Series]:
    """Read texts with the month first, and with the day first."""
    return parsed(texts, LOCAL_FORMS["month_first"])[0], parsed(texts, LOCAL_FORMS["day_first"])[0]


def refuse_mixed_dates(
    texts: pl.Series, file: str, said: Order | None = None, not_after: datetime | None = None
) -> None:
    """Refuse a file whose dates contradict each other, before anything else is known of it.

    Raises
    ------
    RefusedError
        As `refuse_other_orders`; or a year of two digits stands first. A file that can be read in two
        orders throughout is not refused here.
    """
    days = texts.str.extract(_DATE).drop_nulls().unique(maintain_order=True)
    month, day = _both_ways(days)
    _refuse_year_first(days.filter(days.str.contains(_LOCAL_DATE)), month, day, file, not_after)
    order = said or ("month_first" if month.count() >= day.count() else "day_first")
    read = parsed(days, (*ISO_FORMS, *LOCAL_FORMS[order]))[0]
    refuse_other_orders(days.filter(read.is_null()), file, order)


def _refuse_turned(days: pl.Series, month: pl.Series, day: pl.Series, order: Order, file: str) -> None:
    """Refuse days that jump as they stand, and run on where each that can be is read the other way."""
    stands, turned = (month, day) if order == "month_first" else (day, month)
    either = (stands != turned).fill_null(False)
    if either.sum() < _FEWEST_TURNED or either.all() or not _jumps(stands):
        return
    back = turned.zip_with(either, stands)
    if (_longest_gap(back) or _PAUSE) < _PAUSE:
        problem = (
            f"some of its dates seem to have day and month changed round, such as {days.filter(either)[0]!r}"
        )
        remedy = "export it again; a spreadsheet set to the other order of dates does so to those it can read"
        raise RefusedError(file, problem, remedy)


def refuse_other_orders(unread: pl.Series, file: str, order: Order) -> None:
    """Refuse a file some of whose dates can only be read in another order than its others were.

    Its other dates may then be in either, and half of them would land in the wrong month.

    Parameters
    ----------
    unread : Series of str
        Stamps that the file's order does not fit.
    file : str
        For the error.
    order : {"month_first", "day_first"}
        The file's.

    Raises
    ------
    RefusedError
        More of their days than a slip or two fit another order.
    """
    days = unread.str.extract(_DATE).drop_nulls().unique(maintain_order=True)
    # Where the day can be read, it is the clock, or a word behind it, that could not.
    days = days.filter(parsed(days, (*ISO_FORMS, *LOCAL_FORMS[order]))[0].is_null())
    if len(days) <= _MOST_SLIPS:
        return
    month, day = _both_ways(days)
    local = days.filter(month.is_not_null() | day.is_not_null())
    if len(local) > _MOST_SLIPS:
        problem = f"{local[0]!r} and other dates of it are none in the order in which the rest is read"
        remedy = "correct date_order in config/plant.toml, [reading], or export all dates in one order"
        raise RefusedError(file, problem, remedy)
    turned = days.str.replace(r"^(\d{4})([/.-]\d{1,2})([/.-]\d{1,2})$", "$1$3$2")
    day_in_the_middle = days.filter(parsed(turned, ISO_FORMS)[0].is_not_null())
    if len(day_in_the_middle) > _MOST_SLIPS:
        problem = f"its dates seem to have the day in the middle, such as {day_in_the_middle[0]!r}"
        raise RefusedError(file, problem, "export them as year, month, day")


def turned_round(texts: pl.Series) -> str | None:
    """Return a date that a spreadsheet set to the other order of day and month has turned round, if any.

    It makes cells of the dates that it can read, the wrong way round, and leaves the others as text. As they
    stand its cells jump from month to month; turned back they run on into the texts.
    """
    days = texts.str.extract(_DATE).drop_nulls().unique(maintain_order=True)
    cells = days.filter(days.str.contains(r"^\d{4}-"))
    left = days.filter(days.str.contains(_LOCAL_DATE))
    if len(cells) < _FEWEST_TURNED or left.is_empty():
        return None
    stands = cells.str.to_date("%Y-%m-%d", strict=False)
    back = cells.str.to_date("%Y-%d-%m", strict=False)
    if back.has_nulls() or not _jumps(stands):
        return None
    month, day = _both_ways(left)
    together = (
        pl.concat([back.cast(pl.Datetime("us")), found]) for found in (month, day) if not found.has_nulls()
    )
    runs = any((_longest_gap(walls) or _PAUSE) < _PAUSE for walls in together)
    return str(cells[0]) if runs else None


def _refuse_year_first(
    distinct: pl.Series, month: pl.Series, day: pl.Series, file: str, not_after: datetime | None
) -> None:
    """Refuse 26/01/05 where only the year first makes a recording of it, or one of our days."""
    if distinct.is_empty() or not distinct.str.contains(_TWO_DIGIT_YEARS).all():
        return
    year = parsed(distinct.str.replace_all("[.-]", "/"), _YEAR_FIRST)[0]
    if year.has_nulls():
        return
    alone_runs_on = _runs_on(year) and not _runs_on(month) and not _runs_on(day)
    others = pl.concat([month, day]).drop_nulls()
    alone_is_recent = _recent(year, not_after).all() and not _recent(others, not_after).any()
    if alone_runs_on or alone_is_recent:
        problem = f"its dates seem to begin with a year of two digits: {distinct[0]!r}"
        raise RefusedError(file, problem, "export them with four digits for the year")


def _recent(walls: pl.Series, not_after: datetime | None) -> pl.Series:
    """Mark what lies in the years before the file was read; everything, where nobody says when that was."""
    if not_after is None:
        return walls.is_not_null()
    late = not_after.astimezone(UTC).replace(tzinfo=None) + timedelta(days=1)
    return walls.is_between(late - _RECENT, late)


def _runs_on(walls: pl.Series) -> bool:
    """Whether the recording never pauses for longer than six hours."""
    longest = _longest_gap(walls)
    return longest is not None and longest <= timedelta(hours=6)


def _jumps(walls: pl.Series) -> bool:
    """Whether the recording pauses for most of a month."""
    longest = _longest_gap(walls)
    return longest is not None and longest >= timedelta(days=20)


def _longest_gap(walls: pl.Series) -> timedelta | None:
    longest = walls.drop_nulls().sort().diff().max()
    return longest if isinstance(longest, timedelta) else None
