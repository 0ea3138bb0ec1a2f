"""Qualities: the recorder's own word or code on a reading becomes good, uncertain or bad.

Three ways of writing are known: words; the byte of OPC classic Data Access (192 and more good, 64 to
191 uncertain, below bad); and the 32-bit StatusCode of OPC UA (Part 4: top two bits 00 good, 01
uncertain, 10 bad). 0 is bad in the second and good in the third, so the codes of a file are read together,
and a plant whose files may hold nothing else says which it has.
"""

import re
from typing import Literal

import polars as pl

from pipeline.table import QUALITY

_WORDS = {
    "good": ("good", "ok", "g", "valid", "normal"),
    "uncertain": ("uncertain", "questionable", "suspect", "doubtful", "u", "substituted", "manual"),
    "bad": ("bad", "b", "invalid", "error", "fail", "failed", "fault", "stale", "offline", "no data"),
}
_FOREIGN_WORDS = {
    "good": ("gut", "buena", "bueno", "bonne", "bon"),
    "uncertain": ("unsicher", "incierta", "incierto", "incertaine", "incertain", "douteuse", "douteux"),
    "bad": ("schlecht", "mala", "malo", "mauvaise", "mauvais"),
}
WORDS = {
    word: quality for said in (_WORDS, _FOREIGN_WORDS) for quality, words in said.items() for word in words
}
"""Words in lower case: common practice, no source."""

FLAGS = {
    **dict.fromkeys(["bad", "invalid", "is bad"], ("bad", "good")),
    **dict.fromkeys(
        [
            "questionable",
            "suspect",
            "doubtful",
            "uncertain",
            "substituted",
            "flag",
            "flagged",
            "data flag",
            "qc flag",
        ],
        ("uncertain", "good"),
    ),
    **dict.fromkeys(["good", "valid", "is good", "isgood", "is valid", "isvalid"], ("good", "bad")),
}
"""Columns of yes and no, worst first, and what either says of a reading: common practice, no source."""
YES, NO = frozenset(["true", "yes", "1", "t", "y"]), frozenset(["false", "no", "0", "f", "n"])

_CODE = re.compile(r"(0x[0-9a-f]{1,8})|(-?\d{1,10})(\.0+)?", re.IGNORECASE)
_CODE_WITH_WORD = re.compile(r"(?:0x[0-9a-f]+|-?\d+)\s*[-:,(\[]\s*([a-z].*)", re.IGNORECASE)
_CLASSIC_GOOD, _CLASSIC_UNCERTAIN = 192, 64
_CLASSIC_LARGEST = 255
_CLASSIC_WITH_VENDOR = 0xFFFF
"""The 16 bits of OPC classic: a vendor's own byte above the quality."""

Codes = Literal["classic", "ua"]


def read_qualities(texts: pl.Series, codes: Codes | None = None) -> pl.DataFrame:
    """Read the column `quality`.

    Parameters
    ----------
    texts : Series of str
        As written, of the whole file.
    codes : {"classic", "ua"} or None
        Which OPC codes the plant's exports hold; None = the codes themselves tell.

    Returns
    -------
    DataFrame
        ``quality`` (null where nothing was written, or it is not known) and ``quality_reason``.
    """
    distinct = texts.unique(maintain_order=True).drop_nulls().to_list()
    if codes is None:
        codes = _codes_of([code for text in distinct if (code := code_of(text)) is not None])
    meant = {text: meaning(text, codes) for text in distinct}
    unknown = [text for text, quality in meant.items() if quality is None and text.strip()]
    quality = texts.replace_strict(meant, return_dtype=QUALITY) if distinct else texts.cast(QUALITY)
    frame = pl.DataFrame({"text": texts, "quality": quality})
    reason = pl.when(pl.col("text").is_in(unknown)).then(
        pl.format("quality '{}' is not a word or code we know", "text")
    )
    return frame.select("quality", reason.alias("quality_reason"))


def distinct_of(texts: pl.Series) -> pl.Series:
    """Return the distinct texts as they first appear, without null."""
    # Mostly all are the same, and that is seen several times sooner.
    alike = not texts.has_nulls() and bool((texts == texts[0]).all())
    return (
        texts.head(1).cast(pl.String)
        if alike
        else texts.unique(maintain_order=True).drop_nulls().cast(pl.String)
    )


def code_of(text: str) -> int | None:
    """Return a quality code as an unsigned 32-bit number, None where `text` is no code."""
    match = _CODE.fullmatch(text.strip())
    if not match:
        return None
    number = int(match[1], 16) if match[1] else int(match[2])
    return number & 0xFFFF_FFFF if -(2**31) <= number < 2**32 else None


def _codes_of(found: list[int]) -> Codes | None:
    """Tell from the codes of a file which they are; 0 alone is bad in one and good in the other."""
    largest = max(found, default=0)
    if largest == 0:
        return None
    return "classic" if largest <= _CLASSIC_LARGEST else "ua"


def meaning(text: str, codes: Codes | None) -> str | None:
    """Say what one quality text means; None where it is not known."""
    code = code_of(text)
    if code is None:
        worded = _CODE_WITH_WORD.fullmatch(text.strip())
        words = re.split(r"[^a-z ]", (worded[1] if worded else text).strip().lower())
        return WORDS.get(words[0].strip())
    if codes is None:
        return "uncertain"
    if codes == "ua":
        return {0: "good", 1: "uncertain", 2: "bad"}.get(code >> 30)
    return _classic(code & _CLASSIC_LARGEST) if code <= _CLASSIC_WITH_VENDOR else None


def _classic(code: int) -> str:
    if code >= _CLASSIC_GOOD:
        return "good"
    return "uncertain" if code >= _CLASSIC_UNCERTAIN else "bad"


def worse(judged: pl.DataFrame) -> pl.Expr:
    """Take the worse of what the recorder said and what the value itself says; no number is bad."""
    names = [name for name in ("said", "value_quality") if judged[name].null_count() < judged.height]
    codes = [pl.col(name).fill_null("good").to_physical() for name in names]
    said = pl.max_horizontal(*codes).cat.to(QUALITY) if codes else pl.lit("good", QUALITY)
    bad = pl.lit("bad", QUALITY)
    return pl.when(pl.col("number").is_null()).then(bad).otherwise(said).alias("quality")
