"""Export: one file read from its bytes to readings and refused rows, with its row count."""

from dataclasses import dataclass
from hashlib import sha256

import polars as pl

from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.clean import clean
from pipeline.ingest.identify import identify
from pipeline.table import LONG, require

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
    """

    layout: str
    readings: pl.DataFrame
    refused: pl.DataFrame

    @property
    def read(self) -> int:
        """How many readings the file holds, with the lines that could not be cut into cells."""
        return self.readings.height + self.refused.height


def digest(data: bytes) -> str:
    """SHA-256 of an export's bytes; its first 12 digits name the delivery."""
    return sha256(data).hexdigest()


def read_export(data: bytes, file: str, source: str, plant: Plant) -> Export:
    """Read one export.

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

    Raises
    ------
    RefusedError
        Nothing of the file can be read: what it is and what to do.
    """
    layout, module, sheet = identify(data, file, plant.file.reading.encoding)
    raw, broken = module.read(sheet)
    if raw.is_empty() and broken.is_empty():
        remedy = "export it again for a time that has some"
        raise RefusedError(file, "the file has a header and no readings", remedy)
    cleaned = clean(raw, plant, file, module.ONE_TIME_A_LINE)
    readings = cleaned.readings.with_columns(pl.lit(source).alias("source"))
    refused = pl.concat([broken, cleaned.refused]).sort("line", maintain_order=True)
    return Export(layout, require(readings, LONG, "readings"), refused)
