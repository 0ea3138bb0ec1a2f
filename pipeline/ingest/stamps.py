"""Stamps: times as written become UTC; without an offset they are the plant's wall clock."""

import re
from datetime import datetime, timedelta, tzinfo

import polars as pl

from pipeline.clock import to_utc
from pipeline.errors import RefusedError
from pipeline.ingest.forms import ISO_FORMS, LOCAL_FORMS, NAMED_FORMS, OFFSET_FORMS, parsed
from pipeline.ingest.forms import Order as Order
from pipeline.ingest.passes import runs_backwards

_LOCAL_DATE = r"^\d{1,2}[/.-]\d{1,2}[/.-]\d{2}(?:\d{2})?(?:\D|$)"
_TWO_DIGIT_YEARS = r"^\d{2}[/.-]\d{1,2}[/.-]\d{1,2}(?:\D|$)"
_YEAR_FIRST = tuple(
    form.replace("%m/%d/%y", "%y/%m/%d") for form in LOCAL_FORMS["month_first"] if "/%y" in form
)
_NUMBER = r"^\d{5,14}(?:[.,]\d+)?$"
_DAY_ZERO = datetime(1899, 12, 30)
"""Where serial days count from in the 1900 system of spreadsheets (ECMA-376 part 1, 18.17.4.1)."""
_SERIAL_DAYS = (20_000, 80_000)
"""1954 to 2119: what a trend can hold."""
_DAY_US = 86_400_000_000

_ZONES = {"hst": -10, "akst": -9, "akdt": -8, "pst": -8, "pdt": -7, "mst": -7, "mdt": -6}
_ZONES |= {"cst": -6, "cdt": -5, "est": -5, "edt": -4, "ast": -4, "adt": -3}
"""Hours of the zones of the United States, standard and advanced (15 U.S.C. 260a, 261, 263)."""
_ZONE_BEHIND = re.compile(rf"(?i)\s*\(?\b({'|'.join(_ZONES)})\)?$")

_WEEKDAY = re.compile(r"(?i)^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+")
_END_OF_DAY = re.compile(r"([ T])24:00((?::00)?(?:[.,]0+)?)(?![\d:.,])")
_REWRITTEN = (
    (re.compile(r"\s+"), " "),
    (re.compile(r"\b([ap])\.\s?m\.?", re.IGNORECASE), r"\1m"),
    (re.compile(r"(:\d\d),(\d)"), r"\1.\2"),
    (re.compile(r" ?(?:utc|gmt)$", re.IGNORECASE), "Z"),
    (re.compile(r"\bsept\b", re.IGNORECASE), "Sep"),
    (re.compile(r"([a-z]{3,9})\.(?=[ -])", re.IGNORECASE), r"\1"),
    (re.compile(r"^(\d{4}-\d\d-\d\d) 00:00:00(?:\.0+)? (\d\d:)"), r"\1 \2"),
    (re.compile(r"^(\d{1,2}[-/][A-Za-z]{3,9}[-/]\d{2,4}):(?=\d\d:)"), r"\1 "),
)
"""Rarer ways of writing, brought to a form we know."""


def read_stamps(
    raw: pl.DataFrame,
    zone: tzinfo,
    order: Order | None,
    file: str,
    one_a_line: bool,
    not_before: datetime | None = None,
    not_after: datetime | None = None,
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
    not_before, not_after : datetime, optional
        UTC; times outside are refused: before there was a plant, later than the file was read.

    Returns
    -------
    DataFrame
        ``time`` (UTC, null where it cannot be told) and ``time_reason`` (why not).

    Raises
    ------
    RefusedError
        The order of day and month is not given and the file can be read both ways.
    """
    bounds = (not_before, not_after)
    if not one_a_line:
        return _stamps(raw, zone, order, file, bounds)
    line = raw["line"].to_numpy()
    if (line[1:] > line[:-1]).all():
        return _stamps(raw.with_columns(tag=pl.lit("")), zone, order, file, bounds)
    lines = raw.select("line", "when").unique("line", keep="first").sort("line")
    stamps = _stamps(lines.with_columns(tag=pl.lit("")), zone, order, file, bounds)
    place = pl.Series([0], dtype=pl.UInt32).new_from_index(0, int(lines["line"][-1]) + 1)
    place = place.scatter(lines["line"], pl.int_range(len(lines), dtype=pl.UInt32, eager=True))
    return stamps[place.gather(raw["line"])]


def _stamps(
    raw: pl.DataFrame,
    zone: tzinfo,
    order: Order | None,
    file: str,
    bounds: tuple[datetime | None, datetime | None],
) -> pl.DataFrame:
    texts = raw["when"]
    forms = (*ISO_FORMS, *OFFSET_FORMS, *NAMED_FORMS, *LOCAL_FORMS[order or order_of(texts, file)])
    wall, instant = _with_numbers(texts, *_parsed(texts, forms))
    time = _utc(raw["tag"], wall, zone)
    if _lie_within(time, bounds):
        return pl.select(time=time, time_reason=pl.lit(None, pl.String))
    skipped = wall.is_not_null() & time.is_null()
    if instant.count():
        time = time.zip_with(wall.is_not_null(), instant)
    frame = pl.DataFrame({"time": time, "when": texts, "skipped": skipped})
    early, late = (pl.lit(bound, pl.Datetime("us", "UTC")) for bound in bounds)
    frame = frame.with_columns(
        early=(pl.col("time") < early).fill_null(False), late=(pl.col("time") > late).fill_null(False)
    )
    if not time.has_nulls() and not frame.select((pl.col("early") | pl.col("late")).any()).item():
        return frame.select("time", pl.lit(None, pl.String).alias("time_reason"))
    inside = pl.when(~pl.col("early") & ~pl.col("late")).then("time")
    return frame.select(inside.alias("time"), _reason().alias("time_reason"))


def _lie_within(times: pl.Series, bounds: tuple[datetime | None, datetime | None]) -> bool:
    """Whether every time is known and none is early or late."""
    first, last = times.min(), times.max()
    if times.has_nulls() or not isinstance(first, datetime) or not isinstance(last, datetime):
        return False
    early, late = bounds
    return (early is None or first >= early) and (late is None or last <= late)


def _reason() -> pl.Expr:
    unknown = pl.format("'{}' is not a time we know", "when")
    skipped = pl.format("'{}' never was on the plant's clock (the hour skipped in spring)", "when")
    early = pl.format("'{}' is before not_before in config/plant.toml, [reading]", "when")
    late = pl.format("'{}' is more than a day later than the file was read", "when")
    none = pl.when(pl.col("time").is_null()).then(pl.when("skipped").then(skipped).otherwise(unknown))
    return pl.when("early").then(early).when("late").then(late).otherwise(none)


def _parsed(texts: pl.Series, forms: tuple[str, ...]) -> tuple[pl.Series, pl.Series]:
    """Read texts by their forms; what none fits, written otherwise; 24:00 is the next day's 00:00."""
    wall, instant = parsed(texts, forms)
    if not wall.has_nulls():
        return wall, instant
    left = wall.is_null() & instant.is_null()
    if not left.any():
        return wall, instant
    distinct = texts.filter(left).unique(maintain_order=True).drop_nulls()
    rewritten = [_rewritten(text) for text in distinct]
    if all(new == old for (new, _, _), old in zip(rewritten, distinct, strict=True)):
        return wall, instant
    texts_now, days, offsets = zip(*rewritten, strict=True)
    found = parsed(pl.Series("text", texts_now, pl.String), forms)
    read = pl.DataFrame(
        {
            "text": distinct,
            "wall": found[0] + pl.Series(days, dtype=pl.Duration("us")),
            "instant": found[1] + pl.Series(days, dtype=pl.Duration("us")),
            "offset": pl.Series(offsets, dtype=pl.Duration("us")),
        }
    )
    zoned = (pl.col("wall") - pl.col("offset")).dt.replace_time_zone("UTC")
    table = read.select(
        "text",
        pl.when(pl.col("offset").is_null()).then("wall"),
        pl.coalesce("instant", zoned).alias("instant"),
    )
    joined = texts.filter(left).to_frame("text").join(table, "text", "left", maintain_order="left")
    where = left.arg_true()
    return wall.scatter(where, joined["wall"]), instant.scatter(where, joined["instant"])


def _rewritten(text: str) -> tuple[str, timedelta, timedelta | None]:
    """Return a stamp in a form we know, the days it is short of, and the offset its zone's letters say."""
    text, offset = _without_zone(text)
    text, ends = _END_OF_DAY.subn(r"\g<1>00:00\2", _WEEKDAY.sub("", text.strip()))
    for pattern, replacement in _REWRITTEN:
        text = pattern.sub(replacement, text)
    return text, timedelta(days=ends), offset


def _without_zone(text: str) -> tuple[str, timedelta | None]:
    zone = _ZONE_BEHIND.search(text)
    return (text[: zone.start()], timedelta(hours=_ZONES[zone[1].lower()])) if zone else (text, None)


def _with_numbers(texts: pl.Series, wall: pl.Series, instant: pl.Series) -> tuple[pl.Series, pl.Series]:
    """Read numbers as times, in a file whose times are numbers; one among dates is a slip and stays unread.

    Seconds (9 or 10 digits) and milliseconds (13) since 1970 are instants; days since 1900 (5 digits),
    and digits run together (20260105, 202601051430, 20260105143000), are the plant's wall clock.
    """
    if not wall.has_nulls():
        return wall, instant
    left = wall.is_null() & instant.is_null()
    is_number = texts.str.contains(_NUMBER).fill_null(False) & left if left.any() else left
    if is_number.sum() * 2 <= len(texts):
        return wall, instant
    number = pl.col("text").str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    whole = number.floor()
    digits = whole.cast(pl.Int64).cast(pl.String)
    day = (number * _DAY_US / _rounding()).round().cast(pl.Int64) * _rounding()
    serial = pl.lit(_DAY_ZERO) + pl.duration(microseconds=day)
    epoch = pl.when(whole >= 1e12).then(number * 1e3).otherwise(number * 1e6).round().cast(pl.Int64)
    seconds, milliseconds = (
        whole.is_between(1e8, 1e10, closed="left"),
        whole.is_between(1e12, 1e13, closed="left"),
    )
    frame = texts.to_frame("text").filter(is_number)
    read = frame.select(
        pl.when(whole.is_between(*_SERIAL_DAYS)).then(serial).otherwise(_run_together(digits)).alias("wall"),
        pl.when(seconds | milliseconds).then(epoch.cast(pl.Datetime("us", "UTC"))).alias("instant"),
    )
    where = is_number.arg_true()
    return wall.scatter(where, read["wall"]), instant.scatter(where, read["instant"])


def _rounding() -> pl.Expr:
    """Return what a serial day is rounded to [µs]: a millisecond if it has nine decimals, else a second."""
    decimals = pl.col("text").str.extract(r"[.,](\d+)$").str.len_bytes().fill_null(0)
    return pl.when(decimals >= 9).then(1_000).otherwise(1_000_000)


def _run_together(digits: pl.Expr) -> pl.Expr:
    """Read a day, or a day and a clock to the minute or the second, without marks between."""
    filled = pl.when(digits.str.len_bytes().is_in([8, 12, 14])).then(digits.str.pad_end(14, "0"))
    found = filled.str.to_datetime("%Y%m%d%H%M%S", strict=False, time_unit="us")
    return pl.when(found.dt.year().is_between(1970, 2199)).then(found)


def _utc(tags: pl.Series, wall: pl.Series, zone: tzinfo) -> pl.Series:
    """Wall clock to UTC; a file that runs backwards is turned round, so that the second pass comes last."""
    frame = pl.DataFrame({"tag": tags, "when": wall})
    backwards = _runs_backwards(frame)
    times = to_utc(frame.reverse() if backwards else frame, zone)
    return times.reverse() if backwards else times


def _runs_backwards(frame: pl.DataFrame) -> bool:
    if frame.is_empty():
        return False
    one = frame.filter(pl.col("tag") == frame["tag"][0])["when"]
    return runs_backwards(one)


def order_of(texts: pl.Series, file: str) -> Order:
    """Decide from the dates themselves whether the month or the day stands first.

    A date that is one only in one order decides. Where every date can be read both ways, the recording
    does: if it runs on through midnight in one order and jumps from month to month in the other, it was
    written in the first.

    Raises
    ------
    RefusedError
        Every date can be read both ways, with different results.
    """
    bare = (
        texts.unique(maintain_order=True)
        .str.replace(_WEEKDAY.pattern, "")
        .str.replace(_ZONE_BEHIND.pattern, "")
    )
    distinct = bare.filter(bare.str.contains(_LOCAL_DATE)).unique(maintain_order=True)
    month, day = (parsed(distinct, LOCAL_FORMS[order])[0] for order in ("month_first", "day_first"))
    _refuse_year_first(distinct, month, day, file)
    if month.count() != day.count():
        return "month_first" if month.count() > day.count() else "day_first"
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


def _refuse_year_first(distinct: pl.Series, month: pl.Series, day: pl.Series, file: str) -> None:
    """Refuse 26/01/05 where only the year first makes a recording of it: it cannot be told from a day."""
    if distinct.is_empty() or not distinct.str.contains(_TWO_DIGIT_YEARS).all():
        return
    year = parsed(distinct.str.replace_all("[.-]", "/"), _YEAR_FIRST)[0]
    if year.null_count() == 0 and _runs_on(year) and not _runs_on(month) and not _runs_on(day):
        problem = f"its dates seem to begin with a year of two digits: {distinct[0]!r}"
        raise RefusedError(file, problem, "export them with four digits for the year")


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
