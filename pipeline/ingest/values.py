"""Values: a reading's text becomes a number in the export's unit, or says why there is none."""

import re
from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.config.tags import Tag
from pipeline.table import QUALITY

Mark = Literal[".", ","]

_NO_NUMBER = (
    "bad|nan|-nan|null|none|nil|na|n/a|#n/a|#na|#value!|#ref!|#div/0!|#null!|error|err|fail|failed|fault|"
    "inf|-inf|+inf|infinity|-infinity|1.#inf|-1.#inf|1.#qnan|1.#ind|-1.#ind|-|--|---|----|?|??|???|*|**|***|"
    "****|*****|nodata|no data|no value|no result|offline|stale|timeout|void|invalid|bad data|"
    "comm fail|comm failure|comm error|not connected|not available|out of service|"
    "sensor failure|device failure|under range|over range"
)
NO_NUMBER = frozenset(_NO_NUMBER.split("|"))
"""Texts (lower case) that recorders write where there is no number: common practice, no source."""

_GROUPED: dict[Mark, re.Pattern[str]] = {
    ".": re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?"),
    ",": re.compile(r"[+-]?\d{1,3}(\.\d{3})+(,\d+)?"),
}
_PLAIN: dict[Mark, re.Pattern[str]] = {
    ".": re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE),
    ",": re.compile(r"[+-]?(\d+,?\d*|,\d+)(e[+-]?\d+)?", re.IGNORECASE),
}
_LIMIT = re.compile(r"(<=|>=|<|>|≤|≥)\s*(.+)")


@dataclass(frozen=True)
class Meaning:
    """What a text that is no plain number means; `reason` is why it cannot be told."""

    number: float | None = None
    quality: str = "good"
    reason: str | None = None


def meaning(text: str, tag: Tag, mark: Mark) -> Meaning:
    """Say what one awkward text means.

    A detection limit (``<0.02``, ``>4``) stands as the limit's own number with quality uncertain: the
    water was below (above) it, by how much nobody knows.
    """
    word = text.strip().lower()
    number = number_of(word, mark)
    if number is not None:
        return Meaning(number)
    if word in tag.states:
        return Meaning(tag.states[word])
    if word == "" or word in NO_NUMBER:
        return Meaning(quality="bad")
    limit = _LIMIT.fullmatch(word)
    if limit and (number := number_of(limit[2], mark)) is not None:
        return Meaning(number, "uncertain")
    return Meaning(reason=_why_not(text, word, tag, mark))


def number_of(text: str, mark: Mark) -> float | None:
    """Return a number with the plant's decimal mark, thousands grouped or not; None if it is none."""
    group = "," if mark == "." else "."
    if not text.isascii():
        return None
    if _GROUPED[mark].fullmatch(text):
        text = text.replace(group, "")
    elif not _PLAIN[mark].fullmatch(text):
        return None
    value = float(text.replace(",", "."))
    return value if abs(value) < float("inf") else None


def _why_not(text: str, word: str, tag: Tag, mark: Mark) -> str:
    other: Mark = "," if mark == "." else "."
    if number_of(word, other) is not None:
        return (
            f"{text!r} has another decimal mark than {mark!r} (decimal_mark in config/plant.toml, [reading])"
        )
    if tag.states:
        return f"{text!r} is neither a number nor a state of {tag.tag} in config/tags.csv"
    return f"{text!r} is not a number"


def read_values(texts: pl.Series, places: pl.Series, tags: list[Tag], mark: Mark) -> pl.DataFrame:
    """Read the column `value`.

    Parameters
    ----------
    texts : Series of str
        As written, trimmed.
    places : Series of int
        Place of each reading's tag in `tags`.
    tags : list of Tag
        The plant's tags.
    mark : {".", ","}
        Decimal mark.

    Returns
    -------
    DataFrame
        ``number`` (in the export's unit), ``value_quality`` (null = as good as the quality column says),
        ``plain`` (the number says it all), ``value_reason`` (why there is none).
    """
    numbers = _cast(texts, mark)
    frame = pl.DataFrame({"text": texts, "place": places, "number": numbers})
    awkward = numbers.is_null()
    frame = frame.with_columns(
        pl.lit(None, QUALITY).alias("value_quality"),
        (~awkward).alias("plain"),
        pl.lit(None, pl.String).alias("value_reason"),
    )
    if awkward.any():
        frame = _with_meanings(frame, awkward, tags, mark)
    frame = _without_sentinels(frame, tags)
    return frame.select("number", "value_quality", "plain", "value_reason")


def _cast(texts: pl.Series, mark: Mark) -> pl.Series:
    if mark == ",":
        texts = texts.set(texts.str.contains(".", literal=True), None).str.replace(",", ".", literal=True)
    numbers = texts.cast(pl.Float64, strict=False)
    return numbers.set(~numbers.is_finite().fill_null(True), None)


def _with_meanings(frame: pl.DataFrame, awkward: pl.Series, tags: list[Tag], mark: Mark) -> pl.DataFrame:
    """Understand each distinct awkward text of each tag once."""
    rows = frame.filter(awkward).select("place", "text")
    distinct = rows.unique(maintain_order=True)
    meant = [meaning(text or "", tags[place], mark) for place, text in distinct.iter_rows()]
    found = distinct.with_columns(
        pl.Series("number", [one.number for one in meant], pl.Float64),
        pl.Series("value_quality", [one.quality for one in meant], QUALITY),
        pl.Series("value_reason", [one.reason for one in meant], pl.String),
    )
    joined = rows.join(found, on=["place", "text"], how="left", nulls_equal=True, maintain_order="left")
    where = awkward.arg_true()
    columns = ("number", "value_quality", "value_reason")
    return frame.with_columns(frame[name].scatter(where, joined[name]) for name in columns)


def _without_sentinels(frame: pl.DataFrame, tags: list[Tag]) -> pl.DataFrame:
    """Take out the numbers that a tag's config calls sentinels: bad, with the text kept."""
    pairs = [(place, number) for place, tag in enumerate(tags) for number in tag.sentinels]
    if not pairs:
        return frame
    any_tag = frame["number"].is_in([number for _, number in pairs]).fill_null(False)
    if not any_tag.any():
        return frame
    known = pl.DataFrame(pairs, {"place": frame.schema["place"], "number": pl.Float64}, orient="row")
    rows = frame.with_row_index("row").filter(any_tag).join(known, on=["place", "number"], how="semi")
    is_sentinel = pl.Series("sentinel", [False]).new_from_index(0, len(frame)).scatter(rows["row"], True)
    return frame.with_columns(is_sentinel).with_columns(
        pl.when("sentinel").then(None).otherwise("number").alias("number"),
        pl.when("sentinel").then(pl.lit("bad", QUALITY)).otherwise("value_quality").alias("value_quality"),
        (pl.col("plain") & ~pl.col("sentinel")).alias("plain"),
    )
