"""Export: one file read from its bytes to readings and refused rows, slab by slab and as if at once."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import file_digest
from io import BytesIO
from typing import BinaryIO

import polars as pl

from pipeline.config.load import Plant
from pipeline.ingest.clean import Cleaned
from pipeline.ingest.reading import Manner, OtherwiseError, Reading, Taker
from pipeline.ingest.refusal import REFUSED
from pipeline.ingest.remarks import Understood
from pipeline.table import LONG, conform, empty, packed, require

SOURCE_DIGITS = 12


@dataclass(frozen=True)
class Export:
    """One export, understood.

    Parameters
    ----------
    layout : str
        Name of the layout that read it.
    readings : DataFrame of LONG
        In file order within each tag.
    refused : DataFrame of REFUSED
        Readings and lines that were not understood.
    remarks : tuple of str
        What its reader has to know.
    """

    layout: str
    readings: pl.DataFrame
    refused: pl.DataFrame
    remarks: tuple[str, ...] = ()

    @property
    def read(self) -> int:
        """How many readings the file holds, with the lines that could not be cut into cells."""
        return self.readings.height + self.refused.height


def digest_of(stream: BinaryIO) -> str:
    """SHA-256 of an export's bytes; its first 12 digits name the delivery."""
    return file_digest(stream, "sha256").hexdigest()  # type: ignore[arg-type]


def read_export(
    data: bytes, file: str, source: str, plant: Plant, not_after: datetime | None = None
) -> Export:
    """Read one export in one piece.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        The file, as people know it.
    source : str
        Names the delivery in the archive.
    plant : Plant
        Whose.
    not_after : datetime, optional
        Later readings are refused [UTC].

    Raises
    ------
    RefusedError
        Nothing of the file can be read: what it is and what to do.
    """
    taker = _Whole()
    understood = read_slabs(BytesIO(data), file, plant, taker, not_after, in_bulk=False)
    readings = pl.concat([empty(packed(plant.tags)), *(one.readings for one in taker.parts)])
    long = conform(readings.with_columns(source=pl.lit(source)), LONG)
    refused = pl.concat([empty(REFUSED), *(one.refused for one in taker.parts)])
    readings = require(long, LONG, "readings")
    return Export(understood.layout, readings, refused, understood.remarks)


@dataclass
class _Whole:
    parts: list[Cleaned] = field(default_factory=list)

    def take(self, cleaned: Cleaned) -> None:
        self.parts.append(cleaned)

    def forget(self) -> None:
        self.parts.clear()


def read_slabs(
    stream: BinaryIO,
    file: str,
    plant: Plant,
    taker: Taker,
    not_after: datetime | None = None,
    tell: Callable[[int], None] | None = None,
    in_bulk: bool = True,
) -> Understood:
    """Read one export and hand on its readings slab by slab.

    Parameters
    ----------
    stream : binary file
        Can be read from its start again.
    file : str
        The file, as people know it.
    plant : Plant
        Whose.
    taker : Taker
        Keeps what it is given for as long as no RefusedError is raised.
    not_after : datetime, optional
        Later readings are refused [UTC].
    tell : callable, optional
        Is told how many bytes have been read.
    in_bulk : bool
        Hand on plain numbers as columns, where the layout has a `grid`; else all readings are rows.

    Returns
    -------
    Understood
        The layout that read it, and what to say of it.

    Raises
    ------
    RefusedError
        Nothing of the file can be read: what it is and what to do.
    """
    manner = Manner(order=plant.file.reading.date_order)
    while True:
        try:
            reading = Reading(file, plant, manner, taker, not_after, in_bulk)
            if manner.survey:
                raise OtherwiseError(reading.surveyed(stream))
            return reading.read(stream, tell)
        except OtherwiseError as otherwise:
            manner = otherwise.manner
            taker.forget()
            stream.seek(0)
