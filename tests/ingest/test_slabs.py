"""A file read in slabs, and in bulk, gives what it gives in one piece: reading for reading, line for line."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.clean import Cleaned
from pipeline.ingest.export import read_slabs
from pipeline.ingest.refusal import REFUSED
from pipeline.ingest.slabs import ahead, slabs_of
from pipeline.table import conform, empty, packed

MakePlant = Callable[..., Plant]
SMALL = 400
"""Bytes in a slab; a header has to fit."""


@dataclass
class Taken:
    """Keeps everything as rows."""

    parts: list[Cleaned] = field(default_factory=list)

    def take(self, cleaned: Cleaned) -> None:
        self.parts.append(cleaned)

    def forget(self) -> None:
        self.parts.clear()

    def tables(self, plant: Plant) -> tuple[pl.DataFrame, pl.DataFrame]:
        schema = packed(plant.tags)
        rows = [empty(schema)]
        for part in self.parts:
            rows.append(conform(part.readings, schema))
            if part.plain is not None:
                rows.append(_rows(part.plain, schema))
        readings = (
            pl.concat(rows)
            .with_columns(pl.col("tag").cast(pl.String))
            .sort("tag", "time", maintain_order=True)
        )
        return readings, pl.concat([empty(REFUSED), *(part.refused for part in self.parts)])


def _rows(plain: pl.DataFrame, schema: dict[str, pl.DataType]) -> pl.DataFrame:
    time = plain.columns[0]
    rows = (
        plain.unpivot(index=time, variable_name="tag", value_name="value").drop_nans().rename({time: "time"})
    )
    return conform(rows.with_columns(quality=pl.lit("good"), raw=pl.lit(None)), schema)


def read(data: bytes, plant: Plant, size: int, in_bulk: bool) -> tuple[pl.DataFrame, pl.DataFrame] | str:
    taken = Taken()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pipeline.ingest.slabs.SLAB_BYTES", size)
        try:
            read_slabs(BytesIO(data), "x.csv", plant, taken, in_bulk=in_bulk)
        except RefusedError as refused:
            return str(refused)
    return taken.tables(plant)


def assert_the_same(data: bytes, plant: Plant) -> None:
    whole = read(data, plant, 10**9, in_bulk=False)
    for size, in_bulk in ((10**9, True), (SMALL, False), (SMALL, True)):
        found = read(data, plant, size, in_bulk)
        if isinstance(whole, str) or isinstance(found, str):
            assert isinstance(found, str) and isinstance(whole, str), (size, in_bulk, found, whole)
            continue
        for table, expected in zip(found, whole, strict=True):
            assert table.rows() == expected.rows(), (size, in_bulk)


cells = st.sampled_from(
    ["", "1.0", "2.5", "-99", "7", "Bad", "<0.1", "x", "NaN", '"4.5"', "On", " 3 ", "1,5", "1e400"]
)
junk = st.sampled_from(["", ",,,", "a,b", '"', "01/05/2026 00:00,1", "when?,1,2,3,4"])


@st.composite
def wide(draw: st.DrawFn) -> str:
    """A file of one time a line, across the autumn night or not, with damage."""
    day = draw(st.sampled_from(["11/01/2026", "03/08/2026", "01/05/2026", "01/25/2026"]))
    hour = draw(st.integers(0, 2))
    lines = ["Time,Filter turbidity,YS-1,AIT-2,TIT-2,AIT-77"]
    clean = draw(st.booleans())
    for step in range(draw(st.integers(0, 40))):
        clock = f"{day} {hour + step // 12:02d}:{step % 12 * 5:02d}"
        if draw(st.integers(0, 12)) == 0:
            lines.append(draw(junk))
        if draw(st.integers(0, 15)) == 0:
            clock = draw(st.sampled_from(["", "13/13/2026 00:00", "99", "25:00"]))
        row = [str(step / 8) if clean else draw(cells) for _ in range(5)]
        lines.append(",".join([clock, *row]))
    return draw(st.sampled_from(["\n", "\r\n"])).join(lines)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(wide())
def test_wide_files(plant: Plant, text: str) -> None:
    assert_the_same(text.encode(), plant)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    wide(),
    st.sampled_from(["utf-8", "cp1252", "utf-16", "utf-16-le", "utf-16-be"]),
    st.sampled_from(["", "µ"]),
)
def test_long_files(plant: Plant, text: str, encoding: str, sign: str) -> None:
    """The same cells, a line each; codes of quality that only the whole file explains."""
    header, *lines = text.replace("\r", "").split("\n")
    *names, unknown = header.split(",")[1:]
    names = [*names, unknown + sign]
    rows = ["Tag,Time,Value,Quality"]
    for place, line in enumerate(lines):
        when, *values = line.split(",")
        quality = "0" if place < 20 else ("192", "64", "0", "what")[place % 4]
        rows += [f"{name},{when},{value},{quality}" for name, value in zip(names, values, strict=False)]
    assert_the_same("\n".join(rows).encode(encoding), plant)


CORPUS = sorted(path for path in (Path(__file__).parent / "corpus").glob("*.csv"))


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.name)
def test_awkward_exports_in_bulk(path: Path, make_plant: MakePlant) -> None:
    plant = make_plant(reading='date_order = "month_first"')
    data = path.read_bytes()
    whole, bulk = (read(data, plant, 10**9, in_bulk) for in_bulk in (False, True))
    if isinstance(whole, str) or isinstance(bulk, str):
        assert whole == bulk
        return
    assert [table.rows() for table in bulk] == [table.rows() for table in whole]


def test_a_file_that_runs_backwards_through_the_autumn_night(plant: Plant) -> None:
    clock = [f"{hour:02d}:{minute:02d}" for hour in (0, 1, 1, 2) for minute in range(0, 60, 5)]
    rows = [f"2026-11-01 {time},{place},1,1.0,50,1" for place, time in enumerate(clock)]
    header = "Time,Filter turbidity,YS-1,AIT-2,TIT-2,AIT-77"
    assert_the_same("\n".join([header, *reversed(rows)]).encode(), plant)


def test_the_order_of_a_date_is_told_by_the_last_slab(plant: Plant) -> None:
    days = [f"{day:02d}/03/2026 00:00,{day}.5" for day in range(1, 32)]
    assert_the_same("\n".join(["Time,AIT-2", *days * 3]).encode(), plant)


def test_the_decimal_mark_is_told_by_the_last_slab(plant: Plant) -> None:
    rows = [f"2026-01-05 {hour:02d}:00;1,234" for hour in range(24)]
    assert_the_same("\n".join(["Time;AIT-2", *rows, "2026-01-06 00:00;7,2", ""]).encode(), plant)


@given(st.lists(st.sampled_from([b"", b"a", b"bcd", b"\r"]), max_size=30), st.integers(1, 12))
def test_slabs_are_the_file(lines: list[bytes], size: int) -> None:
    data = b"\n".join(lines)
    found = list(slabs_of(BytesIO(data), whole=False, size=size))
    assert b"".join(slab.data for slab in found) == data
    assert [slab.is_last for slab in found] == [False] * (len(found) - 1) + [True]
    before = b""
    for slab in found:
        assert slab.first_line == before.count(b"\n") + 1
        assert slab.is_last or slab.data.endswith(b"\n")
        before += slab.data


def test_an_error_ahead_comes_in_its_turn() -> None:
    def items() -> Iterator[int]:
        yield 1
        raise ValueError("two")

    with pytest.raises(ValueError, match="two"), ahead(items(), str) as found:
        assert next(found) == "1"
        next(found)


def test_an_error_in_work_ahead_comes_in_its_turn() -> None:
    def work(item: int) -> int:
        return 6 // item

    with pytest.raises(ZeroDivisionError), ahead(iter([3, 2, 0, 1, 0]), work) as found:
        assert [next(found), next(found)] == [2, 3]
        next(found)
