"""One tag: a file that holds the readings of one tag, named in lines above the header or by the file."""

import re

import polars as pl

from pipeline.errors import RefusedError
from pipeline.ingest.clocks import when_of
from pipeline.ingest.furniture import without_furniture
from pipeline.ingest.head import Head, split
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import TAG_NAMES, VALUE_NAMES, has_date
from pipeline.ingest.wide import quality_of, unit_of, value_of

ONE_TIME_A_LINE = False

_NAME_KEYS = TAG_NAMES | {"name"}
_PAGE = re.compile(r"\W*(?:page|sheet)\b", re.IGNORECASE)
_TAG = re.compile(r"\[?([A-Z]{2,5}[-_]?\d{1,5}[A-Z]?)\]?")
"""A title right above the header that is written like a tag of ISA-5.1, and is no other word."""
_DAY = r"(?:19|20)\d\d(?:-(?:0[1-9]|1[0-2])(?:-\d\d)?|-?W\d\d|[01]\d[0-3]\d)"
_DATED = re.compile(rf"[-_ .]+{_DAY}(?:(?:[-_ .]|to)+{_DAY})?")
"""What a recorder adds to a file's name: the day, month or week, or the first and last of them."""
_ONLY_DATED = re.compile(rf"{_DAY}(?:(?:[-_ .]|to)+{_DAY})?")
"""The name of a file of which the folder says whose readings it holds."""


def recognises(head: Head) -> bool:
    """Whether the header names one time and a value, and nothing that could be a tag."""
    return bool(head.when_columns) and head.names_one_tag and not head.pair_columns


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW in the order of the file, and REFUSED; an empty value is a reading without a number."""
    cells, broken = sheet.rows()
    _refuse_sections(sheet, broken)
    head = sheet.head
    cells, summary = without_furniture(cells, sheet)
    value = head.column(VALUE_NAMES)
    readings = cells.select(
        pl.lit(tag_of(sheet)).alias("tag"),
        when_of(head).alias("when"),
        value_of(head, value or 0),
        quality_of(head),
        "line",
        *unit_of(head, value or 0),
    )
    blank = (pl.col("when") == "") & (pl.col("value") == "")
    return readings.filter(~blank), pl.concat([broken, summary]).sort("line", maintain_order=True)


def _refuse_sections(sheet: Sheet, broken: pl.DataFrame) -> None:
    """Refuse a file with a line such as ``[AIT-2]`` among its readings and ``[AIT-1]`` above them."""
    titles = {_shape(cells): cells for cells in sheet.head.preamble}
    for line, text in broken.select("line", "value").iter_rows() if titles else ():
        cells = tuple(cell.strip() for cell in split(text or "", sheet.head.delimiter))
        title = titles.get(_shape(cells), cells)
        if title != cells and not any(map(has_date, cells)) and not _PAGE.match(cells[0]):
            shown = " ".join(filter(None, cells))
            problem = f"it holds the readings of several tags one below the other: line {line} is {shown!r}"
            raise RefusedError(sheet.name, problem, "export one tag a file")


def _shape(cells: tuple[str, ...]) -> tuple[str, ...]:
    """Return what a title looks like, whatever its tag: ``[AAA-0]``, or ``Tag:`` and something."""
    key, colon, _ = cells[0].partition(":")
    if colon or key.lower() in _NAME_KEYS:
        return (key.lower(),)
    return tuple(re.sub(r"\d+", "0", re.sub("[A-Za-z]+", "A", cell)) for cell in cells if cell)


def tag_of(sheet: Sheet) -> str:
    """Return the tag that the lines above the header name; else the file or its folder, without dates."""
    title = [cell for row in sheet.head.preamble[-1:] for cell in row if cell]
    over = _TAG.fullmatch(title[0]) if len(title) == 1 else None
    told = sheet.head.told(_NAME_KEYS) or (over[1] if over else "")
    if told:
        return told
    folder, _, name = sheet.name.replace("\\", "/").rpartition("/")
    bare = re.sub(r"(?:\.(?:csv|txt|tsv|dat|gz|prn))+$", "", name, flags=re.IGNORECASE)
    above = folder.rpartition("/")[2]
    if _ONLY_DATED.fullmatch(bare) and above and "." not in above:
        return above
    return _DATED.sub("", bare)
