"""Ledger: one line a delivery, with what became of each of its rows; written last."""

import csv
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from io import StringIO
from pathlib import Path

from pipeline.archive.atomic import replace_text
from pipeline.errors import Fault, StillwellError

FILE = "ledger.csv"


@dataclass(frozen=True)
class Delivery:
    """One line of the ledger: ``read = stored + known + superseded + refused``.

    Parameters
    ----------
    source : str
        Names the delivery in the archive: the first 12 digits of `sha256`.
    file : str
        The export, relative to the plant's folder.
    first_time, last_time : datetime or None
        Of its readings [UTC]; None when it has none.
    read_at : datetime
        When it was read [UTC].
    """

    source: str
    file: str
    sha256: str
    bytes: int
    layout: str
    read: int
    stored: int
    known: int
    superseded: int
    refused: int
    first_time: datetime | None
    last_time: datetime | None
    read_at: datetime


COLUMNS = tuple(field.name for field in fields(Delivery))
_COUNTS = ("bytes", "read", "stored", "known", "superseded", "refused")
_TIMES = ("first_time", "last_time", "read_at")


def read_ledger(archive: Path) -> list[Delivery]:
    """Return every delivery, oldest first.

    Raises
    ------
    StillwellError
        The file is damaged, or was edited into something that is no ledger.
    """
    path = archive / FILE
    if not path.exists():
        return []
    try:
        reader = csv.DictReader(StringIO(path.read_bytes().decode("utf-8-sig"), newline=""))
        is_ledger = tuple(reader.fieldnames or ()) == COLUMNS
    except (UnicodeDecodeError, csv.Error) as error:
        raise _damaged(path, None, f"the ledger is damaged ({error})") from error
    if not is_ledger:
        raise _damaged(path, 1, "the ledger is damaged (its first line does not name its columns)")
    return list(_deliveries(reader, path))


def _deliveries(reader: "csv.DictReader[str]", path: Path) -> Iterator[Delivery]:
    try:
        for cells in reader:
            if None in cells:
                raise ValueError("it has more cells than the first line")
            yield _delivery(cells)
    except (KeyError, TypeError, ValueError, csv.Error) as error:
        raise _damaged(path, reader.line_num, f"this line is no ledger line ({error})") from error


def _damaged(path: Path, row: int | None, problem: str) -> StillwellError:
    folder = path.parent.name
    remedy = (
        "put it back as it was, from a backup; without one, move the folder "
        f"{folder} to another place and run `stillwell ingest`, which reads every export that is there anew"
    )
    return StillwellError(str(Fault(f"{folder}/{FILE}", row, None, problem, remedy)))


def write_ledger(archive: Path, deliveries: list[Delivery]) -> None:
    """Write the whole ledger atomically."""
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for delivery in deliveries:
        writer.writerow([_cell(value) for value in asdict(delivery).values()])
    replace_text(archive / FILE, text.getvalue())


def _cell(value: object) -> object:
    return value.isoformat() if isinstance(value, datetime) else value


def _delivery(cells: dict[str, str]) -> Delivery:
    counts = {name: int(cells[name]) for name in _COUNTS}
    times = {name: datetime.fromisoformat(cells[name]) if cells[name] else None for name in _TIMES}
    texts = {name: cells[name] for name in COLUMNS if name not in counts and name not in times}
    return Delivery(**texts, **counts, **times)  # type: ignore[arg-type]
