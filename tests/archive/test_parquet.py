"""The files: what another Parquet reader finds in them, and that the same rows make the same bytes."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pyarrow as pa
from pyarrow.parquet import ParquetFile

from pipeline.archive.load import Load, by_tag
from pipeline.archive.parquet import Groups, read_readings, write_readings
from pipeline.table import LONG

TIMES = [datetime(2026, 3, 1, tzinfo=UTC) + timedelta(minutes=15 * step) for step in range(4)]
ROWS = pl.DataFrame(
    {
        "tag": ["A"] * 4 + ["B"] * 2 + ["C"],
        "time": [*TIMES, *TIMES[:2], TIMES[0]],
        "value": [1.0, None, 3.0, 0.1, 5.0, -0.0, 7.0],
        "quality": ["good", "bad", "uncertain", "good", "good", "good", "good"],
        "raw": [None, "Bad", "<3", None, "5,0", None, "É"],
        "source": ["abc"] * 7,
    },
    LONG,
)


def test_rows_come_back_as_they_went_in(tmp_path: Path) -> None:
    write_readings(tmp_path / "a" / "2026-03.parquet", ROWS)
    assert read_readings(tmp_path / "a" / "2026-03.parquet").equals(ROWS)


def test_another_reader_finds_plain_types_and_a_row_group_a_tag(tmp_path: Path) -> None:
    write_readings(tmp_path / "x.parquet", ROWS)
    with ParquetFile(tmp_path / "x.parquet") as file:
        assert file.schema_arrow.field("time").type == pa.timestamp("us", "UTC")
        assert [file.schema_arrow.field(name).type for name in ("tag", "quality", "source")] == [
            pa.string()
        ] * 3
        groups = [file.metadata.row_group(place) for place in range(file.num_row_groups)]
        assert [group.num_rows for group in groups] == [4, 2, 1]
        assert [group.column(0).statistics.min for group in groups] == ["A", "B", "C"]
        assert {group.column(2).compression for group in groups} == {"SNAPPY"}


def test_the_same_rows_make_the_same_bytes(tmp_path: Path) -> None:
    write_readings(tmp_path / "x.parquet", ROWS)
    write_readings(tmp_path / "y.parquet", pl.concat([ROWS[:3], ROWS[3:]]))
    assert (tmp_path / "x.parquet").read_bytes() == (tmp_path / "y.parquet").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["x.parquet", "y.parquet"]


def test_a_load_makes_the_same_bytes_as_the_same_rows(tmp_path: Path) -> None:
    rows = ROWS.filter(tag="A").with_columns(pl.Series("raw", [None, "Bad", "<3", None]))
    for number, part in enumerate((rows, rows[:1], rows[1:3], rows.filter(quality="good"))):
        odd = part["raw"].is_not_null() | (part["quality"] != "good")
        load = Load()
        for run in (part.filter(~odd).select("tag", "time", "value"), part.filter(odd).drop("source")):
            for _, one in by_tag(run):
                load.add("abc", one)
        alone = load.alone()
        assert alone
        with Groups(tmp_path / f"{number}.parquet", list(LONG)) as groups:
            groups.add_load("A", "abc", alone)
        write_readings(tmp_path / f"{number}-rows.parquet", part)
        assert (tmp_path / f"{number}.parquet").read_bytes() == (
            tmp_path / f"{number}-rows.parquet"
        ).read_bytes()
