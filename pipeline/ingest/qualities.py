"""Qualities: the recorder's own word or code on a reading becomes good, uncertain or bad.

Three ways of writing are known: words; the byte of OPC classic Data Access (192 and more good, 64 to
191 uncertain, below bad); and the 32-bit StatusCode of OPC UA (Part 4: top two bits 00 good, 01
uncertain, 10 bad). 0 is bad in the second and good in the third, so the codes of a file are read together.
"""

import re

import polars as pl

from pipeline.table import QUALITY

_WORDS = {
    "good": ("good", "ok", "g", "valid", "normal"),
    "uncertain": ("uncertain", "questionable", "suspect", "doubtful", "u", "substituted", "manual"),
    "bad": ("bad", "b", "invalid", "error", "fail", "failed", "fault", "stale", "offline", "no data"),
}
WORDS = {word: quality for quality, words in _WORDS.items() for word in words}
"""Words in lower case: common practice, no source."""

_CODE = re.compile(r"(0x[0-9a-f]{1,8})|(-?\d{1,10})(\.0+)?", re.IGNORECASE)
_CLASSIC_GOOD, _CLASSIC_UNCERTAIN = 192, 64
_CLASSIC_LARGEST = 255


def read_qualities(texts: pl.Series) -> pl.DataFrame:
    """Read the column `quality`.

    Returns
    -------
    DataFrame
        ``quality`` (null where nothing was written, or it is not known) and ``quality_reason``.
    """
    distinct = texts.unique(maintain_order=True).drop_nulls().to_list()
    codes = [code for text in distinct if (code := code_of(text)) is not None]
    meant = {text: meaning(text, codes) for text in distinct}
    unknown = [text for text, quality in meant.items() if quality is None and text.strip()]
    quality = texts.replace_strict(meant, return_dtype=QUALITY) if distinct else texts.cast(QUALITY)
    frame = pl.DataFrame({"text": texts, "quality": quality})
    reason = pl.when(pl.col("text").is_in(unknown)).then(
        pl.format("quality '{}' is not a word or code we know", "text")
    )
    return frame.select("quality", reason.alias("quality_reason"))


def code_of(text: str) -> int | None:
    """Return a quality code as an unsigned 32-bit number, None where `text` is no code."""
    match = _CODE.fullmatch(text.strip())
    if not match:
        return None
    number = int(match[1], 16) if match[1] else int(match[2])
    return number & 0xFFFF_FFFF if -(2**31) <= number < 2**32 else None


def meaning(text: str, codes: list[int]) -> str | None:
    """Say what one quality text means beside all the `codes` of its file; None where it is not known."""
    code = code_of(text)
    if code is None:
        words = re.split(r"[^a-z ]", text.strip().lower())
        return WORDS.get(words[0].strip()) if words else None
    if max(codes) == 0:
        return "uncertain"  # bad in OPC classic, good in OPC UA, and nothing else in the file tells which
    if max(codes) <= _CLASSIC_LARGEST:
        return _classic(code)
    return {0: "good", 1: "uncertain", 2: "bad"}.get(code >> 30)


def _classic(code: int) -> str:
    if code >= _CLASSIC_GOOD:
        return "good"
    return "uncertain" if code >= _CLASSIC_UNCERTAIN else "bad"
