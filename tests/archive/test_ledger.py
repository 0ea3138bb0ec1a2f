"""The ledger: comes back as written, and damage is named with its line."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.archive.ledger import COLUMNS, Delivery, read_ledger, write_ledger
from pipeline.errors import StillwellError

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
