"""Clean: the text of RAW becomes readings; what cannot be understood is refused with a reason."""

from dataclasses import dataclass, field, replace
from datetime import datetime, tzinfo
from functools import cached_property

import numpy as np
import polars as pl

from pipeline.clock import midnight
from pipeline.config.load import Plant
from pipeline.ingest.bare import without_days
from pipeline.ingest.channels import Channels, export_names
from pipeline.ingest.forms import Order
from pipeline.ingest.grid import TIME, Grid, parted
from pipeline.ingest.numbered import Written, with_texts
from pipeline.ingest.passes import is_repeated, is_steady, runs_backwards
from pipeline.ingest.qualities import distinct_of, read_qualities, worse
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.ingest.stamps import UNCLEAR, read_stamps, unread_of
from pipeline.ingest.values import Mark, read_values
from pipeline.table import QUALITY, empty, packed, readings_in


@dataclass(frozen=True)
class Cleaned:
    """What became of the readings of one export, or of a slab of one.

    Parameters
    ----------
    readings : DataFrame of `packed`
        In file order within each tag.
    refused : DataFrame of REFUSED
        The others.
    plain : DataFrame or None
        More readings, all good and plain numbers: a column `TIME` and one a tag, NaN where there is none.
        No reading of `readings` has the same tag and time.
    """

    readings: pl.DataFrame
    refused: pl.DataFrame
    plain: pl.DataFrame | None = None

    @cached_property
    def count(self) -> int:
        """How many readings there were."""
        plain = () if self.plain is None else self.plain.drop(TIME).iter_columns()
        return self.readings.height + self.refused.height + sum(map(readings_in, plain))


@dataclass(frozen=True)
class Stamped:
    """The rows of a slab by the distinct stamps they carry.

    Parameters
    ----------
    rows : DataFrame
        Columns `tag`, `when`, `line` of the first row of each stamp, in file order.
    place : ndarray of int
        Stamp of every row.
    """

    rows: pl.DataFrame
    place: np.ndarray


def stamped(raw: pl.DataFrame, one_time_a_line: bool) -> Stamped:
    """Find the rows that share a stamp: those of a line, or neighbours that carry the same text."""
    if one_time_a_line:
        line = raw["line"].to_numpy()
        least = int(line.min())
        first = np.full(int(line.max()) - least + 1, -1, np.int64)
        first[(line - least)[::-1]] = np.arange(len(line) - 1, -1, -1)
        there = first >= 0
        place = (np.cumsum(there) - 1)[line - least]
        rows = first[there]
    else:
        lengths = raw["when"].rle().struct.field("len").to_numpy()
        place = np.repeat(np.arange(len(lengths)), lengths)
        rows = np.cumsum(lengths) - lengths
    return Stamped(raw.select("tag", "when", "line")[rows], place)


@dataclass
class Cleaner:
    """Interprets an export slab by slab.

    Parameters
    ----------
    plant : Plant
        Names, units, states and sentinels of its tags; its clock and decimal mark.
    file : str
        For errors.
    one_time_a_line : bool
        What the layout says of itself.
    order : {"month_first", "day_first"} or None
        None = decide from the dates of the slab at hand.
    qualities : tuple of str
        What stands in the quality column elsewhere in the file: its codes are understood together.
    zone : tzinfo or None
        The zone that the file itself says its times are in.
    not_after : datetime or None
        UTC; later readings are refused.
    mark : {".", ","} or None
        Decimal mark; None = the slab at hand tells.
    doubtful : bool
        Whether `mark` is not known for sure.
    has_days : bool
        Whether some stamps are days without a clock.
    """

    plant: Plant
    file: str
    one_time_a_line: bool
    order: Order | None = None
    qualities: tuple[str, ...] = ()
    zone: tzinfo | None = None
    not_after: datetime | None = None
    mark: Mark | None = None
    doubtful: bool = False
    has_days: bool = False
    meant: dict[str, str | None] = field(default_factory=dict)
    ends_in_repeated_hour: bool = False
    is_unclear: bool = False
    has_commas: bool = False
    unread: dict[str, None] = field(default_factory=dict)
    repeated: list[pl.DataFrame] = field(default_factory=list)
    _read: dict[tuple[str, ...], pl.DataFrame] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._channels = Channels(export_names(self.plant))
        self._packed = packed(self.plant.tags)

    def clean_grid(self, grid: Grid) -> Cleaned | None:
        """Interpret one slab as `clean` does where most cells are plain numbers; None = use `clean`."""
        if self.mark == "," or grid.lines.is_empty() or self.has_days:
            return None
        names = pl.DataFrame({"tag": grid.numbers.columns}, schema={"tag": pl.String})
        channels = [self._channels.met[place] for place in self._channels.place(names)]
        if self.order is None and any(one.reason for one in channels):
            return None  # a reading that is refused has no say in what its time means
        before = len(self.repeated)
        stamps = self._after_repeated(grid.lines.with_columns(tag=pl.lit("")).select("tag", "when", "line"))
        found = parted(grid, stamps, channels)
        if found is None or (self.mark is None and found.rest["value"].str.contains(",", literal=True).any()):
            del self.repeated[before:]
            return None
        return replace(self.clean(found.rest), plain=found.plain)

    def clean(self, raw: pl.DataFrame, written: Written | None = None) -> Cleaned:
        """Interpret the readings of one slab; slabs come in the order of the file.

        Parameters
        ----------
        raw : DataFrame of RAW
            May have ``time`` and ``time_reason``, where the stamps have been read; and ``number``, where
            the plain numbers have, and their texts are null.
        written : callable, optional
            Gives those texts, for the numbers of some lines.

        Raises
        ------
        RefusedError
            The order of day and month cannot be told.
        """
        frame, unknown = self._known(raw, written)
        if frame.is_empty():
            return Cleaned(empty(self._packed), unknown)
        known = frame["number"] if "number" in frame.columns else None
        frame = frame.drop("number", strict=False)
        places, tags = frame["place"], self._channels.as_written
        values = read_values(frame["value"], places, tags, self.mark, self.doubtful, known)
        if not values["plain"].all():
            odd = frame["value"].filter(~values["plain"])
            self.has_commas = bool(odd.str.contains(",", literal=True).any())
        columns = [frame, *(() if "time" in frame.columns else (self._times(frame),)), values]
        judged = pl.concat([*columns, self._qualities(frame["quality"])], how="horizontal")
        reasons = ("time_reason", "value_reason", "quality_reason")
        reason = pl.coalesce(reasons)
        if written:
            converts = pl.Series([one.converts for one in self._channels.met]).gather(places)
            judged = with_texts(judged, ~pl.col("plain") | reason.is_not_null() | converts, written)
        if all(judged[name].null_count() == judged.height for name in reasons):
            return Cleaned(self._readings(judged), unknown)
        self.unread |= dict.fromkeys(unread_of(judged))
        doubtful = judged.select(reason.is_not_null()).to_series()
        refused = pl.concat([unknown, refuse(judged.filter(doubtful), reason)])
        return Cleaned(self._readings(judged.filter(~doubtful)), refused.sort("line", maintain_order=True))

    def _known(self, raw: pl.DataFrame, written: Written | None) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Give each reading its channel's number; refuse those of channels that are not to be read."""
        place = self._channels.place(raw)
        frame = raw.with_columns(place)
        reasons = pl.Series("reason", [one.reason for one in self._channels.met], pl.String)
        if reasons.null_count() == len(reasons) and not place.has_nulls():
            return frame, empty(REFUSED)
        reason = reasons.gather(place).alias("reason")
        refused = frame.with_columns(reason).filter(reason.is_not_null())
        refused = with_texts(refused, pl.lit(True), written) if written else refused
        return frame.filter(reason.is_null()), refuse(refused, pl.col("reason"))

    @property
    def _zone(self) -> tzinfo:
        return self.zone or self.plant.zone

    @property
    def _bounds(self) -> tuple[datetime | None, datetime | None]:
        first = self.plant.file.reading.not_before
        return (midnight(first, self.plant.zone) if first else None), self.not_after

    def _times(self, frame: pl.DataFrame) -> pl.DataFrame:
        stamps = self._stamps(frame)
        if not self.has_days:
            return stamps
        return without_days(stamps, frame["when"], frame["place"], self._channels.tags, self._zone)

    def _stamps(self, frame: pl.DataFrame) -> pl.DataFrame:
        """Read each stamp once, or each row by itself where the clock changes."""
        zone, each = self._zone, stamped(frame, self.one_time_a_line)
        if self.one_time_a_line:
            return _spread(self._after_repeated(each.rows), each.place)
        alone = each.rows.with_columns(tag=pl.lit(""))
        read = read_stamps(alone, zone, self.order, self.file, False, *self._bounds)
        if is_steady(read["time"], zone):
            return _spread(read, each.place)
        return self._after_repeated(frame.select("tag", "when", "line"))

    def _after_repeated(self, rows: pl.DataFrame) -> pl.DataFrame:
        """Read stamps behind those of earlier slabs in a repeated hour: order tells its passes apart."""
        zone = self._zone
        rows = rows.with_columns(pl.col("tag").cast(pl.String))
        before = sum(len(earlier) for earlier in self.repeated)
        read = read_stamps(
            pl.concat([*(earlier.drop("time") for earlier in self.repeated), rows]),
            zone,
            self.order,
            self.file,
            self.one_time_a_line,
            *self._bounds,
        )[before:]
        self.ends_in_repeated_hour = False
        reasons = read["time_reason"].drop_nulls()
        self.is_unclear |= bool(reasons.str.ends_with(UNCLEAR).any())
        if not is_steady(read["time"], zone):
            repeated = is_repeated(read["time"], zone)
            self.repeated.append(rows.with_columns(read["time"]).filter(repeated))
            self.ends_in_repeated_hour = runs_backwards(read["time"]) and bool(repeated[-1])
        return read

    def _qualities(self, texts: pl.Series) -> pl.DataFrame:
        """Read each distinct text once, beside all the others of the file."""
        if texts.null_count() == len(texts):
            none = pl.DataFrame(schema={"said": QUALITY, "quality_reason": pl.String})
            return none.clear(len(texts))
        distinct = distinct_of(texts)
        read = self._qualities_of(tuple(distinct))
        for text, quality in zip(distinct, read["said"].cast(pl.String), strict=True):
            # What a code means may change with the codes that follow: then it has no one meaning yet.
            self.meant[text] = quality if self.meant.get(text, quality) == quality else ""
        if len(distinct) == 1 and not texts.has_nulls():
            said = read["said"].new_from_index(0, len(texts))
            return pl.DataFrame([said, read["quality_reason"].new_from_index(0, len(texts))])
        place = texts.cast(pl.Enum(distinct)).to_physical()
        return read.select(pl.all().gather(place))

    def _qualities_of(self, distinct: tuple[str, ...]) -> pl.DataFrame:
        if distinct not in self._read:
            texts = pl.Series([*self.qualities, *distinct], dtype=pl.String)
            read = read_qualities(texts, self.plant.file.reading.quality_codes)
            self._read[distinct] = read[len(self.qualities) :].rename({"quality": "said"})
        return self._read[distinct]

    def _readings(self, judged: pl.DataFrame) -> pl.DataFrame:
        names = pl.Enum(self._packed["tag"].categories)  # type: ignore[attr-defined]
        place = judged["place"]
        tag = pl.Series("tag", [tag.tag for tag in self._channels.tags], names).gather(place)
        if not any(one.converts for one in self._channels.met):
            kept = pl.when(~pl.col("plain") & (pl.col("value") != "")).then("value")
            return judged.select(tag, "time", pl.col("number").alias("value"), worse(judged), raw=kept)
        return judged.select(tag, "time", *self._converted(place), worse(judged)).select(*self._packed)

    def _converted(self, place: pl.Series) -> list[pl.Expr]:
        """Return the value in the tag's own unit, and the text where that alone does not give it."""
        met = self._channels.met
        factors, offsets = [one.factor for one in met], [one.offset for one in met]
        converts = pl.Series([one.converts for one in met]).gather(place)
        number = pl.col("number") * pl.Series(factors).gather(place) + pl.Series(offsets).gather(place)
        plain = pl.col("plain") & ~converts
        return [
            pl.when(converts).then(number).otherwise("number").alias("value"),
            pl.when(~plain & (pl.col("value") != "")).then("value").alias("raw"),
        ]


def _spread(read: pl.DataFrame, place: np.ndarray) -> pl.DataFrame:
    """Give each row what was read of its stamp."""
    if read["time_reason"].count():
        return read[place]
    return pl.select(time=read["time"].gather(place), time_reason=pl.lit(None, pl.String))
