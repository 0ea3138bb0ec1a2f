"""The ledger: comes back as written, and damage is named with its line."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.archive.ledger import COLUMNS, Delivery, read_ledger, write_ledger
from pipeline.config.load import Plant
from pipeline.errors import StillwellError
from pipeline.intake import take_in

ONE = Delivery(
    source="0123456789ab",
    file='trends/a, "b" µ.csv',
    sha256="0123456789ab" + "0" * 52,
    bytes=10,
    layout="columns",
    read=10,
    stored=4,
    known=3,
    superseded=2,
    refused=1,
    first_time=datetime(2026, 3, 1, 7, tzinfo=UTC),
    last_time=None,
    read_at=datetime(2026, 11, 16, 12, tzinfo=UTC),
)


def test_lines_come_back_as_written(tmp_path: Path) -> None:
    assert read_ledger(tmp_path) == []
    write_ledger(tmp_path, [ONE, ONE])
    assert read_ledger(tmp_path) == [ONE, ONE]


def test_people_can_read_it(tmp_path: Path) -> None:
    write_ledger(tmp_path, [ONE])
    header, line = (tmp_path / "ledger.csv").read_bytes().decode().splitlines()
    assert header == (
        "source,file,sha256,bytes,layout,read,stored,known,superseded,refused,first_time,last_time,read_at"
    )
    assert tuple(header.split(",")) == COLUMNS
    assert line.endswith("2026-03-01T07:00:00+00:00,,2026-11-16T12:00:00+00:00")


def test_a_damaged_line_is_named(tmp_path: Path) -> None:
    write_ledger(tmp_path, [ONE])
    with (tmp_path / "ledger.csv").open("a") as file:
        file.write("0123,torn")
    with pytest.raises(StillwellError, match=r"ledger.csv, row 3: this line is no ledger line"):
        read_ledger(tmp_path)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00" * 512,
        b"\xff\xfe\x00garbage",
        b"garbage\n",
        b"garbage",
        b'source,file\n0123,"a\n',
        b"<html><body>504</body></html>\n",
    ],
)
def test_what_is_no_ledger_is_an_error_and_stays(content: bytes, make_plant: Callable[..., Plant]) -> None:
    """A disk that failed leaves nothing, zeros or other text; a ledger written over it would hide that."""
    plant = make_plant(a="Time,AIT-2\n2026-01-31 16:45,1.0\n")
    (plant.archive / "trends").mkdir(parents=True)
    (plant.archive / "ledger.csv").write_bytes(content)
    with pytest.raises(StillwellError, match=r"archive/ledger\.csv.*: the ledger is damaged .*backup"):
        take_in(plant)
    assert (plant.archive / "ledger.csv").read_bytes() == content
    assert not list((plant.archive / "trends").rglob("*.parquet"))


def test_a_line_with_cells_too_many_is_named(tmp_path: Path) -> None:
    write_ledger(tmp_path, [ONE])
    with (tmp_path / "ledger.csv").open("a") as file:
        file.write((tmp_path / "ledger.csv").read_text().splitlines()[1] + ",more\n")
    with pytest.raises(StillwellError, match=r"ledger.csv, row 3: this line is no ledger line"):
        read_ledger(tmp_path)


@pytest.mark.parametrize("name", ["areas.csv", "unfinished.json"])
@pytest.mark.parametrize("content", [b"garbage\n", b"\x00" * 64, b"", b"tag,area\nAIT-2\n", b"{}"])
def test_what_else_is_noted_in_the_archive_is_never_guessed(
    name: str, content: bytes, make_plant: Callable[..., Plant]
) -> None:
    plant = make_plant(a="Time,AIT-2\n2026-01-31 16:45,1.0\n")
    plant.archive.mkdir()
    (plant.archive / name).write_bytes(content)
    with pytest.raises(StillwellError, match=rf"archive/{name}: .*backup"):
        take_in(plant)
    assert (plant.archive / name).read_bytes() == content
