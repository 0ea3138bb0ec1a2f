"""A first column without a name that counts the lines, as R's write.csv and pandas' to_csv leave it.

Both write the number of the row under an empty header unless told not to (their documentation:
``row.names = TRUE``, ``index=True``): numbers of lines, not readings of a tag that has no name.
"""

from io import StringIO

import pandas as pd
import polars as pl
import pytest

from pipeline.config.load import Plant
from pipeline.ingest import slabs
from pipeline.ingest.export import read_export

R_EXPORT = b'"","Time","AIT-2"\n"1",2026-01-05 00:00:00,1.5\n"2",2026-01-05 00:15:00,1.6\n'


def test_row_numbers_of_an_r_export_are_no_readings(plant: Plant) -> None:
    export = read_export(R_EXPORT, "x", "s", plant)
    assert (export.read, export.refused.height) == (2, 0)
    assert export.readings["value"].to_list() == [1.5, 1.6]


def test_row_numbers_of_a_pandas_export_are_no_readings(plant: Plant) -> None:
    frame = pd.DataFrame({"Time": ["2026-01-05 00:00", "2026-01-05 00:15"], "AIT-2": [1.5, 1.6]})
    text = StringIO()
    frame.to_csv(text)
    export = read_export(text.getvalue().encode(), "x", "s", plant)
    assert (export.read, export.refused.height) == (2, 0)


def test_they_go_on_from_slab_to_slab(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = [f'"{n}",2026-01-05 {n // 4:02d}:{n % 4 * 15:02d}:00,{n}.5\n' for n in range(1, 30)]
    monkeypatch.setattr(slabs, "SLAB_BYTES", 120)
    export = read_export(('"","Time","AIT-2"\n' + "".join(lines)).encode(), "x", "s", plant)
    assert (export.readings.height, export.refused.height) == (29, 0)


@pytest.mark.parametrize("cells", [("1", "3"), ("7.1", "7.2"), ("2", ""), ("5", "5")])
def test_anything_but_a_count_is_refused_and_kept(plant: Plant, cells: tuple[str, str]) -> None:
    first, second = cells
    text = f",Time,AIT-2\n{first},2026-01-05 00:00,1.5\n{second},2026-01-05 00:15,1.6\n"
    refused = read_export(text.encode(), "x", "s", plant).refused
    assert refused["value"].to_list() == [cell for cell in cells if cell]
    assert refused["reason"].str.contains("no name").all()


def test_a_count_right_of_the_time_may_be_a_reading(plant: Plant) -> None:
    text = b"Time,AIT-2,\n2026-01-05 00:00,1.5,1\n2026-01-05 00:15,1.6,2\n"
    refused = read_export(text, "x", "s", plant).refused
    assert refused.filter(pl.col("reason").str.contains("no name"))["value"].to_list() == ["1", "2"]
