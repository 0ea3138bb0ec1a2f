"""A folder of exports in every shape and packing: one delivery an export, and the ledger adds up."""

import gzip
import io
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from os import utime
from pathlib import Path

from pipeline.archive.ledger import read_ledger
from pipeline.config.load import Plant
from pipeline.intake import take_in

NOW = datetime(2026, 2, 1, tzinfo=UTC)


def _day(day: int) -> bytes:
    return f"Time,AIT-2\n2026-01-{day:02} 00:00,1.0{day}\n2026-01-{day:02} 12:00,1.1{day}\n".encode()


def _zip(**members: bytes) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        for name, data in members.items():
            archive.writestr(f"north/{name}.csv", data)
    return target.getvalue()


def _write(folder: Path, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        utime(path, (0, 0))


def test_daily_files_folders_archives_and_workbooks(make_plant: Callable[..., Plant]) -> None:
    plant = make_plant()
    book = (Path(__file__).parent / "corpus" / "book.xlsx").read_bytes()
    files = {
        "2026-01-01.csv": _day(1),
        "2026/2026-01-02.csv": _day(2),
        "2026/2026-01-03.csv.gz": gzip.compress(_day(3)),
        "week.zip": _zip(four=_day(4), again=_day(2), notes=b"Nothing to see here\n"),
        "book.xlsx": book,
    }
    _write(plant.folder / "trends", files)
    intake = take_in(plant, now=NOW)
    status = {outcome.file: outcome.status for outcome in intake.outcomes}
    assert status == {
        "trends/2026-01-01.csv": "read",
        "trends/2026/2026-01-02.csv": "read",
        "trends/2026/2026-01-03.csv.gz": "read",
        "trends/week.zip/north/four.csv": "read",
        "trends/week.zip/north/again.csv": "known",
        "trends/week.zip/north/notes.csv": "refused",
        "trends/book.xlsx/Clearwell": "read",
        "trends/book.xlsx/Split": "read",
    }
    lines = read_ledger(plant.archive)
    assert len(lines) == 6
    assert all(line.read == line.stored + line.known + line.superseded + line.refused for line in lines)
    assert {line.file: line.stored for line in lines}["trends/week.zip/north/four.csv"] == 2


def test_the_same_folder_again_is_known(make_plant: Callable[..., Plant]) -> None:
    plant = make_plant()
    _write(plant.folder / "trends", {"a.csv": _day(1), "b.zip": _zip(a=_day(2), b=_day(3))})
    take_in(plant, now=NOW)
    assert {outcome.status for outcome in take_in(plant, now=NOW).outcomes} == {"known"}
    assert len(read_ledger(plant.archive)) == 3
