"""Every layout: found on disk, alone in recognising its sample, and true to its golden table."""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import polars as pl
import pytest

import pipeline.ingest.layouts as folder
from pipeline.config.load import Plant
from pipeline.ingest import slabs
from pipeline.ingest.export import read_export
from pipeline.ingest.identify import identify
from pipeline.parts import parts
from pipeline.table import LONG, RAW

HERE = Path(__file__).parent


class MakePlant(Protocol):
    def __call__(self, *, reading: str) -> Plant: ...


NAMES = sorted(path.stem for path in Path(folder.__file__).parent.glob("*.py") if path.stem != "__init__")


def test_files_on_disk_are_the_parts_found() -> None:
    assert list(parts(folder)) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_layout_reads_its_own_sample_and_no_other(name: str) -> None:
    data = (HERE / "samples" / f"{name}.csv").read_bytes()
    layout, module, sheet = identify(data, name, "cp1252")
    assert layout == name
    assert [other for other in NAMES if parts(folder)[other].recognises(sheet.head)] == [name]
    raw, _ = module.read(sheet)
    # The names of tags may come as numbers, and a unit is there where the export gives one.
    assert raw.drop("unit", strict=False).cast({"tag": pl.String}).schema == pl.Schema(RAW)


@pytest.mark.parametrize("name", NAMES)
def test_golden(name: str, make_plant: MakePlant, golden: Callable[[Path, str], None]) -> None:
    data = (HERE / "samples" / f"{name}.csv").read_bytes()
    plant = make_plant(reading='date_order = "month_first"')
    export = read_export(data, f"{name}.csv", "0" * 12, plant)
    assert export.readings.schema == pl.Schema(LONG)
    readings = export.readings.drop("source").with_columns(pl.col("value").round(6))
    golden(HERE / "golden" / f"{name}.readings.csv", readings.write_csv(datetime_format="%Y-%m-%dT%H:%M:%SZ"))
    golden(HERE / "golden" / f"{name}.refused.csv", export.refused.write_csv())


def test_wide_cells_that_are_empty_are_no_readings(plant: Plant) -> None:
    export = read_export(b"Time,AIT-2,YS-1\n2026-01-05 00:00,1.0,\n2026-01-05 00:15, ,On\n", "x", "s", plant)
    assert export.read == 2
    assert export.readings["tag"].to_list() == ["AIT-2", "YS-1"]


def test_a_reading_line_without_value_is_a_bad_reading(plant: Plant) -> None:
    export = read_export(b"Tag,Time,Value\nAIT-2,2026-01-05 00:00,\n", "x", "s", plant)
    assert export.readings.select("value", "quality", "raw").row(0) == (None, "bad", None)


def test_date_and_time_in_two_columns(plant: Plant) -> None:
    one = read_export(b"Date,Time,AIT-2\n2026-01-05,00:15,1.0\n", "x", "s", plant).readings
    other = read_export(b"Tag,Date,Time,Value\nAIT-2,2026-01-05,00:15,1.0\n", "x", "s", plant).readings
    assert str(one["time"][0]) == str(other["time"][0]) == "2026-01-05 07:15:00+00:00"


def test_a_column_name_that_stands_twice_is_refused_with_its_readings(plant: Plant) -> None:
    data = b"Time,AIT-2,YS-1,AIT-2,\n2026-01-05 00:00,1.0,1,2.0,9\n"
    export = read_export(data, "x", "s", plant)
    assert export.readings["tag"].to_list() == ["YS-1"]
    assert export.refused["value"].to_list() == ["1.0", "2.0", "9"]
    assert ["more than once" in reason for reason in export.refused["reason"]] == [True, True, False]
    assert export.read == 4


def test_an_unknown_tag_is_refused_with_its_readings_counted(plant: Plant) -> None:
    data = b"Time,AIT-2,AIT-77\n2026-01-05 00:00,1.0,5\n2026-01-05 00:15,1.0,5\n2026-01-05 00:30,1.0,\n"
    export = read_export(data, "x", "s", plant)
    assert export.readings.height == 3
    assert export.refused.height == 2
    assert export.refused["reason"][0].startswith("unknown tag 'AIT-77'; add it to config/tags.csv")
    assert export.refused["line"].to_list() == [2, 3]


@pytest.mark.parametrize("name", NAMES)
def test_a_layout_read_slab_by_slab_gives_the_same(
    name: str, make_plant: MakePlant, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = (HERE / "samples" / f"{name}.csv").read_bytes()
    plant = make_plant(reading='date_order = "month_first"')
    whole = read_export(data, f"{name}.csv", "s", plant)
    _, _, sheet = identify(data, name, "cp1252")
    header = len(b"\n".join(data.split(b"\n")[: sheet.head.header_line + 1])) + 1
    for more in (0, 50, 150):
        monkeypatch.setattr(slabs, "SLAB_BYTES", header + more)
        parts_of = read_export(data, f"{name}.csv", "s", plant)
        order = ["tag", "time"]
        assert parts_of.readings.sort(order, maintain_order=True).equals(
            whole.readings.sort(order, maintain_order=True)
        )
        assert parts_of.refused.sort("line", "tag").equals(whole.refused.sort("line", "tag"))


@pytest.mark.parametrize(
    ("name", "tag"),
    [
        ("trends/AIT-1/2026-03.csv", "AIT-1"),
        ("trends\\AIT-1\\2026-03-01 to 2026-03-31.csv", "AIT-1"),
        ("trends/AIT-1_2026-03.csv", "AIT-1"),
        ("week.zip/2026-03.csv", "2026-03"),
    ],
)
def test_a_file_named_by_its_days_alone_is_of_the_tag_of_its_folder(name: str, tag: str) -> None:
    """Else the files of all tags would be of one tag called 2026-03."""
    _, layout, sheet = identify(b"Time,Value\n2026-03-01 00:00,1.5\n", name, "utf-8")
    assert layout.read(sheet)[0]["tag"].to_list() == [tag]
