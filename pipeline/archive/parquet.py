"""Parquet: readings sorted by tag and time, a row group a tag, the same bytes for the same rows."""

from pathlib import Path

import polars as pl
import pyarrow as pa
from pyarrow.parquet import ParquetWriter

from pipeline.archive.atomic import replace_file
from pipeline.table import LONG, QUALITY

_COLUMNS = {
    "tag": pa.string(),
    "time": pa.timestamp("us", "UTC"),
    "value": pa.float64(),
    "quality": pa.string(),
    "raw": pa.string(),
    "source": pa.string(),
    "displaced_by": pa.string(),
}
"""Plain types, so that any reader understands them; `displaced_by` only in files of superseded rows."""


def write_readings(path: Path, rows: pl.DataFrame) -> None:
    """Write `rows` (LONG, with or without `displaced_by`), which are sorted by tag, atomically."""
    schema = pa.schema([(name, _COLUMNS[name]) for name in rows.columns])
    table = rows.with_columns(pl.col("quality").cast(pl.String)).to_arrow().cast(schema)
    lengths = rows["tag"].rle().struct.field("len").to_list()
    replace_file(path, lambda temporary: _write(temporary, table, lengths))


def _write(path: Path, table: pa.Table, lengths: list[int]) -> None:
    writer = ParquetWriter(
        path,
        table.schema,
        compression="zstd",
        compression_level=3,
        use_dictionary=[name for name in table.column_names if name != "time"],
        column_encoding={"time": "DELTA_BINARY_PACKED"},
        store_schema=False,
    )
    with writer:
        start = 0
        for length in lengths:
            writer.write_table(table.slice(start, length), row_group_size=length)
            start += length


def read_readings(path: Path) -> pl.DataFrame:
    """Return the rows of a file made by `write_readings`."""
    return scan_readings([path]).collect()


def scan_readings(paths: list[Path]) -> pl.LazyFrame:
    """Return one lazy frame over `paths`; LONG, and `displaced_by` where the files have it."""
    if not paths:
        return pl.LazyFrame(schema=LONG)
    rows = pl.scan_parquet(paths, hive_partitioning=False, glob=False)
    return rows.with_columns(pl.col("quality").cast(QUALITY))
