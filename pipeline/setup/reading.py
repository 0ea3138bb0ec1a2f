"""Reading: how the exports write numbers and times; with that, their cells become signals."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC

import polars as pl

from pipeline.config.tags import Tag
from pipeline.errors import RefusedError
from pipeline.ingest.forms import Order
from pipeline.ingest.orders import order_of
from pipeline.ingest.stamps import read_stamps
from pipeline.ingest.values import THOUSANDS, Mark, decided, number_of, read_values
from pipeline.setup.carried import apart
from pipeline.setup.guess import SAY_WHICH, Guess, Signal
from pipeline.setup.look import Look


@dataclass(frozen=True)
class Read:
    """All exports together, on the recorder's clock.

    Parameters
    ----------
    signals : tuple of Signal
        One a column or tag, in the order in which the exports name them.
    date_order, decimal_mark : Guess
        As in ``[reading]``; blank where the exports say so themselves.
    texts, walls : Series
        Times as written, and as on the recorder's clock: one a line, in the order of the files.
    unread : int
        How many readings have a time that could not be understood.
    """

    signals: tuple[Signal, ...]
    date_order: Guess
    decimal_mark: Guess
    texts: pl.Series
    walls: pl.Series
    unread: int


def read(looks: Sequence[Look]) -> Read:
    """Read all exports with one date order, and each with its own decimal mark where they differ."""
    order, date_order = _date_order([look.raw for look in looks if not look.order_said])
    timed = [_timed(look, look.order_said or order) for look in looks]
    once = [frame.select("line", "when", "time").unique("line", keep="first").sort("line") for frame in timed]
    lines = pl.concat(once)
    known = [frame.filter(pl.col("time").is_not_null() & (pl.col("value") != "")) for frame in timed]
    marks, decimal_mark = _decimal_marks(
        [frame["value"] for frame in known], [look.delimiter for look in looks]
    )
    rows = apart(
        pl.concat(
            frame.select("tag", "time", "value", "unit", pl.lit(mark).alias("mark"))
            for frame, mark in zip(known, marks, strict=True)
        )
    )
    unread = sum(frame["time"].null_count() for frame in timed)
    walls = lines["time"].dt.replace_time_zone(None)
    return Read(_signals(rows), date_order, decimal_mark, lines["when"], walls, unread)


def _timed(look: Look, order: Order) -> pl.DataFrame:
    # UTC stands in for the recorder's clock: it neither skips nor repeats an hour.
    stamps = read_stamps(look.raw, UTC, order, look.file, look.one_time_a_line)
    rows = look.raw.select(pl.col("tag").cast(pl.String), "when", "value", "line", _unit(look.raw))
    return rows.with_columns(stamps["time"])


def _unit(raw: pl.DataFrame) -> pl.Expr:
    """Return the optional column `unit` of RAW."""
    return pl.col("unit").cast(pl.String) if "unit" in raw.columns else pl.lit("").alias("unit")


def _date_order(raws: Sequence[pl.DataFrame]) -> tuple[Order, Guess]:
    """Decide from all files together, or else by which order makes the shorter record."""
    texts = pl.concat([pl.Series("when", [], pl.String), *(raw["when"] for raw in raws)])
    try:
        order = order_of(texts, "the exports")
    except RefusedError as error:
        return _order_that_runs_on(raws, error.fault.problem)
    if texts.str.contains(r"^\d{1,2}[/.-]\d{1,2}[/.-]\d").any():
        return order, Guess(order, "no date of the exports can be read the other way")
    return order, Guess("", "dates begin with the year")


def _order_that_runs_on(raws: Sequence[pl.DataFrame], problem: str) -> tuple[Order, Guess]:
    """Prefer the order under which the record covers the least time: read wrongly, days become months."""
    lengths: dict[Order, float] = {}
    orders: tuple[Order, Order] = ("month_first", "day_first")
    for order in orders:
        lengths[order] = 0.0
        for raw in raws:
            one = raw.unique("when", keep="first", maintain_order=True)
            time = read_stamps(one, UTC, order, "", one_a_line=False)["time"].drop_nulls()
            lengths[order] += (time.max() - time.min()).total_seconds() if len(time) else 0.0  # type: ignore[operator,union-attr]
    short, long = sorted(orders, key=lambda order: lengths[order])
    if lengths[long] > 2 * max(lengths[short], 86_400):
        days = lengths[short] / 86_400, lengths[long] / 86_400
        told = f"{problem}; so read the exports cover {days[0]:.0f} days, the other way {days[1]:.0f}"
        return short, Guess(short, told)
    return "month_first", Guess("", f"{problem}{SAY_WHICH}")


def _decimal_marks(values: Sequence[pl.Series], delimiters: Sequence[str]) -> tuple[list[Mark], Guess]:
    """Decide for all exports together, or export by export where some say comma and some say point."""
    own = [_own_mark(one) for one in values]
    sure = {mark: example for mark, example in own if example}
    if len(sure) < 2:
        mark, guess = _decimal_mark(pl.concat(values), set(delimiters))
        return [mark] * len(values), guess
    told = f"each export tells its own: numbers such as {sure[',']!r} and {sure['.']!r}"
    return [mark for mark, _ in own], Guess("", told)


def _own_mark(values: pl.Series) -> tuple[Mark, str]:
    """Return the mark that one export is written with, and a number that shows it, blank if none does."""
    texts = values.unique(maintain_order=True)
    mark, doubtful = decided(texts, texts.cast(pl.Float64, strict=False))
    if doubtful:
        return mark, ""
    other: Mark = "." if mark == "," else ","
    showing = texts.filter(texts.str.contains(mark, literal=True))
    return mark, next(
        (
            text
            for text in showing
            if number_of(text.strip(), mark) is not None and number_of(text.strip(), other) is None
        ),
        "",
    )


def _decimal_mark(values: pl.Series, delimiters: set[str]) -> tuple[Mark, Guess]:
    """Decide as `ingest` does, from all files together; ask where 1.234 stands between semicolons."""
    texts = values.unique(maintain_order=True).drop_nulls()
    mark, doubtful = decided(texts, texts.cast(pl.Float64, strict=False))
    numbers = [text for text in texts if mark in text and number_of(text.strip(), mark) is not None]
    grouped = [text for text in numbers if THOUSANDS.fullmatch(text)]
    if doubtful or (numbers and len(grouped) == len(numbers) and delimiters == {";"}):
        first = next((text for text in texts if "," in text), numbers[0] if numbers else "")
        return mark, Guess("", f"numbers such as {first!r} can be read both ways{SAY_WHICH}")
    return mark, Guess("," if mark == "," else "", f"numbers such as {numbers[0]!r}" if numbers else "")


def _signals(rows: pl.DataFrame) -> tuple[Signal, ...]:
    if rows.is_empty():
        return ()
    names = rows["tag"].unique(maintain_order=True).to_list()
    marks = dict(rows.group_by("tag").agg(pl.col("mark").first()).iter_rows())
    units = dict(rows.group_by("tag").agg(pl.col("unit").drop_nulls().first()).iter_rows())
    of_one_mark = rows.partition_by("mark", maintain_order=True)
    frame = pl.concat(_numbered(part, names, part["mark"][0]) for part in of_one_mark)
    parts = frame.sort("time", maintain_order=True).partition_by("tag", as_dict=True)
    return tuple(
        Signal(
            name,
            parts[(name,)].unique("time", keep="last", maintain_order=True).select("time", "text", "number"),
            marks[name],
            units[name] or "",
        )
        for name in names
    )


def _numbered(rows: pl.DataFrame, names: list[str], mark: Mark) -> pl.DataFrame:
    """``tag, time, text, number`` of rows that are written with one decimal mark."""
    # A tag that knows nothing: whatever is no number stays a text.
    tags = [Tag(row=0, tag=name or "?", area="?", measures="?") for name in names]
    place = rows["tag"].cast(pl.Enum(names)).to_physical().cast(pl.UInt32)
    numbers = read_values(rows["value"], place, tags, mark)["number"]
    return rows.select("tag", "time", pl.col("value").alias("text"), numbers.alias("number"))
