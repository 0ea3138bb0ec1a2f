"""Stamps: times as written become UTC; without an offset they are the plant's wall clock."""

from datetime import datetime, tzinfo
from zoneinfo import ZoneInfo

import polars as pl

from pipeline.clock import in_zone, to_utc
from pipeline.errors import RefusedError
from pipeline.ingest.forms import ISO_FORMS, LOCAL_FORMS, NAMED_FORMS, OFFSET_FORMS, Order, parsed
from pipeline.ingest.orders import order_of, refuse_other_orders
from pipeline.ingest.passes import run_on_together, runs_backwards
from pipeline.ingest.rewriting import rewritten

_UNKNOWN = " is not a time we know"
UNCLEAR = " comes twice that night, and the order of the lines does not tell which time is meant"
_FEW = 64
"""Stamps that are looked at before all are."""
_NUMBER = r"^(?:\d{5,14}(?:[.,]\d+)?|\d{16}|\d{19})$"
_DAY_ZERO = datetime(1899, 12, 30)
"""Where serial days count from in the 1900 system of spreadsheets (ECMA-376 part 1, 18.17.4.1)."""
_SERIAL_DAYS = (20_000, 80_000)
"""1954 to 2119: what a trend can hold."""
_DAY_US = 86_400_000_000


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
    found = order or order_of(texts, file, bounds[1])
    forms = (*ISO_FORMS, *OFFSET_FORMS, *NAMED_FORMS, *LOCAL_FORMS[found])
    wall, instant = _with_numbers(texts, *_parsed(texts, forms))
    if order is None and wall.has_nulls():
        refuse_other_orders(texts.filter(wall.is_null() & instant.is_null()), file, found)
    _refuse_half_days(wall, file)
    time = _utc(raw.select("tag", "line"), wall, zone)
    if _lie_within(time, bounds):
        return pl.select(time=time, time_reason=pl.lit(None, pl.String))
    skipped = wall.is_not_null() & time.is_null()
    if instant.count():
        time = time.zip_with(wall.is_not_null(), instant)
    unclear = skipped
    if skipped.any() and isinstance(zone, ZoneInfo):
        unclear = skipped & in_zone(wall, zone, "earliest").is_not_null()
    frame = pl.DataFrame({"time": time, "when": texts, "skipped": skipped, "unclear": unclear})
    early, late = (pl.lit(bound, pl.Datetime("us", "UTC")) for bound in bounds)
    frame = frame.with_columns(
        early=(pl.col("time") < early).fill_null(False), late=(pl.col("time") > late).fill_null(False)
    )
    if not time.has_nulls() and not frame.select((pl.col("early") | pl.col("late")).any()).item():
        return frame.select("time", pl.lit(None, pl.String).alias("time_reason"))
    inside = pl.when(~pl.col("early") & ~pl.col("late")).then("time")
    # polars 2.1 cannot format a column that lies in several pieces.
    return frame.rechunk().select(inside.alias("time"), _reason().alias("time_reason"))


def _lie_within(times: pl.Series, bounds: tuple[datetime | None, datetime | None]) -> bool:
    """Whether every time is known and none is early or late."""
    first, last = times.min(), times.max()
    if times.has_nulls() or not isinstance(first, datetime) or not isinstance(last, datetime):
        return False
    early, late = bounds
    return (early is None or first >= early) and (late is None or last <= late)


def _reason() -> pl.Expr:
    unknown = pl.format(f"'{{}}'{_UNKNOWN}", "when")
    skipped = pl.format("'{}' never was on the plant's clock (the hour skipped in spring)", "when")
    early = pl.format("'{}' is before not_before in config/plant.toml, [reading]", "when")
    late = pl.format("'{}' is more than a day later than the file was read", "when")
    unclear = pl.format(f"'{{}}'{UNCLEAR}", "when")
    why = pl.when("skipped").then(pl.when("unclear").then(unclear).otherwise(skipped)).otherwise(unknown)
    none = pl.when(pl.col("time").is_null()).then(why)
    return pl.when("early").then(early).when("late").then(late).otherwise(none)


def unread_of(stamps: pl.DataFrame) -> pl.Series:
    """Return the distinct texts `when` that no form fits, by the `time_reason` they were given."""
    unread = stamps.filter(pl.col("time_reason").str.ends_with(_UNKNOWN).fill_null(False))["when"]
    return unread.cast(pl.String).drop_nulls().unique(maintain_order=True)


def _parsed(texts: pl.Series, forms: tuple[str, ...]) -> tuple[pl.Series, pl.Series]:
    """Read texts by their forms; what none fits, written otherwise; 24:00 is the next day's 00:00."""
    wall, instant = parsed(texts, forms)
    if not wall.has_nulls():
        return wall, instant
    left = wall.is_null() & instant.is_null()
    if not left.any():
        return wall, instant
    distinct = texts.filter(left).unique(maintain_order=True).drop_nulls()
    anew = [rewritten(text) for text in distinct]
    if all(new == old for (new, _, _), old in zip(anew, distinct, strict=True)):
        return wall, instant
    texts_now, days, offsets = zip(*anew, strict=True)
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


def _with_numbers(texts: pl.Series, wall: pl.Series, instant: pl.Series) -> tuple[pl.Series, pl.Series]:
    """Read numbers as times, in a file whose times are numbers; one among dates is a slip and stays unread.

    Seconds (9 or 10 digits), milliseconds (13), microseconds (16) and nanoseconds (19) since 1970 are
    instants; days since 1900 (5 digits), and digits run together (20260105, 202601051430, 20260105143000),
    are the plant's wall clock.
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
    microseconds = [(1e8, 1e10, 1e6), (1e12, 1e13, 1e3), (1e15, 1e16, 1.0), (1e18, 1e19, 1e-3)]
    instants = [
        pl.when(whole.is_between(low, high, closed="left")).then((number * factor).round().cast(pl.Int64))
        for low, high, factor in microseconds
    ]
    frame = texts.to_frame("text").filter(is_number)
    read = frame.select(
        pl.when(whole.is_between(*_SERIAL_DAYS)).then(serial).otherwise(_run_together(digits)).alias("wall"),
        pl.coalesce(instants).cast(pl.Datetime("us", "UTC")).alias("instant"),
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


def _refuse_half_days(wall: pl.Series, file: str) -> None:
    """Refuse a clock of twelve hours that lost its AM and PM: noon and night would take each other's place.

    Such a clock shows each hour from 1 to 12 and no other, and steps from 12:59 back to 1:00 of the same day.
    """
    few = wall.gather_every(max(1, len(wall) // _FEW)).dt.hour()
    if not few.is_between(1, 12).all() or set(wall.dt.hour().unique().drop_nulls()) != set(range(1, 13)):
        return
    known = wall.drop_nulls()
    known = known.reverse() if runs_backwards(known) else known
    frame = pl.DataFrame({"before": known.shift(), "after": known})
    turns = frame.filter(
        (pl.col("before").dt.hour() == 12)
        & (pl.col("after").dt.hour() == 1)
        & (pl.col("before").dt.date() == pl.col("after").dt.date())
    )
    if turns.height:
        before, after = (f"{moment:%H:%M}" for moment in turns.row(0))
        problem = f"its clock goes from {before} to {after} of the same day, and shows no hour but 1 to 12"
        raise RefusedError(file, problem, "export it with AM and PM, or with a clock of 24 hours")


def _utc(rows: pl.DataFrame, wall: pl.Series, zone: tzinfo) -> pl.Series:
    """Wall clock to UTC; a file that runs backwards is turned round, so that the second pass comes last."""
    frame = rows.with_columns(wall.alias("when"))
    backwards = _runs_backwards(frame)
    frame = frame.reverse() if backwards else frame
    if run_on_together(frame, frame["when"], zone):
        frame = frame.with_columns(tag=pl.lit(""))
    times = to_utc(frame, zone)
    return times.reverse() if backwards else times


def _runs_backwards(frame: pl.DataFrame) -> bool:
    if frame.is_empty():
        return False
    one = frame.filter(pl.col("tag") == frame["tag"][0])["when"]
    return runs_backwards(one)
