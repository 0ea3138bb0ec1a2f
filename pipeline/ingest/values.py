"""Values: a reading's text becomes a number in the export's unit, or says why there is none."""

import re
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from pipeline.config.tags import Tag
from pipeline.ingest.channels import unit_of
from pipeline.table import QUALITY

Mark = Literal[".", ","]

_NO_NUMBER = (
    "bad|nan|-nan|null|none|nil|na|n/a|#n/a|#na|#value!|#ref!|#div/0!|#null!|error|err|fail|failed|fault|"
    "inf|-inf|+inf|infinity|-infinity|1.#inf|-1.#inf|1.#qnan|1.#ind|-1.#ind|-|--|---|----|?|??|???|*|**|***|"
    "****|*****|nodata|no data|no value|no result|offline|stale|timeout|void|invalid|bad data|"
    "comm fail|comm failure|comm error|comm failed|no comm|i/o timeout|timed out|no good data|#name?|#num!|"
    "not connected|not available|out of service|"
    "sensor failure|device failure|under range|over range"
)
NO_NUMBER = frozenset(_NO_NUMBER.split("|"))
"""Texts (lower case) that recorders write where there is no number: common practice, no source."""

_SPACES = " \u00a0\u2009\u202f'’"
"""Marks between thousands besides comma and point: blanks of several widths, and the apostrophe."""
_GROUPED: dict[Mark, re.Pattern[str]] = {
    ".": re.compile(rf"[+-]?[1-9]\d{{0,2}}([,{_SPACES}])\d{{3}}(\1\d{{3}})*(\.\d+)?"),
    ",": re.compile(rf"[+-]?[1-9]\d{{0,2}}([.{_SPACES}])\d{{3}}(\1\d{{3}})*(,\d+)?"),
}
_MARKS: tuple[Mark, Mark] = (",", ".")
THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
"""One thousand two hundred and thirty-four, or one and a quarter: 1,234 and 1.234 say both."""
_PLAIN: dict[Mark, re.Pattern[str]] = {
    ".": re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE),
    ",": re.compile(r"[+-]?(\d+,?\d*|,\d+)(e[+-]?\d+)?", re.IGNORECASE),
}
_MINUS = "\u2212"
"""The minus of typesetters; a dash is none."""
_LIMIT = re.compile(r"(<=|>=|<|>|≤|≥)\s*(.+)")
_WRAPPED = re.compile(r'="([^"=]*)"')
"""How some exports keep spreadsheets from changing a cell."""
WITH_UNIT = re.compile(r"([<>≤≥+\-\u2212.\d].*\d|\d) ?([°º]?[^\W\d_.][^,;]*|%)")
"""A number and the unit it carries."""


@dataclass(frozen=True)
class Meaning:
    """What a text that is no plain number means; `reason` is why it cannot be told."""

    number: float | None = None
    quality: str = "good"
    reason: str | None = None


def meaning(text: str, tag: Tag, mark: Mark, doubtful: bool = False) -> Meaning:
    """Say what one awkward text means.

    A detection limit (``<0.02``, ``>4``) stands as the limit's own number with quality uncertain: the
    water was below (above) it, by how much nobody knows. `doubtful` tells that the file's decimal mark is
    not known for sure, so that ``1,234`` is not read either way.
    """
    word = text.strip().lower().replace(_MINUS, "-")
    number = number_of(word, mark)
    if number is not None:
        return (
            Meaning(number)
            if not (doubtful and THOUSANDS.fullmatch(word))
            else Meaning(reason=_both_ways(word))
        )
    if word in tag.states:
        return Meaning(tag.states[word])
    if tag.is_state and word in ("true", "false"):
        return Meaning(float(word == "true"))
    if word == "" or word in NO_NUMBER:
        return Meaning(quality="bad")
    limit = _LIMIT.fullmatch(word)
    if limit and (number := number_of(limit[2], mark)) is not None:
        return Meaning(number, "uncertain")
    return _bared(text, tag, mark, doubtful) or Meaning(reason=_why_not(text, word, tag, mark))


def _bared(text: str, tag: Tag, mark: Mark, doubtful: bool) -> Meaning | None:
    """Say what a number means that is wrapped up or carries its unit; None where it is neither."""
    if wrapped := _WRAPPED.fullmatch(text.strip()):
        return meaning(wrapped[1], tag, mark, doubtful)
    found = WITH_UNIT.fullmatch(text.strip())
    unit = unit_of(found[2]) if found and not tag.is_state else None
    if not found or not unit:
        return None
    own = tag.export_unit or tag.unit
    if unit != own:
        return Meaning(
            reason=f"{text!r} is in {unit}, {tag.tag} in {own} (by config/tags.csv, or the header)"
        )
    return meaning(found[1], tag, mark, doubtful)


def number_of(text: str, mark: Mark) -> float | None:
    """Return a number with the plant's decimal mark, thousands grouped or not; None if it is none."""
    grouped = _GROUPED[mark].fullmatch(text)
    if grouped:
        text = text.replace(grouped[1], "")
    elif not (text.isascii() and _PLAIN[mark].fullmatch(text)):
        return None
    if not text.isascii():
        return None
    value = float(text.replace(",", "."))
    return value if abs(value) < float("inf") else None


def _both_ways(word: str) -> str:
    whole = word.replace(",", "").replace(".", "")
    return (
        f"{word!r} can be {whole} or {word.replace(',', '.')}; "
        "say which with decimal_mark in config/plant.toml, [reading]"
    )


def _why_not(text: str, word: str, tag: Tag, mark: Mark) -> str:
    other: Mark = "," if mark == "." else "."
    if number_of(word, other) is not None:
        return (
            f"{text!r} has another decimal mark than {mark!r} (decimal_mark in config/plant.toml, [reading])"
        )
    if tag.states:
        return f"{text!r} is neither a number nor a state of {tag.tag} in config/tags.csv"
    return f"{text!r} is not a number"


def read_values(
    texts: pl.Series,
    places: pl.Series,
    tags: list[Tag],
    mark: Mark | None,
    doubtful: bool = False,
    known: pl.Series | None = None,
) -> pl.DataFrame:
    """Read the column `value`.

    Parameters
    ----------
    texts : Series of str
        As written, trimmed.
    places : Series of int
        Place of each reading's tag in `tags`.
    tags : list of Tag
        The plant's tags.
    mark : {".", ","} or None
        Decimal mark; None = the texts themselves tell.
    doubtful : bool
        Whether `mark` was told by other texts of the file, and is not known for sure.
    known : Series of float, optional
        The plain numbers, where they have been read already, with a point for the mark; null elsewhere.

    Returns
    -------
    DataFrame
        ``number`` (in the export's unit), ``value_quality`` (null = as good as the quality column says),
        ``plain`` (the number says it all), ``value_reason`` (why there is none).
    """
    numbers = _cast(texts, mark or ".") if known is None else _filled(known, texts)
    if mark is None:
        mark, doubtful = decided(texts, numbers)
        numbers = numbers if mark == "." else _cast(texts, mark)
    frame = pl.DataFrame({"text": texts, "place": places, "number": numbers})
    awkward = numbers.is_null()
    frame = frame.with_columns(
        pl.lit(None, QUALITY).alias("value_quality"),
        (~awkward).alias("plain"),
        pl.lit(None, pl.String).alias("value_reason"),
    )
    if awkward.any():
        frame = _with_meanings(frame, awkward, tags, mark, doubtful)
    frame = _without_sentinels(frame, tags)
    return frame.select("number", "value_quality", "plain", "value_reason")


def _filled(known: pl.Series, texts: pl.Series) -> pl.Series:
    left = known.is_null()
    return known.scatter(left.arg_true(), _cast(texts.filter(left), ".")) if left.any() else known


def decided(texts: pl.Series, numbers: pl.Series) -> tuple[Mark, bool]:
    """Tell the decimal mark from the texts themselves, and whether it is in doubt.

    ``7,2`` and ``1.234,5`` are written with a comma, ``1,234.5`` and ``0.02`` with a point; ``1,234`` and
    ``1.234`` tell nothing.
    """
    odd = texts.filter(numbers.is_null())
    with_comma = (
        odd.filter(odd.str.contains(",", literal=True)).unique(maintain_order=True).drop_nulls().to_list()
    )
    if not with_comma:
        return ".", False
    comma, point = (any(_only(text, mark) for text in with_comma) for mark in _MARKS)
    plain = texts.filter(numbers.is_not_null())
    plain = plain.filter(plain.str.contains(".", literal=True))
    point = point or not plain.str.contains(f"^{THOUSANDS.pattern}$").all()
    return ("," if comma and not point else "."), comma == point


def telling(texts: pl.Series) -> pl.Series:
    """Return what `decided` goes by: texts with a comma, and one plain number with a point."""
    numbers = texts.cast(pl.Float64, strict=False)
    odd = texts.filter(numbers.is_null())
    plain = texts.filter(numbers.is_not_null())
    plain = plain.filter(plain.str.contains(".", literal=True))
    sure = plain.filter(~plain.str.contains(f"^{THOUSANDS.pattern}$"))
    return pl.concat(
        [odd.filter(odd.str.contains(",", literal=True)).unique(maintain_order=True), sure.head(1)]
    )


def _only(text: str, mark: Mark) -> bool:
    """Whether a text is a number with this decimal mark and none with the other."""
    limit = _LIMIT.fullmatch(text.strip())
    number = limit[2] if limit else text.strip()
    other: Mark = "." if mark == "," else ","
    return number_of(number, mark) is not None and number_of(number, other) is None


def _cast(texts: pl.Series, mark: Mark) -> pl.Series:
    if mark == ",":
        texts = texts.set(texts.str.contains(".", literal=True), None).str.replace(",", ".", literal=True)
    numbers = texts.cast(pl.Float64, strict=False)
    return numbers.set(~numbers.is_finite().fill_null(True), None)


def _with_meanings(
    frame: pl.DataFrame, awkward: pl.Series, tags: list[Tag], mark: Mark, doubtful: bool
) -> pl.DataFrame:
    """Understand each distinct awkward text of each tag once."""
    where = awkward.arg_true()
    places, texts = frame["place"].gather(where), frame["text"].gather(where).fill_null("")
    distinct = texts.unique()
    word = texts.cast(pl.Enum(distinct)).to_physical().to_numpy()
    of_tag = places.to_numpy() * np.int64(len(distinct)) + word
    _, first, each = np.unique(of_tag, return_index=True, return_inverse=True)
    met = zip(texts.gather(first), places.gather(first), strict=True)
    meant = [meaning(text, tags[place], mark, doubtful) for text, place in met]
    found = {
        "number": pl.Series([one.number for one in meant], dtype=pl.Float64),
        "value_quality": pl.Series([one.quality for one in meant], dtype=QUALITY),
        "value_reason": pl.Series([one.reason for one in meant], dtype=pl.String),
    }
    return frame.with_columns(
        frame[name].scatter(where, values.gather(each)) for name, values in found.items() if values.count()
    )


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
