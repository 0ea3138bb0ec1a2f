"""Reading: exactly the rows asked for, whichever files they lie in."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from pipeline.archive.areas import areas_of
from pipeline.archive.cargo import Cargo, by_month
from pipeline.archive.store import Parcel, store
from pipeline.archive.trends import first_and_last, read
from pipeline.table import LONG

FIRST = datetime(2026, 2, 27, tzinfo=UTC)
TIMES = [FIRST + timedelta(hours=6 * step) for step in range(40)]
READINGS = pl.DataFrame(
    [(tag, time, 1.0, "good", None, "s") for tag in ("A", "B", "C") for time in TIMES], LONG, orient="row"
)
AREAS = {"A": "one", "B": "one", "C": "two"}


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    cargo = Cargo(AREAS, tmp_path / "waiting")
    cargo.add(READINGS.drop("source"))
    store(tmp_path, [Parcel("s", "f", "s" * 64, 1, "columns", cargo)], FIRST)
    return tmp_path


def test_files_are_a_month_and_an_area(archive: Path) -> None:
    found = sorted(path.relative_to(archive).as_posix() for path in archive.rglob("*.parquet"))
    assert found == [
        f"trends/{area}/2026-{month}.parquet" for area in ("one", "two") for month in ("02", "03")
    ]


def test_months_are_of_utc() -> None:
    row = ("A", datetime(2026, 3, 1, tzinfo=UTC), 1.0, "good", None, "s")
    rows = pl.DataFrame([row, ("A", row[1] - timedelta(microseconds=1), *row[2:])], LONG, orient="row")
    assert {key: [len(part) for part in parts] for key, parts in by_month(rows, AREAS).items()} == {
        ("one", "2026-02"): [1],
        ("one", "2026-03"): [1],
    }


def test_everything(archive: Path) -> None:
    found = read(archive).collect()
    assert found.schema == pl.Schema(LONG)
    assert found.sort("tag", "time").equals(READINGS)


@pytest.mark.parametrize("start", [None, *TIMES[::7]])
@pytest.mark.parametrize("end", [None, *TIMES[::9]])
@pytest.mark.parametrize("tags", [None, ["A"], ["C", "A"], [], ["Z"]])
def test_windows_hold_their_start_and_not_their_end(
    archive: Path, tags: list[str] | None, start: datetime | None, end: datetime | None
) -> None:
    found = read(archive, tags, start, end).collect().sort("tag", "time").rows()
    expected = [
        row
        for row in READINGS.rows()
        if (tags is None or row[0] in tags)
        and (start is None or row[1] >= start)
        and (end is None or row[1] < end)
    ]
    assert found == expected


def test_first_and_last(archive: Path, tmp_path: Path) -> None:
    assert first_and_last(archive) == (TIMES[0], TIMES[-1])
    assert first_and_last(tmp_path / "nothing") is None
    assert read(tmp_path / "nothing").collect().is_empty()


def test_a_tag_is_found_where_it_was_first_stored(archive: Path) -> None:
    moved = {**AREAS, "C": "one"}
    cargo = Cargo(areas_of(archive, moved, moved), archive / "waiting")
    later = READINGS.filter(pl.col("tag") == "C").with_columns(pl.col("time") + timedelta(days=30))
    cargo.add(later.drop("source"))
    store(archive, [Parcel("t", "g", "t" * 64, 1, "columns", cargo)], FIRST)
    assert read(archive, ["C"]).collect().height == 2 * len(TIMES)
    assert read(archive, ["never stored"]).collect().is_empty()
