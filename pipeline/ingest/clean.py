"""Clean: the text of RAW becomes LONG; what cannot be understood is refused with a reason, never dropped."""

from dataclasses import dataclass

import polars as pl

from pipeline.config.load import Plant
from pipeline.config.tags import Tag
from pipeline.ingest.qualities import read_qualities
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.ingest.stamps import read_stamps
from pipeline.ingest.values import read_values
from pipeline.table import LONG, QUALITY, empty


@dataclass(frozen=True)
class Cleaned:
    """What became of the readings of one export.

    Parameters
    ----------
    readings : DataFrame of LONG
        In file order within each tag; `source` is still null.
    refused : DataFrame of REFUSED
        The others.
    """

    readings: pl.DataFrame
    refused: pl.DataFrame


def clean(raw: pl.DataFrame, plant: Plant, file: str, one_time_a_line: bool) -> Cleaned:
    """Interpret every reading.

    Parameters
    ----------
    raw : DataFrame of RAW
        From a layout.
    plant : Plant
        Names, units, states and sentinels of its tags; its clock and decimal mark.
    file : str
        For the error.
    one_time_a_line : bool
        What the layout says of itself.

    Raises
    ------
    RefusedError
        The order of day and month cannot be told.
    """
    names = export_names(plant)
    frame, unknown = _known_tags(raw, names)
    if frame.is_empty():
        return Cleaned(empty(LONG), unknown)
    reading = plant.file.reading
    tags = list(names.values())
    judged = pl.concat(
        [
            frame,
            read_stamps(frame, plant.zone, reading.date_order, file, one_time_a_line),
            read_values(frame["value"], frame["place"], tags, reading.decimal_mark),
            read_qualities(frame["quality"]).rename({"quality": "said"}),
        ],
        how="horizontal",
    )
    reason = pl.coalesce("time_reason", "value_reason", "quality_reason")
    doubtful = judged.select(reason.is_not_null()).to_series()
    refused = [unknown]
    if doubtful.any():
        refused.append(refuse(judged.filter(doubtful), reason))
        judged = judged.filter(~doubtful)
    return Cleaned(_long(judged, tags), pl.concat(refused).sort("line", maintain_order=True))


def export_names(plant: Plant) -> dict[str, Tag]:
    """Return the plant's tags by their name in the export, and by their own name where that is free."""
    by_export = {tag.name_in_export: tag for tag in plant.tags.values()}
    by_tag = {tag.tag: tag for tag in plant.tags.values() if tag.tag not in by_export}
    return by_export | by_tag


def _known_tags(raw: pl.DataFrame, names: dict[str, Tag]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Give each reading its tag's number; refuse those of a tag that the config does not know."""
    place = raw["tag"].cast(pl.Enum(list(names)), strict=False).to_physical().cast(pl.UInt32).alias("place")
    frame = raw.with_columns(place)
    if not place.has_nulls():
        return frame, empty(REFUSED)
    remedy = "add it to config/tags.csv (as tag or export_name) or leave it out of the export"
    unknown = pl.format("unknown tag '{}'; {}", "tag", pl.lit(remedy))
    return frame.filter(place.is_not_null()), refuse(frame.filter(place.is_null()), unknown)


def _long(judged: pl.DataFrame, tags: list[Tag]) -> pl.DataFrame:
    factors, offsets = zip(*(tag.conversion() for tag in tags), strict=True)
    place = judged["place"]
    converts = pl.Series([pair != (1.0, 0.0) for pair in zip(factors, offsets, strict=True)]).gather(place)
    frame = judged.with_columns(
        pl.Series("tag", [tag.tag for tag in tags]).gather(place),
        converts.alias("converts"),
        pl.Series("factor", factors).gather(place),
        pl.Series("offset", offsets).gather(place),
    )
    converted = pl.col("number") * pl.col("factor") + pl.col("offset")
    plain = pl.col("plain") & ~pl.col("converts")
    return frame.select(
        "tag",
        "time",
        pl.when("converts").then(converted).otherwise("number").alias("value"),
        _quality(),
        pl.when(~plain & (pl.col("value") != "")).then("value").alias("raw"),
        pl.lit(None, pl.String).alias("source"),
    )


def _quality() -> pl.Expr:
    """Take the worse of what the recorder said and what the value itself says; no number is bad."""
    codes = [pl.col(name).fill_null("good").to_physical() for name in ("said", "value_quality")]
    worse = pl.max_horizontal(*codes).cat.to(QUALITY)
    bad = pl.lit("bad", QUALITY)
    return pl.when(pl.col("number").is_null()).then(bad).otherwise(worse).alias("quality")
