"""Fuzz: a few hundred damaged exports; ``python -m benchmarks.fuzz_ingest`` reads twenty thousand."""

from pathlib import Path

import pytest

from benchmarks.fuzz_ingest import fuzz, lost_lines, plant_in
from pipeline.ingest import wide
from pipeline.ingest.refusal import REFUSED
from pipeline.table import empty


def test_damaged_exports_are_read_or_refused_and_every_line_is_accounted_for() -> None:
    tally = fuzz(300, seed=20, batch=150)
    assert not tally.crashes
    assert (tally.lost, tally.unbalanced) == (0, 0)
    assert tally.files == 300
    assert 0 < tally.refused < 200


def test_a_reader_that_drops_a_line_would_be_found_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = b"Time,AIT-2\n2026-01-05 00:00,1.02\n2026-01-05 00:15,1.03\nAverage,1.025\n"
    plant = plant_in(tmp_path / "plant")
    assert lost_lines(data, "x.csv", plant) == []
    monkeypatch.setattr(wide, "without_furniture", lambda cells, sheet: (cells.head(1), empty(REFUSED)))
    assert lost_lines(data, "x.csv", plant) == [3, 4]
