"""Ledger: one line a delivery, with what became of each of its rows; written last."""

import csv
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
        The file was edited into something that is no ledger.
    """
    path = archive / FILE
    if not path.exists():
        return []
    reader = csv.DictReader(StringIO(path.read_text(encoding="utf-8"), newline=""))
    deliveries = []
    for cells in reader:
        try:
            deliveries.append(_delivery(cells))
        except (KeyError, TypeError, ValueError) as error:
            problem = f"this line is no ledger line ({error})"
            remedy = "put back the ledger as it was, from a backup"
            fault = Fault(f"{archive.name}/{FILE}", reader.line_num, None, problem, remedy)
            raise StillwellError(str(fault)) from error
    return deliveries


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
